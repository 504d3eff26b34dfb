package desk

import (
	"context"
	"fmt"
	"time"

	"deskhand/profiles"
)

// Hoped is a setting that was sent. Whether the desk holds it is not known.
type Hoped struct {
	setting profiles.Setting
}

// Expect is a setting that was found right and not sent, to be confirmed with those
// that were. The value is on the desk's grid.
func Expect(s profiles.Setting) Hoped { return Hoped{s} }

// Setting is what was sent, as the desk will hold it if it arrived.
func (h Hoped) Setting() profiles.Setting { return h.setting }

// Confirmed is a setting that the desk itself reported holding, after it was sent.
// Only [Desk.Confirm] makes one that holds anything.
type Confirmed struct {
	setting profiles.Setting
	at      time.Time
}

// Setting is what the desk reported.
func (c Confirmed) Setting() profiles.Setting { return c.setting }

// At is when the answers were there. What a hand does later is not in them.
func (c Confirmed) At() time.Time { return c.at }

// Doubt is a setting that could not be confirmed.
type Doubt struct {
	Wanted profiles.Setting
	// Found is what the desk holds instead, no value where it did not answer.
	Found profiles.Value
}

// Confirm asks the desk for what was sent, with questions that no answer to an
// earlier one can be taken for. What it reports holding is confirmed; the rest is in
// doubt, in the order of hoped. With an error, too, each is one or the other.
func (d *Desk) Confirm(ctx context.Context, hoped []Hoped, progress Progress) ([]Confirmed, []Doubt, error) {
	parameters := make([]profiles.Parameter, len(hoped))
	for i, h := range hoped {
		parameters[i] = h.setting.Parameter
	}
	answers, _, err := d.ask(ctx, parameters, progress)
	now := time.Now()
	var confirmed []Confirmed
	var doubts []Doubt
	for _, h := range hoped {
		control, known := d.profile.Control(h.setting.Parameter)
		found := answers[h.setting.Parameter]
		if known && control.Same(found, h.setting.Value) {
			confirmed = append(confirmed, Confirmed{h.setting, now})
			continue
		}
		doubts = append(doubts, Doubt{h.setting, found})
	}
	if err != nil {
		return confirmed, doubts, fmt.Errorf("read back the desk at %s: %w", d.address, err)
	}
	return confirmed, doubts, nil
}
