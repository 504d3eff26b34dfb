package scenes

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
)

// Kept is one value that goes from the desk into a performer's file.
type Kept struct {
	Parameter profiles.Parameter
	Spec      profiles.Spec
	// Path is where it goes in the file: "strip.eq.2.gain".
	Path []string
	// From is what the file has now, no value where it has none; To is what is
	// written, which falls on the desk's step.
	From, To profiles.Value
	// Line is where From stands, 0 for a new line.
	Line int
	// Dialled is how a gain was dialled in, to be written beside it where the file
	// doesn't say so yet, else nil.
	Dialled *Dialled
}

// Apart is a value of the desk that differs and is not for the performer's file.
type Apart struct {
	Parameter profiles.Parameter
	Spec      profiles.Spec
	// Wanted is what the layers ask for, no value where they ask for nothing.
	Wanted profiles.Value
	Held   profiles.Value
	Why    string
}

// Keep works out what of a position's values goes into the performer's file: what
// the layers set and the desk holds otherwise, and of the rest what moved names.
// With only, it is limited to names that begin with one of its words, and takes all of
// those.
//
// Resolving the performer anew then asks for what the desk holds, but for what is
// kept apart.
func (v *Venue) Keep(r *Resolved, holds Values, moved func(profiles.Parameter) bool, only []string) ([]Kept, []Apart) {
	k := &keeper{venue: v, strip: r, holds: holds, moved: moved, only: only, wanted: make(map[profiles.Parameter]Wanted)}
	for _, w := range r.Wanted {
		k.wanted[w.Parameter] = w
	}
	for _, q := range v.Desk.Profile.At(r.Position.Place()) {
		if held, known := holds[q]; known && !held.IsZero() && q.Name != "mute" {
			k.consider(q, held)
		}
	}
	return k.kept, k.apart
}

type keeper struct {
	venue  *Venue
	strip  *Resolved
	holds  Values
	moved  func(profiles.Parameter) bool
	only   []string
	wanted map[profiles.Parameter]Wanted
	kept   []Kept
	apart  []Apart
}

// consider decides about one value that the desk holds.
func (k *keeper) consider(q profiles.Parameter, held profiles.Value) {
	w, isWanted := k.wanted[q]
	control, _ := k.venue.Desk.Profile.Control(q)
	needed, isNeeded := k.needed(q)
	if isNeeded {
		w, isWanted = needed, true
	}
	switch {
	case !k.isNamed(q, w):
		return
	case k.inSplit(q):
		k.keepSplit(q)
		return
	case isWanted && !isNeeded && k.asksForHeld(q, w, held):
		return
	case !isWanted && !k.isForKeeping(q):
		return
	}
	if why := k.whyApart(q, w, isWanted); why != "" {
		if isWanted || k.moved(q) {
			k.apart = append(k.apart, Apart{q, control.Spec, w.Value, held, why})
		}
		return
	}
	if k.goesWithoutSaying(q, w) {
		return
	}
	k.add(q, k.tableFor(q, w, isWanted), k.written(q, w, isWanted), held)
}

// isNamed reports whether a value is among those asked for, by its name on the desk or
// as it is written.
func (k *keeper) isNamed(q profiles.Parameter, w Wanted) bool {
	return len(k.only) == 0 || slices.ContainsFunc(k.only, func(o string) bool {
		words := strings.Split(o, ".")
		return beginsWith(strings.Split(q.Name, "."), words) || beginsWith(strings.Split(w.Written, "."), words)
	})
}

// isForKeeping reports whether a value that no layer sets is to be kept. A band of EQ
// is kept whole or not at all, and only where it is on.
func (k *keeper) isForKeeping(q profiles.Parameter) bool {
	number, _, isBand := bandField(q.Name)
	if !isBand {
		return k.moved(q) || len(k.only) > 0
	}
	if !k.isOn(number) || k.isWantedOn(number) {
		return false
	}
	return len(k.only) > 0 || slices.ContainsFunc(bandFields, func(field string) bool {
		of := k.band(number, field)
		_, isWanted := k.wanted[of]
		return isWanted || k.moved(of)
	})
}

// whyApart says why a value is not for the performer's file, or "".
func (k *keeper) whyApart(q profiles.Parameter, w Wanted, isWanted bool) string {
	at := Origin{File: k.venue.File, Line: k.strip.Position.Line}
	if isWanted && w.Origin.Layer != ImpliedLayer {
		at = w.Origin
	}
	safe, isSafe := k.venue.SafeFor(q)
	number, _, isBand := bandField(q.Name)
	switch {
	case k.strip.Performer == nil:
		return "nobody is on the position"
	case isSafe:
		return fmt.Sprintf("%s is safe here (%s:%d)", safe.Text, k.venue.File, safe.Line)
	case q.Name == "input.phantom":
		return "phantom power follows the microphone (" + at.String() + ")"
	case q.Name == "source":
		return "the source is the position's: change it in " + at.String()
	case w.Fitted || isBand && k.strip.EQ != nil:
		return "the bands here are fitted to the sum of the files' bands: change those"
	case w.Room:
		return "this band is the room's: change it in " + w.Origin.String()
	case isWanted && w.layer() == SceneLayer:
		return "the scene sets it: change it in " + w.Origin.String()
	case isBand && !k.isWantedOn(number) && k.isElsewhere(number):
		return fmt.Sprintf("the performer's EQ %d is in another band of this desk: write this one into the file under another number", number)
	case !k.hasMixName(q):
		return "the mix has no name here: give it one under [mixes] in " + k.venue.File
	}
	return ""
}

// tableFor says which of the performer's strips a value goes into: the one that sets
// it now, or else the one for all venues. A send goes to the mixes of this venue.
func (k *keeper) tableFor(q profiles.Parameter, w Wanted, isWanted bool) []string {
	everywhere, here := []string{"strip"}, []string{"at", k.venue.Name, "strip"}
	owner := PositionLayer
	if isWanted {
		owner = w.layer()
	}
	switch {
	case owner == PerformerHereLayer:
		return here
	case q.Name == gainName && k.strip.Performer.Dialled != nil && k.strip.Position.dialled() == nil:
		return here // it can't be carried back, and holds for this venue only
	case owner == PerformerLayer:
		return everywhere
	case strings.HasPrefix(q.Name, "send."):
		return here
	}
	return everywhere
}

func (k *keeper) add(q profiles.Parameter, table []string, name string, held profiles.Value) {
	control, _ := k.venue.Desk.Profile.Control(q)
	kept := Kept{Parameter: q, Spec: control.Spec, To: control.Tidy(held)}
	if h, differs := k.heldQ(q, table); differs {
		kept.To = h.back(held)
	}
	if q.Name == gainName {
		kept.To, kept.Dialled = k.gainBack(held, table)
	}
	kept.Path = append(slices.Clone(table), strings.Split(name, ".")...)
	if e, ok := k.layer(table).find(name); ok {
		kept.From, kept.Line = e.Value, e.Origin.Line
	}
	if kept.From != kept.To {
		k.kept = append(k.kept, kept)
	}
}

// layerOf is the layer that a table of the file is.
func layerOf(table []string) Layer {
	if table[0] == "at" {
		return PerformerHereLayer
	}
	return PerformerLayer
}

// layer is the performer's strip that a table of the file holds.
func (k *keeper) layer(table []string) Strip {
	if layerOf(table) == PerformerHereLayer {
		return k.strip.Performer.Here[k.venue.Name].Strip
	}
	return k.strip.Performer.Strip
}

// written gives a value's name as a strip writes it, with mixes by name.
func (k *keeper) written(q profiles.Parameter, w Wanted, isWanted bool) string {
	if isWanted {
		return w.Written
	}
	words := strings.Split(q.Name, ".")
	if number, ok := sendNumber(words); ok {
		words[1] = k.venue.MixName(number)
	}
	return strings.Join(words, ".")
}

func (k *keeper) hasMixName(q profiles.Parameter) bool {
	number, isSend := sendNumber(strings.Split(q.Name, "."))
	return !isSend || slices.ContainsFunc(k.venue.Mixes, func(m NamedMix) bool { return m.Number == number })
}

// sendNumber gives the mix that a desk's name sends to.
func sendNumber(words []string) (int, bool) {
	if words[0] != "send" || len(words) < 3 {
		return 0, false
	}
	number, err := strconv.Atoi(words[1])
	return number, err == nil
}
