package main

import (
	"fmt"
	"math"
	"strings"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/recall"
	"deskhand/scenes/tone"
)

// saySteps says where speech gets louder or softer: "speech: mains -0.8 dB, wedge +4.0 dB;
// from silence: loop".
func (a *app) saySteps(v *scenes.Venue, steps []tone.Step) {
	var moved, begun, ended []string
	for _, s := range steps {
		switch where := placeOf(v, s.Mix); {
		case math.IsInf(s.From, -1):
			begun = append(begun, where)
		case math.IsInf(s.To, -1):
			ended = append(ended, where)
		default:
			moved = append(moved, fmt.Sprintf("%s %+.1f dB", where, s.By()))
		}
	}
	var words []string
	for _, part := range []struct {
		head string
		at   []string
	}{{"", moved}, {"from silence in ", begun}, {"silent in ", ended}} {
		if len(part.at) > 0 {
			words = append(words, part.head+strings.Join(part.at, ", "))
		}
	}
	if len(words) > 0 {
		fmt.Fprintln(a.out, "  "+a.paint.dim("speech: ")+strings.Join(words, "; "))
	}
}

// sayRises says where a part gets louder than its own steps tell, by as much as is heard:
// from silence it counts from the venue's usual level, and a mix may get louder itself.
func (a *app) sayRises(v *scenes.Venue, part *recall.Part) {
	const heard = 1.0 // dB
	var words []string
	for _, rise := range part.Rises {
		if rise.By >= heard && (rise.FromSilence || rise.Masters != 0) {
			words = append(words, fmt.Sprintf("%s %+.1f dB%s", placeOf(v, rise.Mix), rise.By, fromSilence(rise)))
		}
	}
	if len(words) > 0 {
		fmt.Fprintln(a.out, "  "+a.paint.warn("louder: ")+strings.Join(words, ", "))
	}
}

// placeOf names a mix, or the mains for 0.
func placeOf(v *scenes.Venue, mix int) string {
	if mix == 0 {
		return "mains"
	}
	return v.MixName(mix)
}

func fromSilence(rise tone.Rise) string {
	if rise.FromSilence {
		return " over the usual"
	}
	return ""
}

type jsonStep struct {
	Place string `json:"place"`
	Where string `json:"where"`
	// From and To are in dB relative to what the microphone gives, By is what lies
	// between, null from and to silence.
	From any `json:"from"`
	To   any `json:"to"`
	By   any `json:"by"`
}

func stepsJSON(v *scenes.Venue, place profiles.Place, steps []tone.Step) []jsonStep {
	all := []jsonStep{}
	for _, s := range steps {
		step := jsonStep{Place: place.String(), Where: placeOf(v, s.Mix), From: jsonLevel(s.From), To: jsonLevel(s.To)}
		if by := s.By(); !math.IsInf(by, 0) {
			step.By = round(by, 3)
		}
		all = append(all, step)
	}
	return all
}

func jsonLevel(level float64) any { return jsonValue(profiles.Number(round(level, 3))) }
