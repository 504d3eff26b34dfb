package osc

import "time"

// Manner is the manner of speaking to a desk: how fast, and how patiently. The zero value speaks without a limit of
// pace and with the defaults stated here. A desk's queue is short, so most want a Pace.
type Manner struct {
	Pace    float64       // messages a second, told and asked together; 0 means no limit
	Burst   int           // messages that may go out at once after a pause; default 1
	Window  int           // questions of one Ask that are in flight at a time; default 16
	Wait    time.Duration // for the answer to the first try, until it is known how long answers take; default 100 ms
	BackOff float64       // each further try waits this many times longer, at least 1; default 1.5
	MaxWait time.Duration // for the answer to any try; default 400 ms
	// Tries is how often a question is sent before it counts as unanswered, where each try waits as above; default 8. A
	// desk that answers sooner is asked more often in the same time.
	Tries int
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

// longer is how long to wait for the answer to the next try.
func (m Manner) longer(wait time.Duration) time.Duration {
	return time.Duration(min(float64(wait)*m.BackOff, float64(m.MaxWait)))
}

// patience is how long all tries of a question wait together.
func (m Manner) patience() time.Duration {
	const most = 100 // further ones wait for no longer, and are many enough
	var all time.Duration
	wait := min(m.Wait, m.MaxWait)
	for range min(m.Tries, most) {
		all += wait
		wait = m.longer(wait)
	}
	return all
}
