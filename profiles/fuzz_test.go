package profiles_test

import (
	"errors"
	"regexp"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// FuzzLoad sees to it that no text makes the loader panic, or lets it give out a
// profile whose values don't come back the same.
func FuzzLoad(f *testing.F) {
	few := regexp.MustCompile(`(?m)^(channels|mixes) = \d+$`) // places, so that each try is short
	for _, name := range profiles.ShippedNames() {
		text, err := profiles.Shipped(name)
		if err != nil {
			f.Fatal(err)
		}
		small := few.ReplaceAllString(string(text), "$1 = 2")
		f.Add(strings.NewReplacer("upto = 40", "upto = 1", `["A", "B", "C", "D"]`, `["A", "B"]`).Replace(small))
		f.Add("name = \"smaller\"\nbased = \"" + name + "\"\nchannels = 1\nmixes = 1\n[main]\nfader = { absent = true }")
	}
	f.Add(group)
	f.Add(blocks)
	f.Add(large)
	f.Add(head + "[tell]\narguments = [{ base = 1, channel = 2147483647 }, \"{value}\", 0.5, true]\n[ask]\nat = \"/get{at}\"\n[channel]\nmute = { at = \"/m/{channel}\" }")
	f.Add(head + "[numbers]\nchannel = [{ upto = 1, words = [\"a\"] }, { digits = 6, write = \"x/{}/y\" }]\n[channel]\nlabel = { at = \"/{channel}\", text = 3 }\nown = { label = \"own\", fixed = -inf, unit = \"dB\" }")
	f.Add(head + "[channel]\n" + `fader = { at = "/f/{channel}", points = [[0, -inf], [0.5, -10.0], [1, 8.0]], steps = 11 }`)
	f.Add(head + "[channel]\n" + `fader = { at = "/f/{channel}", linear = [-60, 10], steps = 72, silence = true, as = "int", wire = [9, 999] }`)
	f.Add(head + "[channel]\n" + `eq.band.q = { at = "/f/{channel}/{band}", log = [16, 0.25], steps = 5, wire = [1, -1], start = 2 }`)
	f.Add(head + "[sound]\nrate = 96000\nbells = \"narrow\"\npan-law = 4.5\nfull-scale = -4.0\n" + oneMute)
	f.Add(head + "[curves]\nw = { log = [8.6, 0.0073], steps = 65536 }\n[channel]\n" + `eq.band.q = { at = "/f/{channel}/{band}", curve = "w", octaves = true, wire = "unit", start = 2 }` + "\neq.2.q = { fixed = 0.3, octaves = true }")
	f.Add(head + "[channel]\n" + `eq.1.q = { at = "/f/{channel}", points = [[0, 0.1], [1, 3]], steps = 9, octaves = true, as = "text", write = "{} oct", decimals = 2 }`)
	f.Add(head + "[channel]\n" + `own = { label = "own", at = "/f/{channel}", power = [1e-9, 2e9, 1e2], steps = 65536 }`)
	f.Add(head + "[channel]\n" + `own.dx = { label = "own", choice = ["a", "b"], at = "/f/{channel}", start = "b", class = "noise", settle = "1s" }`)
	f.Add(head + "[mix]\n" + `label = { at = "/{mix}/{mix}", text = 3, start = "héé" }` + "\n[main]\nmute = { at = \"/who\", start = true }")
	f.Add(strings.Replace(head, "channels = 2", "channels = 100000", 1) + "[channel]\n" + `send.mix.on = { at = "/f{channel}{mix}" }`)
	f.Add("channels = -1\n[curves]\na = 3\nb.c = {}\n[follow]\nask = \"//\"\n[[channel]]\n[main.main.main]\nat = []")

	f.Fuzz(func(t *testing.T, text string) {
		p, err := profiles.Load("fuzz.toml", []byte(text))
		if err != nil {
			var faults source.Faults
			if p != nil || !errors.As(err, &faults) || len(faults) == 0 {
				t.Fatalf("%v, %T %v", p, err, err)
			}
			return
		}
		all := p.Parameters()
		if len(all) == 0 || len(all) > 250_000 {
			t.Fatalf("%d parameters", len(all))
		}
		seen := make(map[*profiles.Control]bool)
		for _, q := range all {
			c, ok := p.Control(q)
			if !ok {
				t.Fatalf("%s is listed and not there", q)
			}
			if family, _ := profiles.Family(q.Name); family != c.Spec.Name {
				t.Fatalf("%s is of the family %s, not %s", q, family, c.Spec.Name)
			}
			if seen[c] && len(all) > 1000 {
				continue // its family's members differ in their numbers only
			}
			seen[c] = true
			for _, question := range p.Ask([]profiles.Parameter{q}) {
				if len(all) > 1000 {
					break // a block of so many answers takes its time
				}
				if !answers(t, p, overTheWire(t, question.Message))[q] {
					t.Fatalf("%s: the question %s is not answered", q, question.Message)
				}
			}
			checkWire(t, p, profiles.Setting{Parameter: q, Value: c.Start})
			if last := c.Curve.Steps() - 1; last > 0 {
				for _, step := range []int{0, 1, last / 2, last - 1, last} {
					checkWire(t, p, profiles.Setting{Parameter: q, Value: c.Curve.At(step)})
				}
			}
		}
	})
}
