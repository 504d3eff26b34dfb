package osc

import (
	"errors"
	"net"
	"net/netip"
	"slices"
	"strings"
	"testing"
)

func serveUDP(t testing.TB, at string, listed func(netip.Addr) bool) *UDPServer {
	t.Helper()
	s, err := ListenUDP(at, listed)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func everyone(netip.Addr) bool { return true }

func TestAServerAnswersWhoeverAsked(t *testing.T) {
	s := serveUDP(t, "127.0.0.1:0", everyone)
	buffer := make([]byte, 100)
	for _, text := range []string{"one", "two"} {
		asker := socket(t)
		send(t, asker, s.LocalAddr(), text)
		n, from, err := s.Receive(buffer)
		if err != nil || string(buffer[:n]) != text || from.String() != asker.LocalAddr().String() {
			t.Fatalf("%q from %s, %v", buffer[:n], from, err)
		}
		if err := s.Send([]byte("answer "+text), from); err != nil {
			t.Fatal(err)
		}
		n, by, err := asker.ReadFrom(buffer)
		if err != nil || string(buffer[:n]) != "answer "+text || by.String() != s.LocalAddr().String() {
			t.Fatalf("%q from %s, %v", buffer[:n], by, err)
		}
	}
}

func TestAServerDropsAndCountsWhoIsNotListed(t *testing.T) {
	var senders []netip.Addr
	s := serveUDP(t, "127.0.0.1:0", func(a netip.Addr) bool {
		senders = append(senders, a)
		return len(senders) > 2
	})
	asker := socket(t)
	for _, text := range []string{"one", "two", "asked"} {
		send(t, asker, s.LocalAddr(), text)
	}
	buffer := make([]byte, 100)
	n, from, err := s.Receive(buffer)
	if err != nil || string(buffer[:n]) != "asked" || from.String() != asker.LocalAddr().String() {
		t.Fatalf("%q from %s, %v", buffer[:n], from, err)
	}
	home := netip.MustParseAddr("127.0.0.1")
	if want := []netip.Addr{home, home, home}; !slices.Equal(senders, want) || s.Strangers() != 2 {
		t.Errorf("%v were asked about, %d strangers; want %v and 2", senders, s.Strangers(), want)
	}
}

func TestAServerSpeaksIPv6(t *testing.T) {
	asker, err := net.ListenUDP("udp6", &net.UDPAddr{IP: net.IPv6loopback})
	if err != nil {
		t.Logf("no IPv6 on this machine, so IPv4 in IPv6's clothes only: %v", err)
		serveUDP(t, "[::ffff:127.0.0.1]:0", everyone)
		return
	}
	defer asker.Close()
	s := serveUDP(t, "[::1]:0", func(a netip.Addr) bool { return a == netip.IPv6Loopback() })
	send(t, asker, s.LocalAddr(), "asked")
	buffer := make([]byte, 100)
	if n, from, err := s.Receive(buffer); err != nil || string(buffer[:n]) != "asked" || from.String() != asker.LocalAddr().String() {
		t.Fatalf("%q from %s, %v", buffer[:n], from, err)
	}
}

func TestAnAnswerThatFindsNobodyIsNoError(t *testing.T) {
	s := serveUDP(t, "127.0.0.1:0", everyone)
	gone := socket(t)
	to := gone.LocalAddr().(*net.UDPAddr).AddrPort()
	_ = gone.Close()
	for range 3 {
		if err := s.Send([]byte("answer"), to); err != nil {
			t.Error(err)
		}
	}
	asker := socket(t)
	send(t, asker, s.LocalAddr(), "asked")
	if _, _, err := s.Receive(make([]byte, 100)); err != nil {
		t.Error(err)
	}
}

func TestClosingAServerEndsAReceiveThatWaits(t *testing.T) {
	s := serveUDP(t, "127.0.0.1:0", everyone)
	ended := make(chan error)
	go func() {
		_, _, err := s.Receive(make([]byte, 100))
		ended <- err
	}()
	for range 2 {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	if err := <-ended; !errors.Is(err, net.ErrClosed) {
		t.Error(err)
	}
}

func TestWhatIsWrongWithAnAddressToListenAtIsSaid(t *testing.T) {
	taken := socket(t).LocalAddr().String()
	for at, want := range map[string]string{
		"":                "give an IP address of this machine and a port",
		"9100":            `address to listen at "9100": give an IP address of this machine and a port, such as 192.168.1.5:9100`,
		":9100":           "(0.0.0.0:9100 listens in all its networks)",
		"quay:9100":       "give an IP address",
		"127.0.0.1":       "give an IP address",
		"127.0.0.1:99999": "give an IP address",
		"192.0.2.1:0":     "192.0.2.1 is no address of this machine",
		taken:             "is in use",
	} {
		s, err := ListenUDP(at, everyone)
		if err == nil {
			_ = s.Close()
		}
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", at, err, want)
		}
	}
}
