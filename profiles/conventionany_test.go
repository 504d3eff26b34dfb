package profiles_test

import (
	"fmt"
	"strings"
	"testing"

	"deskhand/profiles"

	"pgregory.net/rapid"
)

// aDesk draws a profile of any mixture of conventions. Not every mixture is a desk that
// can be told apart from itself; what the loader refuses is passed over.
func aDesk(t *rapid.T) string {
	pick := func(what string, of ...string) string { return rapid.SampledFrom(of).Draw(t, what) }
	var b strings.Builder
	b.WriteString(head)
	b.WriteString("[numbers]\n")
	b.WriteString(pick("channels", "", "channel = [{ first = 0 }]\n", "channel = [{ digits = 2 }]\n",
		"channel = [{ upto = 1, write = \"in/{}\" }, { write = \"line/{}\", first = 1 }]\n", "channel = [{ words = [\"left\", \"right\"] }]\n"))
	b.WriteString(pick("mixes", "", "mix = [{ words = [\"A\", \"B\"] }]\n", "mix = [{ first = 101 }]\n"))
	arguments := pick("place", ``, `"{place}", `, `"{channel}", "{mix}", "{band}", `, `{ base = 10, channel = 16, mix = 4, band = 1 }, `, `"{at}", `, `"set", "{place}", 0.5, `)
	at := pick("at", "{at}", "/set", "/set{at}")
	fmt.Fprintf(&b, "[tell]\nat = %q\n", at)
	switch pick("order", "before", "after") {
	case "before":
		fmt.Fprintf(&b, "arguments = [%s\"{value}\"]\n", arguments)
	default:
		fmt.Fprintf(&b, "arguments = [\"{value}\", %s]\n", strings.TrimSuffix(arguments, ", "))
	}
	b.WriteString(pick("ask", "", "[ask]\nnever = true\n", "[ask]\nat = \"/get\"\narguments = [\"{at}\", \"{place}\"]\n",
		"[ask]\nat = \"/get{at}\"\narguments = ["+strings.TrimSuffix(arguments, ", ")+"]\n"))
	b.WriteString(pick("answer", "", "[answer]\nat = \"/is{at}\"\n", "[answer]\nat = \"/is\"\narguments = [\"{at}\", \"{place}\", \"{value}\"]\n"))
	b.WriteString(pick("blocks", "", "[[block]]\nof = \"desk\"\nat = \"/dump\"\n", "[[block]]\nof = \"channel.send\"\nat = \"/dump\"\narguments = [\"{channel}\"]\n"))
	b.WriteString("[values]\nnumber = { " + pick("number", `as = "float"`, `as = "double", wire = [-1, 1]`, `as = "int", wire = [0, 1023]`, `as = "long"`,
		`wire = "unit", silent = -200.0`, `as = "text", write = "{} dB", decimals = 2, silent = "off"`) + " }\n")
	b.WriteString("switch = { " + pick("switch", ``, `as = "switch"`, `as = "word"`, `as = "word", words = ["no", "yes"]`, `wire = [1, 0]`, `as = "switch", wire = [1, 0]`) + " }\n")
	b.WriteString("choice = { " + pick("choice", ``, `as = "word"`, `as = "word", words = ["x", "y"]`, `wire = [7, 5]`) + " }\n")
	in := func(counters ...string) string {
		var address strings.Builder
		for _, counter := range counters {
			if rapid.Bool().Draw(t, counter+" in the address") {
				address.WriteString("/{" + counter + "}")
			}
		}
		return address.String()
	}
	b.WriteString("[channel]\n")
	fmt.Fprintf(&b, "mute = { at = \"/ch%s/mute\" }\n", in("channel"))
	fmt.Fprintf(&b, "fader = { at = \"/ch%s/fader\", linear = [-60.0, 0.0], steps = 62, silence = true }\n", in("channel"))
	fmt.Fprintf(&b, "label = { at = \"/ch%s/name\", text = 5 }\n", in("channel"))
	slot := rapid.Bool().Draw(t, "in one message")
	send := in("channel", "mix")
	for i, line := range []string{`on = { at = "/send%s%s"%s }`, `tap = { at = "/send%s%s"%s, choice = ["pre", "post"] }`, `level = { at = "/send%s%s"%s, linear = [-60.0, 0.0], steps = 62, silence = true }`} {
		own, key := fmt.Sprintf("/%d", i), ""
		if slot {
			own, key = "", fmt.Sprintf(", slot = %d", i+1)
		}
		fmt.Fprintf(&b, "send.mix."+line+"\n", send, own, key)
	}
	band := in("channel", "band")
	fmt.Fprintf(&b, "eq.band.gain = { at = \"/eq%s\", linear = [-12.0, 12.0], steps = 25 }\n", band)
	fmt.Fprintf(&b, "eq.1.gain = { at = \"/eq%s\", linear = [-6.0, 6.0], steps = 13 }\n", band)
	b.WriteString("[main]\nmute = { at = \"/main\" }\n")
	return b.String()
}

func TestAnyMixtureOfConventionsThatLoadsIsUnderstoodAtBothEnds(t *testing.T) {
	loaded := 0
	rapid.Check(t, func(t *rapid.T) {
		text := aDesk(t)
		p, err := profiles.Load("any.toml", []byte(text))
		if err != nil {
			return
		}
		loaded++
		for _, q := range p.Parameters() {
			c, _ := p.Control(q)
			values := []profiles.Value{c.Start, profiles.Word("bell")}
			if last := c.Curve.Steps() - 1; last > 0 {
				values = []profiles.Value{c.Curve.At(0), c.Curve.At(last / 2), c.Curve.At(last)}
			}
			for _, v := range values {
				checkWire(t, p, profiles.Setting{Parameter: q, Value: v})
			}
		}
		asked := make(map[profiles.Parameter]bool)
		for _, question := range p.Ask(p.Parameters()) {
			h := overTheWire(t, question.Message)
			if told := p.Told(h); len(told) != 0 {
				t.Fatalf("the question %s sets %v in\n%s", h, told, text)
			}
			answered := answers(t, p, h)
			for _, q := range question.Keys {
				if asked[q] || !answered[q] {
					t.Fatalf("the question %s is answered for %s: %v, asked before: %v in\n%s", h, q, answered[q], asked[q], text)
				}
				asked[q] = true
			}
		}
		for _, q := range p.Parameters() {
			if asked[q] != p.Askable(q) {
				t.Fatalf("%s is asked about: %v, askable: %v in\n%s", q, asked[q], p.Askable(q), text)
			}
		}
	})
	if loaded == 0 {
		t.Error("no mixture loads")
	}
	t.Logf("%d mixtures load", loaded)
}
