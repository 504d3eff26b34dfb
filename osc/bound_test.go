package osc

import (
	"fmt"
	"strings"
	"testing"
)

// filled repeats a piece in a packet of the form, as often as a datagram of MaxPacket bytes holds it.
func filled(make func(n int) []byte) []byte {
	low, high := 0, MaxPacket
	for low < high { // the most pieces that fit
		if n := (low + high + 1) / 2; len(make(n)) <= MaxPacket {
			low = n
		} else {
			high = n - 1
		}
	}
	return make(low)
}

// bundleOf is a bundle with one element many times.
func bundleOf(n int, element []byte) []byte {
	return wire(bundle(), []byte(strings.Repeat(string(wire(len(element), element)), n)))
}

// tagged is a message with so many times the tags, and the bytes of their arguments.
func tagged(n int, tags, bytes string) []byte {
	all := "," + strings.Repeat(tags, n)
	return wire("/in|", all+strings.Repeat("|", 4-len(all)%4), strings.Repeat(bytes, n))
}

// The worst packets known, each as long as a datagram can be.
func worstPackets() map[string][]byte {
	deep := func(n int) []byte { return tagged(n, "[[[[[[[[]]]]]]]]", "") }
	return map[string][]byte{
		"the smallest messages":      filled(func(n int) []byte { return bundleOf(n, wire("/|||")) }),
		"messages of no arguments":   filled(func(n int) []byte { return bundleOf(n, wire("/|||,|||")) }),
		"messages of one nil":        filled(func(n int) []byte { return bundleOf(n, wire("/|||,N||")) }),
		"messages of empty arrays":   filled(func(n int) []byte { return bundleOf(n, wire("/|||,[]|")) }),
		"empty bundles":              filled(func(n int) []byte { return bundleOf(n, bundle()) }),
		"nested bundles":             filled(func(n int) []byte { return bundleOf(n, nested(MaxBundleDepth-1)) }),
		"bundles nested ever deeper": nested(1 + (MaxPacket-bundleHead)/(bundleHead+4)),
		"elements of nothing":        filled(func(n int) []byte { return bundleOf(n, nil) }),
		"nils":                       filled(func(n int) []byte { return tagged(n, "N", "") }),
		"empty arrays":               filled(func(n int) []byte { return tagged(n, "[]", "") }),
		"nested arrays":              filled(deep),
		"arrays never closed":        filled(func(n int) []byte { return tagged(n, "[", "") }),
		"arrays closed too often":    filled(func(n int) []byte { return tagged(n, "]", "") }),
		"empty texts":                filled(func(n int) []byte { return tagged(n, "s", "||||") }),
		"empty symbols":              filled(func(n int) []byte { return tagged(n, "S", "||||") }),
		"empty blobs":                filled(func(n int) []byte { return tagged(n, "b", "||||") }),
		"unknown types":              filled(func(n int) []byte { return tagged(n, "X", "") }),
		"an address without end":     filled(func(n int) []byte { return wire("/" + strings.Repeat("a", 4*n+3)) }),
		"control characters":         filled(func(n int) []byte { return wire("/" + strings.Repeat("\x01", 4*n+2) + "|,X||") }),
	}
}

func TestNoPacketTakesMoreMemoryThanAMultipleOfItsSize(t *testing.T) {
	for name, packet := range worstPackets() {
		t.Run(name, func(t *testing.T) {
			if len(packet) < MaxPacket-256 {
				t.Fatalf("only %d bytes", len(packet))
			}
			checkMemory(t, packet)
		})
	}
}

// What reading looks at is counted, since the time on a busy machine says nothing. The guard goes over the packet once,
// but for a tag at which both the string and the argument begin; the decoder looks at a tag once for each array around
// it, once for the list it is in, and once to read it.
func TestNoPacketTakesMoreLooksThanAMultipleOfItsSize(t *testing.T) {
	for name, packet := range worstPackets() {
		t.Run(name, func(t *testing.T) {
			g := guard{packet: packet}
			err := g.element(0, len(packet), 1)
			if g.looks > 2*len(packet) {
				t.Errorf("the guard looks %d times at %d bytes", g.looks, len(packet))
			}
			if err != nil || packet[0] != '/' {
				return // a bundle's messages are read one after the other
			}
			r := reading{rest: packet}
			r.text()
			r.tags = r.text()[1:]
			tags := len(r.tags)
			r.list()
			if r.looks > (MaxArrayDepth+2)*tags {
				t.Errorf("the decoder looks %d times at %d tags", r.looks, tags)
			}
		})
	}
}

// The patterns that are worst for matchers that try again, each about as long as an address of the same length.
func worstPatterns(length int) map[string]string {
	fill := func(piece string) string { return strings.Repeat(piece, max(1, length/len(piece))) }
	return map[string]string{
		"stars":                  "/" + fill("*") + "b",
		"stars and a":            "/" + fill("*a") + "b",
		"questions":              "/" + fill("?*") + "b",
		"empty choices":          "/" + fill("{,,,}") + "b",
		"growing choices":        "/" + fill("{a,aa,aaa}") + "b",
		"one long choice":        "/{" + fill("a,") + "}b",
		"classes":                "/" + fill("[a-z]") + "b",
		"wide classes":           "/" + fill("[!b]*") + "b",
		"one long class":         "/[" + fill("a") + "]*b",
		"slashes":                fill("//") + "/b",
		"slashes and a":          fill("//a") + "/b",
		"a brace that is open":   "/" + fill("{a,") + "b",
		"a bracket that is open": "/" + fill("[a") + "b",
	}
}

func TestNoPatternTakesMoreLooksThanItsLengthTimesThatOfTheAddress(t *testing.T) {
	for _, length := range []int{100, 400} {
		for name, pattern := range worstPatterns(length) {
			for _, address := range []string{"/" + strings.Repeat("a", length), strings.Repeat("/a", length/2)} {
				t.Run(fmt.Sprint(name, " ", length), func(t *testing.T) {
					m := newMatching(address)
					m.match(pattern)
					if bound := (len(pattern) + 1) * (len(address) + 1); m.looks > bound {
						t.Errorf("%d looks for a pattern of %d and an address of %d bytes", m.looks, len(pattern), len(address))
					}
				})
			}
		}
	}
}

// A pattern is matched in the memory of two marks for each byte of the address.
func TestMatchingTakesTheMemoryOfTheAddressHoweverLongThePattern(t *testing.T) {
	address := "/" + strings.Repeat("a", 100)
	for name, pattern := range worstPatterns(2000) {
		t.Run(name, func(t *testing.T) {
			if n := testing.AllocsPerRun(2, func() { Match(pattern, address) }); n > 3 {
				t.Errorf("%v allocations", n)
			}
		})
	}
}
