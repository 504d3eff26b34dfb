package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/scenes/desk"
)

// longestYes bounds what is read of an answer, in bytes.
const longestYes = 1 << 10

// askYes asks a question on standard error and waits for a line.
func (a *app) askYes(ctx context.Context, question string) (bool, error) {
	fmt.Fprint(a.err, question)
	answers := make(chan string, 1)
	go func() { // ends with the line, or with the program
		line, _ := bufio.NewReader(io.LimitReader(a.in, longestYes)).ReadString('\n')
		answers <- line
	}()
	select {
	case line := <-answers:
		return strings.EqualFold(strings.TrimSpace(line), "yes"), nil
	case <-ctx.Done():
		fmt.Fprintln(a.err)
		return false, ctx.Err()
	}
}

// sayAnswers tells what was found without moving anything.
func (a *app) sayAnswers(p *profiles.Profile, address string, f *findings) {
	fmt.Fprintln(a.out, a.paint.head(p.Name)+" · "+address)
	fmt.Fprintln(a.out, "  "+sayIdentity(f.identity))
	fmt.Fprintln(a.out, "  "+sayOutcomes(f.reading.Asked))
	for _, asked := range f.misfits() {
		a.sayMisfit(p, asked)
	}
	if t := f.reading.Trips; t.Of > 0 {
		fmt.Fprintf(a.out, "  an answer takes %s, 95 in 100 less than %s, the quickest %s (the profile waits %s)\n",
			sayTrip(t.Median), sayTrip(t.Most95), sayTrip(t.Least), p.Link.Wait)
	}
	for _, line := range sayBearing(p, f.bearing) {
		fmt.Fprintln(a.out, "  "+line)
	}
	for _, doubt := range f.doubts(p) {
		fmt.Fprintln(a.out, "  "+a.paint.bad(doubt))
	}
}

func sayIdentity(id desk.Identity) string {
	switch {
	case id.Answered:
		return fmt.Sprintf("says it is %q", id.Says)
	case !id.Asked:
		return "is not asked who it is: the profile has no such question"
	case len(id.Heard) > 0:
		return "answers who it is in another way than the profile says: " + id.Heard[0].String()
	}
	return "does not answer who it is, but other questions"
}

// outcomeWords say what came of a question.
var outcomeWords = map[desk.Outcome]string{
	desk.Answered:   "answered",
	desk.Between:    "answered with a value between two steps of the profile",
	desk.Unanswered: "not answered",
	desk.Misfit:     "answered in a way that the profile does not understand",
	desk.Elsewhere:  "answered about something else",
	desk.NotAsked:   "not asked for lack of time",
}

func sayOutcomes(asked []desk.Asked) string {
	counts := make(map[desk.Outcome]int)
	for _, a := range asked {
		counts[a.Outcome]++
	}
	parts := []string{count(len(asked)-counts[desk.NotAsked], "question") + " asked"}
	for o := desk.Answered; o <= desk.NotAsked; o++ {
		if counts[o] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", counts[o], outcomeWords[o]))
		}
	}
	return strings.Join(parts, ", ")
}

// sayMisfit tells one question, and what came of it.
func (a *app) sayMisfit(p *profiles.Profile, asked desk.Asked) {
	about := asked.Missing
	if len(about) == 0 {
		about = asked.Off
	}
	if len(about) == 0 {
		about = asked.Parameters
	}
	more := ""
	if len(about) > 1 {
		more = fmt.Sprintf(" and %d more", len(about)-1)
	}
	fmt.Fprintf(a.out, "    %s: %s\n", a.paint.bad(about[0].String()+more), outcomeWords[asked.Outcome])
	fmt.Fprintf(a.out, "      asked %s\n", asked.Question)
	for _, h := range asked.Heard {
		fmt.Fprintf(a.out, "      came  %s\n", h)
	}
	if asked.Outcome == desk.Between || asked.Outcome == desk.Misfit {
		if x, ok := p.Example(about[0]); ok {
			fmt.Fprintf(a.out, "      where %s would be %s\n", x.Answer, valueOn(p, about[0], x.Value))
		}
	}
	for _, q := range asked.About {
		fmt.Fprintf(a.out, "      came  %s\n", q)
	}
}

func valueOn(p *profiles.Profile, q profiles.Parameter, v profiles.Value) string {
	control, _ := p.Control(q)
	return control.Spec.Say(v)
}

func sayTrip(d time.Duration) string {
	return fmt.Sprintf("%.2f ms", float64(d)/float64(time.Millisecond))
}

func sayBearing(p *profiles.Profile, b desk.Bearing) []string {
	if b.Sent == 0 {
		return []string{"too few questions were answered to learn how many it bears"}
	}
	atOnce := fmt.Sprintf("%d questions at once were all answered", b.AtOnce)
	if b.AtOnceLost > 0 {
		atOnce += fmt.Sprintf(", of %d not all", b.AtOnceLost)
	}
	pace := fmt.Sprintf("%g questions a second were all answered in time", b.Pace)
	if b.PaceLost > 0 {
		pace += fmt.Sprintf(", of %g not all", b.PaceLost)
	}
	return []string{
		fmt.Sprintf("%s (the profile: %d at once, %d open)", atOnce, p.Link.Burst, p.Link.Window),
		fmt.Sprintf("%s (the profile: %g)", pace, p.Link.Pace),
	}
}

// sayMovePlan tells what would move.
func (a *app) sayMovePlan(p *profiles.Profile, plan *desk.MovePlan) {
	fmt.Fprintln(a.out, a.paint.head(plan.Place.Say())+" · what would move")
	for _, planned := range plan.Planned {
		if planned.LeftOut == "" {
			fmt.Fprintf(a.out, "  %s, from %s\n", labelAt(p, planned.Parameter), valueOn(p, planned.Parameter, planned.From))
		}
	}
	a.sayLeftOut(p, plan)
	fmt.Fprintln(a.out, "nothing was moved (--dry-run)")
}

func labelAt(p *profiles.Profile, q profiles.Parameter) string {
	control, _ := p.Control(q)
	return control.Spec.SayLabel(q.Name, nil)
}

// sayLeftOut tells what does not move, by the reasons.
func (a *app) sayLeftOut(p *profiles.Profile, plan *desk.MovePlan) {
	names := make(map[string][]string)
	var reasons []string
	for _, planned := range plan.Planned {
		if planned.LeftOut == "" {
			continue
		}
		if names[planned.LeftOut] == nil {
			reasons = append(reasons, planned.LeftOut)
		}
		names[planned.LeftOut] = append(names[planned.LeftOut], labelAt(p, planned.Parameter))
	}
	for _, reason := range reasons {
		fmt.Fprintf(a.out, "  left alone: %s: %s\n", strings.Join(names[reason], ", "), reason)
	}
}

// sayMoved tells how the desk took what was moved.
func (a *app) sayMoved(p *profiles.Profile, plan *desk.MovePlan, r *desk.MoveReport) {
	what := " · moved and put back"
	if !r.AsBefore() {
		what = " · moved"
	}
	fmt.Fprintln(a.out, a.paint.head(plan.Place.Say())+what)
	same := 0
	for _, m := range r.Moved {
		if m.Verdict == desk.AsProfile {
			same++
			continue
		}
		a.sayDiffering(p, m)
	}
	fmt.Fprintf(a.out, "  %d of %s as the profile says\n", same, count(len(r.Moved), "setting"))
	a.sayLeftOut(p, plan)
	a.sayBack(p, plan, r)
}

// sayBack tells what is as it was before, and what is not or may not be.
func (a *app) sayBack(p *profiles.Profile, plan *desk.MovePlan, r *desk.MoveReport) {
	bad := func(format string, words ...any) {
		fmt.Fprintln(a.out, "  "+a.paint.bad(fmt.Sprintf(format, words...)))
	}
	for _, q := range r.Disturbed {
		bad("%s moved along with another, and was put back: a hand moved it, or two addresses of the profile are one to the desk", q)
	}
	for _, s := range r.NotBack {
		bad("%s is NOT as it was: set it to %s by hand", s.Parameter, valueOn(p, s.Parameter, s.Value))
	}
	for _, s := range r.InDoubt {
		bad("%s may NOT be as it was, and the desk does not tell: see that it is at %s", s.Parameter, valueOn(p, s.Parameter, s.Value))
	}
	if r.Unread > 0 {
		bad("%s could not be read again in the end: none of them was left moved, but look at the desk", count(r.Unread, "other setting"))
	}
	if r.AsBefore() {
		fmt.Fprintf(a.out, "  all of %s is as it was before\n", plan.Place.Say())
	}
}

// sayDiffering tells one parameter that the desk did not take as the profile says.
func (a *app) sayDiffering(p *profiles.Profile, m desk.Moved) {
	fmt.Fprintf(a.out, "  %s: %s\n", a.paint.bad(labelAt(p, m.Parameter)), sayVerdict(p, m))
	for _, pt := range m.Points {
		sent, back := m.Values(pt)
		fmt.Fprintf(a.out, "    sent %s, came %s\n", sayRaw(p, m.Parameter, pt.Sent, sent), sayRaw(p, m.Parameter, pt.Back, back))
	}
	for _, h := range m.Heard {
		fmt.Fprintf(a.out, "    came %s\n", h)
	}
}

// sayRaw gives a value in words and as it stands on the wire.
func sayRaw(p *profiles.Profile, q profiles.Parameter, raw any, v profiles.Value) string {
	if raw == nil {
		return "nothing"
	}
	wire := wireText(raw)
	control, _ := p.Control(q)
	if v.IsZero() || control.Spec.Kind == profiles.Text {
		return wire
	}
	return fmt.Sprintf("%s (%s)", control.Spec.Say(v), wire)
}

// wireText gives an argument as OSC has it, "" for none.
func wireText(raw any) string {
	if raw == nil {
		return ""
	}
	return strings.TrimPrefix(osc.Message{Address: "/", Arguments: []any{raw}}.String(), "/ ")
}

func sayVerdict(p *profiles.Profile, m desk.Moved) string {
	control, _ := p.Control(m.Parameter)
	steps := control.Curve.Steps()
	switch m.Verdict {
	case desk.OtherSteps:
		switch {
		case m.Steps > 0:
			return fmt.Sprintf("the desk has %d steps%s, the profile %d%s", m.Steps, sayStepSize(control, m.Steps), steps, sayStepSize(control, steps))
		case m.Finer:
			return fmt.Sprintf("the desk has finer steps than the %d of the profile", steps)
		}
		return fmt.Sprintf("the desk has other steps than the %d of the profile", steps)
	case desk.OtherRange:
		return "the desk's range is another than the profile's"
	case desk.OtherWords:
		return "not each word comes back as itself"
	case desk.OtherLength:
		return fmt.Sprintf("the desk takes %d bytes of text", m.Steps)
	case desk.Unmoved:
		return "nothing that is sent changes it: is it set at another address?"
	case desk.NotTold:
		return "once moved, it tells nothing that the profile understands"
	}
	return "as the profile says"
}

// sayStepSize gives the distance of even steps: " of 0.5 dB".
func sayStepSize(control *profiles.Control, steps int) string {
	n := control.Curve.Steps()
	first, okA := control.Curve.At(0).Number()
	last, okB := control.Curve.At(n - 1).Number()
	middle, _ := control.Curve.At((n - 1) / 2).Number()
	even := first + (last-first)*float64((n-1)/2)/float64(n-1)
	if !okA || !okB || math.IsInf(first, 0) || math.Abs(middle-even) > 1e-6*math.Abs(last-first) {
		return ""
	}
	size := math.Abs(last-first) / float64(steps-1)
	return fmt.Sprintf(" of %.3g %s", size, control.Spec.Unit)
}
