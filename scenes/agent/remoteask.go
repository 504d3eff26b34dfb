package agent

import "context"

// RemoteDoer does what senders ask for.
type RemoteDoer interface {
	// Do does what is asked for, and may take seconds. It is called for one thing at a time. When the context ends it
	// comes to a safe end within a second, and says what was done. An error that is a *RemoteFailure goes to the sender
	// with its code, others with CodeTrouble. What was asked for when there were fewer absences than by now is not done.
	Do(ctx context.Context, ask Ask, absences uint64) (RemoteDone, error)
	// Absences counts how often the computer slept, or nobody was there otherwise.
	Absences() uint64
	// Hold has the agent do nothing of its own accord until it is told to go on: no saved file goes to the desk, and no
	// hand move into a file. What is asked for is done all the same. It returns at once, also while Do is at work.
	Hold(on bool)
	// State says how things stand. It returns at once, also while Do is at work.
	State() RemoteState
}

// RemoteDone is what was done.
type RemoteDone struct {
	// Text says it in a line, for a person.
	Text string
	// Confirmed and NotConfirmed count the settings that the desk reported holding, and the others.
	Confirmed, NotConfirmed int
}

// Code is why a request failed, in a word for programs.
type Code string

// The codes. After the first six nothing was sent to the desk, and the rest come from a RemoteDoer.
const (
	CodeWrong   Code = "wrong"   // the request can't be understood
	CodeIDUsed  Code = "id-used" // its id was that of another request a moment ago
	CodeBusy    Code = "busy"    // too many requests wait
	CodeEnding  Code = "ending"  // the agent is ending
	CodeLate    Code = "late"    // the computer slept since it was asked for
	CodeBook    Code = "book"    // the book has no such name, or a fault
	CodeRefused Code = "refused" // a limit or a safe of the venue; nothing was sent
	CodeDesk    Code = "desk"    // the desk doesn't answer, or is another; nothing was sent
	CodeBroken  Code = "broken"  // it broke off half-way; what was not finished stays muted
	CodeTrouble Code = "trouble" // anything else
)

// RemoteFailure is an error of RemoteDoer.Do with its code.
type RemoteFailure struct {
	Code Code
	Text string
}

// Error gives the text.
func (f *RemoteFailure) Error() string { return f.Text }

// DeskState is how the desk is.
type DeskState string

// How a desk can be.
const (
	DeskThere  DeskState = "there"
	DeskSilent DeskState = "silent"
	DeskOther  DeskState = "other" // what answers is another desk than the venue's
)

// RemoteState is how things stand with the agent.
type RemoteState struct {
	Venue string
	Desk  DeskState
	Hold  bool
	// Scene was sent last, and Next is the one after it in the running order; "" where there is none.
	Scene, Next string
	// Unsettled counts the settings that were changed in a file and on the desk, and wait for a person.
	Unsettled int
	// On says who is on which position, in the order of the venue's file.
	On []RemoteOn
}

// RemoteOn is who is on a position, "" for nobody.
type RemoteOn struct{ Position, Performer string }
