package profiles

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// Kind says what sort of values a parameter takes.
type Kind uint8

// The kinds of value.
const (
	// Quantity is a number with a unit, or a plain count.
	Quantity Kind = iota
	// Level is a number in dB. It may be -inf where the desk has silence.
	Level
	// Toggle is a switch, on or off.
	Toggle
	// Choice is a word out of the desk's list.
	Choice
	// Text is free text of a limited length.
	Text
)

// String gives the kind as messages name it.
func (k Kind) String() string {
	return [...]string{"number", "level", "switch", "choice", "text"}[k]
}

// Class says what changing a parameter does to the room, which decides when a
// recall may send it.
type Class uint8

// The classes of parameter.
const (
	// Tone shapes the sound and leaves its level about where it is.
	Tone Class = iota
	// NameOnly moves no sound.
	NameOnly
	// Loudness makes it louder or softer, or opens a way for it.
	Loudness
	// Noise bangs or pops in the loudspeakers while it changes.
	Noise
)

// String gives the class as a profile writes it.
func (c Class) String() string { return [...]string{"tone", "name", "loudness", "noise"}[c] }

// Unit is the unit of a number, as the trade writes it.
type Unit string

// The units of the catalogue.
const (
	NoUnit  Unit = ""
	Decibel Unit = "dB"
	Hertz   Unit = "Hz"
	Millis  Unit = "ms"
	PerOct  Unit = "dB/octave"
	Quality Unit = "Q"
	Ratio   Unit = ":1"
	// PanUnit runs from -100, left, to 100, right.
	PanUnit Unit = "pan"
)

// Spec describes a parameter as the trade knows it, on whichever desk.
type Spec struct {
	// Name is the name at a place. The words band, mix and group in it stand for a
	// number: "eq.band.gain".
	Name string
	// Label is what people call it: "low cut", "EQ {band} gain".
	Label string
	Kind  Kind
	Unit  Unit
	// Lowest and Highest bound what any desk could mean, in Unit. A parameter whose
	// Lowest is -inf may reach silence.
	Lowest, Highest float64
	// Words are the choices there are; a desk may have fewer.
	Words []string
	Class Class
	// Parts are the places that may have it.
	Parts []Part
}

// Catalogue lists the parameters that every file of the book may use, in the
// order in which people read a channel from top to bottom. What its elements
// point to must not be changed.
func Catalogue() []Spec { return slices.Clone(catalogue) }

var (
	onChannel  = []Part{Channel}
	everywhere = []Part{Channel, Mix, Main}

	// noLowest is the lowest bound of what may reach silence.
	noLowest = math.Inf(-1)
)

// The limits here are wide: they are there to find a slip of the pen in a
// profile, not to describe a good desk.
var catalogue = []Spec{
	{Name: "label", Label: "label", Kind: Text, Class: NameOnly, Parts: everywhere},
	{Name: "colour", Label: "colour", Kind: Choice, Class: NameOnly, Parts: everywhere,
		Words: []string{"none", "red", "orange", "yellow", "green", "blue", "violet", "white"}},
	{Name: "source", Label: "source", Kind: Quantity, Lowest: 0, Highest: 1024, Class: Noise, Parts: onChannel},
	{Name: "group.group", Label: "in group {group}", Kind: Toggle, Class: Loudness, Parts: onChannel},

	{Name: "input.gain", Label: "gain", Kind: Level, Unit: Decibel, Lowest: -40, Highest: 90, Class: Loudness, Parts: onChannel},
	{Name: "input.trim", Label: "trim", Kind: Level, Unit: Decibel, Lowest: -40, Highest: 40, Class: Loudness, Parts: onChannel},
	{Name: "input.pad", Label: "pad", Kind: Toggle, Class: Noise, Parts: onChannel},
	{Name: "input.phantom", Label: "phantom", Kind: Toggle, Class: Noise, Parts: onChannel},
	{Name: "input.invert", Label: "polarity inverted", Kind: Toggle, Class: Tone, Parts: onChannel},
	{Name: "input.delay", Label: "delay", Kind: Quantity, Unit: Millis, Lowest: 0, Highest: 5000, Class: Tone, Parts: onChannel},

	{Name: "lowcut.on", Label: "low cut switch", Kind: Toggle, Class: Tone, Parts: onChannel},
	{Name: "lowcut.frequency", Label: "low cut", Kind: Quantity, Unit: Hertz, Lowest: 5, Highest: 2000, Class: Tone, Parts: onChannel},
	{Name: "lowcut.slope", Label: "low cut slope", Kind: Quantity, Unit: PerOct, Lowest: 6, Highest: 96, Class: Tone, Parts: onChannel},

	{Name: "gate.on", Label: "gate", Kind: Toggle, Class: Tone, Parts: onChannel},
	{Name: "gate.threshold", Label: "gate threshold", Kind: Level, Unit: Decibel, Lowest: -120, Highest: 30, Class: Tone, Parts: onChannel},
	{Name: "gate.range", Label: "gate range", Kind: Level, Unit: Decibel, Lowest: 0, Highest: 120, Class: Tone, Parts: onChannel},
	{Name: "gate.attack", Label: "gate attack", Kind: Quantity, Unit: Millis, Lowest: 0, Highest: 5000, Class: Tone, Parts: onChannel},
	{Name: "gate.hold", Label: "gate hold", Kind: Quantity, Unit: Millis, Lowest: 0, Highest: 10000, Class: Tone, Parts: onChannel},
	{Name: "gate.release", Label: "gate release", Kind: Quantity, Unit: Millis, Lowest: 0, Highest: 20000, Class: Tone, Parts: onChannel},

	{Name: "eq.on", Label: "EQ", Kind: Toggle, Class: Tone, Parts: everywhere},
	{Name: "eq.band.on", Label: "EQ {band}", Kind: Toggle, Class: Tone, Parts: everywhere},
	{Name: "eq.band.kind", Label: "EQ {band} kind", Kind: Choice, Class: Tone, Parts: everywhere,
		Words: []string{"bell", "low-shelf", "high-shelf", "low-pass", "high-pass", "notch"}},
	{Name: "eq.band.frequency", Label: "EQ {band} frequency", Kind: Quantity, Unit: Hertz, Lowest: 5, Highest: 40000, Class: Tone, Parts: everywhere},
	{Name: "eq.band.gain", Label: "EQ {band} gain", Kind: Level, Unit: Decibel, Lowest: -40, Highest: 40, Class: Loudness, Parts: everywhere},
	{Name: "eq.band.q", Label: "EQ {band} Q", Kind: Quantity, Unit: Quality, Lowest: 0.05, Highest: 200, Class: Tone, Parts: everywhere},

	{Name: "compressor.on", Label: "compressor", Kind: Toggle, Class: Loudness, Parts: everywhere},
	{Name: "compressor.threshold", Label: "compressor threshold", Kind: Level, Unit: Decibel, Lowest: -120, Highest: 30, Class: Loudness, Parts: everywhere},
	{Name: "compressor.ratio", Label: "compressor ratio", Kind: Quantity, Unit: Ratio, Lowest: 1, Highest: 1000, Class: Loudness, Parts: everywhere},
	{Name: "compressor.attack", Label: "compressor attack", Kind: Quantity, Unit: Millis, Lowest: 0, Highest: 5000, Class: Tone, Parts: everywhere},
	{Name: "compressor.hold", Label: "compressor hold", Kind: Quantity, Unit: Millis, Lowest: 0, Highest: 10000, Class: Tone, Parts: everywhere},
	{Name: "compressor.release", Label: "compressor release", Kind: Quantity, Unit: Millis, Lowest: 0, Highest: 20000, Class: Tone, Parts: everywhere},
	{Name: "compressor.knee", Label: "compressor knee", Kind: Level, Unit: Decibel, Lowest: 0, Highest: 60, Class: Tone, Parts: everywhere},
	{Name: "compressor.makeup", Label: "compressor make-up", Kind: Level, Unit: Decibel, Lowest: -30, Highest: 60, Class: Loudness, Parts: everywhere},

	{Name: "send.mix.on", Label: "to {mix} switch", Kind: Toggle, Class: Loudness, Parts: onChannel},
	{Name: "send.mix.level", Label: "to {mix}", Kind: Level, Unit: Decibel, Lowest: noLowest, Highest: 40, Class: Loudness, Parts: onChannel},
	{Name: "send.mix.tap", Label: "to {mix} tap", Kind: Choice, Class: Loudness, Parts: onChannel, Words: []string{"pre", "post"}},
	{Name: "send.mix.pan", Label: "to {mix} pan", Kind: Quantity, Unit: PanUnit, Lowest: -100, Highest: 100, Class: Tone, Parts: onChannel},

	{Name: "pan", Label: "pan", Kind: Quantity, Unit: PanUnit, Lowest: -100, Highest: 100, Class: Tone, Parts: onChannel},
	{Name: "main", Label: "to main", Kind: Toggle, Class: Loudness, Parts: onChannel},
	{Name: "mute", Label: "mute", Kind: Toggle, Class: Loudness, Parts: everywhere},
	{Name: "fader", Label: "fader", Kind: Level, Unit: Decibel, Lowest: noLowest, Highest: 40, Class: Loudness, Parts: everywhere},
}

// counterAfter gives the word that stands for the number after a word of a name:
// what follows "eq" is a band. It gives "" after every other word.
func counterAfter(word string) string {
	switch word {
	case "eq":
		return "band"
	case "send":
		return "mix"
	case "group":
		return "group"
	}
	return ""
}

// counters are the words of a name that stand for a number.
var counters = []string{"band", "mix", "group"}

// Family gives a name with its numbers put back into words, "eq.2.gain" ->
// "eq.band.gain", and those numbers by word. A name without numbers is its own
// family. A number that follows no word of the catalogue is left as it is.
func Family(name string) (string, map[string]int) {
	var numbers map[string]int
	family := withoutNumbers(name, func(counter string, n int) {
		if numbers == nil {
			numbers = make(map[string]int, 1)
		}
		numbers[counter] = n
	})
	return family, numbers
}

// FamilyName gives the family of a name, as [Family], and leaves its numbers out.
func FamilyName(name string) string { return withoutNumbers(name, func(string, int) {}) }

// withoutNumbers puts numbers back into words, and tells each.
func withoutNumbers(name string, tell func(counter string, n int)) string {
	if !strings.ContainsAny(name, "123456789") {
		return name
	}
	words := strings.Split(name, ".")
	for i := 1; i < len(words); i++ {
		n, ok := countingNumber(words[i])
		if counter := counterAfter(words[i-1]); ok && counter != "" {
			words[i] = counter
			tell(counter, n)
		}
	}
	return strings.Join(words, ".")
}

// countingNumber reads a number from 1 in the one way in which a name writes it,
// so that "2" and "02" are never two names of one thing.
func countingNumber(word string) (int, bool) {
	if word == "" || word[0] < '1' || word[0] > '9' {
		return 0, false
	}
	n, err := strconv.Atoi(word)
	return n, err == nil && strconv.Itoa(n) == word
}
