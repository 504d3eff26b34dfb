package main

import (
	"encoding/hex"
	"fmt"
	"strings"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/trace"
)

// traceTalk prints what a desk sends, and what its profile makes of it.
type traceTalk struct {
	app     *app
	profile *profiles.Profile // nil where none is known
	// at finds the parameters whose answers are at an address.
	at map[string][]profiles.Parameter

	messages, unplaced, malformed int
}

func newTraceTalk(a *app, p *profiles.Profile) *traceTalk {
	return &traceTalk{app: a, profile: p}
}

// heardWidth is how wide the column of messages is.
const heardWidth = 44

// jsonHeard is what --json prints of one message.
type jsonHeard struct {
	Event     string         `json:"event"` // message, malformed, mark
	At        float64        `json:"at"`
	Address   string         `json:"address,omitempty"`
	Arguments []jsonArgument `json:"arguments,omitempty"`
	Untyped   bool           `json:"untyped,omitempty"`
	Placed    bool           `json:"placed"`
	Means     []jsonSetting  `json:"means,omitempty"`
	Why       string         `json:"why,omitempty"`
	Packet    string         `json:"packet,omitempty"`
	Mark      string         `json:"mark,omitempty"`
}

type jsonArgument struct {
	// Shown is the argument after its type tag, as a person reads it: "f 0.5".
	Shown string `json:"shown"`
	// Value is a number, a text, true or false, or null for the other types.
	Value any `json:"value"`
}

func (t *traceTalk) started(to target, l *listening) {
	name, says := "", "no profile, so nothing can be placed"
	if t.profile != nil {
		name, says = t.profile.Name, t.profile.Name
	}
	if l.note != nil {
		t.app.complain(l.note)
	}
	if t.app.json {
		t.app.printJSON(struct {
			Event   string `json:"event"`
			Profile string `json:"profile"`
			Address string `json:"address"`
		}{"started", name, to.address})
		return
	}
	fmt.Fprintf(t.app.out, "listening to %s (%s); Ctrl-C ends it\n", to.address, says)
}

// ended says what was heard in all.
func (t *traceTalk) ended(dropped uint64) {
	if dropped > 0 {
		t.app.complain(fmt.Errorf("%d packets came too fast to be taken down", dropped))
	}
	if t.app.json {
		t.app.printJSON(struct {
			Event     string `json:"event"`
			Messages  int    `json:"messages"`
			Unplaced  int    `json:"unplaced"`
			Malformed int    `json:"malformed"`
			Dropped   uint64 `json:"dropped"`
		}{"ended", t.messages, t.unplaced, t.malformed, dropped})
		return
	}
	fmt.Fprintf(t.app.out, "%s", count(t.messages, "message"))
	if t.profile != nil {
		fmt.Fprintf(t.app.out, ", %d not placed", t.unplaced)
	}
	if t.malformed > 0 {
		fmt.Fprintf(t.app.out, ", %s no OSC", count(t.malformed, "packet"))
	}
	fmt.Fprintln(t.app.out)
}

// happened prints one packet or mark.
func (t *traceTalk) happened(e trace.Event) {
	if e.Packet == nil {
		if t.app.json {
			t.app.printJSON(jsonHeard{Event: "mark", At: round(e.At.Seconds(), 3), Mark: e.Mark.String()})
			return
		}
		fmt.Fprintln(t.app.out, t.app.paint.dim("# "+e.Mark.String()))
		return
	}
	messages, err := osc.Decode(e.Packet)
	if err != nil {
		t.noOSC(e, err)
		return
	}
	for _, m := range messages {
		t.heard(e, m)
	}
}

func (t *traceTalk) noOSC(e trace.Event, err error) {
	t.malformed++
	const most = 32
	if t.app.json {
		t.app.printJSON(jsonHeard{Event: "malformed", At: round(e.At.Seconds(), 3), Packet: hex.EncodeToString(e.Packet), Why: err.Error()})
		return
	}
	fmt.Fprintf(t.app.out, "%8.3f  %s  %s\n", e.At.Seconds(), t.app.paint.warn("? "+err.Error()), hex.EncodeToString(e.Packet[:min(len(e.Packet), most)]))
}

// heard prints one message.
func (t *traceTalk) heard(e trace.Event, m osc.Heard) {
	t.messages++
	meaning, settings, why := t.meaning(m)
	if meaning == "" && t.profile != nil {
		t.unplaced++
	}
	if t.app.json {
		t.app.printJSON(jsonHeard{
			Event: "message", At: round(e.At.Seconds(), 3), Address: m.Address, Untyped: m.Untyped,
			Arguments: listOf(m.Arguments, jsonArgumentOf), Placed: meaning != "", Means: settings, Why: why,
		})
		return
	}
	if meaning == "" && t.profile != nil {
		meaning = t.app.paint.warn("? " + why)
	}
	line := fmt.Sprintf("%8.3f  %s  %s", e.At.Seconds(), pad(m.String(), heardWidth), meaning)
	fmt.Fprintln(t.app.out, strings.TrimRight(line, " "))
}

// meaning gives what the profile makes of a message, or else why it makes nothing.
func (t *traceTalk) meaning(m osc.Heard) (text string, settings []jsonSetting, why string) {
	if t.profile == nil {
		return "", nil, "there is no profile"
	}
	var parts []string
	for _, r := range t.profile.Hear(m) {
		if r.Key == profiles.Who {
			says, _ := r.Value.Word()
			return "the desk says it is " + says, nil, ""
		}
		control, _ := t.profile.Control(r.Key)
		parts = append(parts, r.Key.String()+" "+control.Spec.Say(r.Value))
		settings = append(settings, settingJSON(t.profile, r.Key, r.Value))
	}
	if len(parts) > 0 {
		return strings.Join(parts, ", "), settings, ""
	}
	return "", nil, t.whyNot(m)
}

// whyNot says why the profile can't place a message.
func (t *traceTalk) whyNot(m osc.Heard) string {
	if t.at == nil {
		t.at = answersAt(t.profile)
	}
	at := t.at[m.Address]
	switch {
	case len(at) == 0:
		return "nothing in the profile is at this address"
	case m.Untyped:
		return "its arguments have no types"
	case len(at) == 1:
		return "no value that " + at[0].String() + " has in the profile"
	}
	return fmt.Sprintf("no place or value that %s and %s have in the profile", at[0], count(len(at)-1, "other"))
}

// answersAt lists what the desk reports at each address.
func answersAt(p *profiles.Profile) map[string][]profiles.Parameter {
	at := make(map[string][]profiles.Parameter)
	start := func(q profiles.Parameter) (profiles.Value, bool) {
		control, ok := p.Control(q)
		if !ok {
			return profiles.Value{}, false
		}
		return control.Start, true
	}
	for _, q := range p.Parameters() {
		if m, err := p.Answer(q, start); err == nil {
			at[m.Address] = append(at[m.Address], q)
		}
	}
	return at
}

func jsonArgumentOf(argument any) jsonArgument {
	shown := strings.TrimPrefix(osc.Message{Address: "/", Arguments: []any{argument}}.String(), "/ ")
	switch v := argument.(type) {
	case int32, int64, bool, string:
		return jsonArgument{shown, v}
	case osc.Symbol:
		return jsonArgument{shown, string(v)}
	case float32:
		return jsonArgument{shown, finite(float64(v))}
	case float64:
		return jsonArgument{shown, finite(v)}
	}
	return jsonArgument{shown, nil}
}

// finite gives a number, or nothing for one that JSON does not have.
func finite(v float64) any {
	if v-v != 0 {
		return nil
	}
	return v
}
