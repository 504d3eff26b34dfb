// Command large writes a book of so many performers into an empty folder.
//
//	large DIR PERFORMERS
package main

import (
	"fmt"
	"os"
	"strconv"

	"deskhand/testdata"
)

func main() {
	if err := write(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "large:", err)
		os.Exit(1)
	}
}

func write(arguments []string) error {
	if len(arguments) != 2 {
		return fmt.Errorf("give DIR PERFORMERS")
	}
	performers, err := strconv.Atoi(arguments[1])
	if err != nil {
		return err
	}
	return testdata.WriteLarge(arguments[0], performers)
}
