package main

import (
	"bufio"
	"context"
	"fmt"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"
)

// instruction says what a hand has to do: "channel 3: set the gain knob to 34.0 dB".
func instruction(c scenes.Change) string {
	where := c.Parameter.Place.Say()
	if c.Bank > 1 && c.Parameter.Place.Part == profiles.Channel {
		first, last := profiles.Bank(c.Bank, c.Parameter.Place.Number)
		where = fmt.Sprintf("channels %d to %d", first, last)
	}
	join := " to "
	if c.Spec.Kind == profiles.Toggle {
		join = ", so that it is "
	}
	to := c.Spec.Say(c.To)
	if c.OnDesk != "" && c.OnDesk != to {
		to += ", which the desk shows as " + c.OnDesk
	}
	text := where + ": " + c.Hand + join + to
	if !c.From.IsZero() {
		text += fmt.Sprintf(" (it was %s)", c.Spec.Say(c.From))
	}
	if c.Bank > 1 && c.Parameter.Name == "input.phantom" {
		text += "; see that every microphone there bears it"
	}
	return text
}

// handwork lists the changes that are for a hand.
func handwork(changes []scenes.Change) []scenes.Change {
	var hand []scenes.Change
	for _, c := range changes {
		if c.Hand != "" {
			hand = append(hand, c)
		}
	}
	return hand
}

func (a *app) sayHandwork(head string, changes []scenes.Change) {
	fmt.Fprintln(a.out, a.paint.warn(head))
	for _, c := range changes {
		fmt.Fprintln(a.out, "  "+instruction(c))
	}
}

// askHand has a person do by hand what OSC doesn't reach, and asks whether it is done.
func (a *app) askHand(ctx context.Context, changes []scenes.Change) (bool, error) {
	if !a.json {
		a.sayHandwork("by hand, now that it is muted:", changes)
	}
	if a.handDone || a.json {
		return a.handDone, nil
	}
	fmt.Fprint(a.err, "done? type yes: ")
	answers := make(chan string, 1)
	go func() { // ends with the line, or with the program
		line, _ := bufio.NewReader(a.in).ReadString('\n')
		answers <- line
	}()
	select {
	case line := <-answers:
		answer := strings.ToLower(strings.TrimSpace(line))
		return answer == "yes" || answer == "y", nil
	case <-ctx.Done():
		return false, ctx.Err()
	}
}
