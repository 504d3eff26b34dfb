package recall

import (
	"fmt"
	"strings"

	"deskhand/scenes/tone"
)

// Refused says that a limit or a safe of the venue forbids the recall. Nothing was
// sent.
type Refused struct {
	Reasons []string
	// Rise is the rise in dB with which it would be let through, 0 where more than the
	// limit on the rise forbids it.
	Rise float64
}

func (e *Refused) Error() string { return "refused: " + strings.Join(e.Reasons, "; ") }

const gainName = "input.gain"

// slack is what a level may be over a limit, in dB, for sums of rounded figures.
const slack = 0.05

// refuse gives the reasons why the venue forbids the plan, or nil.
func (r *Recaller) refuse(plan *Plan) error {
	var reasons []string
	for _, part := range plan.Parts {
		reasons = append(reasons, r.overRise(plan, part)...)
		reasons = append(reasons, r.overGain(part)...)
		reasons = append(reasons, r.harms(part)...)
		if part.mustMute() {
			reasons = append(reasons, r.cannotMute(part)...)
		}
	}
	if safe := plan.Safe(); len(reasons) == 0 && plan.Nothing() && len(safe) > 0 {
		reasons = append(reasons, fmt.Sprintf("all that differs is safe here (%s, %s:%d)", safe[0].Parameter, r.Venue.File, safe[0].Safe.Line))
	}
	if len(reasons) == 0 {
		return nil
	}
	rise := r.riseAlone(plan, len(reasons))
	for _, part := range plan.Parts {
		reasons = append(reasons, r.harmedNow(part)...)
	}
	return &Refused{reasons, rise}
}

// riseAlone is the largest rise of a plan where rises are all that forbid it.
func (r *Recaller) riseAlone(plan *Plan, reasons int) float64 {
	over, most := 0, 0.0
	for _, part := range plan.Parts {
		over += len(r.overRise(plan, part))
		for _, rise := range part.Rises {
			most = max(most, rise.By)
		}
	}
	if over < reasons {
		return 0
	}
	return most
}

func (r *Recaller) overRise(plan *Plan, part *Part) []string {
	limits := r.Venue.Limits
	if limits.Rise == nil {
		return nil
	}
	allowed := max(*limits.Rise, r.AllowRise)
	var reasons []string
	for _, rise := range part.Rises {
		if rise.By > allowed+slack {
			reasons = append(reasons, fmt.Sprintf("%s would get %.1f dB louder %s%s%s, over %s",
				part.Say(), rise.By, r.sayWhere(rise.Mix), saySilence(rise), r.sayCauses(part, rise), r.sayAllowed()))
		}
	}
	return reasons
}

// sayAllowed names the limit that holds.
func (r *Recaller) sayAllowed() string {
	limits := r.Venue.Limits
	if r.AllowRise > *limits.Rise {
		return fmt.Sprintf("the %.1f dB that are allowed this time", r.AllowRise)
	}
	return fmt.Sprintf("the limit of %.1f dB (%s:%d)", *limits.Rise, r.Venue.File, limits.Lines["rise"])
}

// sayCauses says which stages make the place louder. What comes up from silence has no
// stages to compare.
func (r *Recaller) sayCauses(part *Part, rise tone.Rise) string {
	if rise.FromSilence {
		return ""
	}
	var words []string
	for _, c := range part.sounds.Causes(rise.Mix) {
		words = append(words, fmt.Sprintf("%s %+.1f", c.Stage, c.By))
	}
	if rise.Masters > 0 {
		words = append(words, fmt.Sprintf("the mix itself %+.1f", rise.Masters))
	}
	return " (" + strings.Join(words, ", ") + ")"
}

// overGain goes by what is wanted rather than by what differs: a desk that holds it already
// may lose it in the middle, and would then be told again.
func (r *Recaller) overGain(part *Part) []string {
	limits := r.Venue.Limits
	if limits.Gain == nil {
		return nil
	}
	var reasons []string
	for _, w := range part.Wanted {
		gain, _ := w.Value.Number()
		if w.Parameter.Name == gainName && gain > *limits.Gain+slack && r.maySend(w.Parameter) {
			control, _ := r.Venue.Desk.Profile.Control(w.Parameter)
			reasons = append(reasons, fmt.Sprintf("%s would get a gain of %s, over the limit of %.1f dB (%s:%d)",
				part.Say(), control.Spec.Say(w.Value), *limits.Gain, r.Venue.File, limits.Lines["gain"]))
		}
	}
	return reasons
}

func (r *Recaller) sayWhere(mix int) string {
	if mix == 0 {
		return "in the mains"
	}
	return "in " + r.Venue.MixName(mix)
}

func saySilence(rise tone.Rise) string {
	if rise.FromSilence {
		return " than a usual one"
	}
	return ""
}

// cannotMute refuses a recall that could not be made safe.
func (r *Recaller) cannotMute(part *Part) []string {
	q := part.parameter(muteName)
	if _, ok := r.Venue.Desk.Profile.Control(q); !ok {
		return []string{fmt.Sprintf("%s can't be muted: %s has no %s", part.Say(), r.Venue.Desk.Profile.Name, q)}
	}
	if safe, ok := r.Venue.SafeFor(q); ok && !part.isMuted() {
		return []string{fmt.Sprintf("%s can't be muted while it changes: its mute is safe (%s:%d); mute it by hand", part.Say(), r.Venue.File, safe.Line)}
	}
	return nil
}
