package main

import (
	"fmt"
	"strings"

	"deskhand/scenes"
)

// The words of a sheet, on paper and in lines.

// sheetCautions stand on each sheet, since those who read it may know nothing else of us.
var sheetCautions = []string{
	"Phantom power can harm some microphones: before it is switched on, see that all that is plugged into the switch bears it, with the fader down.",
	"Loudness can harm hearing: open one position at a time, from low, and keep to the local rules on sound levels.",
}

const nothingByHand = "Nothing on this desk is for a hand."

// sayPhantom says how phantom power stands at a position.
func sayPhantom(p scenes.Phantom) string {
	switch p {
	case scenes.PhantomOn:
		return "on"
	case scenes.PhantomOff:
		return "off"
	case scenes.PhantomShared:
		return "on (shared switch)"
	case scenes.PhantomHarms:
		return "OFF: harms it"
	case scenes.PhantomConflict:
		return "CONFLICT"
	}
	return "not said"
}

// phantomConflicts says which microphones can't share a switch, "" where all can.
func phantomConflicts(s *scenes.Sheet) string {
	var where []string
	for _, p := range s.InConflict() {
		where = append(where, fmt.Sprintf("%s (channel %d)", p.Name, p.Channel))
	}
	if where == nil {
		return ""
	}
	return "phantom power: one microphone needs it and it harms another on the same switch, at " + strings.Join(where, ", ") +
		": leave it off, and put one of them on another channel"
}

// sayTurn says who is on a position, and in which scenes.
func sayTurn(t scenes.Turned) string {
	who := t.Performer
	if who == "" {
		who = "nobody"
	}
	text := sayScenes(t.First, t.Last) + ": " + who
	if t.Open != nil {
		text += map[bool]string{true: ", open", false: ", muted"}[*t.Open]
	}
	return text
}

func sayTurns(turns []scenes.Turned) string {
	words := make([]string, len(turns))
	for i, t := range turns {
		words[i] = sayTurn(t)
	}
	return strings.Join(words, "; ")
}

// sayScenes says one scene or several in a row by their numbers: "1", "2-4".
func sayScenes(first, last int) string {
	if first == last {
		return fmt.Sprint(first)
	}
	return fmt.Sprintf("%d-%d", first, last)
}

// saySources says the sources that a position has, one after the other.
func saySources(in scenes.Input) string {
	if len(in.Sources) == 0 {
		return "as it is"
	}
	return strings.Join(in.Sources, ", then ")
}

func sayMicrophone(in scenes.Input) string {
	if in.Position.Microphone == nil {
		return "not said"
	}
	return in.Position.Microphone.Name
}

// sayWhoFor says for whom a hand sets something.
func sayWhoFor(h scenes.HandSetting) string {
	if h.Performer == "" {
		return h.Position
	}
	return h.Position + ", " + h.Performer
}

// planOf says when a scene is planned and for how long, "" where neither is said.
func planOf(it scenes.Item) string {
	var words []string
	if it.Start != nil {
		words = append(words, scenes.Clock(*it.Start))
	}
	if it.Length > 0 {
		words = append(words, sayMinutes(it.Length))
	}
	return strings.Join(words, ", ")
}

// orderTitle is what people call a running order.
func orderTitle(o *scenes.RunningOrder) string {
	if o.Title != "" {
		return o.Title
	}
	return o.Name
}

// handBefore groups what a hand sets by the scene that it is set before.
func handBefore(s *scenes.Sheet) [][]scenes.HandSetting {
	var groups [][]scenes.HandSetting
	for _, h := range s.Hand {
		if n := len(groups); n > 0 && groups[n-1][0].Scene == h.Scene {
			groups[n-1] = append(groups[n-1], h)
			continue
		}
		groups = append(groups, []scenes.HandSetting{h})
	}
	return groups
}

// sayBefore says before which scene something is set.
func sayBefore(s *scenes.Sheet, scene int) string {
	it := s.Order.Items[scene-1]
	text := fmt.Sprintf("before %d, %s", scene, it.Title)
	if it.Start != nil {
		text += " (" + scenes.Clock(*it.Start) + ")"
	}
	return text
}

// sayStrip says for which scenes a label strip is.
func sayStrip(strip scenes.LabelStrip) string {
	if strip.First == strip.Last {
		return fmt.Sprintf("scene %d", strip.First)
	}
	return fmt.Sprintf("scenes %d to %d", strip.First, strip.Last)
}
