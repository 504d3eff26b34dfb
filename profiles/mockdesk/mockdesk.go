// Package mockdesk is a desk that is not there: it listens on UDP, holds every
// parameter of a profile, and behaves as desks do, well or badly. It serves to
// rehearse, to try a profile before a real desk hears of it, and to judge in tests
// what a recall has really done.
//
// Packets come in, are put on the desk's grid and held; answers and told changes
// go out. It must not know who is driving it: it takes whatever the profile says
// that a desk of this model takes.
package mockdesk

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"sync"
	"time"

	"deskhand/osc"
	"deskhand/profiles"

	"golang.org/x/time/rate"
)

// Options say where the desk listens and how it behaves. The zero Options give a
// desk that listens on a free port of the loopback and does everything right.
type Options struct {
	// Listen is the address to listen on; "127.0.0.1:0" if empty.
	Listen string
	// Says is the model name that the desk answers; the profile's if empty.
	Says string
	// Silent makes a desk that takes everything and never answers.
	Silent bool
	// Trouble is how badly the network and the desk behave at first.
	Trouble Trouble
	// Watch is told of everything that happens, in order, one call at a time. It
	// must not call the desk's methods.
	Watch func(Event)
	// Now is the clock, for tests of requests that lapse; time.Now if nil.
	Now func() time.Time
}

// Event is one thing that happened at the desk.
type Event struct {
	What EventKind
	// Setting is what was set, moved or asked about, as the desk holds it now.
	Setting profiles.Setting
	// Changed reports whether a setting or a move changed what the desk holds.
	Changed bool
}

// EventKind is what sort of thing happened.
type EventKind uint8

// The kinds of event. Unplaced is a packet that the profile makes nothing of.
const (
	Set EventKind = iota
	Asked
	HandMove
	FollowRequest
	Restarted
	Unplaced
)

// Counts are the packets that the desk has seen.
type Counts struct {
	// Received counts what reached the desk, Overrun what its full queue dropped.
	Received, Overrun int
	// Malformed counts what was no OSC, Unplaced what the profile knows nothing of.
	Malformed, Unplaced int
	Settings, Questions int
}

// Desk is a running mock desk. Its methods may be called from any goroutine.
type Desk struct {
	profile *profiles.Profile
	options Options
	socket  *net.UDPConn
	in, out *way
	queue   chan arrival
	stop    context.CancelFunc
	done    sync.WaitGroup

	mu        sync.Mutex
	holds     map[profiles.Parameter]profiles.Value
	followers map[netip.AddrPort]time.Time // until when
	counts    Counts
	limiter   *rate.Limiter
	offUntil  time.Time
	triggers  []trigger
}

// arrival is a packet and where it came from.
type arrival struct {
	packet []byte
	from   netip.AddrPort
}

// trigger is something to do after so many more settings.
type trigger struct {
	after int
	do    func()
}

// Start switches on a desk of the profile's model. Close switches it off.
func Start(profile *profiles.Profile, o Options) (*Desk, error) {
	if o.Listen == "" {
		o.Listen = "127.0.0.1:0"
	}
	if o.Says == "" {
		o.Says = profile.Says()
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	address, err := net.ResolveUDPAddr("udp", o.Listen)
	if err != nil {
		return nil, fmt.Errorf("mock desk: listen on %q: %w", o.Listen, err)
	}
	socket, err := net.ListenUDP("udp", address)
	if err != nil {
		return nil, fmt.Errorf("mock desk: listen on %s: %w (is another one running there? choose another port)", o.Listen, err)
	}
	_ = socket.SetReadBuffer(1 << 20) // as much as the system gives: the desk's own queue is the one that counts

	ctx, stop := context.WithCancel(context.Background())
	d := &Desk{
		profile: profile, options: o, socket: socket, stop: stop,
		queue:     make(chan arrival, max(o.Trouble.Queue, 4096)),
		followers: make(map[netip.AddrPort]time.Time),
	}
	d.in = newWay(o.Trouble.In, o.Trouble.Seed, d.enqueue)
	d.out = newWay(o.Trouble.Out, o.Trouble.Seed+1, d.transmit)
	d.reset()
	d.setPace(o.Trouble)
	d.done.Go(d.listen)
	d.done.Go(func() { d.work(ctx) })
	return d, nil
}

// Close switches the desk off and waits until nothing of it runs any more.
func (d *Desk) Close() error {
	d.stop()
	err := d.socket.Close()
	d.in.close()
	d.out.close()
	d.done.Wait()
	if errors.Is(err, net.ErrClosed) {
		return nil
	}
	return err
}

// Addr is where the desk listens, as HOST:PORT.
func (d *Desk) Addr() string { return d.socket.LocalAddr().String() }

// Holds gives what the desk holds now.
func (d *Desk) Holds(q profiles.Parameter) (profiles.Value, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	v, ok := d.holds[q]
	return v, ok
}

// Counts gives the packets counted since the desk was switched on.
func (d *Desk) Counts() Counts {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.counts
}

// Move sets a control as a hand on the desk does, and tells the followers. It gives
// the value that the desk then holds, on its grid.
func (d *Desk) Move(q profiles.Parameter, v profiles.Value) (profiles.Value, error) {
	control, ok := d.profile.Control(q)
	if !ok {
		return profiles.Value{}, fmt.Errorf("%s: %s has no such parameter", q, d.profile.Name)
	}
	held, err := control.Nearest(v)
	if err != nil {
		return profiles.Value{}, fmt.Errorf("%s: %w", q, err)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	s := profiles.Setting{Parameter: q, Value: held}
	d.watch(Event{What: HandMove, Setting: s, Changed: d.hold(s)})
	d.tellFollowers(s, netip.AddrPort{})
	return held, nil
}

// Restart switches the desk off and on again: it forgets every value and follower,
// and hears nothing for the time it takes.
func (d *Desk) Restart(takes time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.restart(takes)
}

func (d *Desk) restart(takes time.Duration) {
	d.emptyQueue()
	d.reset()
	d.offUntil = time.Now().Add(takes)
	d.watch(Event{What: Restarted})
}

func (d *Desk) emptyQueue() {
	for {
		select {
		case <-d.queue:
		default:
			return
		}
	}
}

// RestartAfter restarts the desk right after it has taken so many more settings.
func (d *Desk) RestartAfter(settings int, takes time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.triggers = append(d.triggers, trigger{settings, func() { d.restart(takes) }})
}

// MoveAfter has a hand set a control right after the desk has taken so many more
// settings. The value must be on the grid.
func (d *Desk) MoveAfter(settings int, s profiles.Setting) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.triggers = append(d.triggers, trigger{settings, func() {
		d.watch(Event{What: HandMove, Setting: s, Changed: d.hold(s)})
	}})
}

// Misbehave changes the trouble that the network and the desk make from now on,
// but for the seed and a queue longer than before.
func (d *Desk) Misbehave(t Trouble) {
	d.in.set(t.In)
	d.out.set(t.Out)
	d.mu.Lock()
	defer d.mu.Unlock()
	d.setPace(t)
}

func (d *Desk) setPace(t Trouble) {
	d.options.Trouble = t
	d.limiter = rate.NewLimiter(rate.Inf, 0)
	if t.Rate > 0 {
		d.limiter = rate.NewLimiter(rate.Limit(t.Rate), 1)
	}
}

func (d *Desk) reset() {
	d.holds = make(map[profiles.Parameter]profiles.Value, len(d.profile.Parameters()))
	for _, q := range d.profile.Parameters() {
		control, _ := d.profile.Control(q)
		d.holds[q] = control.Start
	}
	clear(d.followers)
}

// listen takes packets off the socket until it is closed.
func (d *Desk) listen() {
	buffer := make([]byte, 1<<16)
	for {
		n, from, err := d.socket.ReadFromUDPAddrPort(buffer)
		switch {
		case errors.Is(err, net.ErrClosed):
			return
		case err != nil:
			continue // what the network says of one packet does not end a desk
		}
		d.in.pass(arrival{packet: append([]byte(nil), buffer[:n]...), from: from})
	}
}

// enqueue puts a packet into the desk's queue, or drops it where the queue is full.
func (d *Desk) enqueue(a arrival) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.counts.Received++
	if time.Now().Before(d.offUntil) {
		return
	}
	if limit := d.options.Trouble.Queue; limit > 0 && len(d.queue) >= limit {
		d.counts.Overrun++
		return
	}
	select {
	case d.queue <- a:
	default:
		d.counts.Overrun++
	}
}

// work takes packets out of the queue at the desk's own pace.
func (d *Desk) work(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case a := <-d.queue:
			d.mu.Lock()
			limiter := d.limiter
			d.mu.Unlock()
			if limiter.Wait(ctx) != nil {
				return
			}
			d.take(a)
		}
	}
}

// take acts on one packet.
func (d *Desk) take(a arrival) {
	messages, err := osc.Decode(a.packet)
	d.mu.Lock()
	defer d.mu.Unlock()
	if err != nil {
		d.counts.Malformed++
		return
	}
	for _, m := range messages {
		d.act(m, a.from)
	}
}

func (d *Desk) act(m osc.Heard, from netip.AddrPort) {
	if lapses, ok := d.profile.AskedToFollow(m); ok {
		d.followers[from] = d.options.Now().Add(lapses)
		d.watch(Event{What: FollowRequest})
		return
	}
	asked, told := d.profile.Asked(m), d.profile.Told(m)
	for _, q := range asked {
		d.counts.Questions++
		d.answer(q, from)
	}
	for _, s := range told {
		d.counts.Settings++
		changed := d.hold(s)
		d.watch(Event{What: Set, Setting: s, Changed: changed})
		if changed {
			d.tellFollowers(s, from)
		}
		d.pull()
	}
	if len(asked)+len(told) == 0 {
		d.counts.Unplaced++
		d.watch(Event{What: Unplaced})
	}
}

// hold takes a value, and reports whether it is another than before.
func (d *Desk) hold(s profiles.Setting) bool {
	changed := d.holds[s.Parameter] != s.Value
	d.holds[s.Parameter] = s.Value
	return changed
}

func (d *Desk) answer(q profiles.Parameter, to netip.AddrPort) {
	s := profiles.Setting{Parameter: q, Value: d.holds[q]}
	if q == profiles.Who {
		s.Value = profiles.Word(d.options.Says)
	}
	d.watch(Event{What: Asked, Setting: s})
	if !d.options.Silent {
		d.send(s, to)
	}
}

// tellFollowers tells everyone who asked to be told, but not the one who did it.
func (d *Desk) tellFollowers(s profiles.Setting, by netip.AddrPort) {
	now := d.options.Now()
	for to, until := range d.followers {
		switch {
		case !now.Before(until):
			delete(d.followers, to)
		case to != by && !d.options.Silent:
			d.send(s, to)
		}
	}
}

func (d *Desk) send(s profiles.Setting, to netip.AddrPort) {
	message, err := d.profile.Answer(s)
	if err != nil {
		return // a value that the profile itself can't say: the desk stays silent
	}
	packet, err := message.Encode()
	if err != nil {
		return
	}
	d.out.pass(arrival{packet: packet, from: to})
}

// transmit sends a packet that the outward way has let through.
func (d *Desk) transmit(a arrival) {
	_, _ = d.socket.WriteToUDPAddrPort(a.packet, a.from) // a desk does not know who hears it
}

// pull counts one setting towards what waits for it.
func (d *Desk) pull() {
	waiting := d.triggers
	d.triggers = nil
	for _, t := range waiting {
		if t.after--; t.after <= 0 {
			t.do()
			continue
		}
		d.triggers = append(d.triggers, t)
	}
}

func (d *Desk) watch(e Event) {
	if d.options.Watch != nil {
		d.options.Watch(e)
	}
}
