package main

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"deskhand/osc"
	"deskhand/profiles"
)

// sayExamples prints an example of each kind of parameter: in words, as a message and
// as bytes, told, asked and answered.
func (a *app) sayExamples(p *profiles.Profile, kinds []kind) {
	fmt.Fprintln(a.out, "\n"+a.paint.head("examples, to be held against the document of the desk"))
	fmt.Fprintln(a.out, "  i: whole number; f: float; s: text; T, F: switch; h, d: long numbers; bytes in hexadecimal")
	for _, message := range helloMessages(p) {
		a.sayExampleMessage(message.what, message.Message)
	}
	part := profiles.Console
	for _, k := range kinds {
		if k.first.Place.Part != part {
			part = k.first.Place.Part
			fmt.Fprintln(a.out, "\n"+a.paint.head(k.first.Place.Say()+sayOthers(p, part)))
		}
		a.sayExample(p, k)
	}
}

// sayOthers says how many places of a part there are after the first.
func sayOthers(p *profiles.Profile, part profiles.Part) string {
	n := map[profiles.Part]int{profiles.Channel: p.Channels, profiles.Mix: p.Mixes}[part]
	if n < 2 {
		return ""
	}
	return fmt.Sprintf(", and the others to %d alike", n)
}

func (a *app) sayExample(p *profiles.Profile, k kind) {
	control, _ := p.Control(k.first)
	x, ok := p.Example(k.first)
	label := control.Spec.SayLabel(k.first.Name, nil)
	if !ok {
		fmt.Fprintf(a.out, "  %s: %s\n", label, sayUnreached(control))
		return
	}
	fmt.Fprintf(a.out, "  %s: %s%s\n", label, sayOnBoth(control, x.Value), sayGrid(control))
	a.sayExampleMessage("tell", x.Tell)
	a.sayExampleMessage("ask", x.Ask)
	if !sameMessage(x.Answer, x.Tell) {
		a.sayExampleMessage("answer", x.Answer)
	}
	if last, ok := p.Example(k.last); ok && k.n > 1 {
		fmt.Fprintf(a.out, "    %-7s %s of %s\n", "last", last.Tell, k.last)
	}
}

// sayUnreached says why there is no message about a parameter.
func sayUnreached(control *profiles.Control) string {
	if control.Reach() == profiles.Fixed {
		return "always " + sayOnBoth(control, control.Start)
	}
	return "by hand: " + control.Hand
}

// sayGrid says between which values a number moves, and in how many steps.
func sayGrid(control *profiles.Control) string {
	steps := control.Curve.Steps()
	if control.Spec.Kind == profiles.Text || control.Spec.Kind == profiles.Toggle || steps < 2 {
		return ""
	}
	if control.Spec.Kind == profiles.Choice {
		var words []string
		for step := range steps {
			words = append(words, control.Curve.At(step).Any().(string))
		}
		return " (of " + strings.Join(words, ", ") + ")"
	}
	low, high := control.Curve.At(0), control.Curve.At(steps-1)
	silence := ""
	if low == profiles.Silence {
		low, silence = control.Curve.At(1), "-inf, "
	}
	return fmt.Sprintf(" (of %s%s to %s in %d steps)", silence, control.SayOnDesk(low), control.SayOnDesk(high), steps)
}

// sayOnBoth says a value, and what the desk shows for it where that is another figure:
// "1.4, which the desk shows as 1 oct".
func sayOnBoth(control *profiles.Control, v profiles.Value) string {
	text, onDesk := control.Spec.Say(v), control.SayOnDesk(v)
	if onDesk != text {
		text += ", which the desk shows as " + onDesk
	}
	return text
}

// sayExampleMessage prints a message and its bytes, or nothing where there is none.
func (a *app) sayExampleMessage(what string, m osc.Message) {
	if m.Address == "" {
		return
	}
	fmt.Fprintf(a.out, "    %-7s %s\n", what, m)
	fmt.Fprintln(a.out, "            "+a.paint.dim(strings.Join(byFours(m), " ")))
}

// byFours gives the bytes of a message as OSC counts them.
func byFours(m osc.Message) []string {
	packet, err := m.Encode()
	if err != nil {
		return []string{err.Error()}
	}
	var fours []string
	for four := range slices.Chunk(packet, 4) {
		fours = append(fours, hex.EncodeToString(four))
	}
	return fours
}

func sameMessage(a, b osc.Message) bool {
	return a.String() == b.String()
}

// namedMessage is a message about no parameter, and what it is for.
type namedMessage struct {
	what string
	osc.Message
}

// helloMessages are what a desk is sent besides settings and questions about them.
func helloMessages(p *profiles.Profile) []namedMessage {
	var all []namedMessage
	add := func(what string, m osc.Message) {
		if m.Address != "" {
			all = append(all, namedMessage{what, m})
		}
	}
	add("greet", p.Link.Greeting)
	add("who", p.AskWho().Message)
	if says := profiles.Word(p.Says()); p.AskWho().Message.Address != "" {
		answer, err := p.Answer(profiles.Who, func(profiles.Parameter) (profiles.Value, bool) { return says, true })
		if err == nil {
			add("answer", answer)
		}
	}
	if requests, _ := p.AskToFollow(); len(requests) > 0 {
		add("follow", requests[0])
	}
	add("alive", p.Link.Alive)
	return all
}
