package desk

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"deskhand/profiles"
)

// NotMuted says that a channel is open, or can't be shown to be muted, so that nothing
// of it may be moved.
type NotMuted struct {
	Place profiles.Place
	// Unknown says that the desk did not tell.
	Unknown bool
}

func (e *NotMuted) Error() string {
	if e.Unknown {
		return fmt.Sprintf("the desk does not tell whether %s is muted: nothing was moved", e.Place.Say())
	}
	return fmt.Sprintf("%s is not muted: nothing was moved; mute it at the desk, or name another", e.Place.Say())
}

// MoveOptions say what to move.
type MoveOptions struct {
	Channel int
	// Noisy moves phantom, pad and source too.
	Noisy bool
}

// MovePlan is what a move will do, and what it leaves alone.
type MovePlan struct {
	Place   profiles.Place
	Planned []Planned
	// held is what the desk held, as it told it.
	held map[profiles.Parameter]held
}

// Planned is a parameter to be moved, or left out for a reason.
type Planned struct {
	Parameter profiles.Parameter
	From      profiles.Value
	LeftOut   string // "" if it is to be moved
	points    []point
}

// point is a value to send: a place between the steps of the profile, or a text.
type point struct {
	at   float64
	text string
}

// held is a value as the desk told it.
type held struct {
	value profiles.Value
	raw   any
	gauge gauge
}

// The words for leaving a parameter out.
const (
	leftMute     = "the channel stays muted"
	leftNoisy    = "it bangs in the loudspeakers, and phantom power can harm a microphone: --move-noisy moves it"
	leftUnread   = "the desk does not tell what it holds, so that it could not be put back"
	leftOneValue = "it has one value"
	leftOwn      = "it could make something louder, up or down, and a send of the channel is up whose mix is not muted"
	leftNothing  = "there is nothing else that could be sent"
	leftUp       = "it could make something louder, and a send of the channel is up whose mix is not muted"
	leftSendUp   = "it could make the mix louder, which is not muted"
)

// PlanMove reads a channel and the mixes' mutes, and says what can be moved safely. The
// error is [NotMuted] if the channel is not muted. Nothing is moved.
//
// A mute may leave ways open on some desks, above all sends before the fader. So all
// that could be louder moves only downward unless each mix that the channel is sent to
// is muted, or the send is down or off; the levels of a send move up only if its mix is
// muted. What could be louder either way, as switches, what bangs, and what only this desk
// has, does not move at all then. In no case do they go into the top quarter of their
// travel, because of those who listen to the channel by itself.
func (p *Probe) PlanMove(ctx context.Context, o MoveOptions) (*MovePlan, error) {
	plan := &MovePlan{Place: profiles.Place{Part: profiles.Channel, Number: o.Channel}}
	if o.Channel < 1 || o.Channel > p.profile.Channels {
		return nil, fmt.Errorf("%s has no channel %d: it has %d", p.profile.Name, o.Channel, p.profile.Channels)
	}
	all := p.profile.At(plan.Place)
	asked := append([]profiles.Parameter(nil), all...)
	for m := 1; m <= p.profile.Mixes; m++ {
		asked = append(asked, muteOf(profiles.Mix, m))
	}
	var err error
	if plan.held, err = p.readHeld(ctx, asked); err != nil {
		return nil, err
	}
	if err := plan.muted(); err != nil {
		return nil, err
	}
	for _, q := range all {
		plan.Planned = append(plan.Planned, p.plan(plan, q, o))
	}
	return plan, nil
}

func muteOf(part profiles.Part, n int) profiles.Parameter {
	return profiles.Parameter{Place: profiles.Place{Part: part, Number: n}, Name: "mute"}
}

func (m *MovePlan) muted() error {
	mute, known := m.held[muteOf(profiles.Channel, m.Place.Number)]
	known = known && mute.raw != nil
	if on, _ := mute.value.On(); !known || !on {
		return &NotMuted{Place: m.Place, Unknown: !known}
	}
	return nil
}

// readHeld asks for each parameter and keeps what is told as it is.
func (p *Probe) readHeld(ctx context.Context, parameters []profiles.Parameter) (map[profiles.Parameter]held, error) {
	all := make(map[profiles.Parameter]held)
	for _, question := range p.profile.Ask(parameters) {
		r, err := p.ask(ctx, question, readTries)
		if err != nil {
			return nil, err
		}
		for q, v := range r.values {
			h := held{value: v}
			if g, ok := newGauge(p.profile, q); ok {
				h.gauge = g
				h.raw, _ = g.raw(r.raw[q])
			}
			all[q] = h
		}
	}
	return all, nil
}

// plan says what to do with one parameter.
func (p *Probe) plan(m *MovePlan, q profiles.Parameter, o MoveOptions) Planned {
	control, _ := p.profile.Control(q)
	h, read := m.held[q]
	planned := Planned{Parameter: q, From: h.value}
	switch {
	case q.Name == "mute":
		planned.LeftOut = leftMute
	case control.Reach() == profiles.ByHand:
		planned.LeftOut = "it is for a hand: " + control.Hand
	case control.Curve.Steps() == 1:
		planned.LeftOut = leftOneValue
	case control.Spec.Class == profiles.Noise && !o.Noisy:
		planned.LeftOut = leftNoisy
	case !read || h.raw == nil || !p.besideRead(m, q):
		planned.LeftOut = leftUnread
	default:
		planned.points, planned.LeftOut = p.points(m, q, h)
	}
	if planned.LeftOut == "" && len(planned.points) == 0 {
		planned.LeftOut = leftNothing
	}
	return planned
}

// points gives the values to send, or says why there are none.
func (p *Probe) points(m *MovePlan, q profiles.Parameter, h held) ([]point, string) {
	if h.gauge.isNumber() {
		low, high, why := p.mayMove(m, q, h)
		if why != "" {
			return nil, why
		}
		return numberPoints(h.gauge, low, high), ""
	}
	if why := p.mayTurn(m, q, h.gauge.control); why != "" {
		return nil, why
	}
	if h.gauge.steps == 0 {
		return textPoints(h.gauge.control), ""
	}
	return choicePoints(h.gauge, h.value), ""
}

// besideRead reports whether what goes with a parameter in one message is known.
func (p *Probe) besideRead(m *MovePlan, q profiles.Parameter) bool {
	for _, other := range p.profile.Beside(q) {
		if _, known := m.held[other]; !known {
			return false
		}
	}
	return true
}

// sendOf gives the mix of a send.
func sendOf(q profiles.Parameter) (int, bool) {
	family, numbers := profiles.Family(q.Name)
	n, ok := numbers["mix"]
	return n, ok && strings.HasPrefix(family, "send.")
}

// mixMuted reports whether a mix was read as muted.
func (m *MovePlan) mixMuted(n int) bool {
	on, _ := m.held[muteOf(profiles.Mix, n)].value.On()
	return on
}

// sendDown reports whether a send was read as off, or as low as it goes.
func (m *MovePlan) sendDown(n int) bool {
	at := func(word string) profiles.Parameter {
		return profiles.Parameter{Place: m.Place, Name: fmt.Sprintf("send.%d.%s", n, word)}
	}
	if h, known := m.held[at("on")]; known {
		if on, ok := h.value.On(); ok && !on {
			return true
		}
	}
	h, known := m.held[at("level")]
	return known && h.value == profiles.Silence
}

// shut reports whether no mix can hear the channel, whatever its mute does.
func (p *Probe) shut(m *MovePlan) bool {
	for _, q := range p.profile.At(m.Place) {
		if n, ok := sendOf(q); ok && !m.mixMuted(n) && !m.sendDown(n) {
			return false
		}
	}
	return true
}

// mayTurn says why a switch, a choice or a text may not be turned, or nothing.
func (p *Probe) mayTurn(m *MovePlan, q profiles.Parameter, control *profiles.Control) string {
	n, isSend := sendOf(q)
	switch {
	case !couldBeHeard(control):
	case isSend && !m.mixMuted(n) && !m.levelDown(n):
		return leftSendUp
	case !isSend && !p.shut(m):
		return leftUp
	}
	return ""
}

// levelDown reports whether a send's level is as low as it goes, so that its switch
// opens nothing.
func (m *MovePlan) levelDown(n int) bool {
	q := profiles.Parameter{Place: m.Place, Name: fmt.Sprintf("send.%d.level", n)}
	h, known := m.held[q]
	return known && h.value == profiles.Silence
}

// mayMove says between which steps a number may move, or why it may not.
func (p *Probe) mayMove(m *MovePlan, q profiles.Parameter, h held) (low, high int, why string) {
	g := h.gauge
	last := g.steps - 1
	if !couldBeHeard(g.control) {
		return 0, last, ""
	}
	free, why := p.shut(m), leftUp
	if n, isSend := sendOf(q); isSend {
		free, why = m.mixMuted(n), leftSendUp
	}
	if g.control.Spec.Class == profiles.Noise {
		if free {
			why = ""
		}
		return 0, last, why
	}
	now := g.stepOf(found{raw: h.raw, value: h.value})
	// The steps on either side of which it is no louder than now, or than three quarters.
	upTo, downTo := int(math.Floor(now)), int(math.Ceil(now))
	if free {
		upTo, downTo = max(upTo, last*3/4), min(downTo, last-last*3/4)
	}
	low, high = 0, last
	up, down := louder(g)
	if up {
		high = min(high, upTo)
	}
	if down {
		low = max(low, downTo)
	}
	switch {
	case high > low:
		return low, high, ""
	case up && down:
		why = leftOwn
	}
	return low, high, why
}

// couldBeHeard reports whether moving a control is more than a change of tone.
func couldBeHeard(control *profiles.Control) bool {
	return control.Spec.Class == profiles.Loudness || control.Spec.Class == profiles.Noise
}

// louder reports whether a control's higher steps are the louder ones, or the lower ones,
// as those of a compressor's ratio are. Of what only this desk has, it may be
// both.
func louder(g gauge) (up, down bool) {
	family := profiles.FamilyName(g.q.Name)
	known := slices.ContainsFunc(profiles.Catalogue(), func(s profiles.Spec) bool { return s.Name == family })
	if !known {
		return true, true
	}
	first, _ := g.value(0).Number()
	last, _ := g.value(g.steps - 1).Number()
	up = (last > first) != (g.control.Spec.Unit == profiles.Ratio)
	return up, !up
}

// numberPoints are values to send of a number that may move between two steps: both
// ends, and some close together, also between two steps, to see the desk's own.
func numberPoints(g gauge, low, high int) []point {
	points := []point{{at: float64(low)}, {at: float64(high)}}
	middle := float64(low + (high-low)/3)
	for _, further := range []float64{0, 0.3, 0.5, 1, 2, 3, 5, 8, 13} {
		at := middle + further
		_, actual := g.argument(at)
		whole := further == math.Floor(further)
		if at >= float64(high) || at <= float64(low) || !whole && !(math.Abs(actual-at) < onGrid) {
			continue
		}
		points = append(points, point{at: at})
	}
	return points
}

// choicePoints are all values of a switch or a choice, the one that is held last.
func choicePoints(g gauge, now profiles.Value) []point {
	var points []point
	for step := range g.steps {
		if g.value(step) != now {
			points = append(points, point{at: float64(step)})
		}
	}
	step, err := g.control.Curve.Step(now)
	if err == nil && len(points) > 0 {
		points = append(points, point{at: float64(step)})
	}
	return points
}

// beyondText is by how many letters a text is tried that is longer than the profile's.
const beyondText = 4

// textPoints are a text as long as the profile's desk takes, and a longer one.
func textPoints(control *profiles.Control) []point {
	const letters = "abcdefghijklmnopqrstuvwxyz"
	fits, err := control.Nearest(profiles.Word(strings.Repeat(letters, 20)))
	if err != nil {
		return nil
	}
	text, _ := fits.Word()
	return []point{{text: text}, {text: text + strings.Repeat("z", beyondText)}}
}
