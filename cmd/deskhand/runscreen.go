package main

import (
	"context"

	"deskhand/scenes/agent"
)

// runScreen shows an event on the whole screen until the person leaves it or the context
// ends.
func (a *app) runScreen(ctx context.Context, o agent.Options) error { return a.runPlain(ctx, o) }
