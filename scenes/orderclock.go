package scenes

import (
	"fmt"
	"time"
)

// clock is how far the times of a running order have got, counted from the midnight before
// its first scene. A scene without a time of its own follows the one before it at once.
type clock struct {
	// isKnown says that a time was planned so far.
	isKnown bool
	// began is when the scene before begins, next the earliest that another can.
	began, next time.Duration
	// ends says that next is when the scene before ends, which is not known without its
	// length.
	ends bool
	// says is why none can begin earlier, for a message.
	says string
}

// start is when an item with a start is planned to begin. Half a day back and more is after
// midnight.
func (c clock) start(it Item) time.Duration {
	const day = 24 * time.Hour
	at := c.began.Truncate(day) + *it.Start
	if c.began-at > day/2 {
		at += day
	}
	return at
}

// take goes on by one item.
func (c *clock) take(it Item) {
	switch {
	case it.Start != nil:
		c.began = c.start(it)
		c.next, c.isKnown = c.began, true
		c.says = fmt.Sprintf("%q before it for %s", it.Title, Clock(c.began))
	case c.isKnown:
		c.began = c.next
	default:
		return
	}
	c.ends = it.Length > 0
	if c.ends {
		c.next += it.Length
		c.says = fmt.Sprintf("%q before it goes on until %s", it.Title, Clock(c.next))
	}
}
