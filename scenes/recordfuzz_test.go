package scenes

import (
	"strings"
	"testing"
)

// FuzzRecord: whatever the file holds, reading it neither fails nor makes up more lines than it
// has.
func FuzzRecord(f *testing.F) {
	f.Add([]byte(`{"time":"2026-11-26T20:00:00Z","what":"moved","by":"hand","changes":[{"parameter":"channel.3.fader","from":{"level":"-inf"},"to":-6}]}` + "\n"))
	f.Add([]byte("{\"time\"\n\n{}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		lines, unread := readRecord(text)
		if most := strings.Count(string(text), "\n") + 1; len(lines)+unread > most {
			t.Errorf("%d lines and %d unread of %d", len(lines), unread, most)
		}
	})
}
