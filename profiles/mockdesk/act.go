package mockdesk

import (
	"maps"
	"net/netip"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
)

// maxFollowers bounds how many can be told of changes at a time.
const maxFollowers = 64

// takeNext acts on the next packet of the queue, and gives how many messages it held.
func (d *Desk) takeNext() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.queue) == 0 {
		return 0 // the desk was restarted meanwhile
	}
	a := d.queue[0]
	d.queue[0], d.queue = arrival{}, d.queue[1:]
	return d.take(a)
}

// take acts on a packet, and gives how many messages it held.
func (d *Desk) take(a arrival) int {
	messages, err := osc.Decode(a.packet)
	if err != nil {
		d.counts.Malformed++
		return 0
	}
	life := d.lives
	for _, m := range messages {
		if d.lives != life {
			break // the desk was restarted in the middle of a bundle
		}
		d.act(m, a.peer)
	}
	return len(messages)
}

// act does what one message asks for.
func (d *Desk) act(m osc.Heard, from netip.AddrPort) {
	if !d.greeted(m, from) {
		d.counts.Ungreeted++
		return
	}
	if place, lapses, ok := d.profile.AskedToFollow(m); ok {
		d.forgetLapsed()
		if d.followers[from] == nil && len(d.followers) < maxFollowers {
			d.followers[from] = make(following)
		}
		if f, ok := d.followers[from]; ok {
			f[place] = d.options.Now().Add(lapses)
		}
		d.watch(Event{What: FollowRequest})
		return
	}
	asked, told := d.profile.Asked(m), d.profile.Told(m)
	if len(asked) > 0 {
		d.counts.Questions++
		d.answer(asked, from)
	}
	for _, s := range told {
		d.counts.Settings++
		d.hold(Set, s, from)
		d.pull()
	}
	if len(asked)+len(told) == 0 && !d.profile.Greeted(m) && !d.profile.KeptAlive(m) {
		d.counts.Unplaced++
		d.watch(Event{What: Unplaced})
	}
}

// hold takes a value, however it came, and tells the change to everyone who asked to
// be told, but not to the one who made it.
func (d *Desk) hold(how EventKind, s profiles.Setting, by netip.AddrPort) {
	changed := d.holds[s.Parameter] != s.Value
	d.holds[s.Parameter] = s.Value
	d.watch(Event{What: how, Setting: s, Changed: changed})
	if !changed {
		return
	}
	d.forgetLapsed()
	for peer, f := range d.followers {
		_, all := f[profiles.Place{}]
		if _, here := f[s.Parameter.Place]; peer != by && (all || here) {
			d.send([]profiles.Parameter{s.Parameter}, peer)
		}
	}
}

// forgetLapsed forgets whoever has not asked again in time to be told of changes.
func (d *Desk) forgetLapsed() {
	now := d.options.Now()
	for peer, f := range d.followers {
		maps.DeleteFunc(f, func(_ profiles.Place, until time.Time) bool { return !now.Before(until) })
		if len(f) == 0 {
			delete(d.followers, peer)
		}
	}
}

// maxGreeted bounds how many the desk remembers to have greeted it.
const maxGreeted = 1 << 10

// greeted reports whether the desk listens to one who sends a message: on a model that
// waits for a greeting, only from that on.
func (d *Desk) greeted(m osc.Heard, from netip.AddrPort) bool {
	if !d.waitsForGreeting {
		return true
	}
	if d.profile.Greeted(m) {
		for other := range d.greeters {
			if len(d.greeters) < maxGreeted {
				break
			}
			delete(d.greeters, other)
		}
		d.greeters[from] = struct{}{}
	}
	_, ok := d.greeters[from]
	return ok
}

// answer tells parameters, and what is told together with them, to the one who asked.
func (d *Desk) answer(asked []profiles.Parameter, to netip.AddrPort) {
	for _, q := range asked {
		v, _ := d.lookUp(q)
		d.watch(Event{What: Asked, Setting: profiles.Setting{Parameter: q, Value: v}})
	}
	d.send(asked, to)
}

// lookUp gives what the desk holds, its own name included.
func (d *Desk) lookUp(q profiles.Parameter) (profiles.Value, bool) {
	if q == profiles.Who {
		return profiles.Word(d.options.Says), true
	}
	v, ok := d.holds[q]
	return v, ok
}

// longestBundle bounds the bundles of answers, in bytes, so that they travel in one
// piece.
const longestBundle = 1400

// send tells what the desk holds, each in a packet of its own, or on a model that does
// so, in bundles.
func (d *Desk) send(all []profiles.Parameter, to netip.AddrPort) {
	if d.options.Silent {
		return
	}
	if link := d.profile.Link; link.AnswerPort != 0 && link.Over == profiles.OverUDP {
		to = netip.AddrPortFrom(to.Addr(), uint16(link.AnswerPort))
	}
	var bundle []osc.Message
	var packet []byte
	for _, q := range all {
		message, err := d.profile.Answer(q, d.lookUp)
		if err != nil {
			continue // a value that the profile itself can't say: the desk stays silent
		}
		if !d.profile.Link.Bundled {
			if packet, err = message.Encode(); err == nil {
				d.out.pass(arrival{packet: packet, peer: to})
			}
			continue
		}
		longer, err := osc.EncodeBundle(append(bundle, message)...)
		switch {
		case err != nil:
			continue
		case len(longer) > longestBundle && len(bundle) > 0:
			d.out.pass(arrival{packet: packet, peer: to})
			bundle = nil
			longer, _ = osc.EncodeBundle(message)
		}
		bundle, packet = append(bundle, message), longer
	}
	if len(bundle) > 0 {
		d.out.pass(arrival{packet: packet, peer: to})
	}
}

// transmit sends a packet that the outward way has let through.
func (d *Desk) transmit(a arrival) {
	_, _ = d.socket.WriteToUDPAddrPort(a.packet, a.peer) // a desk does not know who hears it
}
