package recall

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"deskhand/profiles"
	"deskhand/scenes"
	"deskhand/scenes/tone"
)

// addRises works out where each part gets louder. What a mix or the main mix gains,
// every channel in it gains on top of its own.
func (r *Recaller) addRises(parts []*Part) error {
	masters := make(map[int]float64)
	for _, part := range parts {
		if err := r.compareSound(part); err != nil {
			return err
		}
		if part.Place.Part == profiles.Channel {
			continue
		}
		for _, rise := range part.Rises {
			masters[rise.Mix] = rise.By
		}
	}
	for _, part := range parts {
		if part.Place.Part == profiles.Channel {
			addMasters(part.Rises, masters)
		}
	}
	return nil
}

func addMasters(rises []tone.Rise, masters map[int]float64) {
	for i := range rises {
		rises[i].Masters = masters[rises[i].Mix]
		rises[i].By += rises[i].Masters
	}
	slices.SortStableFunc(rises, louderFirst)
}

func louderFirst(a, b tone.Rise) int { return cmp.Compare(b.By, a.By) }

// compareSound works out what a part's own changes do to speech: from what the desk holds,
// and from what was last heard.
func (r *Recaller) compareSound(part *Part) error {
	heard, err := r.lastHeard(part)
	if err != nil {
		return err
	}
	if part.isKnown() {
		part.Steps = r.sounds(part, part.Before).Steps()
	}
	part.sounds = r.sounds(part, heard)
	part.Rises = r.rises(part)
	return nil
}

func (r *Recaller) sounds(part *Part, before scenes.Values) scenes.Sounds {
	return r.Venue.Sounds(part.Place, part.orAfter(before), part.after, part.Arrives)
}

// usual is the level from which a rise from silence counts, nil where the venue states
// none. For a mix it is that of its fader at 0 dB.
func (r *Recaller) usual(part *Part) *float64 {
	if part.Place.Part != profiles.Channel {
		return new(float64)
	}
	return r.Venue.Limits.Usual
}

// lastHeard gives what the place held when it was last heard: what was read, but in two
// cases. What a recall left half set, nobody has heard: it counts from before that one. A
// return goes to what the room had: it counts from there, so that only what a hand has
// moved since makes a rise.
func (r *Recaller) lastHeard(part *Part) (scenes.Values, error) {
	heard := maps.Clone(part.Before)
	switch {
	case part.undoes:
		for q := range heard {
			if v, known := r.Memory.Held.Values[q]; known {
				heard[q] = v
			}
		}
		for _, w := range part.Wanted {
			heard[w.Parameter] = w.Value
		}
	case r.isUnfinished(part):
		earlier, err := r.Memory.UndoAt(part.Place)
		if err != nil || earlier == nil {
			return heard, err
		}
		for q, v := range earlier.Values {
			if q.Place == part.Place {
				heard[q] = v
			}
		}
	}
	return heard, nil
}

// rises works out where a place gets louder by its own changes. One that was silent comes
// up from silence. Where what was held says too little of what was heard, what is not known
// counts as unchanged, and the whole is held against the usual level too; but for a return,
// as the room has heard what that goes to.
func (r *Recaller) rises(part *Part) []tone.Rise {
	before, after := part.sounds.Levels()
	usual := r.usual(part)
	known := tone.Rises(before, after, usual)
	if usual == nil || part.undoes {
		return known
	}
	fromSilence := tone.Rises(silent(before), after, usual)
	switch {
	case !part.WasOpen:
		return fromSilence
	case r.saysTooLittle(part):
		return larger(known, fromSilence)
	}
	return known
}

// saysTooLittle reports whether what a place held says too little of what was heard there:
// it is not known, or only believed; or something changes of which the arithmetic can't
// tell what it does, such as a group, the source, a setting that only this desk has, or
// phantom power, without which a microphone may have been silent.
func (r *Recaller) saysTooLittle(part *Part) bool {
	return slices.ContainsFunc(part.Changes, func(c scenes.Change) bool {
		switch {
		case c.Parameter.Name == muteName:
			return false
		case tone.IsHeard(c.Parameter.Name):
			return c.From.IsZero() || !r.Venue.Desk.Profile.Askable(c.Parameter)
		case c.Parameter.Name == phantomName:
			on, _ := c.To.On()
			return on && !c.Again
		}
		return !c.Again && (c.Spec.Class == profiles.Loudness || c.Spec.Class == profiles.Noise)
	})
}

// isKnown reports whether it is known how loud the place was. A desk that can only be told
// may hold anything before it's told the first time.
func (part *Part) isKnown() bool {
	return !slices.ContainsFunc(part.Changes, func(c scenes.Change) bool {
		return tone.IsHeard(c.Parameter.Name) && c.From.IsZero()
	})
}

// larger gives the larger of two rises at each place.
func larger(a, b []tone.Rise) []tone.Rise {
	all := slices.Concat(a, b)
	slices.SortStableFunc(all, louderFirst)
	seen := make(map[int]bool)
	return slices.DeleteFunc(all, func(rise tone.Rise) bool {
		twice := seen[rise.Mix]
		seen[rise.Mix] = true
		return twice
	})
}

func silent(l tone.Levels) tone.Levels {
	mixes := make(map[int]float64, len(l.Mixes))
	for mix := range l.Mixes {
		mixes[mix] = math.Inf(-1)
	}
	return tone.Levels{Main: math.Inf(-1), Mixes: mixes}
}

// orAfter gives what the place held by name, and where that is not known, what it will
// hold.
func (part *Part) orAfter(held scenes.Values) func(name string) profiles.Value {
	return func(name string) profiles.Value {
		if v := held[part.parameter(name)]; !v.IsZero() {
			return v
		}
		return part.after(name)
	}
}

// after gives what the place will hold.
func (part *Part) after(name string) profiles.Value {
	for _, c := range part.Changes {
		if c.Parameter.Name == name {
			return c.To
		}
	}
	return part.Before[part.parameter(name)]
}
