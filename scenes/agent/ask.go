package agent

import (
	"fmt"
	"time"

	"deskhand/profiles/source"
)

// Ask is what somebody asks for, at the keys or over the network. Two that are equal ask for the same. Names are as they
// were typed or sent: they fit on a line, and may be in no book.
type Ask interface {
	fmt.Stringer
	isAsk()
}

// Rise in an Ask is by how many dB it may get louder, over the venue's limit; 0 allows no more than the venue.
type (
	// AskSwap is for another performer at a position; Fade is over which time, 0 for at once.
	AskSwap struct {
		Position, Performer string
		Rise                float64
		Fade                time.Duration
	}
	// AskScene is for a scene by its name.
	AskScene struct{ Scene string }
	// AskNext is for the next scene of the running order, AskBack for the one before. From is the number of the scene that
	// whoever asks takes to be on, so that two who ask at once, or one who asks twice, move by one scene; -1 for whichever is.
	AskNext struct {
		From int
		Rise float64
	}
	AskBack struct {
		From int
		Rise float64
	}
	// AskItem is for a scene of the running order by its number, from 1: the one that is on, to set it anew, or any other.
	AskItem struct {
		Number int
		Rise   float64
	}
	// AskUndo is for the desk as it was before the last recall.
	AskUndo struct{ Rise float64 }
	// AskKeep is for what hands have moved at a position, into the performer's file.
	AskKeep struct{ Position string }
	// AskMute is for all positions of the venue to be muted, at once: what is being done is cut short.
	AskMute struct{}
)

// Louder is an [Ask] that can be let through though it gets louder than the venue's limit.
type Louder interface {
	Ask
	// Allowing is the same with a rise allowed, in dB.
	Allowing(rise float64) Ask
}

// Allowing lets the swap get louder.
func (a AskSwap) Allowing(rise float64) Ask { a.Rise = rise; return a }

// Allowing lets the next scene get louder.
func (a AskNext) Allowing(rise float64) Ask { a.Rise = rise; return a }

// Allowing lets the scene before get louder.
func (a AskBack) Allowing(rise float64) Ask { a.Rise = rise; return a }

// Allowing lets the scene get louder.
func (a AskItem) Allowing(rise float64) Ask { a.Rise = rise; return a }

// Allowing lets the way back get louder.
func (a AskUndo) Allowing(rise float64) Ask { a.Rise = rise; return a }

func (AskSwap) isAsk()  {}
func (AskScene) isAsk() {}
func (AskNext) isAsk()  {}
func (AskBack) isAsk()  {}
func (AskItem) isAsk()  {}
func (AskUndo) isAsk()  {}
func (AskKeep) isAsk()  {}
func (AskMute) isAsk()  {}

// String says it in the words of the command line.
func (a AskSwap) String() string {
	text := "swap " + a.Position + " " + a.Performer
	if a.Fade > 0 {
		text += " --fade " + a.Fade.String()
	}
	return text + sayAllowed(a.Rise)
}

// String says it for a person.
func (a AskScene) String() string { return "scene " + a.Scene }

// String says it for a person.
func (a AskNext) String() string { return "next scene" + sayAllowed(a.Rise) }

// String says it for a person.
func (a AskBack) String() string { return "scene before" + sayAllowed(a.Rise) }

// String says it for a person.
func (a AskItem) String() string { return fmt.Sprintf("scene %d", a.Number) + sayAllowed(a.Rise) }

// String says it for a person.
func (a AskUndo) String() string { return "undo" + sayAllowed(a.Rise) }

// String says it in the words of the command line.
func (a AskKeep) String() string { return "keep " + a.Position }

// String says it for a person.
func (AskMute) String() string { return "mute all positions" }

func sayAllowed(rise float64) string {
	if rise == 0 {
		return ""
	}
	return " --allow-rise " + source.FormatNumber(rise)
}

// Beside is the error of an [AskNext] or [AskBack] from a scene that is not on any more.
type Beside struct{ From, On int }

func (e *Beside) Error() string {
	return fmt.Sprintf("scene %d is on by now, and not %d: nothing was sent", e.On, e.From)
}

// ErrHeld says that nothing is sent until the hold is released.
var ErrHeld = fmt.Errorf("held: nothing is sent until the hold is released")
