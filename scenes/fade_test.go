package scenes_test

import (
	"testing"
	"time"

	"deskhand/scenes"
)

func TestASceneSaysHowItFades(t *testing.T) {
	for _, c := range []struct {
		keys string
		want scenes.Fade
		word string
	}{
		{"", scenes.Fade{}, ""},
		{"fade = \"0s\"\n", scenes.Fade{}, ""},
		{"fade = \"2s\"\n", scenes.Fade{Time: 2 * time.Second}, "down-first"},
		{"fade = \"100ms\"\nfade-order = \"down-first\"\n", scenes.Fade{Time: 100 * time.Millisecond}, "down-first"},
		{"fade = \"1m\"\nfade-order = \"together\"\n", scenes.Fade{Time: time.Minute, Together: true}, "together"},
	} {
		b := bookOf(t, files{"scenes/x.toml": plainScene + c.keys + "[positions.lectern]\n"})
		scene, err := b.Scene("x")
		if err != nil || scene.Fade != c.want || scene.Fade.Order() != c.word {
			t.Errorf("%q: %+v %v", c.keys, scene, err)
		}
	}
}

func TestATimeForAFadeIsFrom100MillisecondsToAMinute(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"2s": 2 * time.Second, "0.1s": 100 * time.Millisecond, "60s": time.Minute, "1m": time.Minute,
		"": 0, "2": 0, "99ms": 0, "61s": 0, "-2s": 0, "0s": 0, "soon": 0,
	} {
		got, err := scenes.ParseFade(text)
		if got != want || (err == nil) != (want > 0) {
			t.Errorf("%q: %v %v", text, got, err)
		}
	}
}
