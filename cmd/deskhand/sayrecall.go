package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// sayPlan prints what a recall found and what it will do, or what it would have done and
// must not.
func (a *app) sayPlan(done recalled) {
	plan := done.plan
	if plan.Undoes != nil {
		fmt.Fprintln(a.out, sayUndone(plan.Undoes))
	}
	if done.recalled != "" {
		fmt.Fprintf(a.out, "%sanother deskhand has recalled %s meanwhile: nothing was sent yet, and this was compared anew\n", a.paint.warn("note: "), done.recalled)
	}
	a.sayMoves(plan)
	a.sayWarnings(done.warnings)
	a.sayLeft(done.left)
	for _, f := range done.fitted {
		a.sayFitted(f.position, f.FittedEQ)
	}
	for _, part := range plan.Parts {
		if len(part.Changes) == 0 {
			continue
		}
		fmt.Fprintln(a.out, a.paint.head(headOf(part)))
		maker := a.makerFor(plan.Venue, part.Place, part.Before)
		fmt.Fprint(a.out, table(maker.rows(part.Changes), a.paint))
		if words := maker.rounded(part.Changes); len(words) > 0 {
			fmt.Fprintln(a.out, "  "+a.paint.dim("the desk's nearest step: ")+strings.Join(words, ", "))
		}
		a.saySteps(plan.Venue, part.Steps)
		a.sayRises(plan.Venue, part)
	}
	for _, c := range plan.Safe() {
		fmt.Fprintf(a.out, "left alone, being safe here: %s, %s on the desk and %s in %s\n", c.Parameter, c.Spec.Say(c.From), c.Spec.Say(c.To), c.Origin)
	}
	switch {
	case !plan.Nothing():
		fmt.Fprintln(a.out, sayHowMany(plan))
		if fade := plan.Fade(); fade.Time > 0 {
			fmt.Fprintln(a.out, sayFade(fade))
		}
	case !done.refused:
		fmt.Fprintln(a.out, "nothing differs: the desk holds this already, and nothing was sent")
		return
	}
	if hand := handwork(plan.Changes()); len(hand) > 0 && done.dryRun {
		a.sayHandwork("by hand, while it is muted:", hand)
	}
	switch {
	case done.refused:
		fmt.Fprintln(a.out, "nothing was sent")
	case done.dryRun:
		fmt.Fprintln(a.out, "nothing was sent (--dry-run)")
	}
}

// sayFade says how a plan fades, or a scene would.
func sayFade(fade scenes.Fade) string {
	order := "down first"
	if fade.Together {
		order = "up and down together"
	}
	return fmt.Sprintf("fades over %.1f s, %s", fade.Time.Seconds(), order)
}

// slowFade is by which part a fade may take longer before that is said.
const slowFade = 0.1

// sayHowMany counts what differs, and apart from that what is only sent again.
func sayHowMany(plan *recall.Plan) string {
	differ, again := len(plan.Differing()), len(plan.Again())
	switch {
	case again == 0:
		return settingsDiffer(differ)
	case differ == 0:
		return fmt.Sprintf("nothing differs as far as is known, %d sent again", again)
	}
	return fmt.Sprintf("%s, %d sent again", settingsDiffer(differ), again)
}

func settingsDiffer(n int) string {
	if n == 1 {
		return "1 setting differs"
	}
	return fmt.Sprintf("%d settings differ", n)
}

// headOf is the line above a part's rows: where, and who goes and comes.
func headOf(part *recall.Part) string {
	words := []string{part.Place.Say()}
	if part.Position != "" {
		words = append([]string{part.Position}, words...)
	}
	switch {
	case part.Was != "" && part.Performer != "" && part.Was != part.Performer:
		words = append(words, part.Was+" -> "+part.Performer)
	case part.Performer != "":
		words = append(words, part.Performer)
	case part.Was != "":
		words = append(words, part.Was+" -> nobody")
	}
	return strings.Join(words, " · ")
}

// makerFor makes rows for one place of a venue's desk.
func (a *app) makerFor(v *scenes.Venue, place profiles.Place, held scenes.Values) rowMaker {
	return rowMaker{
		mixes: v.MixName,
		unset: "unknown",
		held:  func(name string) profiles.Value { return held[profiles.Parameter{Place: place, Name: name}] },
		desk: func(name string) (profiles.Spec, bool) {
			control, ok := v.Desk.Profile.Control(profiles.Parameter{Place: place, Name: name})
			if !ok {
				return profiles.Spec{}, false
			}
			return control.Spec, true
		},
	}
}

// sayMoves tells the hand moves since the last recall.
func (a *app) sayMoves(plan *recall.Plan) {
	if len(plan.Moves) == 0 {
		return
	}
	fmt.Fprintln(a.out, a.paint.warn("moved by hand since the last recall:"))
	a.sayByPlace(plan.Venue, plan.Before(), plan.Moves, "unknown", nil)
	if plan.MovesFile != "" {
		fmt.Fprintf(a.out, "kept in %s\n", plan.MovesFile)
	}
}

// sayByPlace prints changes under a line for each place that they are at, and what more is
// to be said of the place, unless more is nil.
func (a *app) sayByPlace(v *scenes.Venue, held scenes.Values, changes []scenes.Change, unset string, more func(profiles.Place)) {
	for len(changes) > 0 {
		place, n := changes[0].Parameter.Place, 1
		for n < len(changes) && changes[n].Parameter.Place == place {
			n++
		}
		head := place.Say()
		if p := v.PositionOn(place); p != nil {
			head = p.Name + " · " + head
		}
		fmt.Fprintln(a.out, a.paint.head(head))
		maker := a.makerFor(v, place, held)
		maker.unset = unset
		fmt.Fprint(a.out, table(maker.rows(changes[:n]), a.paint))
		if more != nil {
			more(place)
		}
		changes = changes[n:]
	}
}

func (a *app) sayWarnings(warnings source.Faults) {
	for _, w := range warnings {
		fmt.Fprintln(a.out, a.paint.warn("note: ")+w.Error())
	}
}

// sayLeft says which values this venue or its desk has no place for.
func (a *app) sayLeft(left []scenes.Left) {
	for _, l := range left {
		fmt.Fprintf(a.out, "%s%s is left out: %s\n", a.paint.warn("note: "), l.Entry.Origin.String()+": "+l.Entry.Name, l.Why)
	}
}

// sayResult prints what a recall has proved.
func (a *app) sayResult(done recalled) {
	result, v := done.result, done.plan.Venue
	if done.plan.Nothing() {
		return
	}
	if result.Restarted {
		fmt.Fprintln(a.out, a.paint.warn("the desk lost its settings meanwhile, as when it restarts: they were set again; its other channels need a look"))
	}
	for _, part := range result.Rivals {
		fmt.Fprintln(a.out, a.paint.warn(sayRival(result, part)))
	}
	for _, o := range result.Overruled {
		fmt.Fprintf(a.out, "moved by hand meanwhile, and set again: %s, %s instead of %s\n", o.Parameter, sayValue(v, o.Parameter, o.Found), sayValue(v, o.Parameter, o.Wanted))
	}
	for _, m := range result.Moved {
		fmt.Fprintf(a.out, "moved by hand meanwhile, and left so: %s, %s instead of %s\n", m.Parameter, sayValue(v, m.Parameter, m.Found), sayValue(v, m.Parameter, m.Wanted))
	}
	for _, s := range result.PutBack {
		fmt.Fprintf(a.out, "moved by hand just as it went along with another setting, and given back: %s, %s\n", s.Parameter, sayValue(v, s.Parameter, s.Value))
	}
	if asked := done.plan.Fade().Time; result.Faded.Seconds() > asked.Seconds()*(1+slowFade) {
		fmt.Fprintf(a.out, "the fade took %.1f s rather than %.1f s: so many levels in small steps are more than the desk takes in that time\n", result.Faded.Seconds(), asked.Seconds())
	}
	if result.Complete() && done.err == nil {
		fmt.Fprintf(a.out, "%s in %.1f s%s\n", a.paint.good("all confirmed"), result.Took.Seconds(), sayStates(done.plan))
		return
	}
	a.sayUnproved(v, result, done.err)
}

// sayRival says how it ended where somebody else was at the same place.
func sayRival(result *recall.Result, part *recall.Part) string {
	text := "somebody else was setting " + part.Say() + " at the same time, from another machine or at the desk: "
	switch {
	case slices.Contains(result.StillMuted, part):
		return text + "it is left muted"
	case result.Yielded(part):
		return text + "it is left as they have it, talk to each other before you go on"
	}
	return text + "it was set once more after them"
}

// sayBlind says what a desk that can only be told was told.
func (a *app) sayBlind(v *scenes.Venue, result *recall.Result) {
	fmt.Fprintf(a.out, "%s: a %s can't be read, so everything was sent twice; have a look at the desk\n", a.paint.warn("not confirmed"), v.Desk.Profile.Name)
	for _, part := range result.Plan.Parts {
		if part.Position != "" && !part.WillBeOpen() && part.Open == nil {
			fmt.Fprintf(a.out, "%s stays muted, as nobody said that it was open: open it at the desk, or by a scene\n", part.Position)
		}
	}
}

// sayUnproved says what could not be proved, and how to get on or back.
func (a *app) sayUnproved(v *scenes.Venue, result *recall.Result, err error) {
	for _, c := range result.NotDone {
		fmt.Fprintf(a.out, "not done by hand: %s\n", instruction(c))
	}
	if !v.Desk.Profile.CanAnswer() {
		a.sayBlind(v, result)
		return
	}
	if len(result.Unproved) > 0 {
		fmt.Fprintln(a.out, a.paint.bad("not confirmed:"))
	}
	for _, u := range result.Unproved {
		found := "no answer"
		switch {
		case !u.Found.IsZero():
			found = "the desk holds " + sayValue(v, u.Parameter, u.Found)
		case errors.Is(err, context.Canceled):
			found = "not read back"
		}
		fmt.Fprintf(a.out, "  %s: wanted %s, %s\n", u.Parameter, sayValue(v, u.Parameter, u.Wanted), found)
	}
	for _, part := range result.StillMuted {
		fmt.Fprintf(a.out, "%s stays muted\n", part.Say())
	}
	fmt.Fprintf(a.out, "%s confirmed, %d not; the same command again goes on from here, deskhand undo goes back\n",
		count(len(result.Confirmed), "setting"), len(result.Unproved))
}

func sayValue(v *scenes.Venue, q profiles.Parameter, value profiles.Value) string {
	control, ok := v.Desk.Profile.Control(q)
	if !ok {
		return value.String()
	}
	return control.Spec.Say(value)
}

// sayStates says which positions are open and which muted in the end.
func sayStates(plan *recall.Plan) string {
	var words []string
	for _, part := range plan.Parts {
		if part.Place.Part != profiles.Channel || part.Position == "" || len(part.Changes) == 0 {
			continue
		}
		state := "muted"
		if part.WillBeOpen() {
			state = "open"
		}
		words = append(words, part.Position+" is "+state)
	}
	if len(words) == 0 || len(words) > 6 {
		return ""
	}
	return "; " + strings.Join(words, ", ")
}
