package scenes

import (
	"fmt"
	"time"

	"deskhand/profiles/source"
)

// Fade says how the levels of a recall move. No time is no fade: levels are set at once,
// while the position is muted.
type Fade struct {
	// Time is how long each level is on its way.
	Time time.Duration
	// Together has what comes up and what goes down move at the same time, where a position
	// allows; else everything goes down first.
	Together bool
}

// Order is the word of fade-order for the fade, "" where there is none.
func (f Fade) Order() string {
	switch {
	case f.Time == 0:
		return ""
	case f.Together:
		return together
	}
	return downFirst
}

// The shortest and the longest fade. A longer one is a slip, and would keep the desk busy.
const (
	ShortestFade = 100 * time.Millisecond
	LongestFade  = 60 * time.Second
)

// The words of fade-order.
const (
	downFirst = "down-first"
	together  = "together"
)

// ParseFade reads the time of a fade, such as "2s", 0.1 s to 60 s.
func ParseFade(text string) (time.Duration, error) {
	d, err := time.ParseDuration(text)
	if err != nil || d < ShortestFade || d > LongestFade {
		return 0, fmt.Errorf(`a fade takes 0.1 s to 60 s: write it as "2s" or "500ms"`)
	}
	return d, nil
}

// readFade reads the keys fade and fade-order of a scene, in its file or in a running
// order. A fade of "0s" is none.
func readFade(t *source.Table) Fade {
	var f Fade
	d, ok := t.Duration("fade")
	switch {
	case !ok:
	case d == 0:
	case d < ShortestFade:
		t.Fault("fade", "a fade of %v is too short: write 0.1 s to 60 s, as fade = \"2s\", or leave it out", d)
	case d > LongestFade:
		t.Fault("fade", "a fade of %v is too long: write 0.1 s to 60 s, as fade = \"2s\"", d)
	default:
		f.Time = d
	}
	order, ok := t.Text("fade-order")
	switch {
	case !ok:
	case order != downFirst && order != together:
		t.Fault("fade-order", "fade-order can't be %q%s", order, source.DidYouMean(order, []string{downFirst, together}))
	case !t.Has("fade"):
		t.Fault("fade-order", `fade-order says nothing without a fade: add fade = "2s"`)
	default:
		f.Together = order == together
	}
	return f
}
