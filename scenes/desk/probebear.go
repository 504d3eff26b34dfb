package desk

import (
	"context"
	"fmt"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
)

// The bounds of what a desk is tried with, see [Probe.Bear].
const (
	// MostAtOnce and MostPace bound the questions: so many at once, so many a second.
	MostAtOnce = 256
	MostPace   = 1600

	leastAtOnce = 4
	leastPace   = 50.0
	// paceFor is how long each pace is kept up.
	paceFor = 250 * time.Millisecond
	// quietWithin bounds how long a desk that had too much is given to come to rest.
	quietWithin = 10 * time.Second
	// needed is how many questions of different kinds it takes to try anything.
	needed = 4
)

// Bearing is what a desk bears. The figures are those that it was seen to bear: it may
// bear more where nothing was lost.
type Bearing struct {
	// AtOnce questions were all answered; of AtOnceLost some were not, twice. That is 0
	// where no number was too many.
	AtOnce, AtOnceLost int
	// Pace is the like in questions a second.
	Pace, PaceLost float64
	// Sent is how many questions it took.
	Sent int
}

// Bear learns how many questions at once and how many a second the desk answers, with
// questions that it has answered before, and not at the profile's pace. It begins with
// few, doubles them, and stops where some go unanswered twice, at [MostAtOnce], or at
// [MostPace] or four times the profile's pace. It changes nothing. The error is
// [ErrSilent] where the desk answers nothing any more after that.
func (p *Probe) Bear(ctx context.Context, reading ProbeReading) (Bearing, error) {
	b := bearing{Probe: p, ctx: ctx, keys: make(map[profiles.Parameter]bool)}
	if err := b.choose(reading); err != nil || len(b.packets) < needed {
		return Bearing{}, err
	}
	err := b.atOnce()
	if err == nil {
		err = b.paced()
	}
	return b.result, err
}

// bearing is one Bear under way.
type bearing struct {
	*Probe
	ctx     context.Context
	result  Bearing
	packets [][]byte
	keys    map[profiles.Parameter]bool // the first of each question
	// first is a question that the desk has answered.
	first osc.Question[profiles.Parameter]
}

func (b *bearing) atOnce() error {
	for n := leastAtOnce; n <= min(len(b.packets), MostAtOnce); n *= 2 {
		lost, err := b.twice(n, 0)
		if err != nil {
			return err
		}
		if lost {
			b.result.AtOnceLost = n
			return b.stillThere(b.ctx, b.first)
		}
		b.result.AtOnce = n
	}
	return nil
}

func (b *bearing) paced() error {
	most := min(MostPace, 4*b.profile.Link.Pace)
	for pace := min(leastPace, most); pace <= most; pace *= 2 {
		lost, err := b.twice(max(int(pace*paceFor.Seconds()), needed), pace)
		if err != nil {
			return err
		}
		if lost {
			b.result.PaceLost = pace
			return b.stillThere(b.ctx, b.first)
		}
		b.result.Pace = pace
	}
	return nil
}

// choose takes the questions that bring one answer each.
func (b *bearing) choose(reading ProbeReading) error {
	for _, a := range reading.Asked {
		if a.Outcome != Answered || len(a.Parameters) > 1+len(b.profile.Beside(a.Parameters[0])) || len(b.packets) == MostAtOnce {
			continue
		}
		packet, err := a.Question.Encode()
		if err != nil {
			return fmt.Errorf("ask for %s: %w", a.Parameters[0], err)
		}
		if len(b.packets) == 0 {
			b.first = osc.Question[profiles.Parameter]{Message: a.Question, Keys: a.Parameters}
		}
		b.packets = append(b.packets, packet)
		b.keys[a.Parameters[0]] = true
	}
	return nil
}

// twice tries again what has lost answers: one packet lost by the network is no limit.
func (b *bearing) twice(n int, pace float64) (lost bool, err error) {
	for range 2 {
		if lost, err = b.loses(n, pace); err != nil || !lost {
			return lost, err
		}
	}
	return true, nil
}

// loses sends so many questions, at once or at a pace, and reports whether some went
// unanswered, or were answered so late that the desk does not keep up.
func (b *bearing) loses(n int, pace float64) (bool, error) {
	b.tap.take()
	begun, answers := time.Now(), 0
	for i := range n {
		if pace > 0 {
			if err := sleep(b.ctx, time.Until(begun.Add(time.Duration(float64(i)/pace*float64(time.Second))))); err != nil {
				return false, err
			}
		}
		if err := b.tap.Send(b.packets[i%len(b.packets)]); err != nil {
			return false, fmt.Errorf("ask the desk at %s: %w", b.desk.address, err)
		}
		b.result.Sent++
		answers += b.answersIn(b.tap.take())
	}
	late := time.Now().Add(b.profile.Link.Wait)
	for answers < n {
		came, err := b.more()
		if err != nil {
			return false, err
		}
		if came == 0 {
			return true, b.quiet()
		}
		answers += came
	}
	if pace > 0 && time.Now().After(late) {
		return true, b.quiet()
	}
	return false, nil
}

// patience is how long an answer may take.
func (b *bearing) patience() time.Duration { return 2 * b.profile.Link.Wait }

// more waits for answers, and gives 0 if none comes.
func (b *bearing) more() (int, error) {
	timer := time.NewTimer(b.patience())
	defer timer.Stop()
	for {
		if n := b.answersIn(b.tap.take()); n > 0 {
			return n, nil
		}
		select {
		case <-b.tap.wake:
		case <-timer.C:
			return 0, nil
		case <-b.ctx.Done():
			return 0, b.ctx.Err()
		case <-b.tap.ended:
			return 0, b.hasEnded()
		}
	}
}

// quiet lets a desk that had too much come to rest.
func (b *bearing) quiet() error {
	for until := time.Now().Add(quietWithin); time.Now().Before(until); {
		n, err := b.more()
		if err != nil || n == 0 {
			return err
		}
	}
	return nil
}

// answersIn counts the answers to the questions among what came.
func (b *bearing) answersIn(heard []hearing) int {
	n := 0
	for _, h := range heard {
		for _, report := range b.profile.Hear(h.Heard) {
			if b.keys[report.Key] {
				n++
			}
		}
	}
	return n
}
