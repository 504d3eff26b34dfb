package main

import (
	"bytes"
	"strings"
	"testing"

	"deskhand/scenes"
)

// Each answer is for its own offer, and whatever is no yes, or no answer, keeps nothing.
func TestOnlyOffersThatAreSaidYesToAreTaken(t *testing.T) {
	for typed, want := range map[string]string{"y\nn\nYES\n": "ac", "": "", "n\n": "", "\ny\n": "b", "maybe\nn\ny": "c"} {
		var out, questions bytes.Buffer
		a := newApp(console{in: strings.NewReader(typed), out: &out, err: &questions})
		var offers []*offer
		for _, position := range []string{"a", "b", "c"} {
			offers = append(offers, &offer{keeping: keeping{position: position}})
		}
		taken, err := a.askOffers(t.Context(), &scenes.Venue{}, offers)
		var got string
		for _, o := range taken {
			got += o.position
		}
		if err != nil || got != want || strings.Count(questions.String(), "keep it?") != len(offers) {
			t.Errorf("%q takes %q, not %q: %v; asked %s", typed, got, want, err, &questions)
		}
	}
}
