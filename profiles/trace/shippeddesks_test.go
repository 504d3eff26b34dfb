package trace_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/trace"

	"github.com/google/go-cmp/cmp"
)

// fromManual is what a desk's manual says of it: a shipped profile without how it
// counts, how settings look, curves and entries. Those are to be learned.
func fromManual(shipped []byte, desk string) []byte {
	drop := []string{"[numbers]", "[values]", "[tell]", "[curves]", "[channel]", "[mix]", "[main]", "[[block]]"}
	if desk == "barge-48" {
		drop = append(drop, "[answer]")
	}
	var out strings.Builder
	dropping := false
	for line := range strings.Lines(string(shipped)) {
		if strings.HasPrefix(line, "[") {
			header, _, _ := strings.Cut(line, "]")
			header = strings.TrimRight(header, "]") + strings.Repeat("]", strings.Count(header, "["))
			dropping = slices.Contains(drop, header)
		}
		if !dropping {
			out.WriteString(line)
		}
	}
	return []byte(out.String())
}

func recording(t testing.TB, file string) *trace.Recording {
	t.Helper()
	from, err := os.Open(filepath.Join(tracesDir, file))
	if err != nil {
		t.Fatal(err)
	}
	defer from.Close()
	r, err := trace.Read(file, from)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// proves sees to it that a profile reads a whole recording as it should.
func proves(t *testing.T, file string, p *profiles.Profile) {
	t.Helper()
	n, against, err := trace.Prove(recording(t, file), p)
	if err != nil || len(against) > 0 || n == 0 {
		t.Errorf("%d messages agree; against it: %v %v", n, against, err)
	}
}

// learned gives what a recorded trace makes of a profile.
func learned(t testing.TB, file string, text []byte) ([]byte, *trace.Findings) {
	t.Helper()
	r := recording(t, file)
	known, err := trace.ReadKnown(profiles.ShippedLibrary, text)
	if err != nil {
		t.Fatal(err)
	}
	found, err := trace.Learn(r, known)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range found.Questions {
		t.Errorf("a question is left: %s: %s", q.Parameter, q.Text)
	}
	for _, trouble := range found.Troubles {
		t.Errorf("%s: %v", trouble.Parameter, trouble.Err)
	}
	out, err := found.Into(file, text)
	if err != nil {
		t.Fatal(err)
	}
	return out, found
}

// TestWhatIsLearnedEqualsTheShippedEntries holds the learned entries against the
// shipped ones: at every place, for every step, the same messages.
func TestWhatIsLearnedEqualsTheShippedEntries(t *testing.T) {
	for _, l := range lessons {
		t.Run(l.desk, func(t *testing.T) {
			shipped, text := shippedProfile(t, l.desk)
			out, found := learned(t, l.desk+".trace", fromManual(text, l.desk))
			t.Logf("%s", out)
			if len(found.Entries) != len(l.controls) {
				t.Errorf("%d entries, not %d", len(found.Entries), len(l.controls))
			}
			made, err := profiles.Load("learned.toml", out)
			if err != nil {
				t.Fatal(err)
			}
			for _, q := range shipped.Parameters() {
				if _, ok := made.Control(q); !ok && l.covers(q) {
					t.Errorf("%s was not learned", q)
				}
			}
			proves(t, l.desk+".trace", made)
			for _, q := range made.Parameters() {
				sameMessages(t, shipped, made, q)
			}
		})
	}
}

// covers reports whether a lesson is about a parameter, which is at any channel and of any
// band unless the desk has the control of one band only.
func (l lesson) covers(q profiles.Parameter) bool {
	family, _ := profiles.Family(q.Name)
	return q.Place.Part == profiles.Channel && slices.ContainsFunc(l.controls, func(name string) bool {
		of, _ := profiles.Family(name)
		return name == q.Name || of == family && !onlyHere[l.desk+" "+name]
	})
}

// sameMessages sees to it that two profiles speak alike about a parameter.
func sameMessages(t *testing.T, shipped, made *profiles.Profile, q profiles.Parameter) {
	t.Helper()
	if err := alike(shipped, made, q); err != nil {
		t.Fatal(err)
	}
}

// alike holds what two profiles say of a parameter against each other, at every step.
func alike(shipped, made *profiles.Profile, q profiles.Parameter) error {
	want, ok := shipped.Control(q)
	if !ok {
		return fmt.Errorf("%s is not in the shipped profile", q)
	}
	if !cmp.Equal(questions(shipped, q), questions(made, q)) {
		return fmt.Errorf("%s: asked by %v, not %v", q, questions(made, q), questions(shipped, q))
	}
	for step := range want.Curve.Steps() {
		v := want.Curve.At(step)
		holds := func(other profiles.Parameter) (profiles.Value, bool) {
			if other == q {
				return v, true
			}
			control, ok := shipped.Control(other)
			return control.Start, ok
		}
		setting := []profiles.Setting{{Parameter: q, Value: v}}
		a, errA := shipped.Tell(setting, holds)
		b, errB := made.Tell(setting, holds)
		if errA != nil || errB != nil || len(a) != 1 || len(b) != 1 || !cmp.Equal(a[0].Message, b[0].Message) {
			return fmt.Errorf("%s at %v is told by\n%v %v, not\n%v %v", q, v, b, errB, a, errA)
		}
		x, errA := shipped.Answer(q, holds)
		y, errB := made.Answer(q, holds)
		if errA != nil || errB != nil || !cmp.Equal(x, y) {
			return fmt.Errorf("%s at %v is answered by\n%v %v, not\n%v %v", q, v, y, errB, x, errA)
		}
	}
	return nil
}

// questions are the messages that ask for one parameter, without those of blocks.
func questions(p *profiles.Profile, q profiles.Parameter) []osc.Message {
	var list []osc.Message
	for _, question := range p.Ask([]profiles.Parameter{q}) {
		list = append(list, question.Message)
	}
	return list
}
