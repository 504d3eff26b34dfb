package osc

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/time/rate"
)

// Report is what a message from the desk says: the value of what the key names.
type Report[K comparable, V any] struct {
	Key   K
	Value V
}

// Question is a message that asks, and what it asks about. It is answered when each of its keys was reported. One
// without keys waits for nothing and is not sent.
type Question[K comparable] struct {
	Message Message
	Keys    []K
}

// Conversation tells and asks over one link. K names what an answer is about, V is what it says.
//
// OSC's answers carry no mark of the question that they answer, and packets get lost, doubled and delayed. So a question
// is asked again until something is reported about it, and any report about a key counts, whoever caused it.
//
// All methods may be called from several goroutines at a time.
type Conversation[K comparable, V any] struct {
	link      Link
	manner    Manner
	patience  time.Duration // the manner's
	limiter   *rate.Limiter
	read      func(Heard) []Report[K, V]
	news      func(Report[K, V])
	malformed atomic.Uint64

	ended chan struct{} // closed when the link is dead and nothing will be read any more
	err   error         // why; set before ended is closed

	prompt bool            // the link's Send waits for nobody
	woken  []*asking[K, V] // who has room to ask more; for the goroutine that listens alone

	mu     sync.Mutex // for all below, and for what every asking holds
	topics topics[K, V]
	trip   roundTrip
}

// Converse begins a conversation, which from now on owns the link. It starts one goroutine, which Close ends: that reads
// the link, has read say what each message reports, and passes every report to news (which may be nil) in the order of
// arrival. When an Ask returns, news has been told what it returns. Both functions must be quick, as nothing else is
// read meanwhile, and must not call the conversation.
func Converse[K comparable, V any](link Link, m Manner, read func(Heard) []Report[K, V], news func(Report[K, V])) *Conversation[K, V] {
	m = m.withDefaults()
	pace := rate.Inf
	if m.Pace > 0 {
		pace = rate.Limit(m.Pace)
	}
	c := &Conversation[K, V]{
		link: link, manner: m, patience: m.patience(), limiter: rate.NewLimiter(pace, m.Burst), read: read, news: news,
		ended:  make(chan struct{}),
		topics: topics[K, V]{span: m.Linger, all: make(map[K]*topic[K, V])},
	}
	_, c.prompt = link.(promptLink)
	go c.listen()
	return c
}

// Malformed counts the packets that were dropped because they could not be decoded.
func (c *Conversation[K, V]) Malformed() uint64 { return c.malformed.Load() }

// Close closes the link and waits until the last report has been passed on. What waits for an answer returns with an
// error that is net.ErrClosed. Closing it again is no error.
func (c *Conversation[K, V]) Close() error {
	err := c.link.Close()
	<-c.ended
	return err
}

// Tell sends messages in order, at the conversation's pace. It returns when all have been sent, which does not say that
// any arrived. If one of them can't be encoded, none is sent.
func (c *Conversation[K, V]) Tell(ctx context.Context, messages ...Message) error {
	packets := make([][]byte, len(messages))
	for i, m := range messages {
		packet, err := m.Encode()
		if err != nil {
			return err
		}
		packets[i] = packet
	}
	for i, packet := range packets {
		err := c.pace(ctx)
		if err == nil {
			err = c.link.Send(packet)
		}
		if err != nil {
			return fmt.Errorf("%d of %d messages sent, next %s: %w", i, len(messages), printable(messages[i].Address), err)
		}
	}
	return nil
}

// TellWhenDue has a message made once the pace allows for it, and sends it at once: for one that is to say what was heard
// last. The function must be quick.
func (c *Conversation[K, V]) TellWhenDue(ctx context.Context, makeMessage func() (Message, error)) error {
	if err := c.pace(ctx); err != nil {
		return err
	}
	m, err := makeMessage()
	if err != nil {
		return err
	}
	packet, err := m.Encode()
	if err != nil {
		return err
	}
	if err := c.link.Send(packet); err != nil {
		return fmt.Errorf("%s was not sent: %w", printable(m.Address), err)
	}
	return nil
}

// TellTogether sends messages in one bundle, when the pace allows for as many of them and unless mayStill, which is asked
// right before that, gives an error.
func (c *Conversation[K, V]) TellTogether(ctx context.Context, mayStill func() error, messages ...Message) error {
	packet, err := EncodeBundle(messages...)
	if err != nil {
		return err
	}
	for range messages {
		if err := c.pace(ctx); err != nil {
			return err
		}
	}
	if err := mayStill(); err != nil {
		return err
	}
	if err := c.link.Send(packet); err != nil {
		return fmt.Errorf("a bundle of %d messages was not sent: %w", len(messages), err)
	}
	return nil
}

// pace waits until a message may be sent. Its errors are the context's and those of a dead link.
func (c *Conversation[K, V]) pace(ctx context.Context) error {
	if err := c.alive(ctx); err != nil || !(c.manner.Pace > 0) {
		return err
	}
	turn := c.limiter.Reserve()
	delay := turn.Delay()
	if delay <= 0 {
		return nil
	}
	timer := time.NewTimer(delay)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		turn.Cancel()
		return ctx.Err()
	case <-c.ended:
		turn.Cancel()
		return c.err
	}
}

func (c *Conversation[K, V]) alive(ctx context.Context) error {
	select {
	case <-c.ended:
		return c.err
	default:
		return ctx.Err()
	}
}

// listen reads the link until it is dead.
func (c *Conversation[K, V]) listen() {
	buffer := make([]byte, MaxPacket)
	for {
		n, err := c.link.Receive(buffer)
		if err != nil {
			c.err = fmt.Errorf("the link to the desk has ended: %w", err)
			close(c.ended)
			return
		}
		heard, err := Decode(buffer[:n])
		if err != nil {
			c.malformed.Add(1)
		}
		for _, h := range heard {
			for _, report := range c.read(h) {
				c.hear(report)
			}
		}
		c.goOn()
	}
}

// hear passes a report on. Who waits for it is settled first: a question sent while news is being told must not take
// this report for its answer.
func (c *Conversation[K, V]) hear(report Report[K, V]) {
	c.mu.Lock()
	waiting := c.topics.answeredBy(report.Key)
	c.mu.Unlock()

	if c.news != nil {
		c.news(report)
	}
	if len(waiting) == 0 {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, w := range waiting {
		if w.answer(report.Value) && !slices.Contains(c.woken, w.a) {
			c.woken = append(c.woken, w.a)
		}
	}
}

// goOn has further questions sent where answers have made room.
func (c *Conversation[K, V]) goOn() {
	for _, a := range c.woken {
		if c.prompt {
			a.goOn()
		} else {
			a.wakeUp()
		}
	}
	clear(c.woken)
	c.woken = c.woken[:0]
}
