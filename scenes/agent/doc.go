// Package agent stands beside the desk all evening: it keeps the files of a book and the desk in step, and does what a
// tablet, a foot switch or show control asks of it.
//
// Saved files, changes that a desk tells of, and requests from the network flow in; recalls, edits of files, answers and
// events flow out. It reaches a desk only through scenes/recall and scenes/desk, and other senders only through osc. It
// prints nothing: who wants to know gives it a function.
//
// A request over the network goes this way, and its answer back:
//
//	osc.UDPServer (listed senders only) -> osc.Decode -> readRequest -> ledger (done before?) -> queue -> RemoteDoer
//
// A running order is gone through the same way: what somebody asks for at the keys or over
// the network is an [Ask], done by the one goroutine that owns the desk, and how things stand
// then is a [View]. The next scene is worked out ahead of being asked for.
//
// [Remote] knows no book, no desk and no file: who does what is asked for is behind [RemoteDoer].
//
// Neither side overwrites the other unasked. What changed on both, what changed while
// nobody looked, and all that a desk holds after it was switched off and on, is told and
// waits for a person.
package agent
