package main

import (
	"context"
	"errors"
	"fmt"

	"deskhand/profiles/source"
	"deskhand/scenes/recall"
)

// recalled is what swap, send and undo tell in the end.
type recalled struct {
	plan     *recall.Plan
	result   *recall.Result
	warnings source.Faults
	notes    []string
	dryRun   bool
	err      error
}

// recall takes the desk to the targets and says what was done. It is the whole of
// swap, send and undo but for what they aim at.
func (s *session) recall(ctx context.Context, targets []recall.Target, warnings source.Faults, notes []string) error {
	done := recalled{warnings: warnings, notes: notes, dryRun: s.Rehearse}
	done.plan, done.err = s.Prepare(ctx, targets)
	if done.err == nil && !s.app.json {
		s.progress.end()
		s.app.sayPlan(done)
	}
	if done.err == nil && !s.Rehearse {
		done.result, done.err = s.CarryOut(ctx, done.plan)
	}
	s.progress.end()
	return s.app.sayRecalled(done)
}

// sayRecalled prints the outcome, and gives the error that stands for it.
func (a *app) sayRecalled(done recalled) error {
	if a.json && done.plan != nil {
		a.printJSON(recalledJSON(done))
	}
	switch {
	case done.err != nil && done.result != nil:
		if !a.json {
			a.sayResult(done)
		}
		return unfinished{done.err}
	case done.err != nil:
		if a.json && done.plan != nil {
			fmt.Fprintln(a.err, "deskhand: "+plainError(done.err))
			return ended{codeOf(done.err)}
		}
		a.sayMoves(done.plan)
		return done.err
	}
	if !a.json {
		a.sayResult(done)
	}
	if done.result != nil && !done.result.Complete() {
		return ended{exitNotConfirmed}
	}
	return nil
}

// canceled reports whether an error only says that the user stopped the program.
func canceled(err error) bool { return errors.Is(err, context.Canceled) }
