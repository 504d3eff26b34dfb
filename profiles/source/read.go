package source

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strconv"
)

// ErrNotPlain says that something is no plain file: a folder, a pipe or a device.
var ErrNotPlain = errors.New("this is not a plain file")

// TooLarge is the error for a file that has more bytes than one of its sort can have.
type TooLarge struct{ Size, Most int64 }

func (e *TooLarge) Error() string {
	return fmt.Sprintf("this is no file that deskhand or a person wrote: it has %s, and %s is the most; move it away", Bytes(e.Size), Bytes(e.Most))
}

// Bytes says a size as people read it, "1.5 GiB".
func Bytes(n int64) string {
	size, units := float64(n), []string{"bytes", "KiB", "MiB", "GiB", "TiB"}
	for size >= 1024 && len(units) > 1 {
		size, units = size/1024, units[1:]
	}
	return strconv.FormatFloat(math.Round(size*10)/10, 'f', -1, 64) + " " + units[0]
}

// ReadFile gives what a plain file holds, which may be so many bytes at most: else the error is [TooLarge].
// Nothing else than a plain file is opened, since to open a pipe could wait for ever. Errors don't name the
// file: the caller knows what people call it.
func ReadFile(path string, most int64) ([]byte, error) {
	f, size, err := Open(path, most)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return ReadAll(f, size, most)
}

// Open opens a file to be read bit by bit, which is as [ReadFile] wants it now, and gives its size.
func Open(path string, most int64) (f *os.File, size int64, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, 0, Cause(err)
	}
	if err := IsReadable(info, most); err != nil {
		return nil, 0, err
	}
	if f, err = os.OpenFile(path, os.O_RDONLY|dontWait, 0); err != nil {
		return nil, 0, Cause(err)
	}
	if info, err = f.Stat(); err == nil { // another file may have come in its place
		err = IsReadable(info, most)
	}
	if err != nil {
		_ = f.Close()
		return nil, 0, Cause(err)
	}
	return f, info.Size(), nil
}

// IsReadable is nil for a plain file of at most so many bytes.
func IsReadable(info fs.FileInfo, most int64) error {
	switch {
	case !info.Mode().IsRegular():
		return ErrNotPlain
	case info.Size() > most:
		return &TooLarge{info.Size(), most}
	}
	return nil
}

// ReadAll reads to the end, over which more than so many bytes are an error: a file may grow while it is read. It had
// so many when it was looked at, for which there is room from the beginning.
func ReadAll(f io.Reader, size, most int64) ([]byte, error) {
	var text bytes.Buffer
	text.Grow(int(min(max(size, 0), most)) + bytes.MinRead)
	if _, err := text.ReadFrom(io.LimitReader(f, most+1)); err != nil {
		return nil, Cause(err)
	}
	if int64(text.Len()) > most {
		return nil, &TooLarge{int64(text.Len()), most}
	}
	return text.Bytes(), nil
}

// Cause leaves out of an error of the file system what was tried, and the path: its caller says both in the
// words that people use.
func Cause(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	var call *os.SyscallError
	switch {
	case errors.As(err, &path):
		return path.Err
	case errors.As(err, &link):
		return link.Err
	case errors.As(err, &call):
		return call.Err
	}
	return err
}
