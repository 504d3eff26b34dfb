// Package source is the TOML text that a person keeps: where each value stands, faults with file and line,
// and edits in place.
//
// Desk profiles and the files of the book are both read through it. It must not know any parameter, any desk
// or any folder: it is given a text and the name to call it by in messages. BurntSushi/toml decides what is TOML
// and what a value is; a small scanner of our own, which changes nothing, finds the line and the bytes of
// each value, and the two must agree.
//
// A text goes in through Parse; values go out through Table, and with each of them what was wrong; new values go in
// through Apply, which gives the text back with only those values changed; Replace puts it on disk.
package source
