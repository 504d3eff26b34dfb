package osc

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

// trouble is a bad network, and people who work on the desk meanwhile.
type trouble struct {
	Seed         uint64
	Loss, Double float64
	Keys, Window int
	Others       int // who ask about the same keys meanwhile, and don't always wait for their answers
	Afresh       bool
}

func drawTrouble(t *rapid.T) trouble {
	return trouble{
		Seed:   rapid.Uint64().Draw(t, "seed"),
		Loss:   rapid.Float64Range(0, 0.5).Draw(t, "loss"),
		Double: rapid.Float64Range(0, 0.5).Draw(t, "double"),
		Keys:   rapid.IntRange(1, 30).Draw(t, "keys"),
		Window: rapid.IntRange(1, 20).Draw(t, "window"),
		Others: rapid.IntRange(0, 3).Draw(t, "others"),
		Afresh: rapid.Bool().Draw(t, "afresh"),
	}
}

// rehearse asks several times through the trouble, while a hand moves everything upwards. As a value never comes back,
// it tells when it was held. The result is what went wrong.
func (p trouble) rehearse(t *testing.T) (fault string) {
	desk := &holding{values: make(map[string]int32)}
	var addresses []string
	for i := range p.Keys {
		addresses = append(addresses, fmt.Sprintf("/in/%d", i))
		desk.set(addresses[i], 0)
	}
	// Question and answer together take less than Linger.
	n := newNetwork(desk.hear, unreliable(p.Loss, p.Double, 49*ms))
	n.dice = rand.New(rand.NewPCG(p.Seed, 1))
	c := Converse(n, Manner{Window: p.Window, Tries: 1000}, numbers, nil)
	defer c.Close()

	var busy sync.WaitGroup
	defer busy.Wait()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	busy.Go(func() { handMoves(ctx, desk, addresses, p.Seed) })
	for i := range p.Others {
		busy.Go(func() { askAround(ctx, c, addresses, p.Seed+uint64(i)) })
	}
	for range 4 {
		before := desk.now()
		asking := c.Ask
		if p.Afresh {
			asking = c.AskAfresh
		}
		got, err := asking(t.Context(), ask(addresses...), nil)
		if err != nil {
			return err.Error()
		}
		after := desk.now()
		for _, address := range addresses {
			value, ok := got[address]
			if !ok || value > after[address] || p.Afresh && value < before[address] {
				return fmt.Sprintf("%s: got %d (%v), held from %d to %d meanwhile", address, value, ok, before[address], after[address])
			}
		}
	}
	return ""
}

func handMoves(ctx context.Context, desk *holding, addresses []string, seed uint64) {
	dice := rand.New(rand.NewPCG(seed, 2))
	for move := int32(1); ctx.Err() == nil; move++ {
		time.Sleep(time.Duration(dice.Int64N(int64(5 * ms))))
		desk.set(addresses[dice.IntN(len(addresses))], move)
	}
}

func askAround(ctx context.Context, c *Conversation[string, int32], addresses []string, seed uint64) {
	dice := rand.New(rand.NewPCG(seed, 3))
	for ctx.Err() == nil {
		patience, cancel := context.WithTimeout(ctx, time.Duration(dice.Int64N(int64(150*ms))))
		_, _ = c.Ask(patience, ask(addresses[:1+dice.IntN(len(addresses))]...), nil)
		cancel()
		time.Sleep(time.Duration(dice.Int64N(int64(300 * ms))))
	}
}

func TestEveryQuestionIsAnsweredOverABadNetworkAndNeverFromBefore(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := drawTrouble(rt)
		fault := "did not end"
		synctest.Test(t, func(t *testing.T) { fault = p.rehearse(t) })
		if fault != "" {
			rt.Fatal(fault)
		}
	})
}
