package desk

import (
	"context"
	"errors"
	"fmt"
	"net"
	"slices"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
)

// Probe holds a profile against the desk that it describes. It sees what the desk says
// beside what the profile understands of it. Its methods are for one goroutine at a
// time. Only [Probe.Move] moves anything.
type Probe struct {
	profile *profiles.Profile
	desk    *Desk
	tap     *tap
	// recently is when something was last asked about.
	recently map[profiles.Parameter]time.Time
}

// OpenProbe opens a link to the desk at HOST:PORT, as [Open] does.
func OpenProbe(ctx context.Context, p *profiles.Profile, address string, o Options) (*Probe, error) {
	link, err := dial(ctx, p, address, o)
	if err != nil {
		return nil, fmt.Errorf("desk %s: %w", address, err)
	}
	probe := ProbeOver(link, p, address)
	if err := probe.desk.greet(ctx); err != nil {
		return nil, errors.Join(err, probe.Close())
	}
	return probe, nil
}

// ProbeOver probes the desk at the other end of a link, which it owns from now on.
func ProbeOver(link osc.Link, p *profiles.Profile, address string) *Probe {
	t := newTap(link)
	return &Probe{
		profile: p, tap: t, desk: Over(t, p, address, Options{}),
		recently: make(map[profiles.Parameter]time.Time),
	}
}

// Close closes the link.
func (p *Probe) Close() error { return p.desk.Close() }

// Sent counts the packets that were sent to the desk until now.
func (p *Probe) Sent() int { return p.tap.total() }

// Identity is who a desk says it is.
type Identity struct {
	// Asked is false where the profile knows no such question, Answered where the
	// desk answers others, but not this one.
	Asked, Answered bool
	Says            string
	// Heard is what came instead.
	Heard []osc.Heard
}

// Identify asks the desk who it is. The error is [OtherDesk], or [ErrSilent] where it
// answers nothing else either.
func (p *Probe) Identify(ctx context.Context) (Identity, error) {
	if !p.profile.CanAnswer() {
		return Identity{}, fmt.Errorf("a %s can only be told: there is nothing to ask it, and nothing to hold its profile against", p.profile.Name)
	}
	question := p.profile.AskWho()
	if len(question.Keys) == 0 {
		return Identity{}, p.knock(ctx)
	}
	r, err := p.ask(ctx, question, identifyTries)
	if err != nil {
		return Identity{}, err
	}
	id := Identity{Asked: true, Heard: r.strange}
	if says, ok := r.values[profiles.Who]; ok {
		id.Answered = true
		id.Says, _ = says.Word()
		if id.Says != p.profile.Says() {
			return id, &OtherDesk{Address: p.desk.address, Want: p.profile.Says(), Says: id.Says}
		}
		return id, nil
	}
	if len(r.strange) > 0 {
		return id, nil
	}
	return id, p.knock(ctx)
}

const (
	identifyTries = 6
	// knocks is how many other questions are tried on a desk that doesn't say who it is.
	knocks = 6
)

// knock asks a desk anything, to learn whether it is there at all.
func (p *Probe) knock(ctx context.Context) error {
	tried := 0
	for _, q := range p.sample(false) {
		if !p.profile.Askable(q) || tried == knocks {
			continue
		}
		tried++
		r, err := p.ask(ctx, p.profile.Ask([]profiles.Parameter{q})[0], 1)
		if err != nil {
			return err
		}
		if len(r.values)+r.others > 0 {
			return nil
		}
	}
	return fmt.Errorf("%w at %s: is it on, is it on this network, does it take OSC on that port? (deskhand mock starts one to rehearse on)", ErrSilent, p.desk.address)
}

// stillThere asks what the desk has answered before. The error is [ErrSilent] if it says
// nothing to that any more.
func (p *Probe) stillThere(ctx context.Context, answered osc.Question[profiles.Parameter]) error {
	r, err := p.ask(ctx, answered, identifyTries)
	if err == nil && len(r.values)+r.others == 0 {
		err = fmt.Errorf("%w any more at %s, though it did at first: is it still on?", ErrSilent, p.desk.address)
	}
	return err
}

// reply is what came after a question.
type reply struct {
	values map[profiles.Parameter]profiles.Value
	// raw are the messages that reported them.
	raw map[profiles.Parameter]osc.Heard
	// strange are messages that the profile makes nothing of, about what else was
	// reported that was not asked for. Others counts the messages of both kinds.
	strange []osc.Heard
	about   []profiles.Parameter
	others  int
	// trip is how long the answer took, 0 where it took more than one try.
	trip  time.Duration
	tries int
}

// mostStrange bounds what is kept of what nobody understands, for each question.
const mostStrange = 4

// mostMisfits is after how many tries that brought something else a question is not
// repeated. One is not enough: what came may be about something else, as meters are, and
// the answer lost.
const mostMisfits = 2

// ask sends a question, up to so many times, until each of its keys was reported, or
// something else was told twice.
func (p *Probe) ask(ctx context.Context, q osc.Question[profiles.Parameter], tries int) (reply, error) {
	r := reply{values: make(map[profiles.Parameter]profiles.Value), raw: make(map[profiles.Parameter]osc.Heard)}
	p.tap.take()
	for misfits := 0; r.tries < tries && len(r.values) < len(q.Keys) && misfits < mostMisfits; {
		others := r.others
		if err := p.desk.conversation.Tell(ctx, q.Message); err != nil {
			return r, err
		}
		r.tries++
		if err := p.await(ctx, q, &r); err != nil {
			return r, err
		}
		if r.others > others {
			misfits++
		}
	}
	for _, key := range q.Keys {
		p.recently[key] = time.Now()
	}
	return r, nil
}

// await takes what comes after a question, until all is there or nothing comes for the
// time that the profile says.
func (p *Probe) await(ctx context.Context, q osc.Question[profiles.Parameter], r *reply) error {
	sent := p.tap.last()
	timer := time.NewTimer(p.profile.Link.Wait)
	defer timer.Stop()
	for {
		before := len(r.values)
		for _, h := range p.tap.take() {
			p.note(q, h.Heard, r)
			if len(r.values) == len(q.Keys) {
				if r.tries == 1 {
					r.trip = max(h.at.Sub(sent), 1)
				}
				return nil
			}
		}
		if len(r.values) > before {
			timer.Reset(p.profile.Link.Wait) // the answers of a block are coming in
		}
		select {
		case <-p.tap.wake:
		case <-timer.C:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		case <-p.tap.ended:
			return p.hasEnded()
		}
	}
}

func (p *Probe) hasEnded() error {
	return fmt.Errorf("the link to the desk at %s has ended: %w", p.desk.address, net.ErrClosed)
}

// note sorts one message into what was asked about and what was not.
func (p *Probe) note(q osc.Question[profiles.Parameter], h osc.Heard, r *reply) {
	reports := p.profile.Hear(h)
	wanted := false
	for _, report := range reports {
		for _, key := range q.Keys {
			if key == report.Key {
				wanted = true
				if _, known := r.values[key]; !known {
					r.values[key], r.raw[key] = report.Value, h
				}
			}
		}
	}
	if wanted && !p.partly(h, reports) {
		return
	}
	if len(reports) == 0 || wanted {
		r.others++
		r.strange = keepStrange(r.strange, h)
		return
	}
	for _, report := range reports {
		if time.Since(p.recently[report.Key]) <= 2*p.profile.Link.Linger {
			continue // a late answer
		}
		r.others++
		if len(r.about) < mostStrange && !slices.Contains(r.about, report.Key) {
			r.about = append(r.about, report.Key)
		}
	}
}

// keepStrange adds a message to those that nobody understands, each once.
func keepStrange(strange []osc.Heard, h osc.Heard) []osc.Heard {
	if len(strange) == mostStrange || slices.ContainsFunc(strange, func(s osc.Heard) bool { return s.String() == h.String() }) {
		return strange
	}
	return append(strange, h)
}

// partly reports whether a message has values that belong together, of which some could
// not be understood.
func (p *Probe) partly(h osc.Heard, reports []osc.Report[profiles.Parameter, profiles.Value]) bool {
	first := reports[0].Key
	return first != profiles.Who && len(reports) < 1+len(p.profile.Beside(first))
}
