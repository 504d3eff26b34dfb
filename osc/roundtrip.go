package osc

import "time"

// shortestWait is the least that is waited for an answer, however near a desk is: it has other work, too.
const shortestWait = 10 * time.Millisecond

// roundTrip is how long answers take. It is learnt as RFC 6298 does it: only from questions that were sent once, since of
// one that was sent again nobody knows which sending the answer is to; and once a wait was too short, the next ones are
// longer until such an answer comes.
type roundTrip struct {
	known       bool
	mean, swing time.Duration
	late        time.Duration // the next wait is no shorter
	again       int           // answers in a row to questions that were sent more than once
}

// congested is how many such answers in a row tell that it is not the network that loses: the desk is slower than its
// profile says, and asking sooner would make it slower still.
const congested = 16

func (r *roundTrip) isCongested() bool { return r.again >= congested }

// hear takes the time from sending a question once to its answer.
func (r *roundTrip) hear(took time.Duration) {
	r.late, r.again = 0, 0
	if !r.known {
		r.known, r.mean, r.swing = true, took, took/2
		return
	}
	r.swing += ((took - r.mean).Abs() - r.swing) / 4
	r.mean += (took - r.mean) / 8
}

// miss takes the next wait, of a question that had no answer in its last one.
func (r *roundTrip) miss(next time.Duration) { r.late = max(r.late, next) }

// first is how long to wait for the answer to a first try: no longer than usual, or most where the desk is congested.
func (r *roundTrip) first(usual, most time.Duration) time.Duration {
	if !r.known {
		return min(usual, most)
	}
	if !r.isCongested() {
		most = min(usual, most)
	}
	return min(most, max(shortestWait, r.mean+4*r.swing, r.late))
}

// learn takes in that a message has answered a question, once however many of its keys the message says. The
// conversation's lock is held.
func (c *Conversation[K, V]) learn(q *query[K, V]) {
	if q.tries == 0 || q.settled || q.heard == c.heard {
		return // not asked for, or not news
	}
	q.heard = c.heard
	if q.tries == 1 {
		c.trip.hear(time.Since(q.first))
	} else {
		c.trip.again++
	}
}

// mostWaits is how many times the wait of a manner the last tries wait, where the desk is known to answer.
const mostWaits = 2

// waitAfter is how long to wait for the answer to the next try after one that waited that long, 0 for the first. The
// conversation's lock is held.
func (c *Conversation[K, V]) waitAfter(last time.Duration) time.Duration {
	m := c.manner
	if last == 0 {
		return c.trip.first(m.Wait, m.MaxWait)
	}
	if c.trip.known && !c.trip.isCongested() {
		return min(m.longer(last), mostWaits*m.Wait)
	}
	return m.longer(last)
}
