package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/trace"
	"deskhand/scenes/desk"
)

const (
	// maxUnread bounds the packets that wait to be printed; more are dropped and counted.
	maxUnread = 1 << 12
	// followEvery is how often to ask to be told of changes where no profile says.
	followEvery = 3 * time.Second
)

// ear is a link with somebody who listens in: what the desk sends goes to packets, too.
type ear struct {
	osc.Link
	began   time.Time
	packets chan trace.Event
	dropped atomic.Uint64
	broken  chan error // why the link has ended
}

func (e *ear) Receive(buffer []byte) (int, error) {
	n, err := e.Link.Receive(buffer)
	if err != nil {
		select {
		case e.broken <- err:
		default: // told already
		}
		return n, err
	}
	select {
	case e.packets <- trace.Event{At: time.Since(e.began), Packet: slices.Clone(buffer[:n])}:
	default:
		e.dropped.Add(1)
	}
	return n, nil
}

// listening is a desk that is listened to.
type listening struct {
	*ear
	close func() error
	stop  context.CancelFunc
	done  sync.WaitGroup
	// note says what is remarkable about the desk, or is nil.
	note error
}

func (l *listening) end() {
	l.stop()
	_ = l.close() // nothing can be lost with it
	l.done.Wait()
}

// listenTo opens the link to a desk, and asks it to tell its changes for as long as it
// is listened to.
func (a *app) listenTo(ctx context.Context, t tracing, to target) (*listening, error) {
	link, err := dialFor(ctx, t, to)
	if err != nil {
		return nil, err
	}
	l := &listening{ear: &ear{
		Link: link, began: time.Now(),
		packets: make(chan trace.Event, maxUnread), broken: make(chan error, 1),
	}}
	ctx, l.stop = context.WithCancel(ctx)
	if to.profile == nil {
		c := osc.Converse(l.ear, osc.Manner{}, func(osc.Heard) []osc.Report[int, int] { return nil }, nil)
		l.close = c.Close
	} else {
		d := desk.Over(l.ear, to.profile, to.address, desk.Options{})
		l.close = d.Close
		if err := l.meet(ctx, d, t, to.profile); err != nil {
			l.end()
			return nil, err
		}
	}
	if len(t.follow) == 0 {
		return l, nil
	}
	var requests []osc.Message
	for _, address := range t.follow {
		requests = append(requests, osc.Message{Address: address})
	}
	if err := sendAll(link, requests); err != nil {
		l.end()
		return nil, unreached{err}
	}
	l.done.Go(func() { repeat(ctx, followEvery, func() error { return sendAll(link, requests) }) })
	return l, nil
}

// meet greets a desk whose profile is known, asks who it is and to be told of changes.
func (l *listening) meet(ctx context.Context, d *desk.Desk, t tracing, p *profiles.Profile) error {
	if p.Link.Over == profiles.OverUDP && t.over == "" {
		if err := sendAll(l.Link, []osc.Message{p.Link.Greeting}); err != nil {
			return unreached{err}
		}
		if p.Link.Alive.Address != "" {
			l.done.Go(func() {
				repeat(ctx, p.Link.AliveEvery, func() error { return sendAll(l.Link, []osc.Message{p.Link.Alive}) })
			})
		}
	}
	var other *desk.OtherDesk
	switch err := d.Identify(ctx); {
	case errors.As(err, &other) && t.into != "" && t.profile == "":
		return err // nothing of another desk goes into its profile
	case errors.As(err, &other):
		l.note = fmt.Errorf("%s says it is %q and not %q: the profile may not suit it", other.Address, other.Says, other.Want)
	case err != nil:
		return err
	}
	if requests, _ := p.AskToFollow(); len(requests) > 0 {
		if err := sendAll(l.Link, requests); err != nil {
			return unreached{err}
		}
		l.done.Go(func() { _ = d.Follow(ctx) }) // ends with the context or the link, which is told
	}
	return nil
}

// sendAll sends messages, without those that have no address.
func sendAll(link osc.Link, messages []osc.Message) error {
	for _, m := range messages {
		if m.Address == "" {
			continue
		}
		packet, err := m.Encode()
		if err == nil {
			err = link.Send(packet)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// repeat does something again and again, until it fails or the context ends.
func repeat(ctx context.Context, every time.Duration, do func() error) {
	ticker := time.NewTicker(every)
	defer ticker.Stop()
	for {
		select {
		case <-ticker.C:
			if do() != nil {
				return
			}
		case <-ctx.Done():
			return
		}
	}
}

// dialFor opens the link that the flags name, or else the profile.
func dialFor(ctx context.Context, t tracing, to target) (osc.Link, error) {
	like := profiles.Link{}
	if to.profile != nil {
		like = to.profile.Link
	}
	over, err := overNamed(t.over, like.Over)
	if err != nil {
		return nil, err
	}
	if over != profiles.OverUDP && t.listen != "" {
		return nil, fmt.Errorf("--listen is for udp: over %s a desk answers on the connection", over)
	}
	looking, cancel := context.WithTimeout(ctx, lookUpWithin)
	defer cancel()
	var link osc.Link
	if over == profiles.OverUDP {
		local := t.listen
		if local == "" && like.AnswerPort != 0 {
			local = strconv.Itoa(like.AnswerPort)
		}
		link, err = nilOr(osc.DialUDP(looking, to.address, osc.UDPOptions{Local: local, AnyPort: local != ""}))
	} else {
		o := osc.TCPOptions{Framing: osc.Sized, Alive: like.Alive, AliveEvery: like.AliveEvery}
		if over == profiles.OverSlip {
			o.Framing = osc.Slip
		}
		if like.Greeting.Address != "" {
			o.Greeting = []osc.Message{like.Greeting}
		}
		link, err = nilOr(osc.DialTCP(looking, to.address, o))
	}
	if err != nil {
		return nil, unreached{err}
	}
	return link, nil
}

// nilOr keeps a nil pointer from becoming a link that is not nil.
func nilOr[L osc.Link](link L, err error) (osc.Link, error) {
	if err != nil {
		return nil, err
	}
	return link, nil
}

func overNamed(word string, otherwise profiles.Over) (profiles.Over, error) {
	if word == "" {
		return otherwise, nil
	}
	for _, over := range []profiles.Over{profiles.OverUDP, profiles.OverSlip, profiles.OverSizes} {
		if over.String() == word {
			return over, nil
		}
	}
	return 0, fmt.Errorf("--over %q: write udp, tcp-slip or tcp-sizes", word)
}

// until hands over what the desk sends until the context or the link ends, and what had
// come by then. The error is why the link has ended.
func (l *listening) until(ctx context.Context, happened func(trace.Event)) (err error) {
	for {
		select {
		case e := <-l.packets:
			happened(e)
			continue
		case err = <-l.broken:
		case <-ctx.Done():
		}
		for range len(l.packets) {
			happened(<-l.packets)
		}
		if err != nil && !errors.Is(err, net.ErrClosed) {
			return unreached{fmt.Errorf("the link to the desk has ended: %w", err)}
		}
		return nil
	}
}
