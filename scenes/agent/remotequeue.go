package agent

import (
	"errors"
	"fmt"
	"net/netip"
	"slices"
	"time"

	"deskhand/osc"
)

// ask takes a request that may change something: a new one is done at once or when its turn has come, and one that is
// known is only answered.
func (s *serving) ask(r request, from netip.AddrPort) {
	m := remoteMark{from.Addr(), r.id}
	known := s.ledger.find(m, time.Now())
	switch {
	case known != nil && known.want != r.want:
		s.send(from, failedAnswer(r.id, CodeIDUsed, fmt.Sprintf("id %s was that of another request (%s) up to now: count on, or use it again %.0f s after its answer",
			r.id, known.want, rememberedFor.Seconds())))
	case known != nil:
		s.again(known, from)
	case s.ending:
		s.send(from, failedAnswer(r.id, CodeEnding, "the agent is ending; this was not done"))
	case !s.ledger.hasRoom(m.sender):
		s.send(from, failedAnswer(r.id, CodeBusy, "too many requests within a few seconds; this was not done"))
	default:
		s.accept(&ledgerEntry{remoteMark: m, want: r.want, askers: []netip.AddrPort{s.answersTo(from)}}, from)
	}
}

// accept has a new request done, if there is room for it.
func (s *serving) accept(e *ledgerEntry, from netip.AddrPort) {
	if hold, ok := e.want.(askHold); ok {
		s.ledger.add(e)
		s.doer.Hold(hold.on)
		s.answer(e, doneAnswer(e.id, RemoteDone{Text: e.want.String()}))
		return
	}
	if len(s.waiting) >= mostWaiting {
		s.send(from, failedAnswer(e.id, CodeBusy, fmt.Sprintf("%d requests wait already; this was not done", len(s.waiting))))
		return
	}
	s.ledger.add(e)
	e.before = s.doer.Absences()
	s.waiting = append(s.waiting, e)
	s.send(from, takenAnswer(e.id, s.before(e)))
	s.startNext()
}

// again answers a request that came once more: with its answer, or that it is known.
func (s *serving) again(e *ledgerEntry, from netip.AddrPort) {
	if e.answer != nil {
		s.sendPacket(s.answersTo(from), e.answer)
		return
	}
	e.askedBy(s.answersTo(from))
	s.send(from, takenAnswer(e.id, s.before(e)))
}

// before is how many requests go before one that was taken.
func (s *serving) before(e *ledgerEntry) int {
	if e == s.doing {
		return 0
	}
	n := slices.Index(s.waiting, e)
	if s.doing != nil {
		n++
	}
	return n
}

// startNext has the next request done if none is being done. Serve does not return before it is.
func (s *serving) startNext() {
	s.refuseLate()
	if s.doing != nil || len(s.waiting) == 0 || s.ctx.Err() != nil {
		return
	}
	s.doing, s.waiting = s.waiting[0], s.waiting[1:]
	ask, before := s.doing.want.(Ask), s.doing.before
	go func() {
		d, err := s.doer.Do(s.ctx, ask, before)
		s.finished <- remoteOutcome{d, err}
	}()
}

// refuseLate refuses what has waited while the computer slept: nobody expects it to be done now.
func (s *serving) refuseLate() {
	waiting := s.waiting
	s.waiting = nil
	for _, e := range waiting {
		if e.before == s.doer.Absences() {
			s.waiting = append(s.waiting, e)
			continue
		}
		s.answer(e, failedAnswer(e.id, CodeLate, errLate.Text))
	}
}

func (s *serving) finish(o remoteOutcome) {
	e := s.doing
	s.doing = nil
	var failure *RemoteFailure
	switch {
	case o.err == nil:
		s.answer(e, doneAnswer(e.id, o.done))
	case errors.As(o.err, &failure):
		s.answer(e, failedAnswer(e.id, failure.Code, o.err.Error()))
	default:
		s.answer(e, failedAnswer(e.id, CodeTrouble, o.err.Error()))
	}
	s.startNext()
}

// answer remembers the answer to a request, and sends it to all who asked.
func (s *serving) answer(e *ledgerEntry, m osc.Message) {
	packet, err := m.Encode()
	if err != nil {
		s.trouble(err)
	}
	s.ledger.settle(e, packet, time.Now())
	for _, asker := range e.askers {
		s.sendPacket(asker, packet)
	}
}
