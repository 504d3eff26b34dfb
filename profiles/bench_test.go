package profiles_test

import (
	"testing"

	"deskhand/profiles"
)

func BenchmarkLoad(b *testing.B) {
	for _, name := range profiles.ShippedNames() {
		text, err := profiles.Shipped(name)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := profiles.Load(name+".toml", text); err != nil {
					b.Fatal(err)
				}
			}
		})
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
