package osc

import (
	"container/heap"
	"context"
	"fmt"
	"slices"
	"time"
)

// Ask asks questions and gives what was reported about their keys: of each key the first value that arrived after this
// Ask had first sent a question about it. A key that is missing from the result is unanswered after all tries. The same
// key may stand in several questions; once it is answered, a question that has nothing more to ask is not sent.
//
// Each call keeps up to Manner.Window questions in flight. A question that gets no answer is sent again, waiting longer
// each time, until it was sent Manner.Tries times; where answers are known to come sooner, it waits for less, and is sent
// more often in the same time. done, which may be nil, is told how many questions are settled so
// far, answered or given up; it is called from the goroutine that calls Ask.
//
// The only errors are those of the link, of the context, and of a question that can't be encoded, with which nothing is
// sent. What was answered until then is returned too.
//
// The answer to an earlier question may still be under way and come first. Where it matters that the value is not from
// before the last setting, use AskAfresh.
func (c *Conversation[K, V]) Ask(ctx context.Context, questions []Question[K], done func(n int)) (map[K]V, error) {
	return c.ask(ctx, questions, done, false)
}

// AskAfresh is Ask for values that must be no older than the call. It first sends a question about a key only when
// Manner.Linger has passed since any call last sent one about that key, so that no answer to that can arrive any more;
// questions that need not wait go ahead.
func (c *Conversation[K, V]) AskAfresh(ctx context.Context, questions []Question[K], done func(n int)) (map[K]V, error) {
	return c.ask(ctx, questions, done, true)
}

func (c *Conversation[K, V]) ask(ctx context.Context, questions []Question[K], done func(n int), afresh bool) (map[K]V, error) {
	a := &asking[K, V]{
		c: c, afresh: afresh, done: done,
		answers: make(map[K]V), about: make(map[K][]*query[K]), begun: make(map[K]bool),
		wake: make(chan struct{}, 1),
	}
	if err := a.prepare(questions); err != nil {
		return nil, err
	}
	err := c.alive(ctx)
	if err == nil {
		err = a.run(ctx)
	}
	return a.finish(), err
}

// asking is one call of Ask.
type asking[K comparable, V any] struct {
	c      *Conversation[K, V]
	afresh bool
	done   func(int)
	total  int           // questions
	told   int           // what done was last told
	wake   chan struct{} // filled when an answer came

	// The conversation's lock guards all below, and the queries in it.
	answers  map[K]V // nil when the call has returned
	about    map[K][]*query[K]
	begun    map[K]bool // keys that a question was sent about
	unsent   queue[K]   // by the time when they can go
	sent     queue[K]   // by the time when the answer is due
	inFlight int        // sent and not settled; the queue of sent ones holds some that are settled, too
	settled  int
}

// prepare encodes the questions, before any is sent.
func (a *asking[K, V]) prepare(questions []Question[K]) error {
	a.total = len(questions)
	for i, question := range questions {
		packet, err := question.Message.Encode()
		if err != nil {
			return fmt.Errorf("question %d of %d: %w", i+1, len(questions), err)
		}
		q := &query[K]{Question: question, packet: packet, order: i}
		for _, key := range question.Keys {
			if about := a.about[key]; len(about) == 0 || about[len(about)-1] != q {
				a.about[key] = append(about, q)
				q.missing++
			}
		}
		if q.missing == 0 {
			q.settled = true
			a.settled++
			continue
		}
		a.unsent = append(a.unsent, q)
	}
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	if a.afresh {
		for _, q := range a.unsent {
			q.at = a.c.asked.over(q.Keys)
		}
	}
	heap.Init(&a.unsent)
	return nil
}

// run sends and waits, whatever is due first, until every question is settled.
func (a *asking[K, V]) run(ctx context.Context) error {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		q, look, finished := a.next(time.Now())
		a.tellDone()
		if finished {
			return nil
		}
		if err := a.c.alive(ctx); err != nil {
			return err
		}
		if q != nil {
			if err := a.send(ctx, q); err != nil {
				return err
			}
			continue
		}
		timer.Reset(time.Until(look))
		select {
		case <-timer.C:
		case <-a.wake:
		case <-ctx.Done():
		case <-a.c.ended:
		}
	}
}

func (a *asking[K, V]) tellDone() {
	a.c.mu.Lock()
	settled := a.settled
	a.c.mu.Unlock()
	if a.done != nil && settled != a.told {
		a.done(settled)
	}
	a.told = settled
}

// next gives the question to send now, or when to look again if there is none yet.
func (a *asking[K, V]) next(now time.Time) (q *query[K], look time.Time, finished bool) {
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	a.giveUp(now)
	if a.settled == a.total {
		return nil, look, true
	}
	if len(a.sent) > 0 {
		look = a.sent[0].at
		if !look.After(now) {
			return heap.Pop(&a.sent).(*query[K]), look, false
		}
	}
	a.unsent.dropSettled()
	if len(a.unsent) == 0 || a.inFlight >= a.c.manner.Window {
		return nil, look, false
	}
	first := a.unsent[0].at
	if !first.After(now) {
		return heap.Pop(&a.unsent).(*query[K]), look, false
	}
	if look.IsZero() || first.Before(look) {
		look = first
	}
	return nil, look, false
}

// giveUp settles the questions whose last try has gone unanswered.
func (a *asking[K, V]) giveUp(now time.Time) {
	for {
		a.sent.dropSettled()
		if len(a.sent) == 0 || a.sent[0].at.After(now) || a.sent[0].tries < a.c.manner.Tries || now.Sub(a.sent[0].first) < a.c.patience {
			return
		}
		a.settle(heap.Pop(&a.sent).(*query[K]))
	}
}

func (a *asking[K, V]) settle(q *query[K]) {
	if q.settled {
		return
	}
	q.settled = true
	a.settled++
	if q.tries > 0 {
		a.inFlight--
	}
}

// send sends a question as soon as the pace allows it and, if it must be asked afresh, no earlier answer can come.
func (a *asking[K, V]) send(ctx context.Context, q *query[K]) error {
	if err := a.c.pace(ctx); err != nil {
		return err
	}
	if !a.begin(q, time.Now()) {
		return nil
	}
	if err := a.c.link.Send(q.packet); err != nil {
		return fmt.Errorf("ask %s: %w", printable(q.Message.Address), err)
	}
	a.sentNow(q, time.Now())
	return nil
}

// begin notes a question as sent, before it is, since its answer may come sooner than the sending returns. It gives
// false if the question must not be sent, as it has been settled meanwhile or must wait for longer.
func (a *asking[K, V]) begin(q *query[K], now time.Time) bool {
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	if q.settled {
		return false
	}
	if q.tries == 0 {
		if a.afresh {
			q.at = a.c.asked.over(q.Keys)
			if q.at.After(now) {
				heap.Push(&a.unsent, q)
				return false
			}
		}
		a.inFlight++
		q.first = now
		a.awaitAnswers(q)
	} else {
		a.c.trip.miss(a.c.waitAfter(q.wait))
	}
	q.tries++
	a.c.asked.note(q.Keys, now)
	return true
}

// awaitAnswers makes reports about a question's keys count from now on.
func (a *asking[K, V]) awaitAnswers(q *query[K]) {
	for _, key := range q.Keys {
		if !a.begun[key] {
			a.begun[key] = true
			a.c.waiting[key] = append(a.c.waiting[key], a)
		}
	}
}

// sentNow notes when the question went out and when its answer is due.
func (a *asking[K, V]) sentNow(q *query[K], now time.Time) {
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	a.c.asked.note(q.Keys, now)
	q.wait = a.c.waitAfter(q.wait)
	q.at = now.Add(q.wait)
	heap.Push(&a.sent, q)
}

// answer takes the first report about a key. The conversation's lock is held.
func (a *asking[K, V]) answer(report Report[K, V]) {
	if a.answers == nil {
		return // The call has returned.
	}
	a.answers[report.Key] = report.Value
	for _, q := range a.about[report.Key] {
		if q.tries == 1 && !q.settled {
			a.c.trip.hear(time.Since(q.first))
		} else if !q.settled {
			a.c.trip.again++
		}
		q.missing--
		if q.missing == 0 {
			a.settle(q)
		}
	}
	select {
	case a.wake <- struct{}{}:
	default:
	}
}

// finish takes the call out of the conversation and gives what was answered.
func (a *asking[K, V]) finish() map[K]V {
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	for key := range a.begun {
		if _, ok := a.answers[key]; ok {
			continue
		}
		others := slices.DeleteFunc(a.c.waiting[key], func(other *asking[K, V]) bool { return other == a })
		if len(others) == 0 {
			delete(a.c.waiting, key)
		} else {
			a.c.waiting[key] = others
		}
	}
	answers := a.answers
	a.answers = nil
	return answers
}
