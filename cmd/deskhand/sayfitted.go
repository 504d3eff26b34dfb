package main

import (
	"fmt"
	"strings"

	"deskhand/scenes"
)

// sayFitted says why an EQ is fitted, to what, and how near it comes. One that is far off
// is among the warnings already.
func (a *app) sayFitted(position string, f *scenes.FittedEQ) {
	if f.Far() {
		return
	}
	fmt.Fprintf(a.out, "%s%s: the EQ is fitted: %s; off by %s, of the sum of %s\n",
		a.paint.warn("note: "), position, f.Why, f.Say(), strings.Join(f.Of, ", "))
}

type jsonFitted struct {
	Position string   `json:"position"`
	Why      string   `json:"why"`
	Of       []string `json:"of"`
	// Largest and Mean are differences in dB, At is in Hz.
	Largest float64 `json:"largest"`
	At      float64 `json:"at"`
	Mean    float64 `json:"mean"`
}

// fittedJSON is null where nothing is fitted.
func fittedJSON(position string, f *scenes.FittedEQ) *jsonFitted {
	if f == nil {
		return nil
	}
	return &jsonFitted{position, f.Why, f.Of, round(f.Largest, 3), round(f.At, 1), round(f.Mean, 3)}
}
