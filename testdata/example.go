// Package testdata carries the example book into the program and its tests: a
// winter lecture series in a harbour town.
package testdata

import (
	"embed"
	"io/fs"
)

//go:embed all:book
var files embed.FS

// Book gives the files of the example book, as deskhand new writes them.
func Book() fs.FS {
	book, err := fs.Sub(files, "book")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	return book
}
