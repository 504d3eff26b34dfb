package main

import (
	"context"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// recalled is what swap, send and undo tell in the end.
type recalled struct {
	plan     *recall.Plan
	result   *recall.Result
	warnings source.Faults
	left     []scenes.Left
	dryRun   bool
	// refused says that the plan was made and must not be carried out.
	refused bool
	err     error
}

// recall takes the desk to the targets and says what was done. It is the whole of
// swap, send and undo but for what they aim at.
func (s *session) recall(ctx context.Context, targets []recall.Target, warnings source.Faults, left []scenes.Left) error {
	done := recalled{warnings: warnings, left: left, dryRun: s.Rehearse}
	done.plan, done.err = s.Prepare(ctx, targets)
	done.refused = done.plan != nil && done.err != nil
	if done.plan != nil && !s.app.json {
		s.progress.end()
		s.app.sayPlan(done)
	}
	if done.err == nil && !s.Rehearse {
		done.result, done.err = s.CarryOut(ctx, done.plan)
		s.app.sent = done.result != nil && len(done.result.Sent) > 0
	}
	s.progress.end()
	return s.app.sayRecalled(done)
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
