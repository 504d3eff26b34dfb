package scenes_test

import (
	"errors"
	"io/fs"
	"path"
	"strings"
	"testing"
	"testing/fstest"
	"unicode"

	"deskhand/profiles"
	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/testdata"
)

// seeds adds the files of the example book and a reading.
func seeds(f *testing.F) {
	f.Helper()
	err := fs.WalkDir(testdata.Book(), ".", func(file string, e fs.DirEntry, err error) error {
		if err == nil && path.Ext(file) == ".toml" {
			f.Add(example(f, file))
		}
		return err
	})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(cellar)
	f.Add(soundVenue)
	f.Add(speaker)
	f.Add("desk = \"quay-24\"\ntaken = 2031-11-06T19:30:00Z\n[on]\nlectern = \"poet\"\n[channel.3]\neq.2.gain = -3\n[mix.1]\nfader = -inf\n[main]\nmute = false\n")
}

// FuzzFiles reads any text as a venue, a performer, a scene and a reading, and checks
// the book around it. Nothing panics, and what is said of a file has its line and no
// control character.
func FuzzFiles(f *testing.F) {
	seeds(f)
	whole := over(f, nil)
	f.Fuzz(func(t *testing.T, text string) {
		for _, kind := range []scenes.Kind{scenes.Venues, scenes.Performers, scenes.Scenes, scenes.Readings} {
			book := make(fstest.MapFS)
			for file, content := range whole {
				book[file] = content
			}
			file := scenes.File(kind, "x")
			book[file] = &fstest.MapFile{Data: []byte(text), Mode: 0o644}
			b, err := scenes.OpenFS(book, "")
			if err != nil {
				t.Fatal(err)
			}
			report := b.Check([]scenes.Named{{Kind: kind, Name: "x"}})
			for _, fault := range append(report.Faults, report.Warnings...) {
				if fault.Line < 1 && fault.File == file {
					t.Errorf("no line: %v", fault)
				}
				if fault.Line > strings.Count(text, "\n")+1 && fault.File == file {
					t.Errorf("no such line: %v", fault)
				}
				if strings.ContainsFunc(fault.Error(), unicode.IsControl) {
					t.Errorf("a control character: %q", fault.Error())
				}
			}
		}
	})
}

// FuzzBookFile reads any text as book.toml.
func FuzzBookFile(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, text string) {
		b, err := scenes.OpenFS(fstest.MapFS{"book.toml": {Data: []byte(text)}}, "")
		var faults source.Faults
		if err != nil && (!errors.As(err, &faults) || b == nil) {
			t.Fatalf("got %v, %v", b, err)
		}
		if _, err := b.UsualVenue(); err == nil {
			t.Error("a venue out of nowhere")
		}
	})
}

// FuzzKeep keeps a moved fader, a band and a send in any performer's file that is
// right. What comes out asks for what the desk holds, or nothing was written.
func FuzzKeep(f *testing.F) {
	seeds(f)
	whole := over(f, nil)
	v := venueOf(f, bookOf(f, nil), "net-loft")
	f.Fuzz(func(t *testing.T, text string) {
		book := make(fstest.MapFS)
		for file, content := range whole {
			book[file] = content
		}
		book["performers/x.toml"] = &fstest.MapFile{Data: []byte(text), Mode: 0o644}
		b, err := scenes.OpenFS(book, "")
		if err != nil {
			t.Fatal(err)
		}
		cast, err := b.CastFor(v, "lectern", "x", nil)
		if err != nil {
			return // no right file
		}
		r, err := v.Resolve(cast)
		if err != nil {
			return
		}
		d := recalled(t, b, v, r)
		d.hand("fader", -17.0)
		d.hand("eq.1.on", true)
		d.hand("eq.1.gain", 6.0)
		d.hand("send.1.level", -21.0)
		kept, apart := d.keep()
		_, now, err := b.KeepText(cast.Performer, kept)
		if err != nil {
			if strings.Contains(err.Error(), "nothing was written") {
				return // the file is too odd to be edited, and the error says what to write by hand
			}
			t.Fatal(err)
		}
		book["performers/x.toml"] = &fstest.MapFile{Data: now, Mode: 0o644}
		cast = castOf(t, b, v, "lectern", "x", nil)
		if r, err = v.Resolve(cast); err != nil {
			t.Fatalf("%v\n%s", err, now)
		}
		isApart := make(map[profiles.Parameter]bool)
		for _, a := range apart {
			isApart[a.Parameter] = true
		}
		for _, c := range v.Compare(d.holds, r.Wanted) {
			if !isApart[c.Parameter] {
				t.Errorf("%s: the desk holds %s, the file asks for %s\n%s", c.Parameter, c.From, c.To, now)
			}
		}
	})
}
