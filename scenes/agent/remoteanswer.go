package agent

import (
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"deskhand/osc"
)

// The addresses of the answers. The first argument of each is the id of the request.
const (
	takenAddress  = remoteRoot + "taken"  // id, how many go before it: it will be done, or is being done
	doneAddress   = remoteRoot + "done"   // id, text, confirmed, not confirmed
	failedAddress = remoteRoot + "failed" // id, code, text
	stateAddress  = remoteRoot + "state"  // id, and as in state
)

// Bounds of an answer, such that it goes over the network in one piece, which is some 1400 bytes.
const (
	longestText  = 600 // bytes
	longestWord  = 64  // bytes
	roomForWhoOn = 700 // bytes
)

// argument is the id as it goes into an answer: an int where it fits, a long, or a text; "" where there was none.
func (id remoteID) argument() any {
	switch v := id.mark.(type) {
	case int64:
		if v >= math.MinInt32 && v <= math.MaxInt32 {
			return int32(v)
		}
		return v
	case string:
		return v
	}
	return ""
}

func takenAnswer(id remoteID, before int) osc.Message {
	return osc.Message{Address: takenAddress, Arguments: []any{id.argument(), countArgument(before)}}
}

func doneAnswer(id remoteID, d RemoteDone) osc.Message {
	return osc.Message{Address: doneAddress, Arguments: []any{id.argument(), onOneLine(d.Text, longestText), countArgument(d.Confirmed), countArgument(d.NotConfirmed)}}
}

func failedAnswer(id remoteID, code Code, text string) osc.Message {
	return osc.Message{Address: failedAddress, Arguments: []any{id.argument(), onOneLine(string(code), longestWord), onOneLine(text, longestText)}}
}

// remoteWork is what Remote itself knows of how things stand.
type remoteWork struct {
	doing   string // "" for nothing
	waiting int
	counts  RemoteCounts
}

// state has a fixed number of arguments, then a position and its performer for each position that there is room for.
func stateAnswer(id remoteID, s RemoteState, w remoteWork) osc.Message {
	word := func(text string) any { return onOneLine(text, longestWord) }
	arguments := []any{
		id.argument(), word(s.Venue), word(string(s.Desk)), flagArgument(s.Hold), word(s.Scene), word(s.Next),
		word(w.doing), countArgument(w.waiting), countArgument(s.Unsettled),
		countArgument(w.counts.Strangers), countArgument(w.counts.Nonsense), countArgument(w.counts.Lost), countArgument(len(s.On)),
	}
	room := roomForWhoOn
	for _, on := range s.On {
		position, performer := onOneLine(on.Position, longestWord), onOneLine(on.Performer, longestWord)
		// Each text has up to 4 bytes of padding, and a type tag.
		if room -= len(position) + len(performer) + 10; room < 0 {
			break
		}
		arguments = append(arguments, position, performer)
	}
	return osc.Message{Address: stateAddress, Arguments: arguments}
}

func flagArgument(on bool) int32 {
	if on {
		return 1
	}
	return 0
}

// countArgument gives a number as an int32, the highest of which stands for all above.
func countArgument[T int | uint64](n T) int32 { return int32(min(n, math.MaxInt32)) }

// onOneLine gives a text on one line and in so many bytes at most, with "..." where something is left out.
func onOneLine(text string, most int) string {
	text = strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}, text)
	if len(text) <= most {
		return text
	}
	end := most - len("...")
	for end > 0 && !utf8.RuneStart(text[end]) {
		end--
	}
	return text[:end] + "..."
}
