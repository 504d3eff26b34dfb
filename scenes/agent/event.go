package agent

import (
	"time"

	"deskhand/profiles"
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
	// Began: the desk is there, and this is what was found.
	Began Kind = "began"
	// Fault: a file is wrong; what it last said stays in force.
	Fault Kind = "fault"
	// Saved: a file now says otherwise than the desk holds, and nothing is sent: Changes
	// lead from what the desk holds to what the file says.
	Saved Kind = "saved"
	// Moved: a hand moved something; Changes lead from what was agreed to what the desk
	// holds.
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
	// Silent: the desk does not answer. Back: it does again.
	Silent Kind = "silent"
	Back   Kind = "back"
	// Other: another desk answers than the venue's.
	Other Kind = "other"
	// Trouble: something else went wrong, and the agent goes on.
	Trouble Kind = "trouble"
)

// standing is how one value stands between the file and the desk.
type standing uint8

const (
	unknown standing = iota
	agrees
	fileMoved
	handMoved
	bothMoved
)

// judge says how a value stands. Wanted is what the file says, no value where it says
// nothing; held is what the desk holds and agreed what both last agreed on, no value where
// that isn't known.
func judge(c *profiles.Control, wanted, held, agreed profiles.Value) standing {
	switch {
	case held.IsZero():
		return unknown
	case !wanted.IsZero() && c.Same(wanted, held):
		return agrees
	case agreed.IsZero() && wanted.IsZero():
		return unknown
	case agreed.IsZero():
		return bothMoved
	case c.Same(agreed, held) && !wanted.IsZero():
		return fileMoved
	case c.Same(agreed, held):
		return agrees
	case wanted.IsZero() || c.Same(agreed, wanted):
		return handMoved
	}
	return bothMoved
}
