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
	for _, q := range asked {
		d.counts.Questions++
		d.answer(q, from)
	}
	for _, s := range told {
		d.counts.Settings++
		d.hold(Set, s, from)
		d.pull()
	}
	if len(asked)+len(told) == 0 {
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
			d.send(s.Parameter, peer)
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

// answer tells one parameter, and what is told together with it, to the one who asked.
func (d *Desk) answer(q profiles.Parameter, to netip.AddrPort) {
	v, _ := d.lookUp(q)
	d.watch(Event{What: Asked, Setting: profiles.Setting{Parameter: q, Value: v}})
	d.send(q, to)
}

// lookUp gives what the desk holds, its own name included.
func (d *Desk) lookUp(q profiles.Parameter) (profiles.Value, bool) {
	if q == profiles.Who {
		return profiles.Word(d.options.Says), true
	}
	v, ok := d.holds[q]
	return v, ok
}

func (d *Desk) send(q profiles.Parameter, to netip.AddrPort) {
	if d.options.Silent {
		return
	}
	message, err := d.profile.Answer(q, d.lookUp)
	if err != nil {
		return // a value that the profile itself can't say: the desk stays silent
	}
	packet, err := message.Encode()
	if err != nil {
		return
	}
	if port := d.profile.Link.AnswerPort; port != 0 {
		to = netip.AddrPortFrom(to.Addr(), uint16(port))
	}
	d.out.pass(arrival{packet: packet, peer: to})
}

// transmit sends a packet that the outward way has let through.
func (d *Desk) transmit(a arrival) {
	_, _ = d.socket.WriteToUDPAddrPort(a.packet, a.peer) // a desk does not know who hears it
}
