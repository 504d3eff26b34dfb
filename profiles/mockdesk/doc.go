// Package mockdesk is a desk that is not there: it listens on the link that a profile
// names, UDP or TCP, holds every parameter of the profile, and behaves as desks do, well or badly. It serves to
// rehearse, to try a profile before a real desk hears of it, and to judge in tests
// what a recall has really done.
//
// Packets come in, wait in the desk's queue, are put on its grid and held; answers and
// told changes go out. Both ways lead through the trouble that a network makes. The
// package must not know who is driving it: it takes whatever the profile says that a
// desk of this model takes.
package mockdesk
