package main

import (
	"errors"
	"fmt"
	"os"

	"deskhand/profiles/source"
	"deskhand/profiles/trace"
	"deskhand/scenes"
)

// keeper writes what is heard into a file, as long as it goes well and not for ever.
type keeper struct {
	said   string // what messages call the file
	file   *os.File
	writer *trace.Writer
	events int
	bytes  int
	failed error
}

// maxKept bounds the packets that are kept, in bytes.
const maxKept = 32 << 20

func (a *app) newKeeper(path string) (*keeper, error) {
	if path == "" {
		return nil, nil
	}
	said := "--save " + path
	if err := scenes.CheckPlace(a.path(path)); err != nil {
		return nil, fmt.Errorf("%s %w", said, err)
	}
	f, err := os.OpenFile(a.path(path), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, os.ErrExist) {
		return nil, fmt.Errorf("%s: there is such a file already: name a new one", said)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", said, source.Cause(err))
	}
	w, err := trace.NewWriter(f)
	return &keeper{said: said, file: f, writer: w, failed: err}, nil
}

func (k *keeper) add(e trace.Event) {
	if k == nil || k.failed != nil || e.Packet != nil && len(e.Packet) == 0 {
		return // an empty packet says nothing, and a trace has no line for it
	}
	k.events++
	if k.bytes += len(e.Packet); k.events > trace.MaxEvents || k.bytes > maxKept {
		k.failed = errors.New("the file is full, and what came later is not in it")
		return
	}
	k.failed = k.writer.Add(e)
}

// discard takes the file away when the desk was not reached, so that the same command can
// be tried again.
func (k *keeper) discard() {
	if k != nil {
		_ = os.Remove(k.file.Name()) // else the next try names it
	}
}

// end closes the file, and says what did not get into it.
func (k *keeper) end() error {
	if k == nil {
		return nil
	}
	if err := errors.Join(k.failed, k.file.Close()); err != nil {
		return fmt.Errorf("%s: what was heard is not whole there: %w", k.said, source.Cause(err))
	}
	return nil
}
