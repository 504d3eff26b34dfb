package osc

import (
	"net"
	"testing"
)

// Linux has all of 127.0.0.0/8, so that a stranger can have an address of its own.
func TestWhereADeskMayAnswerFromAnyPortPacketsFromElsewhereAreDroppedAndCounted(t *testing.T) {
	desk := socket(t)
	stranger, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 2)})
	if err != nil {
		t.Fatal(err)
	}
	defer stranger.Close()
	u := dial(t, desk.LocalAddr(), UDPOptions{AnyPort: true})
	send(t, stranger, u.LocalAddr(), "one")
	send(t, stranger, u.LocalAddr(), "two")
	send(t, desk, u.LocalAddr(), "answer")
	expect(t, u, "answer")
	if got := u.Strangers(); got != 2 {
		t.Errorf("%d strangers, want 2", got)
	}
}
