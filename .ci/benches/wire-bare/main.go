// Command wire-bare does with bare sockets what a reading and a sending of settings do: the
// limit that the machine sets to a Go program. It prints how many values that stands for, and
// the seconds and the seconds of processor time (user and system) that it took, for all
// rounds together. Each round opens its own socket.
//
//	wire-bare exchange HOST:PORT WINDOW ROUNDS <SIZES
//	wire-bare send HOST:PORT ROUNDS <SIZES
//
// Each line of SIZES is for one packet to send: its size, and for an exchange how many values
// and packets its answer has. The first four bytes of such a packet are the number of the
// line, from 0, by which the other side knows what to answer.
package main

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"os"
	"strconv"
	"time"

	"deskhand/.ci/benches/measure"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "wire-bare:", err)
		os.Exit(1)
	}
}

func run(words []string) error {
	if len(words) == 0 || len(words) != map[string]int{"exchange": 4, "send": 3}[words[0]] {
		return errors.New("give exchange HOST:PORT WINDOW ROUNDS, or send HOST:PORT ROUNDS")
	}
	rounds, err := strconv.Atoi(words[len(words)-1])
	if err != nil {
		return err
	}
	packets, err := load()
	if err != nil {
		return err
	}
	work := func(conn *net.UDPConn) (int, error) { return send(conn, packets) }
	if words[0] == "exchange" {
		window, err := strconv.Atoi(words[2])
		if err != nil {
			return err
		}
		work = func(conn *net.UDPConn) (int, error) { return exchange(conn, packets, window) }
	}
	return measure.Rounds(rounds, func() (int, error) {
		conn, err := net.Dial("udp", words[1])
		if err != nil {
			return 0, err
		}
		values, err := work(conn.(*net.UDPConn))
		return values, errors.Join(err, conn.Close())
	})
}

// packet is one to send, and what comes for it.
type packet struct {
	bytes           []byte
	values, answers int
}

func load() (packets []packet, err error) {
	lines := bufio.NewScanner(os.Stdin)
	for lines.Scan() {
		var size, values, answers int
		if _, err := fmt.Sscan(lines.Text(), &size, &values, &answers); err != nil {
			return nil, err
		}
		p := packet{bytes: make([]byte, size), values: values, answers: answers}
		binary.BigEndian.PutUint32(p.bytes, uint32(len(packets)))
		packets = append(packets, p)
	}
	return packets, lines.Err()
}

// send sends all packets, as fast as it goes.
func send(conn *net.UDPConn, packets []packet) (values int, err error) {
	for _, p := range packets {
		if _, err := conn.Write(p.bytes); err != nil {
			return values, err
		}
		values += p.values
	}
	return values, nil
}

// exchange sends all packets, so many at a time, and waits for what comes for them.
func exchange(conn *net.UDPConn, packets []packet, window int) (values int, err error) {
	_ = conn.SetReadBuffer(4 << 20)
	if err := conn.SetReadDeadline(time.Now().Add(5 * time.Second)); err != nil {
		return 0, err
	}
	missing := make([]int, len(packets))
	next, inFlight := 0, 0
	buffer := make([]byte, 1<<16)
	for next < len(packets) || inFlight > 0 {
		for next < len(packets) && inFlight < window {
			if _, err := conn.Write(packets[next].bytes); err != nil {
				return values, err
			}
			missing[next] = packets[next].answers
			next, inFlight = next+1, inFlight+1
		}
		n, err := conn.Read(buffer)
		if err != nil || n < 4 {
			return values, fmt.Errorf("a packet was lost, after %d values: %w", values, err)
		}
		i := binary.BigEndian.Uint32(buffer)
		if missing[i]--; missing[i] == 0 {
			values, inFlight = values+packets[i].values, inFlight-1
		}
	}
	return values, nil
}
