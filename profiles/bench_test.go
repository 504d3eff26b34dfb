package profiles_test

import (
	"testing"

	"deskhand/profiles"
)

func BenchmarkLoad(b *testing.B) {
	text, err := profiles.Shipped("quay-24")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := profiles.Load("quay-24.toml", text); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTellAndHear is the way of every parameter of a desk out and back, without
// packets.
func BenchmarkTellAndHear(b *testing.B) {
	p := quay(b)
	var settings []profiles.Setting
	for _, q := range p.Parameters() {
		c, _ := p.Control(q)
		settings = append(settings, profiles.Setting{Parameter: q, Value: c.Start})
	}
	for b.Loop() {
		messages, _, err := tell(p, settings...)
		if err != nil {
			b.Fatal(err)
		}
		for _, m := range messages {
			if len(p.Hear(heard(m.Address, m.Arguments...))) != 1 {
				b.Fatal(m.Address)
			}
		}
	}
}
