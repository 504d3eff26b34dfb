package main

import (
	"context"
	"errors"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// aim is what a recall takes the desk to, and what is to be said of how that came about.
type aim struct {
	targets  []recall.Target
	warnings source.Faults
	left     []scenes.Left
	fitted   []fitted
	// recalled is where another deskhand has recalled meanwhile, so that the plan was made
	// anew; "" where none has.
	recalled string
}

// fitted is a position whose EQ is fitted to the desk.
type fitted struct {
	position string
	*scenes.FittedEQ
}

// aimAt gathers the aim of strips that were built up from their layers.
func aimAt(resolved ...*scenes.Resolved) aim {
	var to aim
	for _, r := range resolved {
		to.targets = append(to.targets, recall.ForPosition(r))
		to.warnings = append(to.warnings, r.Warnings...)
		to.left = append(to.left, r.Left...)
		if r.EQ != nil {
			to.fitted = append(to.fitted, fitted{r.Position.Name, r.EQ})
		}
	}
	return to
}

// faded is the aim with a fade.
func (to aim) faded(fade scenes.Fade) aim {
	for i := range to.targets {
		to.targets[i].Fade = fade
	}
	return to
}

// recalled is what swap, send and undo tell in the end.
type recalled struct {
	aim
	plan   *recall.Plan
	result *recall.Result
	dryRun bool
	// refused says that the plan was made and must not be carried out.
	refused bool
	err     error
}

// recall takes the desk to its aim and says what was done. It is the whole of swap and
// send but for what they aim at. Where another deskhand recalls the same position just
// then, the plan is made anew, once: the one who asked last is the one who is on.
func (s *session) recall(ctx context.Context, to aim) error {
	prepare := func(ctx context.Context) (*recall.Plan, error) { return s.Prepare(ctx, to.targets) }
	done := s.attempt(ctx, to, prepare)
	if stale := new(recall.Stale); errors.As(done.err, &stale) && stale.Recalled {
		to.recalled = stale.Place
		done = s.attempt(ctx, to, prepare)
	}
	return s.app.sayRecalled(done)
}

// attempt makes a plan, shows it, and carries it out unless it is only a rehearsal.
func (s *session) attempt(ctx context.Context, to aim, prepare func(context.Context) (*recall.Plan, error)) recalled {
	done := recalled{aim: to, dryRun: s.Rehearse}
	done.plan, done.err = prepare(ctx)
	done.refused = done.plan != nil && done.err != nil
	s.progress.end()
	if done.plan != nil && !s.app.json {
		s.app.sayPlan(done)
	}
	if done.err == nil && !s.Rehearse {
		done.result, done.err = s.CarryOut(ctx, done.plan)
		s.app.sent = done.result != nil && len(done.result.Sent) > 0
	}
	s.progress.end()
	return done
}

// sayRecalled prints the outcome, and gives the error that stands for it.
func (a *app) sayRecalled(done recalled) error {
	switch {
	case a.json && done.plan != nil:
		a.printJSON(recalledJSON(done))
	case done.result != nil:
		a.sayResult(done)
	}
	err := done.outcome()
	if done.err != nil && a.json && done.plan != nil { // the object has the error already
		a.complain(done.err)
		return ended{codeOf(err)}
	}
	return err
}

// outcome is the error that a recall ends with.
func (done recalled) outcome() error {
	switch {
	case done.err != nil && done.result != nil:
		return unfinished{done.err}
	case done.err == nil && done.result != nil && !done.result.Complete():
		return ended{exitNotConfirmed}
	}
	return done.err
}
