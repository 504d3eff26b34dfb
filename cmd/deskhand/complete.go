package main

import (
	"slices"

	"deskhand/scenes"

	"github.com/spf13/cobra"
)

// completion gives words for the shell to offer. Where there is no book it offers
// none, since a shell has no use for an error.
type completion = func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective)

const noFiles = cobra.ShellCompDirectiveNoFileComp

func (a *app) completeFlags(root *cobra.Command) {
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		if c.Name() == "completion" {
			for _, shell := range c.Commands() {
				shell.Short = "the script for " + shell.Name()
			}
			c.Short = "has your shell complete commands, positions, performers and files"
			c.Long = `completion prints a script for a shell. Once the shell has read it, the tab key completes
commands, flags, and from the book positions, performers and files.

deskhand completion SHELL --help says how to have it read whenever the shell starts.`
		}
	}
	_ = root.RegisterFlagCompletionFunc("venue", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return a.names(scenes.Venues), noFiles
	})
	_ = root.MarkPersistentFlagDirname("book")
}

// names lists the files of a kind in the book that is meant.
func (a *app) names(kind scenes.Kind) []string {
	b, err := a.bookForCompletion()
	if err != nil {
		return nil
	}
	return b.Names(kind)
}

func (a *app) bookForCompletion() (*scenes.Book, error) {
	if a.dir == "" {
		a.dir = "."
	}
	return a.book()
}

func (a *app) completePosition(_ *cobra.Command, words []string, _ string) ([]string, cobra.ShellCompDirective) {
	b, err := a.bookForCompletion()
	if err != nil || len(words) > 0 {
		return nil, noFiles
	}
	v, err := a.openVenue(b, "")
	if err != nil {
		return nil, noFiles
	}
	return v.PositionNames(), noFiles
}

func (a *app) completePerformer(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return a.names(scenes.Performers), noFiles
}

func (a *app) completeScene(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return a.names(scenes.Scenes), noFiles
}

func (a *app) completeRunningOrder(_ *cobra.Command, words []string, _ string) ([]string, cobra.ShellCompDirective) {
	if len(words) > 0 {
		return nil, noFiles
	}
	return a.names(scenes.RunningOrders), noFiles
}

func (a *app) completeSwap(c *cobra.Command, words []string, typed string) ([]string, cobra.ShellCompDirective) {
	switch len(words) {
	case 0:
		return a.completePosition(c, words, typed)
	case 1:
		return a.completePerformer(c, words, typed)
	}
	return nil, noFiles
}

// completeFiles offers the files of some kinds, by their path in the book.
func (a *app) completeFiles(kinds ...scenes.Kind) completion {
	return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		var files []string
		for _, kind := range kinds {
			for _, name := range a.names(kind) {
				files = append(files, scenes.File(kind, name))
			}
		}
		return files, cobra.ShellCompDirectiveDefault
	}
}

// completeSides offers what diff compares: files, and the desk.
func (a *app) completeSides(c *cobra.Command, words []string, typed string) ([]string, cobra.ShellCompDirective) {
	if len(words) > 1 {
		return nil, noFiles
	}
	files, directive := a.completeFiles(scenes.Performers, scenes.Scenes, scenes.Venues, scenes.Readings)(c, words, typed)
	if !slices.Contains(words, deskWord) {
		files = append(files, deskWord)
	}
	return files, directive
}
