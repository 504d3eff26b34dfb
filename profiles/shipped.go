package profiles

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"deskhand/profiles/source"
)

//go:embed *.toml
var shipped embed.FS

// ShippedNames lists the profiles that come with the program.
func ShippedNames() []string {
	files, _ := fs.Glob(shipped, "*.toml")
	for i, file := range files {
		files[i] = strings.TrimSuffix(file, ".toml")
	}
	slices.Sort(files)
	return files
}

// Shipped gives the text of a profile that comes with the program.
func Shipped(name string) ([]byte, error) {
	text, err := shipped.ReadFile(name + ".toml")
	if err != nil {
		return nil, fmt.Errorf("no desk profile %q comes with the program%s", name, source.DidYouMean(name, ShippedNames()))
	}
	return text, nil
}
