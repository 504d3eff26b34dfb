// Package profiles says what a desk has and how it is reached: the catalogue of
// parameters that sound engineers know, the curves between a value of the trade
// and a value on the wire, and the address map of one desk model.
//
// Settings in trade units go in and OSC messages come out; messages go in and
// reports in trade units come out. The package opens no socket, knows no file of
// the book but the profile itself, and does not know why a value is wanted.
//
// The same profile serves both ends of the wire: a program that drives the desk
// uses [Profile.Tell], [Profile.Ask] and [Profile.Hear]; a desk that is not there
// uses [Profile.Told], [Profile.Asked] and [Profile.Answer].
package profiles
