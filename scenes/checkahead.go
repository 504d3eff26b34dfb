package scenes

import (
	"context"

	"deskhand/profiles/source"
)

// ahead reads performers' files while others are being checked, so that a second processor
// has work: to read a file and to take its text apart is half of a check, and depends on no
// other file.
type ahead struct {
	documents chan readAhead
	stop      context.CancelFunc
}

// readAhead is a file that was read ahead, as [Book.named] gives it.
type readAhead struct {
	document *source.Document
	err      error
}

// farAhead is how many files are read ahead at most.
const farAhead = 16

// readAhead begins to read the performers among the files, in their order. The goroutine
// ends with the last, or when stop is called.
func (b *Book) readAhead(files []Named) *ahead {
	ctx, stop := context.WithCancel(context.Background())
	a := &ahead{make(chan readAhead, farAhead), stop}
	go func() {
		defer close(a.documents)
		for _, n := range files {
			if n.Kind != Performers {
				continue
			}
			d, err := b.named(n)
			select {
			case a.documents <- readAhead{d, err}:
			case <-ctx.Done():
				return
			}
		}
	}()
	return a
}
