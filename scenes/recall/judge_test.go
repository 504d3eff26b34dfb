package recall_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// judge knows what the desk really held and heard, and says what a recall did or
// claims that must never be.
type judge struct {
	*stage
	targets []recall.Target
	holds   scenes.Values // as the events go on
	doubted map[profiles.Parameter]bool
	byUs    map[profiles.Place]bool // who opened a place that is open
}

// judgeFrom begins to judge: what happened until now does not count.
func (s *stage) judgeFrom(targets ...recall.Target) *judge {
	s.heard()
	j := &judge{
		stage: s, targets: targets, holds: s.everything(),
		doubted: make(map[profiles.Parameter]bool), byUs: make(map[profiles.Place]bool),
	}
	for _, t := range targets {
		j.byUs[t.Place] = true // a place that was open before is ours to protect
	}
	return j
}

// errClaim says that what a recall claims is not so.
var errClaim = errors.New("wrongly confirmed")

// fault says what is wrong with the result, or nil.
func (j *judge) fault(result *recall.Result) error {
	for _, e := range j.heard() {
		if err := j.follow(e); err != nil {
			return err
		}
	}
	j.holds = j.everything()
	if result == nil {
		return nil
	}
	for _, m := range result.Moved {
		j.doubted[m.Parameter] = true // the hand's value is told
	}
	for q, c := range result.Confirmed {
		if !j.isHeld(q, c.Setting().Value) {
			return fmt.Errorf("%w: %s is confirmed as %v, and the desk holds %v", errClaim, q, c.Setting().Value, j.holds[q])
		}
	}
	for _, t := range j.targets {
		if err := j.openWrong(t, "in the end"); err != nil && result.Complete() {
			return err
		}
	}
	return nil
}

// follow takes the next event.
func (j *judge) follow(e mockdesk.Event) error {
	q := e.Setting.Parameter
	switch e.What {
	case mockdesk.Restarted:
		for _, q := range j.Venue.Desk.Profile.Parameters() {
			control, _ := j.Venue.Desk.Profile.Control(q)
			j.holds[q] = control.Start
			j.doubted[q] = true
		}
		clear(j.byUs)
	case mockdesk.HandMove:
		j.holds[q] = e.Setting.Value
		j.doubted[q] = true
		if q.Name == "mute" {
			delete(j.byUs, q.Place)
		}
	case mockdesk.Asked:
		delete(j.doubted, q) // what was done before the question shows in the answer
	case mockdesk.Set:
		return j.set(e)
	}
	return nil
}

// set takes a setting of ours.
func (j *judge) set(e mockdesk.Event) error {
	q := e.Setting.Parameter
	if _, safe := j.Venue.SafeFor(q); safe {
		return fmt.Errorf("%s was sent, and is safe", q)
	}
	control, _ := j.Venue.Desk.Profile.Control(q)
	if e.Changed && q.Name != "mute" && !j.fades(q) && control.Spec.Class != profiles.NameOnly && j.byUs[q.Place] && j.isOpenAt(q.Place) {
		return fmt.Errorf("%s was changed while %s is open", q, q.Place)
	}
	j.holds[q] = e.Setting.Value
	if q.Name != "mute" {
		return nil
	}
	if j.byUs[q.Place] && !e.Changed {
		return nil // the network's double of what opened or muted it, perhaps in the middle of a fade
	}
	j.byUs[q.Place] = true
	for _, t := range j.targets {
		if t.Place != q.Place {
			continue
		}
		if err := j.openWrong(t, "when it is opened"); err != nil {
			return err
		}
	}
	return nil
}

// fades reports whether a parameter is a level of a target that fades.
func (j *judge) fades(q profiles.Parameter) bool {
	isLevel := q.Name == "fader" || strings.HasPrefix(q.Name, "send.") && strings.HasSuffix(q.Name, ".level")
	return isLevel && slices.ContainsFunc(j.targets, func(t recall.Target) bool { return t.Place == q.Place && t.Fade.Time > 0 })
}

func (j *judge) isOpenAt(place profiles.Place) bool {
	muted, _ := j.holds[profiles.Parameter{Place: place, Name: "mute"}].On()
	return place.Part == profiles.Channel && !muted
}

// openWrong says what an open place holds otherwise than was wanted, but for what a
// hand or a restart has changed and nobody has asked for since.
func (j *judge) openWrong(t recall.Target, when string) error {
	if !j.isOpenAt(t.Place) || !j.byUs[t.Place] {
		return nil
	}
	for _, w := range t.Wanted {
		down, _ := j.holds[w.Parameter].Number()
		if when != "in the end" && j.fades(w.Parameter) && math.IsInf(down, -1) {
			continue // it comes up from now on
		}
		if _, safe := j.Venue.SafeFor(w.Parameter); !safe && !j.isHeld(w.Parameter, w.Value) {
			return fmt.Errorf("%s is open %s, and %s is %v instead of %v", t.Say(), when, w.Parameter.Name, j.holds[w.Parameter], w.Value)
		}
	}
	return nil
}

func (j *judge) isHeld(q profiles.Parameter, v profiles.Value) bool {
	return j.holds[q] == v || j.doubted[q]
}
