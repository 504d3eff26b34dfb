package osc

import (
	"net"
	"testing"
)

// Linux has all of 127.0.0.0/8, so that a stranger can have an address of its own.
func TestWhereADeskMayAnswerFromAnyPortPacketsFromElsewhereAreDroppedAndCounted(t *testing.T) {
	desk, stranger := socket(t), socketAt(t, net.IPv4(127, 0, 0, 2))
	expectAfter(t, stranger, desk, dial(t, desk.LocalAddr(), UDPOptions{AnyPort: true}), 2)
}
