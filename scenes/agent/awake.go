package agent

import (
	"context"
	"time"

	"deskhand/scenes"
	"deskhand/scenes/desk"
)

// errLate is the answer to what was asked for before the computer slept: it is not done an
// hour later, when nobody expects it.
var errLate = &RemoteFailure{CodeLate, "the computer slept, or deskhand was stopped, since this was asked for, so nothing was sent: look at the desk, and ask again"}

// now is the time of day.
func (a *Agent) now() time.Time { return a.o.Clock().Wall }

// Absences counts how often nobody was there for a while. What an Ask is to be held against
// that waited elsewhere before: see [Agent.AskSince].
func (a *Agent) Absences() uint64 { return a.absences.Load() }

// AskSince is [Agent.Ask] for what has been asked for when there were so many absences: if
// there were more since, it is not done.
func (a *Agent) AskSince(ctx context.Context, ask Ask, absences uint64) Event {
	return a.askBy(ctx, ask, scenes.ByUs, absences)
}

// isLate reports whether something was asked for before the computer slept. To mute is never
// too late.
func (a *Agent) isLate(q asking) bool {
	_, mutes := q.ask.(AskMute)
	return !mutes && q.before != a.Absences()
}

// noteGap notes a gap, from whichever goroutine has noticed it.
func (a *Agent) noteGap(g desk.Gap) {
	if g.WasAway() {
		a.absences.Add(1)
	}
	select {
	case a.gaps <- g:
	default: // there are others to be dealt with already, and all are dealt with alike
	}
}

// awake deals with a gap up to now before anything is done that rests on what was known
// before it.
func (a *Agent) awake(ctx context.Context) {
	a.vigil.Look()
	for {
		select {
		case g := <-a.gaps:
			a.awoke(ctx, g)
		default:
			return
		}
	}
}

// awoke finds its way again after a gap. A desk that nobody has heard for a while doesn't
// tell its changes any more, may have been switched off and on, and may be reached by
// another way: it is met anew, as one that was silent.
func (a *Agent) awoke(ctx context.Context, g desk.Gap) {
	e := Event{Kind: Awoke, Text: g.String()}
	if g.WasAway() {
		e.Text += ": the desk is asked anew"
	}
	a.tell(e)
	a.files.LookAgain()
	if !g.WasAway() || ctx.Err() != nil {
		return
	}
	a.line.close()
	a.line.pause = 0
	a.forebode()
	a.again(ctx)
}
