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
	// Socket is what the desk hears and speaks through, for a network that is not
	// there either; nil for the profile's kind of link at Listen. Whoever gives one has
	// made the connection: nobody needs to greet the desk over it. Close closes it.
	Socket Socket
	// Says is the model name that the desk answers; the profile's if empty.
	Says string
	// Silent makes a desk that takes everything and never answers.
	Silent bool
	// Trouble is how badly the network and the desk behave at first.
	Trouble Trouble
	// Watch is told of everything that happens, in order, one call at a time. It
	// must not call the desk's methods.
	Watch func(Event)
	// Now is the clock by which requests to follow lapse and a restart ends; time.Now
	// if nil.
	Now func() time.Time
}

// lasting is a socket with connections, which break when the desk is switched off.
type lasting interface{ hangUp() }

// Socket is the desk's end of the network. A [net.UDPConn] is one; that of a test keeps
// the packets in memory. Reading ends with net.ErrClosed once it is closed.
type Socket interface {
	ReadFromUDPAddrPort(packet []byte) (int, netip.AddrPort, error)
	WriteToUDPAddrPort(packet []byte, to netip.AddrPort) (int, error)
	LocalAddr() net.Addr
	Close() error
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

// The kinds of event.
const (
	// Set is a value that came over the network.
	Set EventKind = iota
	// Asked is a question about a value or about the model.
	Asked
	// HandMove is a control moved by a hand on the desk.
	HandMove
	// FollowRequest is a request to be told of changes.
	FollowRequest
	// Restarted is the moment at which the desk forgets everything.
	Restarted
	// Unplaced is a message that the profile makes nothing of.
	Unplaced
)

// Counts are the packets and messages that the desk has seen.
type Counts struct {
	// Received counts the packets that reached the desk, Overrun what its full queue
	// dropped of them, Missed what came while it was switched off.
	Received, Overrun, Missed int
	// Malformed counts the packets that were no OSC, Unplaced the messages of which
	// the profile makes nothing: another address, or a value of another kind.
	Malformed, Unplaced int
	// Settings counts the values that were set, Questions the messages that asked.
	Settings, Questions int
	// Ungreeted counts the messages that were ignored since their sender had not
	// greeted the desk, where its profile has a greeting.
	Ungreeted int
}

// Desk is a running mock desk. Its methods may be called from any goroutine.
type Desk struct {
	profile *profiles.Profile
	options Options // but for Trouble, which changes
	socket  Socket
	in, out *way
	// waitsForGreeting says that the desk ignores whoever has not greeted it.
	waitsForGreeting bool
	wake             chan struct{} // filled when a packet was queued
	stop             context.CancelFunc
	done             sync.WaitGroup

	mu        sync.Mutex
	queue     []arrival
	holds     map[profiles.Parameter]profiles.Value
	followers map[netip.AddrPort]following
	greeters  map[netip.AddrPort]struct{}
	counts    Counts
	longest   int // queue
	limiter   *rate.Limiter
	repaced   chan struct{} // closed when the limiter is replaced
	lives     int           // times switched on
	offUntil  time.Time
	triggers  []trigger
}

// following is of which places someone is told the changes, and until when; the zero
// Place is the whole desk.
type following map[profiles.Place]time.Time

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
	socket := o.Socket
	if socket == nil {
		var err error
		if socket, err = listen(profile.Link.Over, o.Listen); err != nil {
			return nil, fmt.Errorf("mock desk: %w", err)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	d := &Desk{
		profile: profile, options: o, socket: socket, stop: stop,
		wake:             make(chan struct{}, 1),
		repaced:          make(chan struct{}),
		followers:        make(map[netip.AddrPort]following),
		greeters:         make(map[netip.AddrPort]struct{}),
		waitsForGreeting: o.Socket == nil && profile.Link.Greeting.Address != "",
	}
	d.in = newWay(o.Trouble.In, o.Trouble.Seed, d.enqueue)
	d.out = newWay(o.Trouble.Out, o.Trouble.Seed+1, d.transmit)
	d.switchOn()
	d.setPace(o.Trouble)
	d.done.Go(d.listen)
	d.done.Go(func() { d.work(ctx) })
	return d, nil
}

// listen opens the desk's end of the link that its profile names.
func listen(over profiles.Over, at string) (Socket, error) {
	switch over {
	case profiles.OverSlip:
		return listenTCP(at, osc.Slip)
	case profiles.OverSizes:
		return listenTCP(at, osc.Sized)
	}
	return listenUDP(at)
}

func listenUDP(at string) (*net.UDPConn, error) {
	address, err := net.ResolveUDPAddr("udp", at)
	if err != nil {
		return nil, fmt.Errorf("listen on %q: %w", at, err)
	}
	socket, err := net.ListenUDP(family("udp", at), address)
	if err != nil {
		return nil, fmt.Errorf("listen on %s: %w (is another one running there? choose another port)", at, err)
	}
	_ = socket.SetReadBuffer(1 << 20) // as much as the system gives: the desk's own queue is the one that counts
	return socket, nil
}

// family gives the network of an address that is listened at: 0.0.0.0 would otherwise take
// IPv6, too.
func family(network, at string) string {
	host, _, _ := net.SplitHostPort(at)
	if ip, err := netip.ParseAddr(host); err == nil && ip.Unmap().Is4() {
		return network + "4"
	}
	return network
}

// Close switches the desk off and waits until nothing of it runs any more. Closing it
// again is no error.
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

// switchOn puts every control where the desk has it when it is switched on.
func (d *Desk) switchOn() {
	d.lives++
	d.queue = nil
	d.holds = make(map[profiles.Parameter]profiles.Value, len(d.profile.Parameters()))
	for _, q := range d.profile.Parameters() {
		control, _ := d.profile.Control(q)
		d.holds[q] = control.Start
	}
	clear(d.followers)
	clear(d.greeters)
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

// Counts gives what the desk has counted since Start.
func (d *Desk) Counts() Counts {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.counts
}

func (d *Desk) watch(e Event) {
	if d.options.Watch != nil {
		d.options.Watch(e)
	}
}
