package scenes_test

import (
	"math"
	"strings"
	"testing"

	"deskhand/scenes"
	"deskhand/scenes/tone"

	"github.com/google/go-cmp/cmp"
)

// Dialled in with a boom like the hall's, at 0.4 m.
const speaker = `[dialled-in]
sensitivity = -34
distance = 0.4

[voice]
level = 66

[strip]
input.gain = 40
`

// onHall resolves the speaker at the hall's lectern.
func onHall(t *testing.T, venue, performer string) *scenes.Resolved {
	t.Helper()
	_, r, err := onLectern(t, "hall", files{"venues/hall.toml": venue, "performers/x.toml": performer})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// 66 dB SPL at 1 m are 73.959 at 0.4 m: 73.959 - 94 - 34 + 2.218 - 22 = -73.823 dB re full
// scale at a gain of 0 dB.
func TestTheLevelAtTheConverter(t *testing.T) {
	desk := tone.Desk{FullScale: 22}
	for _, c := range []struct {
		name, performer string
		want            float64
	}{
		{"gain", speaker, -33.823},
		{"gain and pad", speaker + "input.pad = true\n", -53.823},
		{"a trim comes after it", speaker + "input.trim = 6\n", -33.823},
		// At 0.2 m the same level is 6.021 dB less at 0.4 m: 66 - 6.021 instead of 73.959.
		{"measured nearer", strings.Replace(speaker, "level = 66", "level = 66\ndistance = 0.2", 1), -33.823 - 13.979},
	} {
		r := onHall(t, hall, c.performer)
		g := r.Structure(desk)
		if g == nil || math.Abs(g.Level-c.want) > 0.001 {
			t.Errorf("%s: %v, want %v", c.name, g, c.want)
		}
	}
	r := onHall(t, hall, speaker)
	if arrives, ok := r.Arrives(desk); !ok || math.Abs(arrives+73.823) > 0.001 {
		t.Errorf("it arrives at %v, want -73.823", arrives)
	}
}

func TestTheLevelAtTheConverterIsUnknownWithoutAllThatItTakes(t *testing.T) {
	desk := tone.Desk{FullScale: 22}
	for _, c := range []struct {
		name, venue, performer string
		desk                   tone.Desk
	}{
		{"a voice", hall, strings.Replace(speaker, "[voice]\nlevel = 66\n", "", 1), desk},
		{"a gain", hall, strings.Replace(speaker, "input.gain = 40\n", "", 1), desk},
		{"a distance", strings.Replace(hall, "distance = 0.4\n", "", 1), speaker, desk},
		{"a microphone", strings.Replace(hall, "microphone = \"boom\"\n", "", 1), speaker, desk},
		{"a full scale", hall, speaker, tone.Desk{FullScale: math.NaN()}},
	} {
		r := onHall(t, c.venue, c.performer)
		if g := r.Structure(c.desk); g != nil {
			t.Errorf("without %s: %v", c.name, g)
		}
	}
}

// quay-24 is full at 22 dBu. With 40 dB of gain the level is -33.8 dB, and fits; 31 dB more
// and less are too much.
func TestALevelThatDoesNotFitTheConverterIsWarnedOf(t *testing.T) {
	scene := "venue = \"hall\"\n[positions.lectern]\nperformer = \"x\"\n"
	for _, c := range []struct {
		gain string
		want []string
	}{
		{"40", []string{}},
		// -73.8 + 58.5 = -15.3, the highest levels at -5.3; 2.7 dB down to -18.
		{"58.5", []string{"performers/x.toml:9: x on lectern: too hot at the converter of quay-24, speech at -15.3 dB re full scale, its highest levels at -5.3 dB: " +
			"take the gain down by 2.7 dB, or press the pad"}},
		// -73.8 + 30 = -43.8; 25.8 dB up to -18.
		{"30", []string{"performers/x.toml:9: x on lectern: too low at the converter of quay-24, speech at -43.8 dB re full scale: " +
			"25.8 dB more gain, with the fader down by as much, or a nearer microphone would set it well"}},
	} {
		b := bookOf(t, files{"venues/hall.toml": hall, "performers/x.toml": strings.Replace(speaker, "input.gain = 40", "input.gain = "+c.gain, 1), "scenes/x.toml": scene})
		if diff := cmp.Diff(c.want, append([]string{}, texts(b.Check(nil).Warnings)...)); diff != "" {
			t.Errorf("gain %s: %s", c.gain, diff)
		}
	}
}
