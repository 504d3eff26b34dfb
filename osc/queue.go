package osc

import (
	"container/heap"
	"time"
)

// query is a question on its way to being settled.
type query[K comparable] struct {
	Question[K]
	packet  []byte
	missing int           // keys without an answer
	tries   int           // times sent
	first   time.Time     // when it was sent first
	wait    time.Duration // for an answer to the last try
	at      time.Time     // when to send it, or to stop waiting for its answer
	order   int
	settled bool
}

// queue holds questions with the earliest first.
type queue[K comparable] []*query[K]

func (q queue[K]) Len() int { return len(q) }
func (q queue[K]) Less(i, j int) bool {
	if !q[i].at.Equal(q[j].at) {
		return q[i].at.Before(q[j].at)
	}
	return q[i].order < q[j].order
}
func (q queue[K]) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *queue[K]) Push(x any)   { *q = append(*q, x.(*query[K])) }
func (q *queue[K]) Pop() any {
	last := len(*q) - 1
	x := (*q)[last]
	(*q)[last] = nil
	*q = (*q)[:last]
	return x
}

func (q *queue[K]) dropSettled() {
	for len(*q) > 0 && (*q)[0].settled {
		heap.Pop(q)
	}
}
