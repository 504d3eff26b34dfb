package desk

import (
	"fmt"
	"sync"
	"time"
)

// usualGap is the least gap that counts. A busy machine keeps a program waiting for less,
// and a desk that is read anew for nothing is no harm.
const usualGap = 5 * time.Second

// beats is how often a vigil looks at the clock within the least gap.
const beats = 5

// Away is the error of something that was begun before a gap: what was known of the desk
// then isn't any more.
type Away struct{ Gap Gap }

func (e *Away) Error() string {
	return fmt.Sprintf("%s: the desk may have been moved meanwhile: look at it, and begin once more", e.Gap)
}

// Vigil notices that nobody was there for a while: the machine slept, this program was
// stopped, or the clock was set. No timer tells that, since timers sleep, too.
//
// Whoever looks first after the gap notices it, so that a caller who looks right before it
// does something can't be faster than the vigil.
type Vigil struct {
	clock   Clock
	least   time.Duration
	noticed func(Gap)
	end     chan struct{}
	ended   sync.WaitGroup
	once    sync.Once

	mu   sync.Mutex
	last Moment
	away *Away // the first gap in which somebody was away, nil for none
}

// VigilOptions say what a vigil is to do. The zero value is the usual.
type VigilOptions struct {
	// Clock is nil for the machine's.
	Clock Clock
	// Least is the least gap that counts, 5 s if 0.
	Least time.Duration
	// Noticed is told each gap, by whoever noticed it. It must not wait, nor call the vigil.
	// It may be nil.
	Noticed func(Gap)
}

// KeepVigil begins to look at the clock, until End.
func KeepVigil(o VigilOptions) *Vigil {
	if o.Clock == nil {
		o.Clock = MachineClock()
	}
	if o.Least <= 0 {
		o.Least = usualGap
	}
	v := &Vigil{clock: o.Clock, least: o.Least, noticed: o.Noticed, end: make(chan struct{})}
	v.last = v.clock()
	v.ended.Go(v.keep)
	return v
}

func (v *Vigil) keep() {
	beat := time.NewTicker(v.least / beats)
	defer beat.Stop()
	for {
		select {
		case <-v.end:
			return
		case <-beat.C:
			v.Look()
		}
	}
}

// End ends the vigil. Ending it again does nothing.
func (v *Vigil) End() {
	v.once.Do(func() { close(v.end) })
	v.ended.Wait()
}

// Look notices a gap up to now.
func (v *Vigil) Look() {
	v.mu.Lock()
	defer v.mu.Unlock()
	now := v.clock()
	gap := gapBetween(v.last, now, v.least)
	v.last = now
	if gap == (Gap{}) {
		return
	}
	if gap.WasAway() && v.away == nil {
		v.away = &Away{gap}
	}
	if v.noticed != nil {
		v.noticed(gap)
	}
}

// Err looks, and gives an [Away] if somebody was away since the vigil began.
func (v *Vigil) Err() error {
	v.Look()
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.away == nil {
		return nil
	}
	return v.away
}

// Slept is the gap between two moments between which it was no wonder that this program
// waited: for how long it did is none.
func (v *Vigil) Slept(from, to Moment) Gap { return Gap{Ahead: aheadBetween(from, to, v.least)} }

// Guard has settings sent only while nobody was away, as the vigil knows right before each,
// until the function that it gives is called. A setting that is not sent is an [Away].
func (d *Desk) Guard(v *Vigil) (end func()) {
	d.vigil = v
	return func() { d.vigil = nil }
}

// isAwake is asked right before a setting is sent.
func (d *Desk) isAwake() error {
	if d.vigil == nil {
		return nil
	}
	return d.vigil.Err()
}
