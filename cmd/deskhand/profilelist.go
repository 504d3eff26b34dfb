package main

import (
	"errors"
	"fmt"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) profileListCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "list",
		Short: "the profiles of the book and the shipped ones, and what each can do",
		Long: `list names the profiles of the book, if there is one here, and those that come with the
program, with what each reaches. One of the book goes before a shipped one of the same
name, which is then not listed. A profile with faults is listed as such: profile check
says which.`,
		Args:              noArguments,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	c.RunE = func(*cobra.Command, []string) error { return a.profileList() }
	return c
}

// listed is a profile that there is; it is nil where it has faults.
type listed struct {
	name, file string
	inBook     bool
	profile    *profiles.Profile
	faults     source.Faults
}

func (a *app) profileList() error {
	all, err := a.listProfiles()
	if err != nil {
		return err
	}
	if a.json {
		a.printJSON(listedJSON(all))
		return nil
	}
	for _, l := range all {
		where := "shipped"
		if l.inBook {
			where = l.file
		}
		if l.profile == nil {
			fmt.Fprintf(a.out, "%s · %s\n  %s: deskhand profile check %s says which\n", a.paint.head(l.name), where, count(len(l.faults), "fault"), l.name)
			continue
		}
		a.sayListed(l.profile, where)
	}
	return nil
}

func (a *app) sayListed(p *profiles.Profile, where string) {
	fmt.Fprintf(a.out, "%s · %s\n", a.paint.head(p.Name), where)
	about := p.About
	if about == "" {
		about = sayCounts(p)
	}
	fmt.Fprintln(a.out, "  "+about)
	fmt.Fprintln(a.out, "  "+sayReachCounts(p))
	fmt.Fprintln(a.out, "  "+sayLink(p))
	fmt.Fprintln(a.out, "  "+strings.Join(sayAbilities(p), "; "))
	fmt.Fprintln(a.out, "  "+saySound(p))
	if lacks := lacksOf(p); len(lacks) > 0 {
		fmt.Fprintln(a.out, "  a channel has no "+strings.Join(lacks, ", "))
	}
}

// lacksOf lists the sections of a channel of which the desk has nothing.
func lacksOf(p *profiles.Profile) []string {
	var sections []string
	has := make(map[string]bool)
	for _, r := range reachOf(p) {
		section, _, _ := strings.Cut(r.spec.Name, ".")
		if section == "input" {
			section = r.spec.Label // its settings have little to do with each other
		}
		if _, begun := has[section]; !begun {
			sections = append(sections, section)
		}
		has[section] = has[section] || len(r.at[profiles.Channel]) > 0
	}
	var lacks []string
	for _, section := range sections {
		if !has[section] {
			lacks = append(lacks, section)
		}
	}
	return lacks
}

// listProfiles reads the profiles of the book, and the shipped ones that it has not.
func (a *app) listProfiles() ([]listed, error) {
	var all []listed
	ours := make(map[string]bool)
	b, err := a.openBook()
	switch {
	case err == nil:
		for _, name := range b.Names(scenes.Profiles) {
			l, err := a.listedAt(name, true)
			if err != nil {
				return nil, err
			}
			all = append(all, l)
			ours[name] = true
		}
	case a.bookDir != "" || !errors.Is(err, scenes.ErrNoBook):
		return nil, err
	}
	for _, name := range profiles.ShippedNames() {
		if ours[name] {
			continue
		}
		l, err := a.listedAt(name, false)
		if err != nil {
			return nil, err
		}
		all = append(all, l)
	}
	return all, nil
}

// listedAt reads one profile by its name.
func (a *app) listedAt(name string, inBook bool) (listed, error) {
	file, err := a.profileFile(name)
	if err != nil {
		return listed{}, err
	}
	l := listed{name: name, file: file.file, inBook: inBook}
	l.profile, err = file.load()
	if err != nil && !errors.As(err, &l.faults) {
		return listed{}, err
	}
	return l, nil
}
