package scenes_test

import (
	"math"
	"strings"
	"testing"

	"deskhand/profiles"
	"deskhand/scenes"

	"pgregory.net/rapid"
)

// bargeVenue is a room on a desk whose bells get narrower as their gain grows.
const bargeVenue = "[desk]\nprofile = \"barge-48\"\naddress = \"127.0.0.1\"\n[positions.lectern]\nchannel = 1\n"

const dialledOnQuay = "[dialled-in]\nsensitivity = -38\ndistance = 0.3\ndesk = \"quay-24\"\n[strip]\n"

func onBarge(t testing.TB, performer string) (*scenes.Venue, *scenes.Resolved) {
	t.Helper()
	v, r, err := onLectern(t, "pier", files{"venues/pier.toml": bargeVenue, "performers/x.toml": performer})
	if err != nil {
		t.Fatal(err)
	}
	return v, r
}

func TestABellKeepsItsWidthOnADeskThatShowsQOtherwise(t *testing.T) {
	_, r := onBarge(t, dialledOnQuay+"eq.1 = { frequency = 1000, gain = 6, q = 2 }\neq.2 = { kind = \"low-shelf\", frequency = 200, gain = 6, q = 2 }\n")
	// barge-48 narrows a bell by 10^(6/40) = 1.4125: for a real Q of 2 it shows 2 / 1.4125.
	w, _ := asked(r, "eq.1.q")
	if q, _ := w.Asked.Number(); math.Abs(q-1.4159) > 0.0001 || w.Note != "Q 2 as quay-24 shows it" {
		t.Errorf("the bell asks for Q %v (%s)", q, w.Note)
	}
	// A shelf's Q is the same on both.
	if w, _ := asked(r, "eq.2.q"); w.Asked != profiles.Number(2) {
		t.Errorf("the shelf asks for Q %v", w.Asked)
	}
	if r.EQ != nil {
		t.Errorf("fitted: %v", r.EQ.Why)
	}
}

func TestWithoutADeskThatIsNamedQIsTakenAsThisDeskShowsIt(t *testing.T) {
	_, r := onBarge(t, "[strip]\neq.1 = { frequency = 1000, gain = 6, q = 2 }\n")
	if w, _ := asked(r, "eq.1.q"); w.Asked != profiles.Number(2) || w.Note != "" {
		t.Errorf("Q %v (%s)", w.Asked, w.Note)
	}
}

// What a hand makes of a bell is kept so that resolving it again asks for what the desk
// holds, whatever the desk means by Q.
func TestAKeptBellLeadsBackToWhatTheDeskHolds(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		v, r := onBarge(t, dialledOnQuay+"eq.1 = { frequency = 1000, gain = 6, q = 2 }\n")
		holds := make(scenes.Values)
		for _, w := range r.Wanted {
			holds[w.Parameter] = w.Value
		}
		for _, field := range []string{"gain", "q"} {
			q := profiles.Parameter{Place: r.Position.Place(), Name: "eq.1." + field}
			control, _ := v.Desk.Profile.Control(q)
			if rapid.Bool().Draw(rt, "moves "+field) {
				holds[q] = control.Curve.At(rapid.IntRange(0, control.Curve.Steps()-1).Draw(rt, field))
			}
		}
		kept, _ := v.Keep(r, holds, func(profiles.Parameter) bool { return true }, nil)
		text := dialledOnQuay + "eq.1 = { frequency = 1000, gain = " + inFile(kept, "gain", "6") + ", q = " + inFile(kept, "q", "2") + " }\n"
		_, again := onBarge(t, text)
		for _, w := range again.Wanted {
			if strings.HasPrefix(w.Parameter.Name, "eq.1.") && w.Value != holds[w.Parameter] {
				rt.Fatalf("%s: kept %v asks for %v, and the desk holds %v\n%s", w.Parameter, kept, w.Value, holds[w.Parameter], text)
			}
		}
	})
}

// The file says -10.2 dB for a step of -10.25 dB, and translates the Q with that.
func TestAKeptQGoesByTheGainThatTheFileWillSay(t *testing.T) {
	const text = dialledOnQuay + "eq.1 = { frequency = 1000, gain = 6, q = 2 }\n"
	d := after(t, bookOf(t, files{"venues/pier.toml": bargeVenue, "performers/x.toml": text}), "pier", "lectern", "x", nil)
	d.hand("eq.1.gain", -10.25)
	keeps(t, d)
}

// inFile is what was kept of a field, or what the file had.
func inFile(kept []scenes.Kept, field, had string) string {
	for _, k := range kept {
		if strings.HasSuffix(k.Parameter.Name, "."+field) {
			return k.To.String()
		}
	}
	return had
}

// responsesVenue has two microphones, of which the second hears 4 dB more from 4 kHz on and
// 20 dB less at the bottom.
const responsesVenue = `[desk]
profile = "quay-24"
address = "127.0.0.1"
[microphones.old]
sensitivity = -38
phantom = false
response = [[20, -2], [100, 0], [1000, 0], [4000, 4], [20000, 4]]
[microphones.new]
sensitivity = -38
phantom = false
response = [[20, 18], [63, 18], [100, 0], [20000, 0]]
[positions.lectern]
channel = 1
microphone = "new"
distance = 0.3
[positions.table]
channel = 2
microphone = "old"
distance = 0.3
`

func TestTheDifferenceOfMicrophonesJoinsTheEQIfTheBookAsksForIt(t *testing.T) {
	const performer = "[dialled-in]\nsensitivity = -38\ndistance = 0.3\nmicrophone = \"loft/old\"\n[strip]\nfader = 0\n"
	for _, c := range []struct {
		name, book, position string
		fitted               bool
	}{
		{"asked for", "[eq]\nmicrophones = true\n", "lectern", true},
		{"not asked for", "", "lectern", false},
		{"the same microphone", "[eq]\nmicrophones = true\n", "table", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bookOf(t, files{"book.toml": c.book, "venues/loft.toml": responsesVenue, "performers/x.toml": performer})
			v, err := b.Venue("loft")
			if err != nil {
				t.Fatal(err)
			}
			cast, err := b.CastFor(v, c.position, "x", nil)
			if err != nil {
				t.Fatal(err)
			}
			r, err := v.Resolve(cast)
			if err != nil {
				t.Fatal(err)
			}
			if (r.EQ != nil) != c.fitted {
				t.Fatalf("fitted: %+v", r.EQ)
			}
			if !c.fitted {
				return
			}
			if r.EQ.Why != "the response of new is another than that of old" {
				t.Error(r.EQ.Why)
			}
			at := func(hz float64) float64 {
				for i, f := range r.EQ.Hz {
					if math.Abs(f-hz) < 0.01*hz {
						return r.EQ.Target[i]
					}
				}
				t.Fatalf("nothing at %v Hz", hz)
				return 0
			}
			// At 62.5 Hz the old one has about -0.6 dB and the new one 18: 18.6 less, of which
			// 6 join. At 500 Hz both have 0; at 2 kHz, halfway from 1 kHz to 4 kHz on a log axis,
			// the old one has 2, and from 4 kHz on 4.
			for hz, want := range map[float64]float64{62.5: -6, 500: 0, 2000: 2, 8000: 4} {
				if got := at(hz); math.Abs(got-want) > 0.01 {
					t.Errorf("at %v Hz the target is %v dB, not %v", hz, got, want)
				}
			}
		})
	}
}
