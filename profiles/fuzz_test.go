package profiles_test

import (
	"errors"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// FuzzLoad sees to it that no text makes the loader panic, or lets it give out a
// profile whose values don't come back the same.
func FuzzLoad(f *testing.F) {
	text, err := profiles.Shipped("quay-24")
	if err != nil {
		f.Fatal(err)
	}
	// Few places keep each try short.
	f.Add(strings.NewReplacer("channels = 24", "channels = 2", "mixes = 8", "mixes = 1", "bands = 4", "bands = 2").Replace(string(text)))
	f.Add(head + "[channel]\n" + `fader = { at = "/f/{channel}", points = [[0, -inf], [0.5, -10.0], [1, 8.0]], steps = 11 }`)
	f.Add(head + "[channel]\n" + `fader = { at = "/f/{channel}", linear = [-60, 10], steps = 72, silence = true, as = "int", wire = [9, 999] }`)
	f.Add(head + "[channel]\n" + `eq.band.q = { at = "/f/{channel}/{band}", log = [16, 0.25], steps = 5, wire = [1, -1], start = 2 }`)
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
			checkWire(t, p, profiles.Setting{Parameter: q, Value: c.Start})
			if last := c.Curve.Steps() - 1; last > 0 {
				for _, step := range []int{0, 1, last / 2, last - 1, last} {
					checkWire(t, p, profiles.Setting{Parameter: q, Value: c.Curve.At(step)})
				}
			}
		}
	})
}
