// Package desk is a connected desk in trade units: who it is, what it holds, setting
// it, proving what was set, following it. Settings go in and are put on the wire as
// the desk's profile says; what comes back is a reading, or a proof.
//
// It must not know why something is set, nor in which order it is safe to: that is
// for a recall.
package desk

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/scenes"
)

// identifyWithin is how long a desk may take to say who it is.
const identifyWithin = 2500 * time.Millisecond

// ErrSilent says that the desk did not answer.
var ErrSilent = errors.New("the desk does not answer")

// OtherDesk says that the desk that answered is another model than the profile's.
type OtherDesk struct {
	Address, Want, Says string
}

func (e *OtherDesk) Error() string {
	return fmt.Sprintf("the desk at %s says it is %q and not %q: check the address, or the venue's profile", e.Address, e.Says, e.Want)
}

// Hoped is a setting that was sent. Whether the desk holds it is not known.
type Hoped struct {
	setting profiles.Setting
}

// Setting is what was sent, as the desk will hold it if it arrived.
func (h Hoped) Setting() profiles.Setting { return h.setting }

// Confirmed is a setting that the desk itself reported holding, after it was sent.
// Only [Desk.Confirm] makes one.
type Confirmed struct {
	setting profiles.Setting
	at      time.Time
}

// Setting is what the desk reported.
func (c Confirmed) Setting() profiles.Setting { return c.setting }

// At is when the answer was there.
func (c Confirmed) At() time.Time { return c.at }

// Doubt is a setting that could not be confirmed.
type Doubt struct {
	Wanted profiles.Setting
	// Found is what the desk holds instead, no value where it did not answer.
	Found profiles.Value
}

// Progress is told how many of how many are done. It may be nil.
type Progress func(done, of int)

// Options say how to reach a desk.
type Options struct {
	// Listen is the local HOST:PORT to hear answers on, "" for any free port.
	Listen string
	// News is told every value that the desk reports, asked or not, in the order of
	// arrival. It must be quick and not call the desk. It may be nil.
	News func(profiles.Setting)
}

// Desk is a desk that packets can be sent to. It is for one goroutine at a time, but
// for Follow, which may run beside.
type Desk struct {
	profile      *profiles.Profile
	address      string
	link         *osc.UDP
	conversation *osc.Conversation[profiles.Parameter, profiles.Value]

	mu   sync.Mutex
	sent map[profiles.Parameter]sending // within the last Linger
}

// sending is a value that may still be under way to the desk.
type sending struct {
	value profiles.Value
	at    time.Time
}

// Open opens a link to the desk at HOST:PORT. Nothing is sent yet, so that whether
// there is a desk is not known: see Identify.
func Open(ctx context.Context, p *profiles.Profile, address string, o Options) (*Desk, error) {
	link, err := osc.DialUDP(ctx, address, osc.UDPOptions{Local: o.Listen})
	if err != nil {
		return nil, fmt.Errorf("desk %s: %w", address, err)
	}
	d := &Desk{profile: p, address: address, link: link, sent: make(map[profiles.Parameter]sending)}
	var news func(osc.Report[profiles.Parameter, profiles.Value])
	if o.News != nil {
		news = func(r osc.Report[profiles.Parameter, profiles.Value]) {
			o.News(profiles.Setting{Parameter: r.Key, Value: r.Value})
		}
	}
	manner := osc.Manner{
		Pace: p.Link.Pace, Burst: p.Link.Burst, Window: p.Link.Window,
		Wait: p.Link.Wait, Tries: p.Link.Tries, Linger: p.Link.Linger,
	}
	d.conversation = osc.Converse(link, manner, p.Hear, news)
	return d, nil
}

// Close closes the link.
func (d *Desk) Close() error { return d.conversation.Close() }

// Address is where the desk is, as HOST:PORT.
func (d *Desk) Address() string { return d.address }

// Strangers counts the packets dropped because they came from somewhere else.
func (d *Desk) Strangers() uint64 { return d.link.Strangers() }

// Identify asks the desk who it is. The error is [ErrSilent] or [OtherDesk].
func (d *Desk) Identify(ctx context.Context) error {
	within, cancel := context.WithTimeout(ctx, identifyWithin)
	defer cancel()
	answers, err := d.conversation.Ask(within, []osc.Question[profiles.Parameter]{d.profile.AskWho()}, nil)
	says, answered := answers[profiles.Who]
	switch {
	case answered:
	case ctx.Err() != nil:
		return ctx.Err()
	case err != nil && !errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("desk %s: %w", d.address, err)
	default:
		return fmt.Errorf("%w at %s: is it on, is it on this network, does it take OSC on that port? (deskhand mock starts one to rehearse on)", ErrSilent, d.address)
	}
	if word, _ := says.Word(); word != d.profile.Says() {
		return &OtherDesk{Address: d.address, Want: d.profile.Says(), Says: word}
	}
	return nil
}

// Read asks what the desk holds. Parameters that it did not answer for are missing
// from the values, and listed.
func (d *Desk) Read(ctx context.Context, parameters []profiles.Parameter, progress Progress) (scenes.Values, []profiles.Parameter, error) {
	questions := d.profile.Ask(parameters)
	answers, err := d.conversation.Ask(ctx, questions, count(progress, len(questions)))
	values := scenes.Values(answers)
	var missing []profiles.Parameter
	for _, q := range parameters {
		if _, ok := values[q]; !ok {
			missing = append(missing, q)
		}
	}
	if err != nil {
		return values, missing, fmt.Errorf("read the desk at %s: %w", d.address, err)
	}
	return values, missing, nil
}

// Write sends settings, one message each and in their order, at the desk's pace. A
// parameter that was sent another value a moment ago waits until that packet can't
// be under way any more, so that it can't arrive last.
func (d *Desk) Write(ctx context.Context, settings []profiles.Setting, progress Progress) ([]Hoped, error) {
	messages, held, err := d.profile.Tell(settings)
	if err != nil {
		return nil, err
	}
	var hoped []Hoped
	for i, message := range messages {
		err := d.letArrive(ctx, held[i])
		if err == nil {
			err = d.conversation.Tell(ctx, message)
		}
		if err != nil {
			return hoped, fmt.Errorf("set %s: %w", held[i].Parameter, err)
		}
		d.note(held[i])
		hoped = append(hoped, Hoped{held[i]})
		if progress != nil {
			progress(i+1, len(messages))
		}
	}
	return hoped, nil
}

// letArrive waits while an earlier packet for the parameter, with another value, may
// still be under way.
func (d *Desk) letArrive(ctx context.Context, s profiles.Setting) error {
	d.mu.Lock()
	earlier, ok := d.sent[s.Parameter]
	d.mu.Unlock()
	if !ok || earlier.value == s.Value {
		return nil
	}
	return sleep(ctx, time.Until(earlier.at.Add(d.profile.Link.Linger)))
}

func (d *Desk) note(s profiles.Setting) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := time.Now()
	for q, earlier := range d.sent {
		if now.Sub(earlier.at) > d.profile.Link.Linger {
			delete(d.sent, q)
		}
	}
	d.sent[s.Parameter] = sending{s.Value, now}
}

// Confirm asks the desk for what was sent, with questions that no answer to an
// earlier one can be taken for. What it reports holding is confirmed; the rest is in
// doubt.
func (d *Desk) Confirm(ctx context.Context, hoped []Hoped, progress Progress) ([]Confirmed, []Doubt, error) {
	parameters := make([]profiles.Parameter, len(hoped))
	for i, h := range hoped {
		parameters[i] = h.setting.Parameter
	}
	questions := d.profile.Ask(parameters)
	answers, err := d.conversation.AskAfresh(ctx, questions, count(progress, len(questions)))
	now := time.Now()
	var confirmed []Confirmed
	var doubts []Doubt
	for _, h := range hoped {
		control, known := d.profile.Control(h.setting.Parameter)
		found := answers[h.setting.Parameter]
		if known && control.Same(found, h.setting.Value) {
			confirmed = append(confirmed, Confirmed{h.setting, now})
			continue
		}
		doubts = append(doubts, Doubt{h.setting, found})
	}
	if err != nil {
		return confirmed, doubts, fmt.Errorf("read back the desk at %s: %w", d.address, err)
	}
	return confirmed, doubts, nil
}

// Expect is a setting that was found right and not sent, to be confirmed with those
// that were.
func Expect(s profiles.Setting) Hoped { return Hoped{s} }

// Follow asks the desk to tell its changes, which Options.News then hears, and
// repeats the request before it lapses, until the context ends. A desk that has no
// such request is an error.
func (d *Desk) Follow(ctx context.Context) error {
	request, lapses, ok := d.profile.AskToFollow()
	if !ok {
		return fmt.Errorf("a %s can't be followed: its profile has no [follow]", d.profile.Name)
	}
	for {
		if err := d.conversation.Tell(ctx, request); err != nil {
			return fmt.Errorf("follow the desk at %s: %w", d.address, err)
		}
		if err := sleep(ctx, lapses/3); err != nil { // so that two may get lost
			return err
		}
	}
}

func count(progress Progress, of int) func(int) {
	if progress == nil {
		return nil
	}
	return func(done int) { progress(done, of) }
}

// sleep waits, or returns the context's error.
func sleep(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
