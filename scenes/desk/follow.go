package desk

import (
	"context"
	"fmt"
)

// requests is how often the request to be told of changes is sent in the time for
// which one holds, so that two in a row may get lost.
const requests = 3

// Follow asks the desk to tell its changes, which Options.News then hears, and
// repeats the request before it lapses, until the context ends. A desk that has no
// such request is an error.
func (d *Desk) Follow(ctx context.Context) error {
	request, lapses, ok := d.profile.AskToFollow()
	if !ok {
		return fmt.Errorf("a %s can't be followed: its profile has no [follow]", d.profile.Name)
	}
	for {
		if err := d.conversation.Tell(ctx, request); err != nil {
			return fmt.Errorf("follow the desk at %s: %w", d.address, err)
		}
		if err := sleep(ctx, lapses/requests); err != nil {
			return err
		}
	}
}
