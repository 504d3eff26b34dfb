package osc

import "time"

// Manner is the manner of speaking to a desk: how fast, and how patiently. The zero value speaks without a limit of
// pace and with the defaults stated here. A desk's queue is short, so most want a Pace.
type Manner struct {
	Pace    float64       // messages a second, told and asked together; 0 means no limit
	Burst   int           // messages that may go out at once after a pause; default 1
	Window  int           // questions of one Ask that are in flight at a time; default 16
	Wait    time.Duration // for the answer to the first try; default 100 ms
	BackOff float64       // each further try waits this many times longer, at least 1; default 1.5
	MaxWait time.Duration // for the answer to any try; default 400 ms
	Tries   int           // times that a question is sent before it counts as unanswered; default 8
	// Linger is the longest time from the sending of a question to the arrival of its answer; default 100 ms, and less
	// than 0 means none. AskAfresh keeps this distance from earlier questions.
	Linger time.Duration
}

func (m Manner) withDefaults() Manner {
	m.Burst = positiveOr(m.Burst, 1)
	m.Window = positiveOr(m.Window, 16)
	m.Wait = positiveOr(m.Wait, 100*time.Millisecond)
	m.MaxWait = positiveOr(m.MaxWait, 400*time.Millisecond)
	m.Tries = positiveOr(m.Tries, 8)
	if !(m.BackOff >= 1) { // This catches what is no number, too.
		m.BackOff = 1.5
	}
	if m.Linger == 0 {
		m.Linger = 100 * time.Millisecond
	}
	m.Linger = max(m.Linger, 0)
	return m
}

func positiveOr[T int | time.Duration](value, otherwise T) T {
	if value > 0 {
		return value
	}
	return otherwise
}

// wait is how long to wait for the answer to a try; the first is 1.
func (m Manner) wait(try int) time.Duration {
	wait := float64(m.Wait)
	for range try - 1 {
		wait *= m.BackOff
		if wait >= float64(m.MaxWait) {
			break
		}
	}
	return time.Duration(min(wait, float64(m.MaxWait)))
}
