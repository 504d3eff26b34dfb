package agent

import (
	"time"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/recall"
)

// Event is something that the agent saw or did. Only the fields of its kind are set.
type Event struct {
	Time time.Time
	Kind Kind
	// Position is where it happened, "" where it is no one position's.
	Position  string
	Performer string
	// Changes are what differs: From is what was, To what is now. See the kinds.
	Changes []scenes.Change
	// Asked is what was asked for, nil for what nobody asked for, and By by whom: one of
	// [scenes.ByUs] and [scenes.ByRemote].
	Asked Ask
	By    string
	// Text says more, for a person.
	Text string
	// Faults are those of files.
	Faults source.Faults
	// Plan and Result are those of a recall; Err is why it did not come to its end.
	Plan   *recall.Plan
	Result *recall.Result
	Err    error
	// Kept are the values that went into File, and Apart what did not.
	Kept  []scenes.Kept
	Apart []scenes.Apart
	File  string
	// Old and New are the texts of File before and after.
	Old, New []byte
}

// Kind is what an event tells.
type Kind string

// The kinds of event.
const (
	// Began: the desk is there. Changes lead from what file and desk last agreed on to
	// what was found.
	Began Kind = "began"
	// Fault: a file is wrong; what it last said stays in force.
	Fault Kind = "fault"
	// Saved: a file now says otherwise than the desk holds, and it is not sent: Changes lead
	// from what the desk holds to what the file says. Safe and Hand in them say why.
	Saved Kind = "saved"
	// Moved: a hand moved something, and it is not written; Changes lead from what was
	// agreed to what the desk holds. Apart says why, where that is not for want of
	// being asked.
	Moved Kind = "moved"
	// Held: both the file and the desk changed, or the desk changed while nobody was
	// looking. Nothing is overwritten until a person settles it: Changes lead from what the
	// desk holds to what the file says.
	Held Kind = "held"
	// Recalled: a file was taken to the desk.
	Recalled Kind = "recalled"
	// Refused: it was not, because of a limit or a safe.
	Refused Kind = "refused"
	// Wrote: what a hand did went into a file.
	Wrote Kind = "wrote"
	// Silent: the desk does not answer. Back: it does again, or it was switched off and on
	// meanwhile; Changes lead from what was to what is.
	Silent Kind = "silent"
	Back   Kind = "back"
	// Awoke: nobody looked for a while, as the computer slept, or the clock was set; Text says
	// what is known of it. Where the desk may have been moved meanwhile, it is met anew after
	// it, as one that is back.
	Awoke Kind = "awoke"
	// Other: another desk answers than the venue's.
	Other Kind = "other"
	// Remoted: requests over the network are taken at Text.
	Remoted Kind = "remote"
	// Trouble: something else went wrong, and the agent goes on.
	Trouble Kind = "trouble"
)
