package main

import (
	"encoding/binary"
	"net"
)

// echo is a socket that answers a packet with as many packets of the same sizes as a desk
// does, at once and without a look at anything but the number that the packet begins with,
// which its answers begin with, too.
type echo struct {
	conn    *net.UDPConn
	answers [][][]byte
}

func listen(answers [][][]byte) (*echo, error) {
	conn, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		return nil, err
	}
	_ = conn.SetReadBuffer(1 << 20) // as the mock desk has
	for i, packets := range answers {
		for _, packet := range packets {
			binary.BigEndian.PutUint32(packet, uint32(i))
		}
	}
	e := &echo{conn: conn, answers: answers}
	go e.serve()
	return e, nil
}

func (e *echo) addr() string { return e.conn.LocalAddr().String() }

// serve answers until the socket is closed.
func (e *echo) serve() {
	buffer := make([]byte, 1<<16)
	for {
		_, from, err := e.conn.ReadFromUDPAddrPort(buffer)
		if err != nil {
			return
		}
		for _, packet := range e.answers[binary.BigEndian.Uint32(buffer)] {
			_, _ = e.conn.WriteToUDPAddrPort(packet, from)
		}
	}
}
