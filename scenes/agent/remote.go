package agent

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"strings"
	"sync/atomic"

	"deskhand/osc"
	"deskhand/scenes"
)

// Bounds of what waits.
const (
	mostArrived  = 64 // packets that were received and not yet looked at
	mostWaiting  = 8  // requests that wait for the one that is being done
	mostTogether = 16 // messages in one bundle
)

// remotePort is where requests come in and answers go out: an osc.UDPServer, or a network without sockets.
type remotePort interface {
	Receive(buffer []byte) (int, netip.AddrPort, error)
	Send(packet []byte, to netip.AddrPort) error
	Strangers() uint64
	Close() error
}

// Remote takes requests from listed senders over UDP, has them done one at a time, and answers each. A request that
// arrives twice is done once.
type Remote struct {
	port       remotePort
	address    net.Addr
	answerPort uint16
	doer       RemoteDoer
	trouble    func(error)
	nonsense   atomic.Uint64
	lost       atomic.Uint64
}

// RemoteCounts count packets and messages since the start.
type RemoteCounts struct {
	Strangers uint64 // packets from senders that aren't listed, which nobody looked into
	Nonsense  uint64 // packets and messages from listed senders that are no request
	Lost      uint64 // packets from listed senders that there was no room for
}

// OpenRemote listens at an address of this machine, ADDRESS:PORT, to the senders that the book lists. Trouble is told
// why an answer could not be sent, and may be nil. Serve or Close ends it.
func OpenRemote(local string, who scenes.RemoteSettings, doer RemoteDoer, trouble func(error)) (*Remote, error) {
	if len(who.From) == 0 {
		return nil, errors.New(`the book lists nobody who may ask: write [remote] from = ["192.168.7.20"] in book.toml, with the addresses of your own senders`)
	}
	server, err := osc.ListenUDP(local, who.Listed)
	if err != nil {
		return nil, err
	}
	r := newRemote(server, doer, trouble)
	r.address, r.answerPort = server.LocalAddr(), who.AnswerPort
	return r, nil
}

func newRemote(p remotePort, doer RemoteDoer, trouble func(error)) *Remote {
	if trouble == nil {
		trouble = func(error) {}
	}
	return &Remote{port: p, doer: doer, trouble: trouble}
}

// Address is where it listens.
func (r *Remote) Address() net.Addr { return r.address }

// Counts gives the counts. It may be called at any time.
func (r *Remote) Counts() RemoteCounts {
	return RemoteCounts{Strangers: r.port.Strangers(), Nonsense: r.nonsense.Load(), Lost: r.lost.Load()}
}

// Close ends what was opened and never served. After Serve it does nothing.
func (r *Remote) Close() error { return r.port.Close() }

// Serve takes requests until the context ends. What is being done then is waited for and answered; what waits is not
// done. The port is closed when it returns. The error says that the port failed; the end of the context is none.
func (r *Remote) Serve(ctx context.Context) error {
	arrived := make(chan remotePacket, mostArrived)
	dead := make(chan error, 1)
	go r.listen(arrived, dead)
	s := serving{Remote: r, ctx: ctx, arrived: arrived, dead: dead, finished: make(chan remoteOutcome, 1), ledger: newLedger()}
	failure := s.run()
	err := r.port.Close()
	if failure != nil {
		return fmt.Errorf("remote control has ended: %w", failure)
	}
	<-dead
	return err
}

// remotePacket is one that a listed sender sent.
type remotePacket struct {
	bytes []byte
	from  netip.AddrPort
}

// listen receives until the port is dead, and never waits for anything else: what strangers send must not stay in
// the way of what comes behind it.
func (r *Remote) listen(arrived chan<- remotePacket, dead chan<- error) {
	buffer := make([]byte, osc.MaxPacket)
	for {
		n, from, err := r.port.Receive(buffer)
		if err != nil {
			dead <- err
			return
		}
		select {
		case arrived <- remotePacket{bytes.Clone(buffer[:n]), from}:
		default:
			r.lost.Add(1)
		}
	}
}

// remoteOutcome is how a request ended.
type remoteOutcome struct {
	done RemoteDone
	err  error
}

// serving is Remote at work. All but Do happens in one goroutine.
type serving struct {
	*Remote
	ctx      context.Context
	arrived  <-chan remotePacket
	dead     <-chan error
	finished chan remoteOutcome
	ledger   *ledger
	doing    *ledgerEntry
	waiting  []*ledgerEntry
	ending   bool
}

// run works until the end of the context or of the port, and of what is being done. The error is the port's.
func (s *serving) run() error {
	var failure error
	end := s.ctx.Done()
	for !s.ending || s.doing != nil {
		select {
		case p := <-s.arrived:
			s.take(p)
		case o := <-s.finished:
			s.finish(o)
		case <-end:
			end = nil
			s.end()
		case failure = <-s.dead:
			s.dead = nil
			s.end()
		}
	}
	return failure
}

// take looks into a packet of a listed sender.
func (s *serving) take(p remotePacket) {
	heard, err := osc.Decode(p.bytes)
	if err == nil && len(heard) > mostTogether {
		err = fmt.Errorf("a bundle of %d messages, expected at most %d", len(heard), mostTogether)
	}
	if err != nil {
		s.nonsense.Add(1)
		if bytes.HasPrefix(p.bytes, []byte(remoteRoot)) {
			s.send(p.from, failedAnswer(remoteID{}, CodeWrong, err.Error()))
		}
		return
	}
	for _, h := range heard {
		s.hear(h, p.from)
	}
}

// hear takes one message. One that is not meant for us is not answered: what sent it may answer in turn.
func (s *serving) hear(h osc.Heard, from netip.AddrPort) {
	if !strings.HasPrefix(h.Address, remoteRoot) || isAnswer(h.Address) {
		s.nonsense.Add(1)
		return
	}
	r, err := readRequest(h)
	if err != nil {
		s.nonsense.Add(1)
		s.send(from, failedAnswer(r.id, CodeWrong, err.Error()))
		return
	}
	if r.want == (askStatus{}) {
		s.send(from, stateAnswer(r.id, s.doer.State(), s.work()))
		return
	}
	s.ask(r, from)
}

func (s *serving) work() remoteWork {
	w := remoteWork{waiting: len(s.waiting), counts: s.Counts()}
	if s.doing != nil {
		w.doing = s.doing.want.String()
	}
	return w
}

// end refuses what waits, and all that comes from now on.
func (s *serving) end() {
	s.ending = true
	for _, e := range s.waiting {
		s.answer(e, failedAnswer(e.id, CodeEnding, "the agent is ending; this was not done"))
	}
	s.waiting = nil
}

// send answers an address. An answer that is lost is asked for again by the same request.
func (s *serving) send(to netip.AddrPort, m osc.Message) {
	packet, err := m.Encode()
	if err != nil {
		s.trouble(err)
		return
	}
	s.sendPacket(s.answersTo(to), packet)
}

func (s *serving) sendPacket(to netip.AddrPort, packet []byte) {
	if err := s.port.Send(packet, to); err != nil {
		s.trouble(err)
	}
}

// answersTo gives where the answer goes to a request that came from somewhere.
func (s *serving) answersTo(from netip.AddrPort) netip.AddrPort {
	if s.answerPort == 0 {
		return from
	}
	return netip.AddrPortFrom(from.Addr(), s.answerPort)
}
