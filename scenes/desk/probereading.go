package desk

import (
	"context"
	"slices"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
)

// Outcome is what came of a question.
type Outcome uint8

// The outcomes. Misfit is an answer that the profile makes nothing of, Elsewhere one
// about something else, Between one whose value is between two steps of the profile.
const (
	Answered Outcome = iota
	Between
	Unanswered
	Misfit
	Elsewhere
	NotAsked
)

func (o Outcome) String() string {
	return [...]string{"answered", "between", "unanswered", "misfit", "elsewhere", "not_asked"}[o]
}

// Asked is a question to the desk and what came of it.
type Asked struct {
	Parameters []profiles.Parameter
	Question   osc.Message
	Outcome    Outcome
	// Missing are those of the parameters of which the desk told nothing, or nothing
	// that could be understood.
	Missing []profiles.Parameter
	// Off are those whose values are between two steps of the profile.
	Off []profiles.Parameter
	// Heard is what came and was not understood, About what was told of instead.
	Heard []osc.Heard
	About []profiles.Parameter
	Tries int
	trip  time.Duration
}

// Trips are the round trip times of questions answered at once.
type Trips struct {
	Least, Median, Most95 time.Duration
	// Of is how many there were.
	Of int
}

// ProbeReading is what a desk answers.
type ProbeReading struct {
	Asked []Asked
	Trips Trips
}

const (
	// readTries is how often a question is asked after which nothing came.
	readTries = 3
	// readWithin bounds a whole reading.
	readWithin = 2 * time.Minute
	// onGrid is how far from a step of the profile a value still counts as on it, in
	// steps: more than what rounding to a float32 makes of the finest grids.
	onGrid = 0.05
	// doubtful is after how many questions in a row without an answer it is asked whether
	// the desk is still there.
	doubtful = 10
)

// Read asks for everything at the first and last of the channels and mixes, and at the
// main mix, or with all of everything: one question after another, each when the one
// before is settled. It changes nothing. It ends after two minutes; what was not
// asked until then is told as such. The error is [ErrSilent] where the desk answers
// nothing any more, so that what it didn't answer says nothing of the profile.
func (p *Probe) Read(ctx context.Context, all bool, progress Progress) (ProbeReading, error) {
	questions := p.questions(p.sample(all))
	until := time.Now().Add(readWithin)
	var (
		reading ProbeReading
		watch   vigil
	)
	for i, q := range questions {
		if time.Now().After(until) {
			reading.Asked = append(reading.Asked, Asked{Parameters: q.Keys, Question: q.Message, Outcome: NotAsked})
			continue
		}
		r, err := p.ask(ctx, q, readTries)
		if err != nil {
			return reading, err
		}
		a := p.judge(q, r)
		reading.Asked = append(reading.Asked, a)
		if watch.doubts(q, a) || i == len(questions)-1 && watch.silent > 0 {
			if err := p.stillThere(ctx, watch.answered); err != nil {
				return reading, err
			}
		}
		if progress != nil {
			progress(i+1, len(questions))
		}
	}
	reading.Trips = tripsOf(reading.Asked)
	return reading, nil
}

// vigil counts how many questions in a row brought nothing after one that was answered.
type vigil struct {
	answered osc.Question[profiles.Parameter]
	silent   int
}

// doubts reports whether it is time to ask whether the desk is still there.
func (v *vigil) doubts(q osc.Question[profiles.Parameter], a Asked) bool {
	switch {
	case a.Outcome == Answered || a.Outcome == Between:
		v.answered, v.silent = q, 0
	case a.Outcome != Unanswered:
		v.silent = 0
	case len(v.answered.Keys) > 0:
		v.silent++
	}
	return v.silent > 0 && v.silent%doubtful == 0
}

// questions are those about parameters together, where the desk has such, and those
// about each by itself.
func (p *Probe) questions(parameters []profiles.Parameter) []osc.Question[profiles.Parameter] {
	questions := p.profile.Ask(parameters)
	asked := make(map[string]bool, len(questions))
	for _, q := range questions {
		asked[q.Message.String()] = true
	}
	for _, q := range parameters {
		for _, alone := range p.profile.Ask([]profiles.Parameter{q}) {
			if text := alone.Message.String(); !asked[text] {
				asked[text] = true
				questions = append(questions, alone)
			}
		}
	}
	return questions
}

// sample lists the parameters of the places to ask about.
func (p *Probe) sample(all bool) []profiles.Parameter {
	var chosen []profiles.Parameter
	last := map[profiles.Part]int{profiles.Channel: p.profile.Channels, profiles.Mix: p.profile.Mixes}
	for _, q := range p.profile.Parameters() {
		if n := q.Place.Number; all || n <= 1 || n == last[q.Place.Part] {
			chosen = append(chosen, q)
		}
	}
	return chosen
}

// judge says what came of a question.
func (p *Probe) judge(q osc.Question[profiles.Parameter], r reply) Asked {
	a := Asked{Parameters: q.Keys, Question: q.Message, Tries: r.tries, trip: r.trip}
	for _, key := range q.Keys {
		if _, ok := r.values[key]; !ok {
			a.Missing = append(a.Missing, key)
			continue
		}
		if g, ok := newGauge(p.profile, key); ok {
			if raw, ok := g.raw(r.raw[key]); ok && g.offGrid(raw) > onGrid {
				a.Off = append(a.Off, key)
				a.Heard = append(a.Heard, r.raw[key])
			}
		}
	}
	switch {
	case len(a.Missing) == 0 && len(a.Off) > 0:
		a.Outcome = Between
	case len(a.Missing) == 0:
		a.Outcome = Answered
	case len(r.strange) > 0:
		a.Outcome, a.Heard = Misfit, r.strange
	case len(r.about) > 0:
		a.Outcome, a.About = Elsewhere, r.about
	default:
		a.Outcome = Unanswered
	}
	return a
}

func tripsOf(asked []Asked) Trips {
	var trips []time.Duration
	for _, a := range asked {
		if a.trip > 0 {
			trips = append(trips, a.trip)
		}
	}
	if len(trips) == 0 {
		return Trips{}
	}
	slices.Sort(trips)
	at := func(share float64) time.Duration { return trips[int(share*float64(len(trips)-1))] }
	return Trips{Least: trips[0], Median: at(0.5), Most95: at(0.95), Of: len(trips)}
}
