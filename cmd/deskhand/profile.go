package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) profileCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "profile",
		Short: "descriptions of desks: check, list, trace",
		Long: `A profile describes one model of desk: what it has, and the OSC messages that reach it.
profile check holds one against itself and against a desk, profile list says which there
are, and profile trace learns one from a desk.`,
		Args: noArguments,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(
		a.profileCheckCommand(),
		a.profileListCommand(),
		a.profileTraceCommand(),
	)
	return c
}

// profileFile is the text of a profile, and where those are that it may be based on.
type profileFile struct {
	// file is what messages call it; name is what the profile must call itself, "" if
	// it may say what it likes.
	file, name string
	text       []byte
	library    profiles.Library
}

// load reads the profile. The error holds every fault.
func (f *profileFile) load() (*profiles.Profile, error) {
	p, err := f.library.Load(f.file, f.text)
	if err == nil && f.name != "" && p.Name != f.name {
		what := fmt.Sprintf("the profile calls itself %q: the file and its name must agree", p.Name)
		return nil, source.Faults{{File: f.file, Line: 1, What: what}}
	}
	return p, err
}

// profileFile finds the profile that a person means: a file by its path, or one of the
// book or a shipped one by its name. It takes a book only for a name.
func (a *app) profileFile(word string) (*profileFile, error) {
	if strings.ContainsAny(word, `/\`) || strings.HasSuffix(word, ".toml") {
		return profileAt(a.path(word), word)
	}
	b, err := a.openBook()
	switch {
	case err == nil:
		if file := b.Path(scenes.File(scenes.Profiles, word)); word != "" && isFile(file) {
			return profileAt(file, scenes.File(scenes.Profiles, word))
		}
	case a.bookDir != "" || !errors.Is(err, scenes.ErrNoBook):
		return nil, err
	}
	text, err := profiles.Shipped(word)
	if err != nil {
		names := append(a.names(scenes.Profiles), profiles.ShippedNames()...)
		return nil, fmt.Errorf("there is no desk profile %q, neither in a book nor shipped%s", word, source.DidYouMean(word, names))
	}
	return &profileFile{file: word + ".toml", name: word, text: text, library: profiles.ShippedLibrary}, nil
}

// longestProfile bounds what is read of a file, in bytes. Loading has a bound of its
// own, below this one.
const longestProfile = 1 << 20

// profileAt reads a profile from a path, which messages call by another name.
func profileAt(path, label string) (*profileFile, error) {
	text, err := source.ReadFile(path, longestProfile)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", label, err)
	}
	f := &profileFile{file: label, text: text, library: libraryBeside(path, label)}
	dir, base := filepath.Split(path)
	if filepath.Base(dir) == string(scenes.Profiles) && isFile(filepath.Join(dir, "..", scenes.SettingsFile)) {
		f.name = strings.TrimSuffix(base, ".toml")
	}
	return f, nil
}

// libraryBeside holds the profiles in the folder of one, and those shipped.
func libraryBeside(path, label string) profiles.Library {
	return func(name string) (string, []byte, error) {
		if name == "" || strings.ContainsAny(name, `/\:`) || strings.HasPrefix(name, ".") {
			return "", nil, fmt.Errorf("%q can't be the name of a profile", name)
		}
		text, err := source.ReadFile(filepath.Join(filepath.Dir(path), name+".toml"), longestProfile)
		switch {
		case err == nil:
			return filepath.ToSlash(filepath.Join(filepath.Dir(label), name+".toml")), text, nil
		case !errors.Is(err, os.ErrNotExist):
			return "", nil, fmt.Errorf("%s.toml: %w", name, err)
		}
		return profiles.ShippedLibrary(name)
	}
}
