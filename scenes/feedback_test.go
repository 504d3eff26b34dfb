package scenes_test

import (
	"math"
	"strings"
	"testing"

	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
)

// hall is a room of which all is known. One microphone open at the lectern: 20 log10(14*5
// / (0.4*12)) - 6 = 17.28 dB can be had and 20 log10(14/4) = 10.88 dB are needed.
const hall = plainVenue + `[microphones.boom]
sensitivity = -34
phantom = true

[distances]
listener = 14
loudspeaker = 5
throw = 12
unaided = 4

[positions.lectern]
channel = 3
microphone = "boom"
distance = 0.4

[positions.table]
channel = 4
microphone = "boom"
distance = 0.8

[positions.tape]
channel = 5
`

func resolveScene(t *testing.T, b *scenes.Book, name string) []*scenes.Resolved {
	t.Helper()
	s, err := b.Scene(name)
	if err != nil {
		t.Fatal(err)
	}
	_, all, err := b.ResolveScene(s)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestFeedbackCountsTheMicrophonesThatASceneLeavesOpen(t *testing.T) {
	scene := "venue = \"hall\"\n[positions.lectern]\nopen = true\n[positions.table]\n%\n[positions.tape]\nopen = true\n"
	for table, want := range map[string]int{"open = true": 2, "": 2, "open = false": 1} {
		all := resolveScene(t, bookOf(t, files{"venues/hall.toml": hall, "scenes/x.toml": strings.Replace(scene, "%", table, 1)}), "x")
		open := scenes.OpenMicrophones(all)
		if open != want {
			t.Errorf("with %q, %d microphones are open, want %d", table, open, want)
		}
		// Two microphones have 10 log10 2 = 3.01 dB less than one.
		potential := 17.277 - 10*math.Log10(float64(want))
		if got := all[0].Feedback(open).Room.PotentialGain(); math.Abs(got-potential) > 0.001 {
			t.Errorf("with %q, %.3f dB can be had, want %.3f", table, got, potential)
		}
		if f := all[1].Feedback(open); (f == nil) != (want == 1) {
			t.Errorf("with %q, of the table is known %v", table, f)
		}
		if f := all[2].Feedback(open); f != nil {
			t.Errorf("a tape machine rings: %+v", f)
		}
	}
}

func TestFeedbackNamesTheKeyThatIsMissing(t *testing.T) {
	for _, c := range []struct {
		name, old, by string
		want          []string
	}{
		{"all there", "", "", nil},
		{"one", "throw = 12\n", "", []string{"distances.throw"}},
		{"two", "listener = 14\nloudspeaker = 5\n", "", []string{"distances.listener", "distances.loudspeaker"}},
		{"to the microphone", "distance = 0.4\n", "", []string{"distance"}},
	} {
		v, err := bookOf(t, files{"venues/hall.toml": strings.Replace(hall, c.old, c.by, 1)}).Venue("hall")
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, v.Positions[0].Feedback(1).Missing); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
	none := strings.Replace(hall, "[distances]\nlistener = 14\nloudspeaker = 5\nthrow = 12\nunaided = 4\n", "", 1)
	v, err := bookOf(t, files{"venues/hall.toml": none}).Venue("hall")
	if err != nil {
		t.Fatal(err)
	}
	if f := v.Positions[0].Feedback(1); f != nil {
		t.Errorf("without any distance something is said: %+v", f)
	}
}

// The table, at 2.5 m: 20 log10(14*5 / (2.5*12)) = 7.360; less 6 and 10 log10 2 = 3.010 is
// -1.651 dB. 10.881 are needed: -12.532 dB, and in the figures that people read -1.7 - 10.9
// = -12.6. To make up for it: 2.5 m / 10^(12.532/20) = 2.5
// / 4.232 = 0.590 m, 5 m * 4.232 = 21.16 m; and one microphone alone is 9.522 dB short.
func TestASceneThatWouldRingIsWarnedOfWithWhatHelps(t *testing.T) {
	far := strings.Replace(hall, "distance = 0.8", "distance = 2.5", 1)
	b := bookOf(t, files{"venues/hall.toml": far, "scenes/x.toml": "venue = \"hall\"\n[positions.lectern]\nopen = true\n[positions.table]\nopen = true\n"})
	want := []string{"scenes/x.toml:4: table: the gain before feedback falls 12.6 dB short of what the farthest listener needs, with 2 microphones open (a free-field estimate); " +
		"what would do alone: the microphone at 0.59 m instead of 2.50 m, or the loudspeaker 21.2 m from it instead of 5.0 m; with 1 open it is still 9.5 dB short"}
	if diff := cmp.Diff(want, texts(b.Check(nil).Warnings)); diff != "" {
		t.Error(diff)
	}
}

// Five microphones at 0.8 m: 20 log10(14*5 / (0.8*12)) = 17.257; less 6 and 10 log10 5 =
// 6.990 is 4.267 dB, 6.614 short of 10.881. 0.8 / 10^(6.614/20) = 0.8 / 2.1414 = 0.3736 m,
// down to 0.37; 5 * 2.1414 = 10.707 m, up to 10.8; 5 / 2.1414^2 = 1.09, so one.
func TestHelpIsRoundedToTheSideThatHelps(t *testing.T) {
	v, err := bookOf(t, files{"venues/hall.toml": hall}).Venue("hall")
	if err != nil {
		t.Fatal(err)
	}
	want := "what would do alone: the microphone at 0.37 m instead of 0.80 m, or the loudspeaker 10.8 m from it instead of 5.0 m, or 1 open instead of 5"
	if got := v.Positions[1].Feedback(5).SayHelp(); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestCheckSaysWhichDistanceIsMissing(t *testing.T) {
	b := bookOf(t, files{"venues/hall.toml": strings.Replace(hall, "throw = 12\n", "", 1)})
	want := []string{
		"venues/hall.toml:13: the gain before feedback can't be worked out for lectern: distances.throw is not said",
		"venues/hall.toml:18: the gain before feedback can't be worked out for table: distances.throw is not said",
	}
	if diff := cmp.Diff(want, texts(b.Check(nil).Warnings)); diff != "" {
		t.Error(diff)
	}
}
