package recall_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/recall"

	"pgregory.net/rapid"
)

// deed is one thing that happens in an evening.
type deed struct {
	What string
	// Position and Performer are of a swap, and of a hand's control.
	Position, Performer string
	// Control is what a hand moves, in steps of its grid.
	Control, Step int
	// After counts the settings until it happens; 0 is now, and for a stop never.
	After int
	Takes time.Duration // of a restart
	Bad   float64       // of the network from now on: share lost, doubled, reordered
	Open  int           // of a swap: as it was, open, muted
	Fade  time.Duration // of a swap
}

func drawDeed(t *rapid.T) deed {
	return deed{
		What:      rapid.SampledFrom([]string{"swap", "swap", "swap", "hand", "restart", "network", "stop", "undo"}).Draw(t, "what"),
		Position:  rapid.SampledFrom([]string{"lectern", "table-left"}).Draw(t, "position"),
		Performer: rapid.SampledFrom(performers).Draw(t, "performer"),
		Control:   rapid.IntRange(0, 10_000).Draw(t, "control"),
		Step:      rapid.IntRange(0, 10_000).Draw(t, "step"),
		After:     rapid.IntRange(0, 40).Draw(t, "after"),
		Takes:     time.Duration(rapid.IntRange(0, 3000).Draw(t, "takes")) * time.Millisecond,
		Bad:       rapid.Float64Range(0, 0.25).Draw(t, "bad"),
		Open:      rapid.IntRange(0, 2).Draw(t, "open"),
		Fade:      time.Duration(rapid.SampledFrom([]int{0, 0, 0, 200, 1000}).Draw(t, "fade")) * time.Millisecond,
	}
}

// evening carries deeds out, and says which promise was broken.
type evening struct {
	*stage
	t   *testing.T
	ctx context.Context // of the next recall
}

// underWay is more than packets need. Nobody is as quick as those of a recall that was
// just stopped: on a desk that was just switched on, where everything is open, they would
// arrive at an open place, and nothing can be done about that.
const underWay = 200 * time.Millisecond

// limits of the venue would refuse much of an evening like this one.
var noLimits = []string{"rise = 12.0", "# rise = 12.0"}

// evenings bounds how long new evenings are begun, on a slow machine.
const evenings = 10 * time.Second

func TestWhateverHappensInAnEveningNothingIsOpenThatIsNotAsWantedAndNoClaimIsFalse(t *testing.T) {
	t.Parallel()
	begun, failed := time.Now(), false
	rapid.Check(t, func(rt *rapid.T) {
		if !failed && time.Since(begun) > evenings {
			return
		}
		deeds := rapid.SliceOfN(rapid.Custom(drawDeed), 1, 12).Draw(rt, "deeds")
		seed := rapid.Uint64().Draw(rt, "seed")
		var fault error
		synctest.Test(t, func(t *testing.T) {
			s := newStage(t, setting{venue: noLimits, mock: mockdesk.Options{Trouble: mockdesk.Trouble{Seed: seed}}})
			e := evening{stage: s, t: t, ctx: t.Context()}
			fault = e.pass(deeds)
		})
		if fault != nil {
			failed = true // from now on rapid looks for the smallest evening that fails
			rt.Fatal(fault)
		}
	})
}

// pass carries the deeds out, and then asks for one more swap when all is well again:
// that has to succeed, whatever was before.
func (e *evening) pass(deeds []deed) error {
	for i, d := range deeds {
		if err := e.do(d); err != nil {
			return fmt.Errorf("deed %d, %s: %w", i+1, d.What, err)
		}
	}
	return e.end(len(deeds))
}

func (e *evening) do(d deed) error {
	switch d.What {
	case "swap":
		target := e.on(d.Position, d.Performer)
		if d.Open > 0 {
			target = opened(target, d.Open == 1)
		}
		target.Fade = scenes.Fade{Time: d.Fade, Together: d.Step%2 == 0}
		e.again()
		_, err := e.try(target)
		return err
	case "undo":
		return e.tryUndo()
	case "hand":
		e.hand(d)
	case "restart":
		if d.After > 0 {
			e.mock.RestartAfter(d.After, d.Takes)
		} else {
			time.Sleep(underWay)
			e.mock.Restart(d.Takes)
		}
	case "network":
		way := mockdesk.Way{Lose: d.Bad, Double: d.Bad, Reorder: d.Bad, Delay: 5 * time.Millisecond}
		e.mock.Misbehave(mockdesk.Trouble{In: way, Out: way, Rate: 500, Queue: 32})
	case "stop":
		e.ctx = e.stopAfter(e.t, d.After)
	}
	return nil
}

// hand moves a control of the position, which is told by one of two ways.
func (e *evening) hand(d deed) {
	p, err := e.Venue.Position(d.Position)
	if err != nil {
		e.t.Fatal(err)
	}
	at := slices.DeleteFunc(slices.Clone(e.Venue.Desk.Profile.At(p.Place())), func(q profiles.Parameter) bool {
		control, _ := e.Venue.Desk.Profile.Control(q)
		return control.Curve.Steps() == 0
	})
	s := profiles.Setting{Parameter: at[d.Control%len(at)]}
	control, _ := e.Venue.Desk.Profile.Control(s.Parameter)
	s.Value = control.Curve.At(d.Step % control.Curve.Steps())
	if d.After > 0 {
		if err := e.mock.MoveAfter(d.After, s); err != nil {
			e.t.Fatal(err)
		}
		return
	}
	e.move(s.Parameter.String(), s.Value)
}

// try recalls, whatever comes of it, and judges.
func (e *evening) try(targets ...recall.Target) (*recall.Result, error) {
	judge := e.judgeFrom(targets...)
	plan, result, err := e.stage.recall(e.ctx, targets...)
	return e.judged(judge, plan, result, err)
}

// judged holds the outcome of a recall against the desk.
func (e *evening) judged(judge *judge, plan *recall.Plan, result *recall.Result, err error) (*recall.Result, error) {
	e.ctx = e.t.Context()
	if err := judge.fault(result); err != nil {
		return result, err
	}
	if err != nil {
		time.Sleep(underWay)
	}
	if plan == nil {
		return nil, nil // the desk could not be read
	}
	if result == nil && err == nil {
		return nil, fmt.Errorf("neither a result nor an error")
	}
	return result, e.movesAreMoves(plan)
}

// movesAreMoves checks that what is told as a hand move was one, or a restart.
func (e *evening) movesAreMoves(plan *recall.Plan) error {
	e.mu.Lock()
	defer e.mu.Unlock()
	for _, m := range plan.Moves {
		if !e.touched[m.Parameter] {
			return fmt.Errorf("%s is told as moved by hand from %v to %v, and nobody touched it", m.Parameter, m.From, m.To)
		}
	}
	return nil
}

func (e *evening) tryUndo() error {
	e.again()
	plan, err := e.PrepareUndo(e.ctx)
	if errors.Is(err, recall.ErrNoUndo) || plan == nil {
		e.ctx = e.t.Context()
		return nil
	}
	var targets []recall.Target
	for _, part := range plan.Parts {
		targets = append(targets, part.Target)
	}
	judge := e.judgeFrom(targets...)
	var result *recall.Result
	if err == nil {
		result, err = e.CarryOut(e.ctx, plan)
	}
	_, err = e.judged(judge, plan, result, err)
	return err
}

// end puts everything right and swaps once more, or once for each restart that is
// still to come.
func (e *evening) end(deeds int) error {
	e.mock.Misbehave(mockdesk.Trouble{})
	e.ctx = e.t.Context()
	e.atSet(nil)
	for range deeds + 1 {
		time.Sleep(5 * time.Second) // until a desk that restarts is back
		e.again()
		result, err := e.try(opened(e.on("lectern", "botanist"), true))
		if err != nil {
			return fmt.Errorf("the last swap: %w", err)
		}
		if result != nil && result.Complete() {
			return nil
		}
	}
	return fmt.Errorf("no last swap is confirmed")
}
