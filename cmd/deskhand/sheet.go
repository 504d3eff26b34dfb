package main

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"deskhand/scenes"

	"github.com/spf13/cobra"
)

// sheetOptions is what the flags of sheet say.
type sheetOptions struct {
	file   string
	asText bool
	label  labelFlag
	paper  paperFlag
}

func (a *app) sheetCommand() *cobra.Command {
	o := sheetOptions{label: usualLabel, paper: paperFlag(papers[0].name)}
	c := &cobra.Command{
		Use:   "sheet RUNNING-ORDER",
		Short: "an event on paper: inputs, what a hand sets, labels for the faders",
		Long: `sheet writes what people at the stage and the desk need of a running order: the inputs by
channel, what a hand has to set on this desk and before which scene, and label strips to
cut out and stick under the faders. -o writes it as one HTML file to open and print in
any browser: it loads nothing and runs nothing. --text writes lines instead.

Labels are as wide as a channel of your desk: measure from the middle of one fader to the
middle of the next, over ten of them, and give a tenth of it with --label-width. Print at
100 % ("actual size"); a ruler of 100 mm on the sheet shows whether the printer did.

-o writes a new file or over an older sheet, and over nothing else.`,
		Example:           "  deskhand sheet winter-talks -o winter-talks.html\n  deskhand sheet winter-talks -o winter-talks.html --label-width 33.3 --paper letter\n  deskhand sheet winter-talks --text",
		Args:              arguments(1, 1),
		ValidArgsFunction: a.completeRunningOrder,
	}
	f := c.Flags()
	f.StringVarP(&o.file, "output", "o", "", "write the sheet to this `FILE`")
	f.BoolVar(&o.asText, "text", false, "lines of text instead of HTML, to standard output or to the file")
	f.Var(&o.label, "label-width", "how wide a label is, in `MM`, from 10 to 60")
	f.Var(&o.paper, "paper", "the `PAPER` to print on: a4 or letter")
	_ = c.RegisterFlagCompletionFunc("paper", cobra.FixedCompletions([]string{papers[0].name, papers[1].name}, noFiles))
	c.RunE = func(c *cobra.Command, words []string) error {
		if err := o.check(c); err != nil {
			return err
		}
		return a.sheet(words[0], o)
	}
	return c
}

// check refuses flags that say nothing together.
func (o sheetOptions) check(c *cobra.Command) error {
	json, _ := c.Flags().GetBool("json")
	switch {
	case o.file == "" && !o.asText && !json:
		return errors.New("where to? write -o FILE.html for a sheet to print, or --text for lines")
	case o.file == "" && o.asText && json:
		return errors.New("--text and --json would both be printed: leave one of them out, or give -o FILE for the text")
	}
	for _, flag := range []string{"label-width", "paper"} {
		if o.asText && c.Flags().Changed(flag) {
			return fmt.Errorf("--%s is for a sheet to print: leave it out with --text", flag)
		}
	}
	return nil
}

func (a *app) sheet(name string, o sheetOptions) error {
	b, order, err := a.bookAndOrder(name)
	if err != nil {
		return err
	}
	var into *outFile
	if o.file != "" {
		if into, err = a.sheetFile(o.file); err != nil {
			return err
		}
	}
	s, err := b.Sheet(order)
	if err != nil {
		return err
	}
	if err := a.writeSheet(s, o, into); err != nil {
		return err
	}
	a.saySheet(s, o)
	return nil
}

// The beginnings of a sheet, by which an older one is known.
const (
	htmlSheetBegins = "<!doctype html>\n<!-- deskhand sheet -->\n"
	textSheetBegins = "deskhand sheet: "
)

// sheetFile sees that a sheet can go into a file and that nothing else is lost by it. An
// empty file has nothing to lose.
func (a *app) sheetFile(file string) (*outFile, error) {
	if strings.EqualFold(filepath.Ext(file), ".toml") {
		return nil, fmt.Errorf("%s: a sheet is no file of the book: write NAME.html, or NAME.txt with --text", file)
	}
	f, err := a.outFile(file, file)
	if err != nil {
		return nil, err
	}
	if len(f.old) > 0 && !bytes.HasPrefix(f.old, []byte(htmlSheetBegins)) && !bytes.HasPrefix(f.old, []byte(textSheetBegins)) {
		return nil, f.isAnother("sheet")
	}
	return &f, nil
}

// writeSheet puts the sheet into its file, where there is one.
func (a *app) writeSheet(s *scenes.Sheet, o sheetOptions, into *outFile) error {
	if into == nil {
		return nil
	}
	if o.asText {
		return into.write(shown([]byte(sheetText(s)), false), "sheet")
	}
	page, err := sheetHTML(s, o.label, o.paper.paper())
	if err != nil {
		return fmt.Errorf("%s: %w", into.said, err)
	}
	return into.write(page, "sheet")
}

// saySheet prints the sheet, or says what was written.
func (a *app) saySheet(s *scenes.Sheet, o sheetOptions) {
	switch {
	case a.json:
		a.printJSON(sheetJSON(s, o))
	case o.file == "":
		fmt.Fprint(a.out, sheetText(s))
	case o.asText:
		fmt.Fprintf(a.out, "%s written: %s\n", o.file, sheetHas(s))
	default:
		fmt.Fprintf(a.out, "%s written: %s; labels %s mm wide, on %s\n", o.file, sheetHas(s), o.label.String(), o.paper.paper().said)
	}
	a.sayPhantomConflicts(s)
}

func sheetHas(s *scenes.Sheet) string {
	return fmt.Sprintf("%s, %s by hand, %s", count(len(s.Inputs), "input"), count(len(s.Hand), "setting"), count(len(s.Strips), "label strip"))
}

// sayPhantomConflicts warns of microphones that no position of a switch suits.
func (a *app) sayPhantomConflicts(s *scenes.Sheet) {
	if text := phantomConflicts(s); text != "" && !a.json {
		fmt.Fprintln(a.err, "note: "+text)
	}
}

// labelFlag is the width of a label in mm.
type labelFlag float64

// usualLabel is about as far apart as the faders of many desks are.
const usualLabel labelFlag = 25

// The narrowest label that a word stands in, and the widest that is no slip, in mm.
const (
	narrowestLabel = 10
	widestLabel    = 60
)

func (f *labelFlag) String() string { return strconv.FormatFloat(float64(*f), 'f', -1, 64) }
func (f *labelFlag) Type() string   { return "mm" }
func (f *labelFlag) Set(word string) error {
	mm, err := strconv.ParseFloat(word, 64)
	if err != nil || !(mm >= narrowestLabel && mm <= widestLabel) {
		return takesError(fmt.Sprintf("how wide a channel of the desk is in mm, from %d to %d, as 25 or 33.3", narrowestLabel, widestLabel))
	}
	*f = labelFlag(math.Round(mm*100) / 100) // no printer does finer
	return nil
}

// paper is a sheet of paper, upright, in mm; ISO 216 and ANSI/ASME Y14.1.
type paper struct {
	name, said    string
	width, height float64
}

var papers = [...]paper{
	{"a4", "A4", 210, 297},
	{"letter", "Letter", 215.9, 279.4},
}

// paperFlag is the name of a paper.
type paperFlag string

func (f *paperFlag) String() string { return string(*f) }
func (f *paperFlag) Type() string   { return "paper" }
func (f *paperFlag) Set(word string) error {
	for _, p := range papers {
		if p.name == word {
			*f = paperFlag(word)
			return nil
		}
	}
	return takesError("a4 or letter")
}

func (f paperFlag) paper() paper {
	for _, p := range papers {
		if p.name == string(f) {
			return p
		}
	}
	return papers[0]
}
