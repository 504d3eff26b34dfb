// Package agent keeps the files of a book and a desk in step while an evening goes
// on: what is saved goes to the desk, what a hand does there comes into the files.
//
// Names of changed files come in from the file system, told values from the desk;
// what is done about them goes out as events to a function. The package prints
// nothing, and knows no OSC but through links and the connected desk.
package agent
