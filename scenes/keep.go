package scenes

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
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
}

// Apart is a value of the desk that differs and is not for the performer's file.
type Apart struct {
	Parameter profiles.Parameter
	Spec      profiles.Spec
	Wanted    profiles.Value
	Held      profiles.Value
	Why       string
}

// Keep works out what of a position's values goes into the performer's file: what
// the layers set and the desk holds otherwise, and of the rest what moved names.
// With only, it is limited to names that begin with one of its words.
func (v *Venue) Keep(r *Resolved, holds Values, moved func(profiles.Parameter) bool, only []string) ([]Kept, []Apart) {
	k := keeper{venue: v, strip: r, holds: holds, wanted: make(map[profiles.Parameter]Wanted)}
	for _, w := range r.Wanted {
		k.wanted[w.Parameter] = w
	}
	for _, q := range v.Desk.Profile.At(r.Position.Place()) {
		held, known := holds[q]
		if !known || !named(q.Name, only) || q.Name == "mute" {
			continue
		}
		control, _ := v.Desk.Profile.Control(q)
		w, isWanted := k.wanted[q]
		switch {
		case isWanted && control.Same(w.Value, held):
		case isWanted:
			k.differs(control, w, held)
		case k.inNewBand(q) || moved(q) || len(only) > 0:
			k.add(control, q, []string{"strip"}, k.written(q.Name), held)
		}
	}
	return k.kept, k.apart
}

func named(name string, only []string) bool {
	return len(only) == 0 || slices.ContainsFunc(only, func(o string) bool {
		return beginsWith(strings.Split(name, "."), strings.Split(o, "."))
	})
}

type keeper struct {
	venue  *Venue
	strip  *Resolved
	holds  Values
	wanted map[profiles.Parameter]Wanted
	kept   []Kept
	apart  []Apart
}

// differs decides where a value goes that the layers set and the desk holds
// otherwise.
func (k *keeper) differs(control *profiles.Control, w Wanted, held profiles.Value) {
	why := ""
	switch {
	case w.Origin.Layer == MicrophoneLayer:
		why = "phantom power follows the microphone (" + w.Origin.String() + ")"
	case w.Room:
		why = "this band is the room's: change it in " + w.Origin.String()
	case w.Origin.Layer == SceneLayer:
		why = "the scene sets it: change it in " + w.Origin.String()
	}
	if why != "" {
		k.apart = append(k.apart, Apart{w.Parameter, control.Spec, w.Value, held, why})
		return
	}
	table := []string{"strip"}
	if w.Origin.Layer == PerformerHereLayer {
		table = []string{"at", k.venue.Name, "strip"}
	}
	k.add(control, w.Parameter, table, w.Written, held)
}

func (k *keeper) add(control *profiles.Control, q profiles.Parameter, table []string, name string, held profiles.Value) {
	kept := Kept{Parameter: q, Spec: control.Spec, To: control.Tidy(held)}
	if q.Name == "input.gain" {
		kept.To = k.gainBack(control, held, k.dialledFor(table))
	}
	kept.Path = append(slices.Clone(table), strings.Split(name, ".")...)
	if e, ok := k.layer(table).find(name); ok {
		kept.From, kept.Line = e.Value, e.Origin.Line
	}
	if kept.From != kept.To {
		k.kept = append(k.kept, kept)
	}
}

// layer is the performer's strip that a table of the file holds.
func (k *keeper) layer(table []string) Strip {
	if table[0] == "at" {
		return k.strip.Performer.Here[k.venue.Name].Strip
	}
	return k.strip.Performer.Strip
}

func (k *keeper) dialledFor(table []string) *Dialled {
	if table[0] == "at" {
		return k.strip.Performer.Here[k.venue.Name].Dialled
	}
	return k.strip.Performer.Dialled
}

// gainBack gives the gain as the file keeps it, under the microphone and distance
// that it was dialled in with, so that it carries over to the step that the desk
// holds.
func (k *keeper) gainBack(control *profiles.Control, held profiles.Value, dialled *Dialled) profiles.Value {
	m, distance := k.strip.Position.Microphone, k.strip.Position.Distance
	if dialled == nil || m == nil || distance == 0 {
		return control.Tidy(held)
	}
	today := Dialled{Sensitivity: m.Sensitivity, Distance: distance}
	gain, _ := held.Number()
	exact := CarryGain(gain, today, *dialled)
	for decimals := 1; decimals < 6; decimals++ {
		scale := math.Pow10(decimals)
		short := math.Round(exact*scale) / scale
		if control.Same(profiles.Number(CarryGain(short, *dialled, today)), held) {
			return profiles.Number(short)
		}
	}
	return profiles.Number(exact)
}

// inNewBand reports whether a parameter belongs to a band of EQ that nobody's file
// uses and that a hand has switched on: all of it must be kept, or none.
func (k *keeper) inNewBand(q profiles.Parameter) bool {
	number, _, ok := bandField(q.Name)
	if !ok {
		return false
	}
	switchOn := profiles.Parameter{Place: q.Place, Name: bandName(number, "on")}
	w := k.wanted[switchOn]
	on, isSwitch := k.holds[switchOn].On()
	wantOn, _ := w.Value.On()
	return isSwitch && on && !wantOn && w.Origin.Layer == ImpliedLayer
}

// written gives a desk's name as a strip writes it, with mixes by name.
func (k *keeper) written(name string) string {
	words := strings.Split(name, ".")
	if words[0] == "send" && len(words) > 2 {
		if number, err := strconv.Atoi(words[1]); err == nil {
			words[1] = k.venue.MixName(number)
		}
	}
	return strings.Join(words, ".")
}

// KeepText gives a performer's file as it is and as it will be with the values kept.
func (b *Book) KeepText(performer string, kept []Kept) (old, text []byte, err error) {
	d, err := b.document(Performers, performer)
	if err != nil {
		return nil, nil, err
	}
	edits := make([]source.Edit, len(kept))
	for i, k := range kept {
		edits[i] = source.Edit{Path: k.Path, Value: k.To.Any()}
	}
	text, err = d.Apply(edits...)
	if err != nil {
		return nil, nil, fmt.Errorf("nothing was written: %w", err)
	}
	if _, err := b.checkPerformer(d.File(), performer, text); err != nil {
		return nil, nil, fmt.Errorf("%s would not be right after that, so nothing was written: %w", d.File(), err)
	}
	return d.Text(), text, nil
}

func (b *Book) checkPerformer(file, name string, text []byte) (*Performer, error) {
	d, err := source.Parse(file, text)
	if err != nil {
		return nil, err
	}
	return readPerformer(d, name, b.words())
}

// ErrReadOnly says that a book of a revision can't be written into.
var ErrReadOnly = errors.New("this is a book of the past")

// Write puts a file's text in place of the old, whole or not at all. It is an error
// if the file has changed meanwhile. A nil old makes a new file.
func (b *Book) Write(file string, old, text []byte) error {
	if b.Dir == "" {
		return fmt.Errorf("%s: %w: nothing can be written", b.label(file), ErrReadOnly)
	}
	path := b.Path(file)
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	return source.Replace(path, old, text)
}

// overwrite is Write for the tool's own files, whatever they hold now.
func (b *Book) overwrite(file string, text []byte) error {
	old, err := os.ReadFile(b.Path(file))
	if errors.Is(err, fs.ErrNotExist) {
		old = nil
	} else if err != nil {
		return err
	}
	return b.Write(file, old, text)
}
