package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"net"
	"strings"
	"syscall"

	"deskhand/profiles/source"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"
)

// The exit codes of every command.
const (
	exitDone         = 0
	exitDiffers      = 1 // diff: differences; check: faults
	exitWrong        = 2 // the command or a file is wrong, or a plan is stale; nothing was sent
	exitNoDesk       = 3 // the desk did not answer, or is another; nothing was sent
	exitNotConfirmed = 4 // sent, but not all of it confirmed
	exitRefused      = 5 // refused by a limit or a safe; nothing was sent
)

// ended is an outcome that needs no message: what was to be said has been printed.
type ended struct{ code int }

func (e ended) Error() string { return fmt.Sprintf("exit %d", e.code) }

// unfinished is an error after something was sent.
type unfinished struct{ err error }

func (e unfinished) Error() string { return e.err.Error() }
func (e unfinished) Unwrap() error { return e.err }

// unreached is trouble with the link to the desk, before anything was sent.
type unreached struct{ err error }

func (e unreached) Error() string { return e.err.Error() }
func (e unreached) Unwrap() error { return e.err }

// codeOf gives the exit code for an error.
func codeOf(err error) int {
	var (
		end     ended
		half    unfinished
		stale   *recall.Stale
		far     unreached
		other   *desk.OtherDesk
		refused *recall.Refused
	)
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &end):
		return end.code
	case errors.As(err, &half):
		return exitNotConfirmed
	case errors.As(err, &refused):
		return exitRefused
	case errors.As(err, &stale):
		return exitWrong // no limit forbids it: the same command again shows what would change now
	case errors.As(err, &other), errors.Is(err, desk.ErrSilent), errors.As(err, &far):
		return exitNoDesk
	}
	return exitWrong
}

// end says what went wrong, if something did, and gives the exit code.
func (a *app) end(err error) int {
	code := codeOf(err)
	var end ended
	if err != nil && !errors.As(err, &end) {
		if a.json {
			a.printJSON(errorJSON(err))
		}
		a.complain(err)
	}
	if trouble := a.out.trouble(); trouble != nil {
		a.complain(trouble)
		if code == exitDone && !a.sent {
			return exitWrong
		}
	}
	return code
}

// complain prints an error to standard error, each fault on a line of its own.
func (a *app) complain(err error) {
	for _, line := range strings.Split(plainError(err), "\n") {
		fmt.Fprintln(a.err, a.paint.bad("deskhand: ")+line)
	}
}

// plainError gives an error's text, each fault on a line of its own.
func plainError(err error) string {
	var refused *recall.Refused
	if errors.As(err, &refused) && refused.Rise > 0 {
		return err.Error() + sayAllow(refused.Rise)
	}
	if !errors.Is(err, context.Canceled) {
		return err.Error() + sayDisk(err)
	}
	// The user stopped the program, and knows that.
	return strings.ReplaceAll("stopped: "+err.Error(), ": "+context.Canceled.Error(), "")
}

// sayDisk says what to do about a disk or a folder that doesn't take what is written.
func sayDisk(err error) string {
	var network *net.OpError
	switch {
	case errors.As(err, &network): // whose rights are others
		return ""
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG):
		return "; make room there, then do it again"
	case errors.Is(err, syscall.EROFS):
		return "; that disk is for reading only: copy the book to another, or make it writable"
	case errors.Is(err, fs.ErrPermission):
		return "; whoever owns it, and the folder that it is in, can give you the right to it"
	}
	return ""
}

// enoughRise rounds a rise in dB up to what a person writes to allow it.
func enoughRise(rise float64) float64 {
	const rounding = 1e-6
	return math.Ceil(rise*10-rounding) / 10
}

// sayAllow says which flag lets a rise in dB through, if one does.
func sayAllow(rise float64) string {
	rise = enoughRise(rise)
	if rise > mostRise {
		return fmt.Sprintf("; --allow-rise goes no further than %d", mostRise)
	}
	return fmt.Sprintf("; --allow-rise %.1f would let it through this once", rise)
}

// faultsIn gives the faults of files that an error stands for.
func faultsIn(err error) source.Faults {
	var faults source.Faults
	errors.As(err, &faults)
	return faults
}
