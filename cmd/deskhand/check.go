package main

import (
	"fmt"

	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) checkCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "check [FILE...]",
		Short: "every fault in the book, with file, line and what to do",
		Long: `check reads the whole book, or the files named, and holds them against each other and
against the desks of the venues: unknown words, values that no desk could mean or that
this one can't take, positions, microphones and performers that aren't there, more EQ
than the desk has. No desk is asked.

Exit 0: no fault (there may be notes). Exit 1: faults.`,
		Args:              arguments(0, -1),
		ValidArgsFunction: a.completeFiles(scenes.Performers, scenes.Venues, scenes.Scenes, scenes.RunningOrders, scenes.Profiles, scenes.Readings),
	}
	c.RunE = func(_ *cobra.Command, words []string) error { return a.check(words) }
	return c
}

func (a *app) check(words []string) error {
	b, err := a.book()
	if faults := faultsIn(err); len(faults) > 0 { // of book.toml, without which no other file is read
		return a.checked(&scenes.Report{Files: 1, Faults: faults})
	}
	if err != nil {
		return err
	}
	var files []scenes.Named
	for _, word := range words {
		n, err := b.Locate(a.dir, word)
		if err != nil {
			return err
		}
		files = append(files, n)
	}
	return a.checked(b.Check(files))
}

// checked prints a report, and ends with its exit code.
func (a *app) checked(report *scenes.Report) error {
	code := exitDone
	if len(report.Faults) > 0 {
		code = exitDiffers
	}
	if a.json {
		a.printJSON(jsonCheck{report.Files, jsonFaults(report.Faults), jsonFaults(report.Warnings), code})
	} else {
		a.sayReport(report)
	}
	if code != exitDone {
		return ended{code}
	}
	return nil
}

func (a *app) sayReport(r *scenes.Report) {
	for _, f := range r.Faults {
		fmt.Fprintln(a.out, a.paint.bad("fault: ")+f.Error())
	}
	for _, f := range r.Warnings {
		fmt.Fprintln(a.out, a.paint.warn("note: ")+f.Error())
	}
	faults := "no fault"
	if len(r.Faults) > 0 {
		faults = count(len(r.Faults), "fault")
	}
	fmt.Fprintf(a.out, "%s checked: %s\n", count(r.Files, "file"), faults)
}
