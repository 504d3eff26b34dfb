package profiles

import (
	"slices"
	"time"

	"deskhand/osc"
	"deskhand/profiles/source"
)

// Defaults for what a profile leaves out. The pace is what reports from many
// desks agree that any of them takes.
const (
	defaultPace   = 200
	defaultBurst  = 8
	defaultWindow = 8
	defaultWait   = 150 * time.Millisecond
	defaultTries  = 8
	defaultLinger = 100 * time.Millisecond
	defaultLapses = 10 * time.Second
	defaultAlive  = 5 * time.Second
)

func (l *loader) link() {
	link := &l.profile.Link
	if !l.based {
		*link = Link{Pace: defaultPace, Burst: defaultBurst, Window: defaultWindow, Wait: defaultWait, Tries: defaultTries, Linger: defaultLinger}
	}
	t, ok := l.root.Table("link")
	if !ok {
		if !l.root.Has("link") && !l.based {
			l.root.Fault("", "the profile has no [link] with the port on which the desk listens")
		}
		return
	}
	port, ok := t.Integer("port")
	switch {
	case ok && (port < 1 || port > 65535):
		t.Fault("port", "port = %d: a port is a number from 1 to 65535", port)
	case !t.Has("port") && !l.based:
		t.Fault("", "[link] does not say on which port the desk listens: write port = ...")
	}
	if ok {
		link.Port = port
	}
	if pace, ok := t.Number("pace"); ok {
		link.Pace = pace
		if pace < 1 || pace > 1e6 {
			t.Fault("pace", "pace = %s: write how many messages a second the desk takes, 1 to 1000000", source.FormatNumber(pace))
		}
	}
	readCarrier(t, link)
	atLeastOne(t, "burst", &link.Burst)
	atLeastOne(t, "window", &link.Window)
	atLeastOne(t, "tries", &link.Tries)
	someTime(t, "wait", &link.Wait)
	someTime(t, "linger", &link.Linger)
}

// readCarrier reads what carries the packets, and what it needs.
func readCarrier(t *source.Table, link *Link) {
	if over, ok := t.Text("over"); ok {
		if i := slices.Index(overNames, over); i < 0 {
			t.Fault("over", "over = %q: there is none such%s", over, source.DidYouMean(over, overNames))
		} else {
			link.Over = Over(i)
		}
	}
	if t.Has("greeting") {
		link.Greeting.Address = wholeAddress(t, "greeting")
	}
	if t.Has("alive") {
		link.Alive.Address = wholeAddress(t, "alive")
		if link.AliveEvery == 0 {
			link.AliveEvery = defaultAlive
		}
	}
	if t.Has("alive-every") && link.Alive.Address == "" && !t.Has("alive") {
		t.Fault("alive-every", `alive-every: of what? write alive = "/..."`)
	}
	someTime(t, "alive-every", &link.AliveEvery)
	if n, ok := t.Integer("bundle"); ok {
		link.Bundle = n
		if n < minBundle || n > osc.MaxPacket {
			t.Fault("bundle", "bundle = %d: write how many bytes a bundle may have, %d to %d", n, minBundle, osc.MaxPacket)
		}
	}
}

// minBundle is the least bundle that holds any message worth sending.
const minBundle = 64

func atLeastOne(t *source.Table, key string, to *int) {
	n, ok := t.Integer(key)
	if !ok {
		return
	}
	if n < 1 || n > 10_000 {
		t.Fault(key, "%s = %d: write a number from 1 to 10000", key, n)
		return
	}
	*to = n
}

func someTime(t *source.Table, key string, to *time.Duration) {
	d, ok := t.Duration(key)
	if !ok {
		return
	}
	if d < time.Millisecond || d > time.Minute {
		t.Fault(key, "%s = %q: write a time from 1ms to 1m", key, d)
		return
	}
	*to = d
}
