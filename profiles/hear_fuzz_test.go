package profiles_test

import (
	"testing"

	"deskhand/osc"
	"deskhand/profiles"
)

// FuzzHear takes any packet as an answer of each shipped desk, and as a request to it.
// Nothing panics; what is heard is a value on the grid of a parameter that was listed, and
// what is told or asked can be told and answered again.
func FuzzHear(f *testing.F) {
	desks := every(f)
	for _, p := range desks {
		for i, q := range p.Parameters() {
			if i%97 == 0 {
				addHeard(f, p, q)
			}
		}
		follow, _ := p.AskToFollow()
		for _, m := range append(follow, p.AskWho().Message) {
			addPacket(f, m)
		}
	}
	f.Fuzz(func(t *testing.T, packet []byte) {
		heard, err := osc.Decode(packet)
		if err != nil {
			return
		}
		for _, h := range heard {
			for _, p := range desks {
				checkHeard(t, p, h)
			}
		}
	})
}

// addHeard adds how a desk is told and asked of a parameter, and how it answers.
func addHeard(f *testing.F, p *profiles.Profile, q profiles.Parameter) {
	starts := func(q profiles.Parameter) (profiles.Value, bool) {
		c, ok := p.Control(q)
		if !ok {
			return profiles.Value{}, false
		}
		return c.Start, true
	}
	value, _ := starts(q)
	tellings, _ := p.Tell([]profiles.Setting{{Parameter: q, Value: value}}, starts)
	for _, told := range tellings {
		addPacket(f, told.Message)
	}
	for _, question := range p.Ask([]profiles.Parameter{q}) {
		addPacket(f, question.Message)
	}
	if answer, err := p.Answer(q, starts); err == nil {
		addPacket(f, answer)
	}
}

func addPacket(f *testing.F, m osc.Message) {
	if packet, err := m.Encode(); err == nil { // a desk that can't say who it is has no question for it
		f.Add(packet)
	}
}

func checkHeard(t *testing.T, p *profiles.Profile, h osc.Heard) {
	for _, r := range p.Hear(h) {
		if r.Key != profiles.Who {
			checkOnGrid(t, p, profiles.Setting{Parameter: r.Key, Value: r.Value})
		}
	}
	for _, s := range p.Told(h) {
		checkOnGrid(t, p, s)
		checkWire(t, p, s)
	}
	for _, q := range p.Asked(h) {
		holds := func(q profiles.Parameter) (profiles.Value, bool) {
			c, ok := p.Control(q)
			if !ok {
				return profiles.Word(p.Says()), q == profiles.Who
			}
			return c.Start, true
		}
		answer, err := p.Answer(q, holds)
		if err != nil {
			t.Fatalf("%s: %s is asked for by %s, and can't be answered: %v", p.Name, q, h, err)
		}
		overTheWire(t, answer)
	}
	p.Greeted(h)
	p.KeptAlive(h)
	p.AskedToFollow(h)
}

func checkOnGrid(t *testing.T, p *profiles.Profile, s profiles.Setting) {
	c, ok := p.Control(s.Parameter)
	if !ok {
		t.Fatalf("%s has no %s", p.Name, s.Parameter)
	}
	if near, err := c.Nearest(s.Value); err != nil || near != s.Value {
		t.Fatalf("%s: %s was heard as %v, which is not on its grid: %v, %v", p.Name, s.Parameter, s.Value, near, err)
	}
}
