package desk

import (
	"cmp"
	"context"
	"slices"
	"sync"

	"deskhand/osc"
	"deskhand/profiles"
)

// Overwritten is a hand's change that a message of ours has set back: the message was
// for other settings, and had to say something of this one, too.
type Overwritten struct {
	Parameter profiles.Parameter
	// Sent is what went along and what the desk holds now, Hand what the hand had set.
	Sent, Hand profiles.Value
}

// company is what the desk was last reported to hold of the settings that went along in
// messages for others. Reports come in beside the goroutine that writes.
type company struct {
	mu      sync.Mutex
	members map[profiles.Parameter]*member
	// overwritten was found out on the way, by the reading for the next message.
	overwritten []Overwritten
}

// member is one setting that goes along.
type member struct {
	// newest was reported last; sent went along last, no value where nothing has yet.
	newest, sent profiles.Value
	// hand is the newest that was reported after that and is something else. Whether
	// our message came before the hand or after is then to be found out. It stays when
	// the desk reports what was sent: that is how an overwritten change looks.
	hand profiles.Value
}

// watch begins to note what is reported of the parameters.
func (c *company) watch(parameters []profiles.Parameter) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.members == nil {
		c.members = make(map[profiles.Parameter]*member)
	}
	for _, q := range parameters {
		if c.members[q] == nil {
			c.members[q] = &member{}
		}
	}
}

// forget ends all watching.
func (c *company) forget() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.members, c.overwritten = nil, nil
}

// hear notes a report.
func (c *company) hear(s profiles.Setting) {
	c.mu.Lock()
	defer c.mu.Unlock()
	m, watched := c.members[s.Parameter]
	if !watched {
		return
	}
	m.newest = s.Value
	if !m.sent.IsZero() && s.Value != m.sent {
		m.hand = s.Value
	}
}

// fill makes the message that sets the settings, with the newest that is known of what
// goes along, and notes that this is what was sent.
func (c *company) fill(p *profiles.Profile, settings []profiles.Setting) (osc.Message, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	message, err := p.Message(settings, func(q profiles.Parameter) (profiles.Value, bool) {
		m, watched := c.members[q]
		if !watched || m.newest.IsZero() {
			return profiles.Value{}, false
		}
		return m.newest, true
	})
	if err != nil {
		return osc.Message{}, err
	}
	for _, s := range settings { // from now on each is as it is set here
		if m, watched := c.members[s.Parameter]; watched && !m.hand.IsZero() {
			c.overwritten = append(c.overwritten, Overwritten{s.Parameter, s.Value, m.hand})
		}
		delete(c.members, s.Parameter)
	}
	for _, q := range p.Beside(settings[0].Parameter) {
		if m, watched := c.members[q]; watched {
			if m.isOverwritten(m.newest) {
				c.overwritten = append(c.overwritten, Overwritten{q, m.sent, m.hand})
			}
			*m = member{newest: m.newest, sent: m.newest}
		}
	}
	return message, nil
}

// wentAlong gives what was sent of the parameters last.
func (c *company) wentAlong(parameters []profiles.Parameter) []profiles.Setting {
	c.mu.Lock()
	defer c.mu.Unlock()
	var all []profiles.Setting
	for _, q := range parameters {
		if m, watched := c.members[q]; watched {
			all = append(all, profiles.Setting{Parameter: q, Value: m.sent})
		}
	}
	return all
}

// isOverwritten reports whether a hand's change is lost, where the desk holds now what
// it does.
func (m *member) isOverwritten(now profiles.Value) bool { return !m.hand.IsZero() && now == m.sent }

// doubtful lists the members of which it isn't known who was last, a hand or we.
func (c *company) doubtful() []profiles.Parameter {
	c.mu.Lock()
	defer c.mu.Unlock()
	var all []profiles.Parameter
	for q, m := range c.members {
		if !m.hand.IsZero() {
			all = append(all, q)
		}
	}
	slices.SortFunc(all, func(a, b profiles.Parameter) int { return cmp.Compare(a.String(), b.String()) })
	return all
}

// settle takes what was found out, with what the desk holds now of those in doubt. One
// that it did not answer for counts as overwritten.
func (c *company) settle(doubtful []profiles.Parameter, now map[profiles.Parameter]profiles.Value) []Overwritten {
	c.mu.Lock()
	defer c.mu.Unlock()
	all := c.overwritten
	c.overwritten = nil
	for _, q := range doubtful {
		m, watched := c.members[q]
		if !watched {
			continue
		}
		if v := now[q]; v.IsZero() || m.isOverwritten(v) {
			all = append(all, Overwritten{q, m.sent, m.hand})
		}
		m.hand = profiles.Value{}
	}
	return all
}

// Overwritten gives the hands' changes that messages of ours have set back since it was
// last asked for, as far as the desk has told of them: see Follow. Ask once what was
// sent is confirmed, so that nothing of it is under way. Whether to give them back is for
// whoever asks. What the desk is asked about
// and does not answer for is among them. The error is that of the asking.
func (d *Desk) Overwritten(ctx context.Context) ([]Overwritten, error) {
	doubtful := d.company.doubtful()
	if len(doubtful) == 0 {
		return d.company.settle(nil, nil), nil
	}
	now, _, err := d.Read(ctx, doubtful, nil)
	return d.company.settle(doubtful, now), err
}
