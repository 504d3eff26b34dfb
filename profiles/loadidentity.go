package profiles

import (
	"fmt"

	"deskhand/profiles/source"
)

// identity reads [identity], which every desk needs that can answer.
func (l *loader) identity() {
	id := &l.profile.identity
	t, ok := l.root.Table("identity")
	if !ok {
		toldOnly := l.ask.never && len(l.profile.blocks) == 0
		if !l.root.Has("identity") && id.ask == "" && !toldOnly {
			l.faultIn("", "the profile has no [identity]: a recall must know that it reached the right desk")
		}
		return
	}
	if id.ask == "" || t.Has("ask") {
		id.ask = wholeAddress(t, "ask")
		id.answer = id.ask
	}
	if t.Has("answer") {
		id.answer = wholeAddress(t, "answer")
	}
	says, ok := t.Text("says")
	switch {
	case says != "":
		id.says = says
	case ok || !t.Has("says") && id.says == "":
		t.Fault("says", `[identity] does not say what the desk answers: write says = "..."`)
	}
}

// follow reads [follow], whose requests may be one for each channel or mix.
func (l *loader) follow() {
	t, ok := l.root.Table("follow")
	if !ok {
		return
	}
	f := &l.profile.follow
	if f.lapses == 0 {
		f.lapses = defaultLapses
	}
	someTime(t, "lapses", &f.lapses)
	address, ok := t.Text("ask")
	if !ok {
		if !t.Has("ask") && l.followAt.literals == nil {
			t.Fault("", `ask is missing: write the address that the desk listens to, ask = "/..."`)
		}
		return
	}
	p, err := parsePattern(address, []string{"channel", "mix"})
	if err == nil && len(p.counters) > 1 {
		err = fmt.Errorf("address %q: a request is for a channel or for a mix", address)
	}
	if err != nil {
		t.Fault("ask", "%s", err)
		return
	}
	if id := l.profile.identity; address == id.ask || address == id.answer {
		t.Fault("ask", "[follow] and [identity] share the address %s", address)
	}
	l.followAt = p
}

// requests lays out the requests to follow.
func (l *loader) requests() {
	f := &l.profile.follow
	f.requests, f.asks = nil, make(map[string]Place)
	if l.followAt.literals == nil {
		return
	}
	each(l.followAt.counters, l.counts(), nil, func(numbers map[string]int) {
		place := Place{}
		for _, part := range []Part{Channel, Mix} {
			if n, ok := numbers[part.String()]; ok {
				place = Place{part, n}
			}
		}
		address := l.followAt.fill(numbers, l.numbers)
		f.requests, f.asks[address] = append(f.requests, address), place
	})
}

// wholeAddress reads an address without places in it.
func wholeAddress(t *source.Table, key string) string {
	address, ok := t.Text(key)
	if !ok {
		if !t.Has(key) {
			t.Fault("", `%s is missing: write the address that the desk listens to, %s = "/..."`, key, key)
		}
		return ""
	}
	if _, err := parsePattern(address, nil); err != nil {
		t.Fault(key, "%s", err)
		return ""
	}
	return address
}
