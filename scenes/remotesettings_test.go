package scenes_test

import (
	"net/netip"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"deskhand/scenes"
)

func TestABookListsWhoMayAskTheAgent(t *testing.T) {
	prefix := netip.MustParsePrefix
	for _, c := range []struct {
		name, text string
		want       scenes.RemoteSettings
	}{
		{"nothing said", "", scenes.RemoteSettings{}},
		{"nobody", "[remote]\nfrom = []\n", scenes.RemoteSettings{}},
		{"address, network and IPv6", "[remote]\nfrom = [\"192.168.7.20\", \"192.168.7.0/24\", \"::1\"]\n",
			scenes.RemoteSettings{From: []netip.Prefix{prefix("192.168.7.20/32"), prefix("192.168.7.0/24"), prefix("::1/128")}}},
		{"IPv4 in the clothes of IPv6", "[remote]\nfrom = [\"::ffff:192.168.7.20\"]\n",
			scenes.RemoteSettings{From: []netip.Prefix{prefix("192.168.7.20/32")}}},
		{"a port for the answers", "[remote]\nfrom = [\"127.0.0.1\"]\nanswer-port = 9101\n",
			scenes.RemoteSettings{From: []netip.Prefix{prefix("127.0.0.1/32")}, AnswerPort: 9101}},
	} {
		got := bookOf(t, files{"book.toml": c.text}).Remote
		if diff := cmp.Diff(c.want, got, cmpopts.EquateComparable(netip.Prefix{})); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
}

func TestOnlyListedSendersAreListed(t *testing.T) {
	remote := bookOf(t, files{"book.toml": "[remote]\nfrom = [\"192.168.7.20\", \"10.4.0.0/16\", \"fe80::7\", \"::1\"]\n"}).Remote
	for sender, want := range map[string]bool{
		"192.168.7.20": true, "192.168.7.21": false, "::ffff:192.168.7.20": true, "10.4.255.255": true, "10.5.0.0": false,
		"::1": true, "::2": false, "fe80::7%quay0": true, "fe80::8%quay0": false, "127.0.0.1": false,
	} {
		if got := remote.Listed(netip.MustParseAddr(sender)); got != want {
			t.Errorf("%s: %v", sender, got)
		}
	}
	if (scenes.RemoteSettings{}).Listed(netip.MustParseAddr("127.0.0.1")) {
		t.Error("a book that lists nobody lets this machine in")
	}
}

func TestWhatIsWrongWithTheListOfSenders(t *testing.T) {
	const form = "write an IP address or a network, as 192.168.7.20 or 192.168.7.0/24"
	from := func(word string) string { return "[remote]\nfrom = [\"127.0.0.1\", \"" + word + "\"]\n" }
	for text, want := range map[string]string{
		"[remote]\n":                        `book.toml:1: [remote] does not say who may ask: write from = ["192.168.7.20"], with the addresses of your own senders`,
		"[remote]\nform = []\nfrom = []\n":  `book.toml:2: unknown key "form": did you mean "from"?`,
		"[remote]\nfrom = \"127.0.0.1\"\n":  `book.toml:2: "from" should be a list of texts, but it is the text "127.0.0.1"`,
		"\nremote = true\n":                 `book.toml:2: "remote" should be a table, but it is true`,
		from("tablet"):                      `book.toml:2: from "tablet": ` + form,
		from(""):                            `book.toml:2: from "": ` + form,
		from("192.168.7"):                   `book.toml:2: from "192.168.7": ` + form,
		from("192.168.7.20:9000"):           `book.toml:2: from "192.168.7.20:9000": ` + form,
		from("192.168.7.0/33"):              `book.toml:2: from "192.168.7.0/33": ` + form,
		from("192.168.7.20/24"):             `book.toml:2: from "192.168.7.20/24": its last bits are not 0: write 192.168.7.0/24 for the network, or 192.168.7.20 for the one address`,
		from("0.0.0.0/0"):                   `book.toml:2: from "0.0.0.0/0": that is far more than a network of your own; list your senders`,
		from("::/0"):                        `book.toml:2: from "::/0": that is far more than a network of your own; list your senders`,
		from("64.0.0.0/7"):                  `book.toml:2: from "64.0.0.0/7": that is far more than a network of your own; list your senders`,
		from("::ffff:192.168.7.0/120"):      `book.toml:2: from "::ffff:192.168.7.0/120": write an IPv4 network as such, as 192.168.7.0/24`,
		from("224.0.0.1"):                   `book.toml:2: from "224.0.0.1": nothing is sent from such an address; ` + form,
		from("fe80::7%quay0"):               `book.toml:2: from "fe80::7%quay0": leave %quay0 out: write fe80::7`,
		from("0.0.0.0"):                     `book.toml:2: from "0.0.0.0": nothing is sent from such an address; ` + form,
		from("::1") + "answer-port = 0\n":   `book.toml:3: answer-port = 0: expected 1 to 65535; leave it out to answer to the port that asked`,
		from("::1") + "answer-port = 1e5\n": `book.toml:3: "answer-port" should be a whole number, but it is the number 1e5`,
		"[remote]\nfrom = [" + strings.Repeat("\"::1\", ", 65) + "]\n": `book.toml:2: from has 65 senders: expected at most 64; a network such as 192.168.7.0/24 is one`,
	} {
		_, err := scenes.OpenFS(over(t, files{"book.toml": text}), "")
		wantFaults(t, err, want)
	}
}
