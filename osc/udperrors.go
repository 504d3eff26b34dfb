package osc

import (
	"errors"
	"slices"
	"syscall"
)

// Error numbers of Windows sockets, which Go's own constants don't stand for.
const (
	windowsTooLong   = syscall.Errno(10040)
	windowsInUse     = syscall.Errno(10048)
	windowsNotOurs   = syscall.Errno(10049)
	windowsNetDown   = syscall.Errno(10050)
	windowsNoNet     = syscall.Errno(10051)
	windowsNetReset  = syscall.Errno(10052)
	windowsReset     = syscall.Errno(10054)
	windowsNoBuffers = syscall.Errno(10055)
	windowsRefused   = syscall.Errno(10061)
	windowsNoHost    = syscall.Errno(10065)
)

// isEcho reports whether an error tells of an earlier packet: an ICMP message came back, as nobody listens there (yet).
// It says nothing about the socket, and the desk may hear the next packet.
func isEcho(err error) bool {
	return isOneOf(err, syscall.ECONNREFUSED, syscall.ECONNRESET, windowsNetReset, windowsReset, windowsRefused)
}

// isPassing reports whether a socket that failed to receive can receive again: what failed was an earlier packet, or
// the network is not there at the moment.
func isPassing(err error) bool {
	return isEcho(err) || isOneOf(err, syscall.EHOSTUNREACH, syscall.ENETUNREACH, syscall.EHOSTDOWN, syscall.ENETDOWN,
		syscall.EPROTO, syscall.ENOPROTOOPT, syscall.EINTR, windowsNetDown, windowsNoNet, windowsNoHost)
}

func isOneOf(err error, numbers ...syscall.Errno) bool {
	var number syscall.Errno
	return errors.As(err, &number) && slices.Contains(numbers, number)
}
