// Package trace is what was heard on the wire while the controls of a desk were moved
// one at a time, and what that says of the desk's profile.
//
// A [Recording] holds packets and marks: what the user was asked to move, and what the
// desk showed. [Read] and [Writer] keep it as a plain text. [Learn] works out of it how
// each control is reached: the address, where the place stands, how numbers and words
// stand on the wire, the curve. [Findings.Into] puts that into the text of a profile,
// with everything else in it to the byte.
//
// The package must not know any link or terminal: packets and answers are handed to
// it. What the traffic can't say it does not guess: it asks.
package trace
