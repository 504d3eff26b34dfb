package osc

import (
	"net"
	"time"
)

// stream is the reading side of one connection. It does not wait for the rest of a packet for ever.
type stream struct {
	conn   net.Conn
	stall  time.Duration
	timed  bool // the connection has a deadline for reading
	frames *FrameReader
	spoilt func(n uint64)
}

func newStream(conn net.Conn, f Framing, stall time.Duration, spoilt func(n uint64)) *stream {
	s := &stream{conn: conn, stall: stall, spoilt: spoilt}
	s.frames = NewFrameReader(s, f)
	return s
}

// Read is what the frame reader reads.
func (s *stream) Read(to []byte) (int, error) {
	var deadline time.Time
	if s.frames.within {
		deadline = time.Now().Add(s.stall)
	}
	if s.timed || s.frames.within {
		if err := s.conn.SetReadDeadline(deadline); err != nil {
			return 0, err
		}
	}
	s.timed = s.frames.within
	return s.conn.Read(to)
}

func (s *stream) next(buffer []byte) (int, error) {
	before := s.frames.Spoilt()
	n, err := s.frames.Next(buffer)
	if more := s.frames.Spoilt() - before; more > 0 {
		s.spoilt(more)
	}
	return n, readError(err, s.stall)
}
