package agent

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"deskhand/osc"
	"deskhand/profiles/source"
)

// What begins so is meant for the agent.
const remoteRoot = "/deskhand/"

// Bounds of what a request may hold.
const (
	longestID   = 64  // bytes
	longestName = 128 // bytes
	highestRise = 40  // dB, as on the command line; more is a slip, and would be heard as one
)

// A float32 counts without gaps up to here, and a float64 up to there.
const (
	floatCounts  = 1 << 24
	doubleCounts = 1 << 53
)

// remoteID is the mark that a sender puts on a request: an int64, a string, or nil where there was none to be read.
type remoteID struct{ mark any }

func (id remoteID) String() string {
	if text, ok := id.mark.(string); ok {
		return fmt.Sprintf("%q", text)
	}
	return fmt.Sprint(id.mark)
}

// request is one message that was understood. What is wanted is an Ask, an askHold or an askStatus, and comparable.
type request struct {
	id   remoteID
	want fmt.Stringer
}

type (
	askHold   struct{ on bool }
	askStatus struct{}
)

func (a askHold) String() string {
	if a.on {
		return "hold on"
	}
	return "hold off"
}

func (askStatus) String() string { return "status" }

// form is what the arguments of a request are, after its id.
type form struct {
	names       []string // of the arguments
	least, most int
	read        func(arguments []any) (fmt.Stringer, error)
}

// requests are the addresses of all requests.
func requests() []string {
	return []string{remoteRoot + "swap", remoteRoot + "scene", remoteRoot + "next", remoteRoot + "undo", remoteRoot + "hold", remoteRoot + "status"}
}

func formOf(address string) (form, bool) {
	switch address {
	case remoteRoot + "swap":
		return form{[]string{"position", "performer", "[rise]"}, 2, 3, readSwap}, true
	case remoteRoot + "scene":
		return form{[]string{"scene"}, 1, 1, readScene}, true
	case remoteRoot + "next":
		return form{read: func([]any) (fmt.Stringer, error) { return AskNext{From: WhicheverIsOn}, nil }}, true
	case remoteRoot + "undo":
		return form{read: func([]any) (fmt.Stringer, error) { return AskUndo{}, nil }}, true
	case remoteRoot + "hold":
		return form{[]string{"on|off"}, 1, 1, readHold}, true
	case remoteRoot + "status":
		return form{read: func([]any) (fmt.Stringer, error) { return askStatus{}, nil }}, true
	}
	return form{}, false
}

// isAnswer reports whether an address is one of our own answers. They are never answered, or two agents that list each
// other would go on for ever.
func isAnswer(address string) bool {
	return slices.Contains([]string{doneAddress, failedAddress, takenAddress, stateAddress}, address)
}

// readRequest reads a message whose address is ours. With an error, which says what is wrong, the request has its id as
// far as that could be read.
func readRequest(h osc.Heard) (request, error) {
	f, ok := formOf(h.Address)
	switch {
	case !ok && osc.IsPattern(h.Address):
		return request{}, errors.New("an address pattern is no request: write one address out")
	case !ok:
		return request{}, fmt.Errorf("there is no such request%s", source.DidYouMean(h.Address, requests()))
	case h.Untyped:
		return request{}, fmt.Errorf("the message has no type tag string, so its arguments can't be known: send %s with types", h.Address)
	case len(h.Arguments) == 0:
		return request{}, fmt.Errorf("no arguments came: %s", f.usage(h.Address))
	}
	id, err := readID(h.Arguments[0])
	if err != nil {
		return request{}, fmt.Errorf("%w: %s", err, f.usage(h.Address))
	}
	r := request{id: id}
	rest := h.Arguments[1:]
	if len(rest) < f.least || len(rest) > f.most {
		return r, fmt.Errorf("%d arguments came: %s", len(h.Arguments), f.usage(h.Address))
	}
	if r.want, err = f.read(rest); err != nil {
		return r, fmt.Errorf("%w: %s", err, f.usage(h.Address))
	}
	return r, nil
}

func (f form) usage(address string) string {
	return strings.Join(append([]string{"send", address, "id"}, f.names...), " ")
}

func readSwap(arguments []any) (fmt.Stringer, error) {
	position, err := readName("position", arguments[0])
	if err != nil {
		return nil, err
	}
	performer, err := readName("performer", arguments[1])
	if err != nil {
		return nil, err
	}
	ask := AskSwap{Position: position, Performer: performer}
	if len(arguments) == 2 {
		return ask, nil
	}
	rise, ok := osc.Number(arguments[2])
	if !ok {
		return nil, fmt.Errorf("the rise must be a number of dB, and it is %s", kindOf(arguments[2]))
	}
	if !(rise >= 0 && rise <= highestRise) {
		return nil, fmt.Errorf("the rise is %v, expected 0 to %d dB", rise, highestRise)
	}
	ask.Rise = math.Abs(rise) // which makes -0 a plain 0
	return ask, nil
}

func readScene(arguments []any) (fmt.Stringer, error) {
	scene, err := readName("scene", arguments[0])
	return AskScene{scene}, err
}

func readHold(arguments []any) (fmt.Stringer, error) {
	on, err := readSwitch(arguments[0])
	return askHold{on}, err
}

// readID takes whole numbers in whatever type, as many senders know floats only, and texts.
func readID(argument any) (remoteID, error) {
	if text, ok := osc.Text(argument); ok {
		return remoteID{text}, checkText("id", text, longestID)
	}
	switch v := argument.(type) {
	case int32:
		return remoteID{int64(v)}, nil
	case int64:
		return remoteID{v}, nil
	case float32:
		return wholeID(float64(v), floatCounts)
	case float64:
		return wholeID(v, doubleCounts)
	}
	return remoteID{}, fmt.Errorf("the id must be an int or a text, and it is %s", kindOf(argument))
}

func wholeID(v, counts float64) (remoteID, error) {
	if !(math.Abs(v) < counts) || v != math.Trunc(v) {
		return remoteID{}, fmt.Errorf("the id is %v, and a float counts in whole numbers below %.0f only", v, counts)
	}
	return remoteID{int64(v)}, nil
}

func readName(what string, argument any) (string, error) {
	text, ok := osc.Text(argument)
	if !ok {
		return "", fmt.Errorf("the %s must be a text, and it is %s", what, kindOf(argument))
	}
	return text, checkText(what, text, longestName)
}

func checkText(what, text string, longest int) error {
	switch {
	case text == "":
		return fmt.Errorf("the %s is empty", what)
	case len(text) > longest:
		return fmt.Errorf("the %s has %d bytes, expected at most %d", what, len(text), longest)
	case !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }):
		return fmt.Errorf("the %s has characters that can't be printed", what)
	}
	return nil
}

func readSwitch(argument any) (bool, error) {
	if on, ok := argument.(bool); ok {
		return on, nil
	}
	n, isNumber := osc.Number(argument)
	text, _ := osc.Text(argument)
	switch {
	case isNumber && n == 1 || text == "on":
		return true, nil
	case isNumber && n == 0 || text == "off":
		return false, nil
	case isNumber:
		return false, fmt.Errorf("%v is neither on nor off: that is T or F, 1 or 0, or a word", n)
	}
	return false, fmt.Errorf("%s is neither on nor off: that is T or F, 1 or 0, or a word", kindOf(argument))
}

// kindOf says for a person what type an argument has.
func kindOf(argument any) string {
	switch v := argument.(type) {
	case nil:
		return "nothing"
	case bool:
		return "true or false"
	case int32, int64:
		return "an int"
	case float32, float64:
		return "a float"
	case string, osc.Symbol:
		text, _ := osc.Text(v)
		return fmt.Sprintf("the text %q", onOneLine(text, 40))
	case []byte:
		return "a blob"
	case osc.Array:
		return "a list"
	default:
		return "of another type"
	}
}
