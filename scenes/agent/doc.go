// Package agent keeps the files of a book and a desk in step while an evening goes
// on: what is saved goes to the desk, what a hand does there comes into the files.
//
// Names of changed files come in from the file system, told and read values from the
// desk; each value is judged by what file and desk last agreed on, and what is done
// about it goes out as events to a function. The package prints nothing, and knows no
// OSC but through links and the connected desk.
//
// Neither side overwrites the other unasked. What changed on both, what changed while
// nobody looked, and all that a desk holds after it was switched off and on, is told and
// waits for a person.
package agent
