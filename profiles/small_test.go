package profiles_test

import (
	"strings"
	"testing"

	"deskhand/osc"
	"deskhand/profiles"
)

// head is what every small profile of these tests begins with. What follows it starts
// on line 12.
const head = `name = "small"
channels = 2
mixes = 2
bands = 2
groups = 2

[link]
port = 9000
[identity]
ask = "/who"
says = "small"
`

// tb is what the tests and the properties have in common.
type tb interface {
	Helper()
	Fatalf(format string, args ...any)
}

// load gives the profile of a text that must be without fault.
func load(t tb, text string) *profiles.Profile {
	t.Helper()
	p, err := profiles.Load("small.toml", []byte(text))
	if err != nil {
		t.Fatalf("%v\nin\n%s", err, text)
	}
	return p
}

// control gives the control of a parameter of a small profile with these lines.
func control(t tb, path string, lines ...string) *profiles.Control {
	t.Helper()
	c, ok := load(t, head+strings.Join(lines, "\n")).Control(parameter(t, path))
	if !ok {
		t.Fatalf("the profile has no %s", path)
	}
	return c
}

// tell gives the messages that set values, and what the desk will hold.
func tell(p *profiles.Profile, settings ...profiles.Setting) ([]osc.Message, []profiles.Setting, error) {
	tellings, err := p.Tell(settings, nil)
	var messages []osc.Message
	var held []profiles.Setting
	for _, t := range tellings {
		messages, held = append(messages, t.Message), append(held, t.Settings...)
	}
	return messages, held, err
}

// holding gives what a desk with only these settings holds.
func holding(settings ...profiles.Setting) func(profiles.Parameter) (profiles.Value, bool) {
	return func(q profiles.Parameter) (profiles.Value, bool) {
		for _, s := range settings {
			if s.Parameter == q {
				return s.Value, true
			}
		}
		return profiles.Value{}, false
	}
}

func parameter(t tb, path string) profiles.Parameter {
	t.Helper()
	q, err := profiles.ParseParameter(path)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return q
}

// quay gives the shipped profile that the tests are about.
func quay(t tb) *profiles.Profile {
	t.Helper()
	text, err := profiles.Shipped("quay-24")
	if err != nil {
		t.Fatalf("%v", err)
	}
	return load(t, string(text))
}

// quayControl gives the control of a parameter of quay-24.
func quayControl(t tb, path string) *profiles.Control {
	t.Helper()
	c, ok := quay(t).Control(parameter(t, path))
	if !ok {
		t.Fatalf("quay-24 has no %s", path)
	}
	return c
}

// every gives the shipped profiles.
func every(t testing.TB) []*profiles.Profile {
	t.Helper()
	names := profiles.ShippedNames()
	if len(names) == 0 {
		t.Fatal("no profile is shipped")
	}
	var all []*profiles.Profile
	for _, name := range names {
		text, err := profiles.Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := profiles.Load(name+".toml", text)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	return all
}
