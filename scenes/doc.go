// Package scenes is the book: the TOML files in which a sound engineer keeps the
// sound of performers and rooms, and what follows from them.
//
// Files become strips, strips of several layers become the settings of a position
// on one desk, each with the file and line that it comes from, and settings held
// against a reading become a list of changes. What a desk reports flows back the
// same way, into readings and into edits of a performer's file.
//
// The package knows no network: it neither asks a desk nor sends to one.
package scenes
