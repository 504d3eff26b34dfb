package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"deskhand/scenes"
	"deskhand/scenes/agent"
	"deskhand/scenes/recall"
)

// sayWrong tells what is wrong with a line.
func (p *plain) sayWrong(err error) {
	if p.app.json {
		p.app.printJSON(errorJSON(err))
		return
	}
	fmt.Fprintln(p.app.out, plainError(err))
}

// sayDone answers what was asked for: what it would change, what was proved, and how things
// stand then.
func (p *plain) sayDone(e agent.Event) {
	p.saying.Lock() // "mute now" is answered beside what is being done
	defer p.saying.Unlock()
	if e.Result != nil {
		p.half = halfOf(e)
	}
	if p.app.json {
		p.app.printJSON(answerJSON(e, p.agent.View()))
		return
	}
	a, v := p.app, p.agent.View()
	fmt.Fprintln(a.out, a.paint.head(e.Asked.String()))
	switch {
	case e.Plan != nil:
		done := recalled{plan: e.Plan, result: e.Result, err: e.Err, refused: e.Kind == agent.Refused}
		a.sayPlan(done)
		if e.Result != nil {
			a.sayResult(done)
		}
	case e.Kind == agent.Wrote:
		fmt.Fprintln(a.out, a.sayWhat(v.Venue, e)+sayApart(e.Apart))
	case e.Kind == agent.Moved:
		fmt.Fprintln(a.out, sayNothingKept(e))
	}
	if e.Err != nil {
		fmt.Fprintln(a.out, sayFailure(e.Err)+sayLetThrough(e))
	}
	fmt.Fprintln(a.out, sayOn(v))
}

// sayNothingKept says why a keep has written nothing.
func sayNothingKept(e agent.Event) string {
	if len(e.Apart) > 0 {
		return "nothing was kept: what a hand has moved is not for the file" + sayApart(e.Apart)
	}
	return "nothing to keep: the file says what the desk holds"
}

// halfOf is the error of what was not all confirmed.
func halfOf(e agent.Event) error {
	if e.Result == nil || e.Result.Complete() && e.Err == nil {
		return nil
	}
	return unfinished{errors.New("the last thing done is not all confirmed")}
}

// sayLetThrough says what would let a refused step through.
func sayLetThrough(e agent.Event) string {
	rise := riseOf(e)
	if rise == 0 {
		return ""
	}
	word, _, _ := strings.Cut(e.Asked.String(), " --allow-rise")
	switch e.Asked.(type) {
	case agent.AskNext:
		word = "next"
	case agent.AskBack:
		word = "back"
	}
	return fmt.Sprintf("; %s allow %.1f lets it through this once", word, rise)
}

// riseOf is the rise in dB, rounded up, with which a refused step would be let through; 0 where
// none would.
func riseOf(e agent.Event) float64 {
	var refused *recall.Refused
	if !errors.As(e.Err, &refused) {
		return 0
	}
	return enoughRise(refused.Rise)
}

// sayOn says in a line what is on and what is next.
func sayOn(v *agent.View) string {
	text := "on: " + sayItem(v, v.Number)
	if v.NextItem() != nil {
		text += "; next: " + sayItem(v, v.Number+1)
	} else {
		text += "; that is the last one"
	}
	if v.Hold {
		text += "; held: nothing is sent"
	}
	return text
}

// sayItem names a scene of the running order.
func sayItem(v *agent.View, number int) string {
	if number == 0 {
		return "nothing yet"
	}
	return fmt.Sprintf("%d of %d, %s", number, len(v.Order.Items), v.Order.Items[number-1].Title)
}

// sayPlanned says when a scene is planned, "planned 19:30, 45 min", or nothing.
func sayPlanned(it *scenes.Item) string {
	plan := planOf(*it)
	if it.Start != nil {
		plan = "planned " + plan
	}
	return plan
}

func sayMinutes(d time.Duration) string {
	if d%time.Minute == 0 {
		return fmt.Sprintf("%d min", d/time.Minute)
	}
	return d.String()
}

// sayStatus prints how all stands.
func (p *plain) sayStatus() {
	a, v := p.app, p.agent.View()
	if a.json {
		a.printJSON(viewJSON(v))
		return
	}
	fmt.Fprintln(a.out, sayOn(v))
	for _, it := range []*scenes.Item{v.Item(), v.NextItem()} {
		if it == nil {
			continue
		}
		if words := sayPlanned(it); words != "" {
			fmt.Fprintf(a.out, "%s: %s\n", it.Title, words)
		}
		if it.Notes != "" {
			fmt.Fprintf(a.out, "%s: %s\n", it.Title, strings.ReplaceAll(it.Notes, "\n", " / "))
		}
	}
	if v.Next != nil {
		fmt.Fprintln(a.out, "ahead: "+sayForeseen(v))
	}
	fmt.Fprintf(a.out, "desk: %s\n", sayDesk(v))
	for _, at := range v.Positions {
		fmt.Fprintln(a.out, sayPosition(v.Venue, at))
	}
}

func sayDesk(v *agent.View) string {
	switch v.Desk {
	case agent.DeskThere:
		return "there, at " + v.Venue.Desk.Address
	case agent.DeskOther:
		return "another desk answers at " + v.Venue.Desk.Address
	}
	return "silent, at " + v.Venue.Desk.Address
}

// sayForeseen says in a line what the next scene would change.
func sayForeseen(v *agent.View) string {
	f := v.Next
	switch {
	case f.Err != nil:
		return "a fault: " + strings.ReplaceAll(f.Err.Error(), "\n", "; ")
	case v.Desk != agent.DeskThere:
		return "not known while the desk does not answer"
	case f.Unread || f.Plan == nil:
		return "not known yet, the desk is being read"
	case f.Refused != nil:
		return f.Refused.Error()
	case f.Plan.Nothing():
		return "nothing would change"
	}
	return settingsDiffer(len(f.Plan.Differing()))
}

// sayPosition says in a line how a position stands.
func sayPosition(venue *scenes.Venue, at agent.PositionView) string {
	words := []string{at.Position + ": " + sayOpen(at.Open)}
	if at.Performer != "" {
		words = append(words, at.Performer)
	}
	words = append(words, string(at.Proof))
	if len(at.Moves) > 0 {
		words = append(words, "moved by hand: "+sayCompact(venue, at.Moves))
	}
	if len(at.Saved) > 0 {
		words = append(words, "saved since, not sent: "+sayCompact(venue, at.Saved))
	}
	return strings.Join(words, ", ")
}

func sayOpen(open *bool) string {
	switch {
	case open == nil:
		return "not read"
	case *open:
		return "open"
	}
	return "muted"
}

// sayAhead prints what the next scene would change, in full.
func (p *plain) sayAhead() {
	a, v := p.app, p.agent.View()
	switch {
	case a.json:
		a.printJSON(viewJSON(v))
	case v.Next == nil:
		fmt.Fprintln(a.out, "that is the last scene")
	case v.Next.Plan == nil:
		fmt.Fprintln(a.out, sayForeseen(v))
	default:
		a.sayPlan(recalled{
			aim: aim{warnings: v.Next.Warnings, left: v.Next.Left}, plan: v.Next.Plan, dryRun: v.Next.Refused == nil, refused: v.Next.Refused != nil,
		})
		if v.Next.Refused != nil {
			fmt.Fprintln(a.out, v.Next.Refused)
		}
	}
}

// sayHandsPlain asks for what a hand has to do.
func (a *app) sayHandsPlain(changes []scenes.Change) {
	if a.json {
		out := make([]jsonHand, len(changes))
		for i, c := range changes {
			out[i] = jsonHand{c.Parameter.String(), instruction(c), false}
		}
		a.printJSON(struct {
			ByHand []jsonHand `json:"by_hand"`
		}{out})
		return
	}
	for _, c := range changes {
		fmt.Fprintf(a.out, "by hand, while it is muted: %s\n", instruction(c))
	}
	fmt.Fprintln(a.out, `write "done" once it is set, or "not done"`)
}
