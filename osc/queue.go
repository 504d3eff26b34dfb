package osc

import (
	"container/heap"
	"time"
)

// query is a question on its way to being settled.
type query[K comparable, V any] struct {
	message Message
	packet  []byte
	waiters []*waiter[K, V] // one for each of its keys
	missing int             // keys without an answer
	tries   int             // times sent
	first   time.Time       // when it was sent first
	wait    time.Duration   // for an answer to the last try
	heard   uint64          // the last message that said one of its keys, by their count
	at      time.Time       // when to send it, or to stop waiting for its answer
	order   int
	settled bool
}

// queue holds questions with the earliest first.
type queue[K comparable, V any] []*query[K, V]

func (q queue[K, V]) Len() int { return len(q) }
func (q queue[K, V]) Less(i, j int) bool {
	if !q[i].at.Equal(q[j].at) {
		return q[i].at.Before(q[j].at)
	}
	return q[i].order < q[j].order
}
func (q queue[K, V]) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *queue[K, V]) Push(x any)   { *q = append(*q, x.(*query[K, V])) }
func (q *queue[K, V]) Pop() any {
	last := len(*q) - 1
	x := (*q)[last]
	(*q)[last] = nil
	*q = (*q)[:last]
	return x
}

func (q *queue[K, V]) dropSettled() {
	for len(*q) > 0 && (*q)[0].settled {
		heap.Pop(q)
	}
}

// unsent are the questions that have not been sent yet: those that can go at once, in their order, and those that must
// wait for a time.
type unsent[K comparable, V any] struct {
	free []*query[K, V]
	held queue[K, V]
}

// first is the question that can go first, nil for none.
func (u *unsent[K, V]) first() *query[K, V] {
	for len(u.free) > 0 && u.free[0].settled {
		u.free = u.free[1:]
	}
	if len(u.free) > 0 {
		return u.free[0]
	}
	u.held.dropSettled()
	if len(u.held) > 0 {
		return u.held[0]
	}
	return nil
}

// drop takes out the first question.
func (u *unsent[K, V]) drop() {
	if len(u.free) > 0 {
		u.free = u.free[1:]
		return
	}
	heap.Pop(&u.held)
}
