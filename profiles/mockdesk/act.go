package mockdesk

import (
	"net/netip"

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
	if lapses, ok := d.profile.AskedToFollow(m); ok {
		d.forgetLapsed()
		if _, known := d.followers[from]; known || len(d.followers) < maxFollowers {
			d.followers[from] = d.options.Now().Add(lapses)
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
	for to := range d.followers {
		if to != by {
			d.send(s, to)
		}
	}
}

// forgetLapsed forgets whoever has not asked again in time to be told of changes.
func (d *Desk) forgetLapsed() {
	now := d.options.Now()
	for follower, until := range d.followers {
		if !now.Before(until) {
			delete(d.followers, follower)
		}
	}
}

// answer tells one parameter to the one who asked.
func (d *Desk) answer(q profiles.Parameter, to netip.AddrPort) {
	s := profiles.Setting{Parameter: q, Value: d.holds[q]}
	if q == profiles.Who {
		s.Value = profiles.Word(d.options.Says)
	}
	d.watch(Event{What: Asked, Setting: s})
	d.send(s, to)
}

func (d *Desk) send(s profiles.Setting, to netip.AddrPort) {
	if d.options.Silent {
		return
	}
	message, err := d.profile.Answer(s)
	if err != nil {
		return // a value that the profile itself can't say: the desk stays silent
	}
	packet, err := message.Encode()
	if err != nil {
		return
	}
	d.out.pass(arrival{packet: packet, peer: to})
}

// transmit sends a packet that the outward way has let through.
func (d *Desk) transmit(a arrival) {
	_, _ = d.socket.WriteToUDPAddrPort(a.packet, a.peer) // a desk does not know who hears it
}
