package osc

// goOn sends what an answer has made room for. The goroutine that listens does so itself, as far as nothing has to be
// waited for: to wake who called Ask for each answer would cost more than all the rest. That one is woken for what is
// left.
func (a *asking[K, V]) goOn() {
	if !a.sending.TryLock() {
		a.wakeUp() // it is at it, or has returned
		return
	}
	defer a.sending.Unlock()
	for a.failed == nil && a.ctx.Err() == nil {
		q, more := a.nextFree()
		if q == nil {
			if more {
				break
			}
			return
		}
		a.failed = a.sendNow(q)
		if q.at.Before(a.look) {
			a.wakeUp() // or its answer would be waited for too long
		}
	}
	a.wakeUp()
}

// nextFree gives a question that can be sent without waiting. Without one, it reports whether there is something else to
// do for who called Ask.
func (a *asking[K, V]) nextFree() (q *query[K, V], more bool) {
	a.c.mu.Lock()
	defer a.c.mu.Unlock()
	if a.answers == nil {
		return nil, false
	}
	a.sent.dropSettled()
	q = a.unsent.first()
	if q == nil || a.inFlight >= a.c.manner.Window {
		return nil, a.settled == a.total
	}
	if !q.at.IsZero() || a.c.manner.Pace > 0 && !a.c.limiter.Allow() {
		return nil, true
	}
	a.unsent.drop()
	return q, false
}

// wakeUp has who called Ask look what is to be done.
func (a *asking[K, V]) wakeUp() {
	select {
	case a.wake <- struct{}{}:
	default:
	}
}
