package osc

import "time"

// topic is what a conversation knows of one key.
type topic[K comparable, V any] struct {
	key     K
	asked   time.Time       // when a question about it was last sent; zero where that does not count any more
	waiting []*waiter[K, V] // calls of Ask that have asked about it and wait for a report
	latest  *waiter[K, V]   // of the call that took it up last
	users   int             // calls of Ask that have it in a question
}

// waiter is one key in one call of Ask.
type waiter[K comparable, V any] struct {
	a        *asking[K, V]
	topic    *topic[K, V]
	queries  []*query[K, V] // that it is in
	begun    bool           // a question about it was sent, so that reports count
	answered bool
}

// topics are the keys that somebody asks about, or was asked about not longer than a span ago.
type topics[K comparable, V any] struct {
	span    time.Duration
	all     map[K]*topic[K, V]
	lapsing []lapse[K, V] // in the order in which they were given back
}

// lapse is a topic that the last call of Ask has given back, and when a question about it had been sent last.
type lapse[K comparable, V any] struct {
	topic *topic[K, V]
	asked time.Time
}

// of gives the topic of a key. Whoever uses it counts as a user, and gives it back.
func (all *topics[K, V]) of(key K) *topic[K, V] {
	t := all.all[key]
	if t == nil {
		t = &topic[K, V]{key: key}
		all.all[key] = t
	}
	return t
}

// makeRoom is for many keys to come.
func (all *topics[K, V]) makeRoom(keys int) {
	if len(all.all) == 0 {
		all.all = make(map[K]*topic[K, V], keys)
	}
}

// giveBack ends the use of a topic by one call of Ask.
func (all *topics[K, V]) giveBack(t *topic[K, V], now time.Time) {
	t.users--
	switch {
	case t.users > 0:
	case all.isOver(t, now):
		delete(all.all, t.key)
	default:
		t.latest = nil
		all.lapsing = append(all.lapsing, lapse[K, V]{t, t.asked})
	}
}

// forget drops what has lapsed meanwhile.
func (all *topics[K, V]) forget(now time.Time) {
	old := 0
	for ; old < len(all.lapsing) && now.Sub(all.lapsing[old].asked) >= all.span; old++ {
		t := all.lapsing[old].topic
		// One that is in use again, or was since, lapses once more after that.
		if t.users == 0 && all.isOver(t, now) && all.all[t.key] == t {
			delete(all.all, t.key)
		}
	}
	clear(all.lapsing[:old])
	all.lapsing = all.lapsing[old:]
}

func (all *topics[K, V]) isOver(t *topic[K, V], now time.Time) bool {
	return t.asked.IsZero() || now.Sub(t.asked) >= all.span
}

// asked notes that a question is sent now.
func (all *topics[K, V]) asked(waiters []*waiter[K, V], now time.Time) {
	if all.span <= 0 {
		return
	}
	for _, w := range waiters {
		w.topic.asked = now
	}
}

// over gives the time from which on no answer about any of the keys can still be under way.
func (all *topics[K, V]) over(waiters []*waiter[K, V]) time.Time {
	var latest time.Time
	for _, w := range waiters {
		if asked := w.topic.asked; !asked.IsZero() && asked.Add(all.span).After(latest) {
			latest = asked.Add(all.span)
		}
	}
	return latest
}

// answeredBy takes out who waits for a report about a key.
func (all *topics[K, V]) answeredBy(key K) []*waiter[K, V] {
	t := all.all[key]
	if t == nil {
		return nil
	}
	waiting := t.waiting
	t.waiting = nil
	return waiting
}
