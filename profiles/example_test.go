package profiles_test

import (
	"testing"

	"deskhand/osc"
	"deskhand/profiles"
)

// An example is right if the desk's end of the profile understands it: what is told is
// the value, what is asked about is the parameter, and what is answered is heard as it.
func TestExamplesSayWhatTheyStandFor(t *testing.T) {
	for _, p := range every(t) {
		for _, q := range p.Parameters() {
			control, _ := p.Control(q)
			x, ok := p.Example(q)
			if reached := control.Reach() == profiles.OverOSC || control.Reach() == profiles.TellOnly; ok != reached {
				t.Fatalf("%s: %s: an example: %v", p.Name, q, ok)
			}
			if ok {
				checkExample(t, p, q, x)
			}
		}
	}
}

func checkExample(t *testing.T, p *profiles.Profile, q profiles.Parameter, x profiles.Example) {
	t.Helper()
	told := false
	for _, s := range p.Told(osc.Heard{Message: x.Tell}) {
		told = told || s == profiles.Setting{Parameter: q, Value: x.Value}
	}
	if !told {
		t.Errorf("%s: %s: %s does not tell %s", p.Name, q, x.Tell, x.Value)
	}
	if (x.Ask.Address != "") != p.Askable(q) || (x.Answer.Address != "") != p.Askable(q) {
		t.Fatalf("%s: %s: asked by %s, answered by %s", p.Name, q, x.Ask, x.Answer)
	}
	if !p.Askable(q) {
		return
	}
	if len(p.Asked(osc.Heard{Message: x.Ask})) == 0 {
		t.Errorf("%s: %s: %s asks nothing", p.Name, q, x.Ask)
	}
	heard := false
	for _, r := range p.Hear(osc.Heard{Message: x.Answer}) {
		heard = heard || r.Key == q && r.Value == x.Value
	}
	if !heard {
		t.Errorf("%s: %s: %s does not answer %s", p.Name, q, x.Answer, x.Value)
	}
}
