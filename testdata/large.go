package testdata

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
)

// perScene is how many performers of a large book there are for each scene.
const perScene = 10

// WriteLarge writes the example book into an empty folder, with so many performers more:
// those of the example again under other names, each with a label and fader of their own.
// One in ten is on the lectern of a scene.
func WriteLarge(dir string, performers int) error {
	labels, faders := regexp.MustCompile(`(?m)^label = ".*"$`), regexp.MustCompile(`(?m)^fader = .*$`)
	book := Book()
	if err := os.CopyFS(dir, book); err != nil {
		return err
	}
	models, err := fs.Glob(book, "performers/*.toml")
	if err != nil {
		return err
	}
	for n := range performers {
		text, err := fs.ReadFile(book, models[n%len(models)])
		if err != nil {
			return err
		}
		text = labels.ReplaceAll(text, fmt.Appendf(nil, "label = \"Guest %d\"", n))
		text = faders.ReplaceAll(text, fmt.Appendf(nil, "fader = -%d.%d   # as heard from the back row", n%12, n/12%10))
		if err := os.WriteFile(filepath.Join(dir, "performers", LargeName(n)+".toml"), text, 0o600); err != nil {
			return err
		}
		if n%perScene > 0 {
			continue
		}
		scene := fmt.Appendf(nil, "title = \"Evening %d\"\nvenue = \"net-loft\"\n\n[positions.lectern]\nperformer = \"%s\"\nopen = true\n", n/perScene, LargeName(n))
		if err := os.WriteFile(filepath.Join(dir, "scenes", LargeName(n)+".toml"), scene, 0o600); err != nil {
			return err
		}
	}
	return nil
}

// LargeName is what performer n of a large book is called, from 0.
func LargeName(n int) string { return fmt.Sprintf("guest-%05d", n) }
