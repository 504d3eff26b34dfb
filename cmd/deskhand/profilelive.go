package main

import (
	"context"
	"errors"

	"deskhand/profiles"
)

// liveOptions say how a profile is held against a desk.
type liveOptions struct {
	moving, noisy, all, yes bool
	channel                 int
}

// fitting refuses flags that don't go together.
func (a *app) fitting(o liveOptions) error {
	switch {
	case a.desk == "" && (o.moving || o.all):
		return errors.New("--move and --all are for a desk: give --desk HOST[:PORT] too")
	case !o.moving && (o.noisy || o.yes || a.rehearse):
		return errors.New("--move-noisy, --yes and --dry-run go with --move CHANNEL")
	}
	return nil
}

func (a *app) profileLive(ctx context.Context, p *profiles.Profile, o liveOptions) error {
	return errors.New("not yet")
}
