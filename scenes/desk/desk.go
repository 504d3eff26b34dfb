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
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
)

// identifyWithin is how long a desk may take to say who it is.
const identifyWithin = 2500 * time.Millisecond

// mostSaid is how many characters are told of what a stranger calls itself: a packet has room for
// 64 KB.
const mostSaid = 60

// ErrSilent says that the desk did not answer.
var ErrSilent = errors.New("the desk does not answer")

// OtherDesk says that the desk that answered is another model than the profile's.
type OtherDesk struct {
	Address, Want, Says string
}

func (e *OtherDesk) Error() string {
	return fmt.Sprintf("the desk at %s says it is %q and not %q: check the address, or the venue's profile", e.Address, e.Says, e.Want)
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
	link         osc.Link
	conversation *osc.Conversation[profiles.Ordinal, profiles.Value]
	news         func(profiles.Setting)
	// opened is when the link was; heard is how long after that something last was, in
	// nanoseconds of a clock that nobody sets.
	opened time.Time
	heard  atomic.Int64
	// stopAlive ends what keeps the link alive, nil where nothing does.
	stopAlive context.CancelFunc
	done      sync.WaitGroup
	// sent is the last value sent to each parameter, which may be under way still.
	sent map[profiles.Parameter]sending
	// vigil knows whether settings may be sent still, nil where nobody keeps one.
	vigil *Vigil
	// company are the settings that went along in messages for others.
	company company
	// followers is how often the desk is being followed; gliding is the glide that is under
	// way, nil for none.
	followers atomic.Int32
	gliding   atomic.Pointer[glide]
}

// sending is a value that was sent, and when it was last.
type sending struct {
	value profiles.Value
	at    time.Time
}

// Open opens a link to the desk at HOST:PORT. Nothing is sent yet, so that whether
// there is a desk is not known: see Identify.
func Open(ctx context.Context, p *profiles.Profile, address string, o Options) (*Desk, error) {
	link, err := dial(ctx, p, address, o)
	if err != nil {
		return nil, fmt.Errorf("desk %s: %w", address, err)
	}
	d := Over(link, p, address, o)
	if err := d.greet(ctx); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}

// greet sends the greeting, if the desk wants one, and begins to keep the link alive,
// until it is closed. A stream does so by itself.
func (d *Desk) greet(ctx context.Context) error {
	if d.profile.Link.Over != profiles.OverUDP {
		return nil
	}
	if d.profile.Link.Greeting.Address != "" {
		if err := d.conversation.Tell(ctx, d.profile.Link.Greeting); err != nil {
			return fmt.Errorf("greet the desk at %s: %w", d.address, err)
		}
	}
	if d.profile.Link.Alive.Address == "" {
		return nil
	}
	alive, stop := context.WithCancel(context.Background())
	d.stopAlive = stop
	d.done.Go(func() {
		for sleep(alive, d.profile.Link.AliveEvery) == nil {
			if d.conversation.Tell(alive, d.profile.Link.Alive) != nil {
				return // the link is dead, which others will tell
			}
		}
	})
	return nil
}

// dial opens the link that the profile names.
func dial(ctx context.Context, p *profiles.Profile, address string, o Options) (osc.Link, error) {
	if p.Link.Over == profiles.OverUDP {
		local := o.Listen
		if local == "" && p.Link.AnswerPort != 0 {
			local = strconv.Itoa(p.Link.AnswerPort)
		}
		return osc.DialUDP(ctx, address, osc.UDPOptions{Local: local, AnyPort: p.Link.AnswerPort != 0})
	}
	tcp := osc.TCPOptions{Framing: osc.Sized, Alive: p.Link.Alive, AliveEvery: p.Link.AliveEvery}
	if p.Link.Over == profiles.OverSlip {
		tcp.Framing = osc.Slip
	}
	if p.Link.Greeting.Address != "" {
		tcp.Greeting = []osc.Message{p.Link.Greeting}
	}
	return osc.DialTCP(ctx, address, tcp)
}

// Over is the desk at the other end of a link, which it owns from now on. The address
// is what messages call it.
func Over(link osc.Link, p *profiles.Profile, address string, o Options) *Desk {
	manner := osc.Manner{
		Pace: p.Link.Pace, Burst: p.Link.Burst, Window: p.Link.Window,
		Wait: p.Link.Wait, Tries: p.Link.Tries, Linger: p.Link.Linger,
	}
	d := &Desk{
		profile: p, address: address, link: link, news: o.News, opened: time.Now(),
		sent: make(map[profiles.Parameter]sending),
	}
	d.conversation = osc.Converse(link, manner, p.HearOrdinals, d.listen)
	return d
}

// Close closes the link.
func (d *Desk) Close() error {
	if d.stopAlive != nil {
		d.stopAlive()
	}
	err := d.conversation.Close()
	d.done.Wait()
	return err
}

// Address is where the desk is, as HOST:PORT.
func (d *Desk) Address() string { return d.address }

// Strangers counts the packets dropped because they came from somewhere else.
func (d *Desk) Strangers() uint64 {
	if udp, ok := d.link.(*osc.UDP); ok {
		return udp.Strangers()
	}
	return 0
}

// Identify asks the desk who it is, for 2.5 s at most. The error is [ErrSilent] or
// [OtherDesk]. A desk that can only be told is taken at its profile's word.
func (d *Desk) Identify(ctx context.Context) error {
	if !d.profile.CanAnswer() {
		return nil
	}
	within, cancel := context.WithTimeout(ctx, identifyWithin)
	defer cancel()
	answers, err := d.conversation.Ask(within, []osc.Question[profiles.Ordinal]{d.profile.AskWhoOrdinal()}, nil)
	says, answered := answers[profiles.WhoOrdinal]
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
		return &OtherDesk{Address: d.address, Want: d.profile.Says(), Says: source.Shortened(word, mostSaid)}
	}
	return nil
}

// Read asks what the desk holds now: no value is from before the call. Parameters that
// it did not answer for are missing from the values, and listed. Those that the desk
// can't be asked about are left out of both.
func (d *Desk) Read(ctx context.Context, parameters []profiles.Parameter, progress Progress) (scenes.Values, []profiles.Parameter, error) {
	values, asked, err := d.ask(ctx, parameters, progress)
	var missing []profiles.Parameter
	for _, q := range parameters {
		if len(values) == asked {
			break
		}
		if _, ok := values[q]; !ok && d.profile.Askable(q) {
			missing = append(missing, q)
		}
	}
	if err != nil {
		return values, missing, fmt.Errorf("read the desk at %s: %w", d.address, err)
	}
	return values, missing, nil
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
