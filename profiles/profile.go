package profiles

import (
	"slices"
	"sort"
	"time"

	"deskhand/osc"
)

// Profile describes one desk model. It does not change after loading and may be
// used from several goroutines.
type Profile struct {
	// Name is what people call the model; see also [Profile.Says].
	Name string
	// About is a line about the model, or "".
	About string
	// File is where the profile was read from, for messages.
	File string
	// Channels and the others count what the desk has; each is 0 where it has none.
	Channels, Mixes, Bands, Groups int
	Link                           Link
	Sound                          Sound

	identity identity
	follow   follow

	parameters []Parameter // by place, see comparePlaces
	entries    map[Parameter]entry
	listed     []entry // by ordinal, from 1
	// tells, asks and answers find what a message is about.
	tells, asks, answers doors
	numbers              map[string]numbering
	blocks               []block // the one that brings most first
	blockAsks            blockAsks
}

// Over is what carries packets to a desk.
type Over uint8

// The links that OSC knows: a packet a datagram, or a stream in which packets are
// framed by SLIP or by their sizes.
const (
	OverUDP Over = iota
	OverSlip
	OverSizes
)

var overNames = []string{"udp", "tcp-slip", "tcp-sizes"}

func (o Over) String() string { return overNames[o] }

// Link is how a desk of this model takes packets.
type Link struct {
	// Over is what carries the packets.
	Over Over
	// Port is the port on which the desk listens.
	Port int
	// Greeting is a message to be sent before all others, Alive one to be repeated
	// after every AliveEvery. Neither is sent where its address is "".
	Greeting, Alive osc.Message
	AliveEvery      time.Duration
	// Bundle is how many bytes a bundle of settings may have, 0 for a desk that
	// takes each message by itself.
	Bundle int
	// Pace is how many messages a second the desk takes; Burst is how many of
	// them may come at once.
	Pace  float64
	Burst int
	// Window is how many questions may be open at once.
	Window int
	// Wait is how long to wait for an answer before asking again, Tries how often
	// to ask.
	Wait  time.Duration
	Tries int
	// Linger is the longest that a packet may be under way.
	Linger time.Duration
	// AnswerPort is the port to which the desk sends its answers, 0 for that from
	// which it was asked.
	AnswerPort int
	// Bundled says that the desk's answers come inside bundles.
	Bundled bool
}

// identity is how a desk is asked who it is.
type identity struct {
	ask, answer string
	says        string
}

// follow is how a desk is asked to tell its changes, until the request lapses. Each
// request is for a place, or for the whole desk.
type follow struct {
	requests []string         // addresses, in the order of their places
	asks     map[string]Place // by address
	lapses   time.Duration
}

// entry is a parameter's control and its address on this desk.
type entry struct {
	control *Control
	address string // "" where OSC does not reach it
	unit    *unit  // likewise nil
	ordinal Ordinal
}

// Parameters lists everything that the desk has, place by place, each from top to
// bottom as people read a channel. The caller must not change it.
func (p *Profile) Parameters() []Parameter { return p.parameters }

// At lists what the desk has at one place. The caller must not change it.
func (p *Profile) At(place Place) []Parameter {
	first, end := p.span(place)
	if first == end {
		return nil
	}
	return p.parameters[first:end:end]
}

// span is where in the list of parameters those of a place are.
func (p *Profile) span(place Place) (first, end int) {
	byPlace := func(q Parameter, at Place) int { return comparePlaces(q.Place, at) }
	first, _ = slices.BinarySearchFunc(p.parameters, place, byPlace)
	rest := p.parameters[first:]
	return first, first + sort.Search(len(rest), func(i int) bool { return rest[i].Place != place })
}

// Control gives the control of a parameter, if the desk has it.
func (p *Profile) Control(q Parameter) (*Control, bool) {
	e, ok := p.entries[q]
	return e.control, ok
}

// Address gives the OSC address of a parameter, or "" if the desk has none.
func (p *Profile) Address(q Parameter) string { return p.entries[q].address }

// Says is the model's name as the desk itself says it.
func (p *Profile) Says() string { return p.identity.says }

// Names lists the names that exist at a part of the desk, for "did you mean".
func (p *Profile) Names(part Part) []string {
	number := 1
	if part == Main {
		number = 0
	}
	var names []string
	for _, q := range p.At(Place{Part: part, Number: number}) {
		names = append(names, q.Name)
	}
	return names
}

// CanAnswer reports whether the desk can be asked anything, or only be told.
func (p *Profile) CanAnswer() bool { return slices.ContainsFunc(p.parameters, p.Askable) }
