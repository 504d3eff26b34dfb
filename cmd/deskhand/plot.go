package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
)

// Pictures of curves. Here is the file that one goes into; which curves it has is in
// plotstrip.go and plotdiff.go, how they are drawn in plotpanel.go and plotdraw.go, and
// the small curve that a terminal shows in plottext.go.

// plotFlag adds --plot to a command.
func plotFlag(c *cobra.Command, file *string, what string) {
	c.Flags().StringVar(file, "plot", "", what+" into this `FILE`, .svg or .png")
	_ = c.MarkFlagFilename("plot", "svg", "png")
}

// pictureFile is a file that a picture will be written into: a new one, or one that
// holds an older picture.
type pictureFile struct {
	outFile
	// file is as it was typed.
	file   string
	format format
}

// format is a kind of picture, named by the ending of its file.
type format string

const (
	svgFormat format = ".svg"
	pngFormat format = ".png"
)

// begins reports whether a file's text is a picture of this kind, as far as its
// beginning says. An empty file has nothing to lose and passes.
func (f format) begins(text []byte) bool {
	switch {
	case len(text) == 0:
		return true
	case f == pngFormat:
		return bytes.HasPrefix(text, []byte("\x89PNG\r\n\x1a\n"))
	}
	const prologue = 4096 // more than any comment before the element is likely to take
	return bytes.Contains(text[:min(len(text), prologue)], []byte("<svg"))
}

// pictureFile sees, before anything is read, that a picture can go into the file that
// --plot names, and that nothing but an older picture is lost by it. Without the flag it
// is nil.
func (a *app) pictureFile(c *cobra.Command, file string) (*pictureFile, error) {
	if !c.Flags().Changed("plot") {
		return nil, nil
	}
	f := &pictureFile{file: file, format: format(strings.ToLower(filepath.Ext(file)))}
	if f.format != svgFormat && f.format != pngFormat || strings.TrimSuffix(filepath.Base(file), filepath.Ext(file)) == "" {
		return nil, fmt.Errorf("--plot %q: a picture's file ends in .svg or .png: write NAME.svg or NAME.png", file)
	}
	var err error
	if f.outFile, err = a.outFile(file, "--plot "+file); err != nil {
		return nil, err
	}
	if !f.format.begins(f.old) {
		return nil, f.isAnother(strings.TrimPrefix(string(f.format), ".") + " picture")
	}
	return f, nil
}

// mostPanels bounds a picture: it is more than a desk of 48 channels takes.
const mostPanels = 64

// draw writes panels as one picture, below each other, whole or not at all.
func (f *pictureFile) draw(panels []panel) error {
	if len(panels) > mostPanels {
		return fmt.Errorf("%s: there are %d curves to draw, and a picture takes %d: limit it with --position NAME", f.said, len(panels), mostPanels)
	}
	text, err := drawn(panels, f.format)
	if err != nil {
		return fmt.Errorf("%s: %w", f.said, err)
	}
	return f.write(text, "picture")
}

// sayPicture says what a picture shows, under the rest of the output.
func (a *app) sayPicture(f *pictureFile, panels []panel) {
	if f == nil || a.json {
		return
	}
	if len(panels) == 0 {
		fmt.Fprintf(a.out, "no curve differs: %s was not written\n", f.file)
		return
	}
	names := make([]string, len(panels))
	for i, p := range panels {
		names[i] = p.name
	}
	fmt.Fprintf(a.out, "drawn into %s: %s\n", f.file, strings.Join(names, ", "))
}
