package trace_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"deskhand/profiles"
	"deskhand/profiles/trace"

	"github.com/google/go-cmp/cmp"
)

// FuzzRead sees to it that no text makes the reader or the learner panic, and that a
// trace which was read is written such that it reads the same. Found inputs vary in what
// they cover, since maps do, so that -fuzzminimizetime 10x saves much time.
func FuzzRead(f *testing.F) {
	for _, l := range lessons {
		text, err := os.ReadFile(filepath.Join(tracesDir, l.desk+".trace"))
		if err != nil {
			f.Fatal(err)
		}
		lines := bytes.SplitAfter(text, []byte("\n"))
		f.Add(bytes.Join(lines[:min(len(lines), 25)], nil))
	}
	f.Add([]byte("# deskhand trace\n# desk: channels 2, bands 4\n# moved: channel.1.mute on, off, on\n" +
		"0.1 2f61000000002c540000 | no OSC\n0.2 2f6100002c540000 | /a T\n0.3 2f6100002c460000\n0.4 2f6100002c540000\n# moved: channel.2.mute\n0.5 2f6200002c540000\n"))
	f.Add([]byte("# deskhand trace\n# moved: main.fader from bottom to top\n# shows: -inf\n# steps: 9\n# sets: /a\n# note: x\n"))
	f.Add([]byte("# deskhand trace\n# moved: main.eq.1.q from bottom to top\n0.1 2f6100002c69000000000000\n# shows: 0.1 Oct.\n0.2 2f6100002c69000000000002\n# shows: 3\n" +
		"0.3 2f6100002c69000000000001\n# shows: 1 octave\n0.4 2f6100002c69000000000002\n# steps: 3\n"))
	text := []byte("name = \"x\"\nchannels = 4\nbands = 2\n[link]\nport = 9\n[ask]\nnever = true\n")
	f.Fuzz(func(t *testing.T, in []byte) {
		r, err := trace.Read("x.trace", bytes.NewReader(in))
		if err != nil {
			return
		}
		var out bytes.Buffer
		w, err := trace.NewWriter(&out)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range r.Events {
			if err := w.Add(e); err != nil {
				t.Fatal(err)
			}
		}
		again, err := trace.Read("x.trace", bytes.NewReader(out.Bytes()))
		if err != nil {
			t.Fatalf("what was written can't be read: %v\n%s", err, out.Bytes())
		}
		if diff := cmp.Diff(r, again); diff != "" {
			t.Fatalf("it reads otherwise when it was written:\n%s", diff)
		}
		learnAll(t, r, text)
	})
}

// learnAll learns, puts what was learned into a profile, and proves it if it loads.
func learnAll(t *testing.T, r *trace.Recording, text []byte) {
	known, err := trace.ReadKnown(profiles.ShippedLibrary, text)
	if err != nil {
		t.Fatal(err)
	}
	found, err := trace.Learn(r, known)
	if err != nil {
		return
	}
	made, err := found.Into("x.toml", text)
	if err != nil {
		t.Fatalf("what was learned can't be written: %v", err)
	}
	if p, err := profiles.Load("x.toml", made); err == nil {
		_, _, _ = trace.Prove(r, p) // for what it does not do
	}
}
