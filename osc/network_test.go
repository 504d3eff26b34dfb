package osc

import (
	"math/rand/v2"
	"net"
	"sync"
	"time"
)

// network is a link in memory to a mock desk. It loses, doubles and delays packets, each by itself, and so reorders
// them. It runs on the time of a synctest bubble.
type network struct {
	desk   func(Message) []Message // what the desk answers to a message
	copies func(*rand.Rand) []time.Duration
	takes  time.Duration // how long Send takes
	born   time.Time
	inbox  chan []byte
	closed chan struct{}
	end    sync.Once

	mu     sync.Mutex
	dice   *rand.Rand
	sent   []sending
	refuse error // what Send returns
	reason error // what Receive returns once closed
}

// sending is a message that was sent, and when, since the network was made.
type sending struct {
	At      time.Duration
	Address string
}

// newNetwork gives a network on which each packet arrives as the copies say, one after each of their delays.
func newNetwork(desk func(Message) []Message, copies func(*rand.Rand) []time.Duration) *network {
	return &network{
		desk: desk, copies: copies, born: time.Now(), dice: rand.New(rand.NewPCG(1, 2)),
		inbox: make(chan []byte, 1<<16), closed: make(chan struct{}), reason: net.ErrClosed,
	}
}

// after is a network that only takes its time.
func after(delay time.Duration) func(*rand.Rand) []time.Duration {
	return func(*rand.Rand) []time.Duration { return []time.Duration{delay} }
}

// unreliable loses a part of the packets, doubles a part, and delays each copy by up to the longest.
func unreliable(loss, double float64, longest time.Duration) func(*rand.Rand) []time.Duration {
	return func(dice *rand.Rand) []time.Duration {
		var delays []time.Duration
		if dice.Float64() >= loss {
			delays = append(delays, time.Duration(dice.Int64N(int64(longest))))
		}
		if dice.Float64() < double {
			delays = append(delays, time.Duration(dice.Int64N(int64(longest))))
		}
		return delays
	}
}

func (n *network) Send(packet []byte) error {
	heard, err := Decode(packet)
	if err != nil {
		return err
	}
	time.Sleep(n.takes)
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.refuse != nil {
		return n.refuse
	}
	message := heard[0].Message
	n.sent = append(n.sent, sending{time.Since(n.born), message.Address})
	for _, delay := range n.copies(n.dice) {
		time.AfterFunc(delay, func() { n.arrive(message) })
	}
	return nil
}

// arrive lets the desk act on a message, and sends its answers.
func (n *network) arrive(message Message) {
	answers := n.desk(message)
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, answer := range answers {
		packet, err := answer.Encode()
		if err != nil {
			panic(err)
		}
		for _, delay := range n.copies(n.dice) {
			time.AfterFunc(delay, func() { n.deliver(packet) })
		}
	}
}

// sendsAtOnce makes it a link like UDP.
func (n *network) sendsAtOnce() {}

func (n *network) deliver(packet []byte) {
	select {
	case n.inbox <- packet:
	case <-n.closed:
	}
}

func (n *network) Receive(buffer []byte) (int, error) {
	select {
	case packet := <-n.inbox:
		return copy(buffer, packet), nil
	case <-n.closed:
		return 0, n.reason
	}
}

func (n *network) Close() error {
	n.end.Do(func() { close(n.closed) })
	return nil
}

// die ends the network for another reason than being closed.
func (n *network) die(reason error) {
	n.end.Do(func() {
		n.reason = reason
		close(n.closed)
	})
}

func (n *network) sendings() []sending {
	n.mu.Lock()
	defer n.mu.Unlock()
	return append([]sending(nil), n.sent...)
}

// holding is a mock desk that holds a number at each address, and answers a message without arguments with it.
type holding struct {
	mu     sync.Mutex
	values map[string]int32
}

func (h *holding) hear(m Message) []Message {
	h.mu.Lock()
	defer h.mu.Unlock()
	value, known := h.values[m.Address]
	if !known {
		return nil
	}
	if len(m.Arguments) > 0 {
		h.values[m.Address] = m.Arguments[0].(int32)
		return nil
	}
	return []Message{{m.Address, []any{value}}}
}

func (h *holding) set(address string, value int32) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.values[address] = value
}

func (h *holding) now() map[string]int32 {
	h.mu.Lock()
	defer h.mu.Unlock()
	now := make(map[string]int32, len(h.values))
	for address, value := range h.values {
		now[address] = value
	}
	return now
}

func silent(Message) []Message { return nil }

// numbers reads what a holding answers.
func numbers(h Heard) []Report[string, int32] {
	if len(h.Arguments) != 1 {
		return nil
	}
	value, ok := h.Arguments[0].(int32)
	if !ok {
		return nil
	}
	return []Report[string, int32]{{h.Address, value}}
}

func ask(addresses ...string) []Question[string] {
	var questions []Question[string]
	for _, address := range addresses {
		questions = append(questions, Question[string]{Message{Address: address}, []string{address}})
	}
	return questions
}
