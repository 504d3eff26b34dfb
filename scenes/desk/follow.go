package desk

import (
	"context"
	"fmt"
	"sync"
)

// repeats is how often the request to be told of changes is sent in the time for
// which one holds, so that two in a row may get lost.
const repeats = 3

// Follow asks the desk to tell its changes, which Options.News then hears, and
// repeats the request before it lapses, until the context ends. A desk that has no
// such request is an error.
func (d *Desk) Follow(ctx context.Context) error {
	if !d.CanFollow() {
		return fmt.Errorf("a %s can't be followed: its profile has no [follow]", d.profile.Name)
	}
	if err := d.askToFollow(ctx); err != nil {
		return err
	}
	return d.followOn(ctx)
}

// CanFollow reports whether the desk can be asked to tell its changes.
func (d *Desk) CanFollow() bool {
	requests, _ := d.profile.AskToFollow()
	return len(requests) > 0
}

// FollowMeanwhile follows a desk that can be while something else is done: the request
// has been sent when it returns, and is repeated until the function that it gives is
// called. What Overwritten knew from before is forgotten.
func (d *Desk) FollowMeanwhile(ctx context.Context) (end func(), err error) {
	d.company.forget()
	if !d.CanFollow() {
		return func() {}, nil
	}
	return d.followMeanwhile(ctx)
}

// followMeanwhile is that for a desk that can be followed, and forgets nothing.
func (d *Desk) followMeanwhile(ctx context.Context) (end func(), err error) {
	if err := d.askToFollow(ctx); err != nil {
		return nil, err
	}
	following, stop := context.WithCancel(ctx)
	var done sync.WaitGroup
	done.Go(func() { _ = d.followOn(following) }) // what ends the link is told to whoever writes
	return func() {
		stop()
		done.Wait()
	}, nil
}

// followOn repeats the request until the context ends.
func (d *Desk) followOn(ctx context.Context) error {
	d.followers.Add(1)
	defer d.followers.Add(-1)
	_, lapses := d.profile.AskToFollow()
	for {
		if err := sleep(ctx, lapses/repeats); err != nil {
			return err
		}
		if err := d.askToFollow(ctx); err != nil {
			return err
		}
	}
}

func (d *Desk) askToFollow(ctx context.Context) error {
	requests, _ := d.profile.AskToFollow()
	if err := d.conversation.Tell(ctx, requests...); err != nil {
		return fmt.Errorf("follow the desk at %s: %w", d.address, err)
	}
	return nil
}
