package desk

import (
	"context"
	"fmt"
)

// repeats is how often the request to be told of changes is sent in the time for
// which one holds, so that two in a row may get lost.
const repeats = 3

// Follow asks the desk to tell its changes, which Options.News then hears, and
// repeats the request before it lapses, until the context ends. A desk that has no
// such request is an error.
func (d *Desk) Follow(ctx context.Context) error {
	requests, lapses := d.profile.AskToFollow()
	if len(requests) == 0 {
		return fmt.Errorf("a %s can't be followed: its profile has no [follow]", d.profile.Name)
	}
	for {
		if err := d.conversation.Tell(ctx, requests...); err != nil {
			return fmt.Errorf("follow the desk at %s: %w", d.address, err)
		}
		if err := sleep(ctx, lapses/repeats); err != nil {
			return err
		}
	}
}
