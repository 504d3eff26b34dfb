package osc

import (
	"cmp"
	"container/heap"
	"context"
	"fmt"
	"slices"
	"sync"
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
	a := &asking[K, V]{c: c, ctx: ctx, afresh: afresh, done: done, total: len(questions), wake: make(chan struct{}, 1)}
	queries, err := encodeAll[K, V](questions)
	if err != nil {
		return nil, err
	}
	a.prepare(questions, queries)
	err = c.alive(ctx)
	if err == nil {
		err = a.run()
	}
	return a.finish(), err
}

// encodeAll encodes the questions, before any is sent.
func encodeAll[K comparable, V any](questions []Question[K]) ([]query[K, V], error) {
	queries := make([]query[K, V], len(questions))
	for i, question := range questions {
		packet, err := question.Message.Encode()
		if err != nil {
			return nil, fmt.Errorf("question %d of %d: %w", i+1, len(questions), err)
		}
		queries[i] = query[K, V]{message: question.Message, packet: packet, order: i}
	}
	return queries, nil
}

// asking is one call of Ask.
type asking[K comparable, V any] struct {
	c      *Conversation[K, V]
	ctx    context.Context // the call's
	afresh bool
	done   func(int)
	total  int           // questions
	told   int           // what done was last told
	wake   chan struct{} // filled when something happened that who called Ask has to look at

	// sending is held by who sends: mostly who called Ask, and on a prompt link the goroutine that listens, see goOn. It
	// guards the next two: why the latter could not send, and when who called Ask looks again what is due.
	sending sync.Mutex
	failed  error
	look    time.Time

	// The conversation's lock guards all below, and the queries and waiters in it.
	answers  map[K]V // nil when the call has returned
	waiters  []waiter[K, V]
	unsent   unsent[K, V]
	sent     queue[K, V] // by the time when the answer is due
	inFlight int         // sent and not settled; the queue of sent ones holds some that are settled, too
	settled  int
}

// prepare finds out which question waits for which key.
func (a *asking[K, V]) prepare(questions []Question[K], queries []query[K, V]) {
	keys := 0
	for _, question := range questions {
		keys += len(question.Keys)
	}
	a.answers = make(map[K]V, keys)
	a.waiters = make([]waiter[K, V], 0, keys) // never grows, so that pointers into it hold
	// In one piece, from which each question and each key cut theirs.
	room, about := make([]*waiter[K, V], 0, keys), make([]*query[K, V], keys)
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	a.c.topics.forget(time.Now())
	a.c.topics.makeRoom(keys)
	for i := range queries {
		q, from := &queries[i], len(room)
		for _, key := range questions[i].Keys {
			w := a.waiterFor(key, &about)
			if n := len(w.queries); n == 0 || w.queries[n-1] != q {
				w.queries = append(w.queries, q)
				room = append(room, w)
			}
		}
		q.waiters = room[from:len(room):len(room)]
		q.missing = len(q.waiters)
		a.queue(q)
	}
	heap.Init(&a.unsent.held)
}

// waiterFor gives the waiter for a key of this call, and a new one a piece of the room for its queries. What it uses is
// given back in finish.
func (a *asking[K, V]) waiterFor(key K, room *[]*query[K, V]) *waiter[K, V] {
	t := a.c.topics.of(key)
	if t.latest != nil && t.latest.a == a {
		return t.latest
	}
	t.users++
	a.waiters = append(a.waiters, waiter[K, V]{a: a, topic: t, queries: (*room)[:0:1]})
	*room = (*room)[1:]
	t.latest = &a.waiters[len(a.waiters)-1]
	return t.latest
}

// queue puts a question where it waits to be sent.
func (a *asking[K, V]) queue(q *query[K, V]) {
	if q.missing == 0 {
		q.settled = true
		a.settled++
		return
	}
	if a.afresh {
		q.at = a.c.topics.over(q.waiters)
	}
	if q.at.IsZero() {
		a.unsent.free = append(a.unsent.free, q)
		return
	}
	a.unsent.held = append(a.unsent.held, q)
}

// run sends and waits, whatever is due first, until every question is settled.
func (a *asking[K, V]) run() error {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		look, finished, err := a.sendDue()
		a.tellDone()
		if finished || err != nil {
			return err
		}
		timer.Reset(time.Until(look))
		select {
		case <-timer.C:
		case <-a.wake:
		case <-a.ctx.Done():
		case <-a.c.ended:
		}
	}
}

// sendDue sends what can be sent now, and gives when to look again.
func (a *asking[K, V]) sendDue() (look time.Time, finished bool, err error) {
	a.sending.Lock()
	defer a.sending.Unlock()
	for {
		q, look, finished := a.next(time.Now())
		if finished {
			return look, true, nil
		}
		if err := cmp.Or(a.failed, a.c.alive(a.ctx)); err != nil {
			return look, false, err
		}
		if q == nil {
			a.look = look
			return look, false, nil
		}
		a.tellDone()
		if err := a.send(q); err != nil {
			return look, false, err
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
func (a *asking[K, V]) next(now time.Time) (q *query[K, V], look time.Time, finished bool) {
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	a.giveUp(now)
	if a.settled == a.total {
		return nil, look, true
	}
	if len(a.sent) > 0 {
		look = a.sent[0].at
		if !look.After(now) {
			return heap.Pop(&a.sent).(*query[K, V]), look, false
		}
	}
	q = a.unsent.first()
	if q == nil || a.inFlight >= a.c.manner.Window {
		return nil, look, false
	}
	if !q.at.After(now) {
		a.unsent.drop()
		return q, look, false
	}
	if look.IsZero() || q.at.Before(look) {
		look = q.at
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
		a.settle(heap.Pop(&a.sent).(*query[K, V]))
	}
}

func (a *asking[K, V]) settle(q *query[K, V]) {
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
func (a *asking[K, V]) send(q *query[K, V]) error {
	if err := a.c.pace(a.ctx); err != nil {
		return err
	}
	return a.sendNow(q)
}

func (a *asking[K, V]) sendNow(q *query[K, V]) error {
	if !a.begin(q, time.Now()) {
		return nil
	}
	if err := a.c.link.Send(q.packet); err != nil {
		return fmt.Errorf("ask %s: %w", printable(q.message.Address), err)
	}
	a.sentNow(q, time.Now())
	return nil
}

// begin notes a question as sent, before it is, since its answer may come sooner than the sending returns. It gives
// false if the question must not be sent, as it has been settled meanwhile or must wait for longer.
func (a *asking[K, V]) begin(q *query[K, V], now time.Time) bool {
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	if q.settled {
		return false
	}
	if q.tries == 0 {
		if a.afresh {
			q.at = a.c.topics.over(q.waiters)
			if q.at.After(now) {
				heap.Push(&a.unsent.held, q)
				return false
			}
		}
		a.inFlight++
		q.first = now
		awaitAnswers(q)
	} else {
		a.c.trip.miss(a.c.waitAfter(q.wait))
	}
	q.tries++
	a.c.topics.asked(q.waiters, now)
	return true
}

// awaitAnswers makes reports about a question's keys count from now on.
func awaitAnswers[K comparable, V any](q *query[K, V]) {
	for _, w := range q.waiters {
		if !w.begun {
			w.begun = true
			w.topic.waiting = append(w.topic.waiting, w)
		}
	}
}

// sentNow notes when the question went out and when its answer is due.
func (a *asking[K, V]) sentNow(q *query[K, V], now time.Time) {
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	a.c.topics.asked(q.waiters, now)
	q.wait = a.c.waitAfter(q.wait)
	q.at = now.Add(q.wait)
	heap.Push(&a.sent, q)
}

// answer takes the first report about a key, and reports whether that settles a question. The conversation's lock is held.
func (w *waiter[K, V]) answer(value V) (settled bool) {
	a := w.a
	if a.answers == nil {
		return false // The call has returned.
	}
	w.answered = true
	a.answers[w.topic.key] = value
	for _, q := range w.queries {
		a.c.learn(q)
		q.missing--
		if q.missing == 0 {
			a.settle(q)
			settled = true
		}
	}
	return settled
}

// finish takes the call out of the conversation and gives what was answered.
func (a *asking[K, V]) finish() map[K]V {
	a.sending.Lock() // until nothing is being sent for it any more
	defer a.sending.Unlock()
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	now := time.Now()
	for i := range a.waiters {
		w := &a.waiters[i]
		if w.begun && !w.answered {
			w.topic.waiting = slices.DeleteFunc(w.topic.waiting, func(other *waiter[K, V]) bool { return other == w })
		}
		a.c.topics.giveBack(w.topic, now)
	}
	answers := a.answers
	a.answers = nil
	return answers
}
