package recall_test

import (
	"context"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"

	"github.com/google/go-cmp/cmp"
)

// knobs makes the gain of a quay-24 a knob in front, and phantom power a switch there.
var knobs = []string{
	`input.gain = { at = "/lane/{channel}/front/gain", linear`, `input.gain = { by-hand = "turn the gain knob", linear`,
	`input.phantom = { at = "/lane/{channel}/front/phantom", settle = "400ms" }`, `input.phantom = { by-hand = "press the phantom switch" }`,
}

// wholeDesk is a desk that can be read, by its profile, and what only a hand can do there.
type wholeDesk struct {
	profile string
	edits   []string
	byHand  bool
}

func wholeDesks(t *testing.T) map[string]wholeDesk {
	t.Helper()
	all := map[string]wholeDesk{"quay-24 with knobs": {"quay-24", knobs, true}}
	for _, name := range profiles.ShippedNames() {
		text, err := profiles.Shipped(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := profiles.Load(name, text)
		if err != nil {
			t.Fatal(err)
		}
		if p.CanAnswer() {
			all[name] = wholeDesk{profile: name}
		}
	}
	return all
}

// The whole of a desk is read into a reading's file, every control is moved somewhere
// else, and the reading is sent: the desk's own state is as it was, to the last control.
func TestAWholeDeskIsReadScrambledAndRestored(t *testing.T) {
	for name, with := range wholeDesks(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) { restoreWhole(t, with) })
		})
	}
}

func restoreWhole(t *testing.T, with wholeDesk) {
	r := recallerOn(t, with.profile, with.edits, "")
	p := r.Venue.Desk.Profile
	link, socket := mockdesk.Cable()
	mock, err := mockdesk.Start(p, mockdesk.Options{Socket: socket})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { mock.Close() })
	r.Desk = desk.Over(link, p, with.profile, desk.Options{})
	t.Cleanup(func() { r.Desk.Close() })

	scramble(t, p, mock, 1)
	before := state(p, mock)
	reading := readWhole(t, r)
	forHand := make(scenes.Values)
	for q, v := range before {
		if control, _ := p.Control(q); control.Reach() == profiles.ByHand {
			reading.Values[q], forHand[q] = v, v // somebody wrote down the knobs
		}
	}
	if with.byHand != (len(forHand) > 0) {
		t.Fatalf("%d controls are for a hand", len(forHand))
	}
	scramble(t, p, mock, 2)
	if paths := differing(before, state(p, mock)); len(paths) < len(before)/2 {
		t.Fatalf("only %d of %d controls were moved", len(paths), len(before))
	}
	var listed []scenes.Change
	r.Hand = func(_ context.Context, changes []scenes.Change) (bool, error) {
		listed = changes
		for _, c := range changes {
			if _, err := mock.Move(c.Parameter, c.To); err != nil {
				t.Error(err)
			}
		}
		return true, nil
	}
	plan, err := r.Prepare(t.Context(), recall.ForReading(r.Venue, throughFile(t, r, reading)))
	if err != nil {
		t.Fatal(err)
	}
	result, err := r.CarryOut(t.Context(), plan)
	if err != nil || !result.Complete() {
		t.Fatalf("%v, not confirmed: %d, as %v", err, len(result.Unproved), result.Unproved[:min(len(result.Unproved), 5)])
	}
	if paths := differing(before, state(p, mock)); len(paths) > 0 {
		t.Errorf("%d of %d controls are not as they were, as %v", len(paths), len(before), paths[:min(len(paths), 9)])
	}
	if diff := cmp.Diff(forHand, changesOf(listed), cmp.AllowUnexported(profiles.Value{}), cmp.Transformer("", func(q profiles.Parameter) string { return q.String() })); diff != "" {
		t.Errorf("listed for a hand: %s", diff)
	}
	if len(result.Overruled)+len(result.Moved)+len(result.PutBack) > 0 || result.Restarted {
		t.Errorf("told of hands where none were: %v %v %v %t", result.Overruled, result.Moved, result.PutBack, result.Restarted)
	}
}

// readWhole is what deskhand read does.
func readWhole(t *testing.T, r *recall.Recaller) *scenes.Reading {
	t.Helper()
	values, missing, err := r.Desk.Read(t.Context(), r.Venue.Desk.Profile.Parameters(), nil)
	if err != nil || len(missing) > 0 {
		t.Fatal(missing, err)
	}
	return &scenes.Reading{Desk: r.Venue.Desk.Profile.Name, Taken: time.Now(), Values: values}
}

// throughFile writes a reading and reads it again, as send does.
func throughFile(t *testing.T, r *recall.Recaller, reading *scenes.Reading) *scenes.Reading {
	t.Helper()
	again, err := r.Book.ParseReading("readings/whole.toml", reading.Text(r.Venue.Desk.Profile))
	if err != nil {
		t.Fatal(err)
	}
	return again
}

// scramble moves every control of a desk that can be moved somewhere on its grid.
func scramble(t *testing.T, p *profiles.Profile, mock *mockdesk.Desk, seed uint64) {
	t.Helper()
	random := rand.New(rand.NewPCG(seed, 48))
	for _, q := range p.Parameters() {
		control, _ := p.Control(q)
		if control.Reach() == profiles.Fixed {
			continue
		}
		v := profiles.Word(someText(random))
		if steps := control.Curve.Steps(); steps > 0 {
			v = control.Curve.At(random.IntN(steps))
		}
		if _, err := mock.Move(q, v); err != nil {
			t.Fatal(err)
		}
	}
}

// someText is what people write on a channel, and what they don't.
func someText(random *rand.Rand) string {
	const letters = `Abc xyz 09 "'\/#=[]{}.,-`
	text := make([]byte, random.IntN(24))
	for i := range text {
		text[i] = letters[random.IntN(len(letters))]
	}
	return string(text)
}
