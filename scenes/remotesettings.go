package scenes

import (
	"net/netip"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

// RemoteSettings say who may ask the agent for something over the network, and where
// the answers go.
type RemoteSettings struct {
	// From are the addresses that are listed; none, and nobody may. IPv4 addresses are
	// such, never in the clothes of IPv6.
	From []netip.Prefix
	// AnswerPort is the port that answers go to, at the address that asked; 0 is the
	// port that asked.
	AnswerPort uint16
}

// maxSenders bounds the list, as every packet is held against all of it.
const maxSenders = 64

// Listed reports whether packets from an address are heard at all.
func (s RemoteSettings) Listed(sender netip.Addr) bool {
	sender = sender.Unmap().WithZone("")
	return slices.ContainsFunc(s.From, func(p netip.Prefix) bool { return p.Contains(sender) })
}

// read reads [remote] of book.toml.
func (s *RemoteSettings) read(root *source.Table) {
	t, ok := optional(root, "remote")
	if !ok {
		return
	}
	s.readFrom(t)
	if !t.Has("answer-port") {
		return
	}
	if port, ok := t.Integer("answer-port"); ok && (port < 1 || port > 65535) {
		t.Fault("answer-port", "answer-port = %d: expected 1 to 65535; leave it out to answer to the port that asked", port)
	} else if ok {
		s.AnswerPort = uint16(port)
	}
}

func (s *RemoteSettings) readFrom(t *source.Table) {
	if !t.Has("from") {
		t.Fault("", `[remote] does not say who may ask: write from = ["192.168.7.20"], with the addresses of your own senders`)
		return
	}
	words, ok := t.Texts("from")
	if !ok {
		return
	}
	if len(words) > maxSenders {
		t.Fault("from", "from has %d senders: expected at most %d; a network such as 192.168.7.0/24 is one", len(words), maxSenders)
		return
	}
	for _, word := range words {
		if p, wrong := senders(word); wrong != "" {
			t.Fault("from", "from %q: %s", word, wrong)
		} else {
			s.From = append(s.From, p)
		}
	}
}

// The shortest prefixes that a network may have. What is wider is nobody's own.
const (
	widestIPv4 = 8
	widestIPv6 = 16
)

// senders reads an address or a network, and says what is wrong with it.
func senders(word string) (p netip.Prefix, wrong string) {
	const form = "write an IP address or a network, as 192.168.7.20 or 192.168.7.0/24"
	if !strings.Contains(word, "/") {
		a, err := netip.ParseAddr(word)
		if err != nil {
			return p, form
		}
		if a.Zone() != "" {
			return p, "leave %" + a.Zone() + " out: write " + a.WithZone("").String()
		}
		a = a.Unmap()
		p = netip.PrefixFrom(a, a.BitLen())
	} else if parsed, err := netip.ParsePrefix(word); err != nil {
		return p, form
	} else {
		p = parsed
	}
	widest := widestIPv6
	if p.Addr().Is4() {
		widest = widestIPv4
	}
	switch {
	case p.Addr().Is4In6():
		return p, "write an IPv4 network as such, as 192.168.7.0/24"
	case p.Addr().IsMulticast() || p.IsSingleIP() && p.Addr().IsUnspecified():
		return p, "nothing is sent from such an address; " + form
	case p.Bits() < widest:
		return p, "that is far more than a network of your own; list your senders"
	case p.Masked() != p:
		return p, "its last bits are not 0: write " + p.Masked().String() + " for the network, or " + p.Addr().String() + " for the one address"
	}
	return p, ""
}
