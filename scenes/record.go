package scenes

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path"
	"slices"
	"strings"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// Who did what a line of the record tells.
const (
	ByUs     = "deskhand"
	ByHand   = "hand"
	ByRemote = "remote"
)

// What a line of the record tells.
const (
	// Recalled: settings were sent; Refused: a limit or a safe forbade it, or the desk did not
	// answer, and nothing was sent.
	DidRecall = "recalled"
	DidRefuse = "refused"
	// DidMove: a hand moved something at the desk.
	DidMove = "moved"
	// DidKeep: what the desk held went into File.
	DidKeep = "kept"
	// DidBegin, DidEnd: a running order was begun, or left.
	DidBegin = "begun"
	DidEnd   = "ended"
	// DidHold, DidRelease: nothing was to be sent from then on, or again.
	DidHold    = "held"
	DidRelease = "released"
	// DidLose, DidFind: the desk fell silent, and came back.
	DidLose = "lost"
	DidFind = "found"
	// DidAwake: nobody looked for a while, or the clock was set, so that lines may be out of
	// their times.
	DidAwake = "awoke"
)

// Record is one line of what was done in an evening.
type Record struct {
	Time time.Time `json:"time"`
	What string    `json:"what"`
	By   string    `json:"by"`
	// Command is what was asked for, as "swap lectern poet", "" for what nobody asked for.
	Command   string `json:"command,omitempty"`
	Position  string `json:"position,omitempty"`
	Performer string `json:"performer,omitempty"`
	// Was is who was on the position before a recall.
	Was   string `json:"was,omitempty"`
	Scene string `json:"scene,omitempty"`
	// Changes lead from what was to what is, or was to be.
	Changes []RecordedChange `json:"changes,omitempty"`
	// Confirmed says of a recall that all of it is; NotConfirmed lists the parameters that
	// are not.
	Confirmed    bool     `json:"confirmed"`
	NotConfirmed []string `json:"not_confirmed,omitempty"`
	// File is what was kept into, Reading the reading that holds what a hand had moved at
	// the position before a recall.
	File    string `json:"file,omitempty"`
	Reading string `json:"reading,omitempty"`
	// Text says more, for a person.
	Text string `json:"text,omitempty"`
}

// RecordedChange is one setting in a record.
type RecordedChange struct {
	Parameter string        `json:"parameter"`
	From      RecordedValue `json:"from"`
	To        RecordedValue `json:"to"`
	// Words are both values as people read them, "-6.0 dB -> -4.0 dB".
	Words string `json:"words"`
}

// RecordedValue is a value in JSON: a number, true or false, a text, or null for none.
// Silence is the text "-inf" under a key of its own kind: {"level": "-inf"}.
type RecordedValue struct{ profiles.Value }

// silence is how -inf dB is written, which JSON has no number for.
type silence struct {
	Level string `json:"level"`
}

// MarshalJSON writes a value.
func (v RecordedValue) MarshalJSON() ([]byte, error) {
	if n, ok := v.Number(); ok && math.IsInf(n, -1) {
		return json.Marshal(silence{Level: "-inf"})
	}
	return json.Marshal(v.Any())
}

// UnmarshalJSON reads a value.
func (v *RecordedValue) UnmarshalJSON(text []byte) error {
	var s silence
	if json.Unmarshal(text, &s) == nil && s.Level == "-inf" {
		v.Value = profiles.Silence
		return nil
	}
	var any any
	if err := json.Unmarshal(text, &any); err != nil || any == nil {
		v.Value = profiles.Value{}
		return err
	}
	value, err := profiles.ValueOf(any)
	v.Value = value
	return err
}

// RecordChanges puts changes into a record.
func (v *Venue) RecordChanges(changes []Change) []RecordedChange {
	out := make([]RecordedChange, len(changes))
	for i, c := range changes {
		from, to := "not known", "not known"
		if !c.From.IsZero() {
			from = c.Spec.Say(c.From)
		}
		if !c.To.IsZero() {
			to = c.Spec.Say(c.To)
		}
		out[i] = RecordedChange{
			Parameter: c.Parameter.String(), From: RecordedValue{c.From}, To: RecordedValue{c.To},
			Words: c.Spec.SayLabel(c.Parameter.Name, v.MixName) + " " + from + " -> " + to,
		}
	}
	return out
}

// recordDir is where the record is, in the memory's folder.
const recordDir = "record"

// maxRecord bounds the record of one evening, in bytes: thousands of recalls of a whole desk take less.
const maxRecord = 64 << 20

// eveningBegins is the hour at which one evening's record ends and the next begins: what is
// done at one in the night belongs to the evening before.
const eveningBegins = 6

// Evening is the day to which a time belongs in the record, by this machine's clock, as
// "2026-11-26".
func Evening(t time.Time) string {
	t = t.Local()
	if t.Hour() < eveningBegins {
		t = t.AddDate(0, 0, -1)
	}
	return t.Format(time.DateOnly)
}

// AddRecord writes a line of the record. It is one write at the end of the file, so that a
// process that dies leaves whole lines and at most one begun, which [Memory.Record] leaves out.
// The caller needs no lock: a write at the end of a file that is open for appending goes there
// whole, however long it is, before another's, on the file systems of one machine.
func (m *Memory) AddRecord(r Record) error {
	if r.Time.IsZero() {
		r.Time = time.Now()
	}
	line, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("record: %w", err)
	}
	if err := m.book.hideMemory(); err != nil {
		return fmt.Errorf("record: %w", err)
	}
	if _, err := m.book.ownFolder(path.Join(m.dir, recordDir)); err != nil {
		return fmt.Errorf("record: %w", err)
	}
	file := path.Join(m.dir, recordDir, Evening(r.Time)+".jsonl")
	at, err := m.book.own(file)
	if err != nil {
		return fmt.Errorf("record: %w", err)
	}
	if err := appendLine(at, line); err != nil {
		return fmt.Errorf("record: %s can't be written: %w", file, source.Cause(err))
	}
	return nil
}

// appendLine writes a line at the end of a file. Where the last one was only begun, it
// begins a new one. The line is one write to a file that is open for appending, and a local
// file system does such writes one after the other, whatever their length (write(2), up to
// 2 GiB): several processes don't write into each other's lines. On a network drive, and
// where the disk is full, a line may be torn; reading counts it as one that it can't read.
func appendLine(at string, line []byte) (err error) {
	if info, err := os.Stat(at); err == nil {
		if err := source.IsReadable(info, maxRecord); err != nil {
			return err // who can't read it would not find the line
		}
	}
	f, err := os.OpenFile(at, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o666)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	text := append(slices.Clip(line), '\n')
	if size, err := f.Seek(0, io.SeekEnd); err == nil && size > 0 {
		last := make([]byte, 1)
		if _, err := f.ReadAt(last, size-1); err == nil && last[0] != '\n' {
			text = append([]byte{'\n'}, text...)
		}
	}
	_, err = f.Write(text)
	return err
}

// Evenings lists the days of which there is a record, the latest last.
func (m *Memory) Evenings() []string {
	entries, err := os.ReadDir(m.book.Path(path.Join(m.dir, recordDir)))
	if err != nil {
		return nil // there is none yet
	}
	var days []string
	for _, e := range entries {
		if day, ok := strings.CutSuffix(e.Name(), ".jsonl"); ok && !e.IsDir() {
			if _, err := time.Parse(time.DateOnly, day); err == nil {
				days = append(days, day)
			}
		}
	}
	slices.Sort(days)
	return days
}

// Record reads what was done in an evening, in the order in which it was written. Lines
// that can't be read, as one that was begun when the power failed, are counted.
func (m *Memory) Record(evening string) (lines []Record, unread int, err error) {
	if _, err := time.Parse(time.DateOnly, evening); err != nil {
		return nil, 0, fmt.Errorf("%q is no day: write it as %s", evening, Evening(time.Now()))
	}
	file := path.Join(m.dir, recordDir, evening+".jsonl")
	text, err := source.ReadFile(m.book.Path(file), maxRecord)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, nil
	}
	if err != nil {
		return nil, 0, fmt.Errorf("record: %s: %w", file, err)
	}
	lines, unread = readRecord(text)
	return lines, unread, nil
}

// readRecord reads the lines of a record, and counts those that can't be read.
func readRecord(text []byte) (lines []Record, unread int) {
	for line := range bytes.Lines(text) {
		if line = bytes.TrimSpace(line); len(line) == 0 {
			continue
		}
		var r Record
		if json.Unmarshal(line, &r) != nil || r.Time.IsZero() {
			unread++
			continue
		}
		lines = append(lines, r)
	}
	return lines, unread
}

// RecordedMoves gives what hands have moved in this evening and is there still, as far as
// the record says: nothing of it has been recalled otherwise since.
func (m *Memory) RecordedMoves() (Values, error) {
	lines, _, err := m.Record(Evening(time.Now()))
	moved := make(Values)
	for _, line := range lines {
		for _, c := range line.Changes {
			q, err := profiles.ParseParameter(c.Parameter)
			switch {
			case err != nil:
			case line.What == DidMove:
				moved[q] = c.To.Value
			case line.What != DidKeep && moved[q] != c.To.Value:
				delete(moved, q)
			}
		}
	}
	return moved, err
}
