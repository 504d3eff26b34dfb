package osc

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"syscall"
	"time"
)

// errDeskClosed is why a connection broke whose other side ended it between two packets. It is not io.EOF, which would look
// like the end of a file.
var errDeskClosed = errors.New("the desk closed it")

func readError(err error, stall time.Duration) error {
	switch {
	case err == io.EOF:
		return errDeskClosed
	case errors.Is(err, os.ErrDeadlineExceeded):
		return fmt.Errorf("the desk stopped within a packet and did not go on for %v: %w", stall, err)
	default:
		return err
	}
}

func writeError(err error, stall time.Duration) error {
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return fmt.Errorf("the desk took nothing for %v: %w", stall, err)
	}
	return err
}

func dialError(err error) error {
	switch {
	case isOneOf(err, syscall.ECONNREFUSED, windowsRefused):
		return fmt.Errorf("nothing listens at that port: %w", err)
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, os.ErrDeadlineExceeded):
		return fmt.Errorf("it does not answer: %w", err)
	default:
		return fmt.Errorf("can't connect: %w", err)
	}
}

// advice says what to do about a link that can't be had.
func advice(err error, f Framing) string {
	if errors.Is(err, ErrFrame) || errors.Is(err, io.ErrUnexpectedEOF) {
		return fmt.Sprintf("check that it frames its packets with %s", f)
	}
	return "check that the desk is on, its address and port, and that OSC over TCP is switched on there and free"
}
