package desk

import (
	"fmt"
	"strings"
	"time"
)

// Moment is a time as two clocks tell it.
type Moment struct {
	// Wall is the time of day, by a clock that anybody may set and that goes on while the
	// machine sleeps.
	Wall time.Time
	// Ran is how long the machine has run since some time, by a clock that nobody sets. On
	// most systems it stands still while the machine sleeps.
	Ran time.Duration
}

// Clock tells the time. It may be called from any goroutine.
type Clock func() Moment

// MachineClock is the clock of this machine.
func MachineClock() Clock {
	began := time.Now()
	return func() Moment {
		now := time.Now()
		return Moment{Wall: now.Round(0), Ran: now.Sub(began)} // rounded, it has the wall's reading alone
	}
}

// Gap is a time in which nobody looked at the desk, or by which the clock was set.
type Gap struct {
	// Still is for how long this program did not run though the machine did, 0 for not.
	Still time.Duration
	// Ahead is by how much the wall's clock has gone on more than the machine has run: it
	// slept, or the clock was set. It is below 0 where the clock was set back.
	Ahead time.Duration
}

// gapBetween is the gap between two moments, of which the second was to come at once. What
// is less than least is none.
func gapBetween(from, to Moment, least time.Duration) Gap {
	g := Gap{Ahead: aheadBetween(from, to, least)}
	if ran := to.Ran - from.Ran; ran >= least {
		g.Still = ran
	}
	return g
}

func aheadBetween(from, to Moment, least time.Duration) time.Duration {
	ahead := to.Wall.Sub(from.Wall) - (to.Ran - from.Ran)
	if ahead.Abs() < least {
		return 0
	}
	return ahead
}

// WasAway reports whether the desk may have been moved or switched off and on without this
// program hearing of it. Where only the clock was set back it was there all the time.
func (g Gap) WasAway() bool { return g.Still > 0 || g.Ahead > 0 }

// String says what is known. Sleep and a clock that was set forward look alike.
func (g Gap) String() string {
	var words []string
	switch {
	case g.Ahead > 0:
		words = append(words, fmt.Sprintf("the computer slept for %s, or its clock was set forward by as much", sayLong(g.Ahead)))
	case g.Ahead < 0:
		words = append(words, fmt.Sprintf("the clock was set back by %s", sayLong(-g.Ahead)))
	}
	if g.Still > 0 {
		words = append(words, fmt.Sprintf("deskhand was stopped, or the computer too busy for it, for %s", sayLong(g.Still)))
	}
	return strings.Join(words, "; ")
}

// sayLong says a time in its two largest units: "1 h 2 min", "3 min 5 s", "8 s".
func sayLong(d time.Duration) string {
	d = d.Round(time.Second)
	days, hours, minutes, seconds := d/(24*time.Hour), d/time.Hour%24, d/time.Minute%60, d/time.Second%60
	switch {
	case days > 0:
		return fmt.Sprintf("%d d %d h", days, hours)
	case hours > 0:
		return fmt.Sprintf("%d h %d min", hours, minutes)
	case minutes > 0:
		return fmt.Sprintf("%d min %d s", minutes, seconds)
	}
	return fmt.Sprintf("%d s", seconds)
}
