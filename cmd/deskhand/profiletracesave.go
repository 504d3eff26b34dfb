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
	if err := scenes.CheckPlace(a.path(path)); err != nil {
		return nil, fmt.Errorf("--save %s %w", path, err)
	}
	f, err := os.OpenFile(a.path(path), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, os.ErrExist) {
		return nil, fmt.Errorf("--save %s: there is such a file already: name a new one", path)
	}
	if err != nil {
		return nil, fmt.Errorf("--save %s: %w", path, source.Cause(err))
	}
	w, err := trace.NewWriter(f)
	return &keeper{file: f, writer: w, failed: err}, nil
}

func (k *keeper) add(e trace.Event) {
	if k == nil || k.failed != nil || e.Packet != nil && len(e.Packet) == 0 {
		return // an empty packet says nothing, and a trace has no line for it
	}
	k.events++
	if k.bytes += len(e.Packet); k.events > trace.MaxEvents || k.bytes > maxKept {
		k.failed = fmt.Errorf("%s is full: what came later is not in it", k.file.Name())
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
		return fmt.Errorf("--save: what was heard is not whole in %s: %w", k.file.Name(), source.Cause(err))
	}
	return nil
}
