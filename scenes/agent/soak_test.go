package agent_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/agent"

	"github.com/google/go-cmp/cmp"
)

var (
	soakEvents = flag.Int("soak.events", 1000, "how many things happen in TestAnEvening")
	soakSeed   = flag.Uint64("soak.seed", 1, "which evening TestAnEvening is")
)

// TestAnEvening has much happen in any order: saves, hand moves, both at once, a network
// that loses packets or is gone, a desk that is switched off and on, swaps beside it, and
// an agent that ends and starts. At the end of each chapter all is quiet, and then file
// and desk agree on every value, or the difference was told as one that waits for a
// person. No file ever holds what nobody has set.
func TestAnEvening(t *testing.T) {
	s := newStage(t)
	s.swap("table-left", "pilot")
	e := &evening{stage: s, rng: rand.New(rand.NewPCG(*soakSeed, 5)), held: make(map[string]bool), waits: make(map[string]bool), given: make(map[string]bool)}
	for _, who := range soakPerformers {
		for _, set := range soakValues {
			e.given[who+" "+set.key+" "+set.value(s.read("performers/"+who+".toml"))] = true
		}
	}
	handles := openHandles()
	e.start()
	const chapter = 80
	for done := 0; done < *soakEvents; done += chapter {
		for range chapter {
			e.happen()
		}
		e.quiet()
		e.judge()
		t.Logf("%d of %d", done+chapter, *soakEvents)
	}
	s.stop()
	if now := openHandles(); now > handles {
		t.Errorf("%d files and sockets are open, and were %d", now, handles)
	}
	t.Logf("%d events, %v", *soakEvents, e.counts)
}

// evening is what goes on.
type evening struct {
	*stage
	rng *rand.Rand
	// held are the values that were told to wait for a person.
	held map[string]bool
	// waits are the positions at which a recall did not come to its end.
	waits map[string]bool
	// given is what anybody has ever set: performer, key and value.
	given  map[string]bool
	counts [8]int
	// story is what happened in this chapter, for who has to find a fault.
	story []string
}

func (e *evening) say(format string, args ...any) {
	e.story = append(e.story, time.Now().Format("05.000 ")+fmt.Sprintf(format, args...))
}

var soakPerformers = []string{"botanist", "pilot"}

// soakValue is a value of the performers' files that is both saved and moved.
type soakValue struct {
	key, name string
	low, high int
}

var soakValues = []soakValue{
	{"fader", "fader", -12, -3},
	{"pan", "pan", -40, 40},
}

var soakSeats = map[string]int{"botanist": 3, "pilot": 5}

// value is what a file has.
func (v soakValue) value(text string) string {
	return strings.TrimSuffix(v.pattern().FindStringSubmatch(text)[1], ".0")
}

func (v soakValue) pattern() *regexp.Regexp {
	return regexp.MustCompile(`(?m)^` + v.key + ` = (\S+)`)
}

func (e *evening) start() {
	e.launch(agent.Options{ToDesk: true, ToFiles: true})
	e.note(e.next())
}

// happen has one thing happen.
func (e *evening) happen() {
	what := e.rng.IntN(100)
	which := 0
	switch {
	case what < 40:
		e.saveOne()
	case what < 80:
		which = 1
		e.moveOne()
	case what < 88:
		which = 2
		e.saveOne()
		e.moveOne()
	case what < 92:
		which = 3
		way := mockdesk.Way{Lose: 0.1, Double: 0.1, Reorder: 0.1}
		e.mock.Misbehave(mockdesk.Trouble{In: way, Out: way})
	case what < 94:
		which = 4
		e.mock.Misbehave(silence)
	case what < 95:
		which = 5
		e.mock.Restart(time.Duration(e.rng.IntN(2)) * 300 * time.Millisecond)
	case what < 97:
		which = 6
		e.stop()
		e.collect()
		e.start()
	default:
		which = 7
		e.mock.Misbehave(noTrouble)
	}
	e.counts[which]++
	e.say("happened: %s", [...]string{"", "", "", "loss", "silence", "restart", "agent anew", "well"}[which])
	e.collect()
	time.Sleep(time.Duration(e.rng.IntN(20)) * time.Millisecond) // an evening goes on, with nothing to wait for
}

func (e *evening) any() (who string, v soakValue, n int) {
	who = soakPerformers[e.rng.IntN(len(soakPerformers))]
	v = soakValues[e.rng.IntN(len(soakValues))]
	n = v.low + e.rng.IntN(v.high-v.low+1)
	e.given[fmt.Sprintf("%s %s %d", who, v.key, n)] = true
	return who, v, n
}

func (e *evening) saveOne() {
	who, v, n := e.any()
	file := "performers/" + who + ".toml"
	text := v.pattern().ReplaceAllString(e.read(file), fmt.Sprintf("%s = %d.0", v.key, n))
	e.say("saved: %s %s %d", who, v.key, n)
	if e.rng.IntN(2) == 0 {
		e.save(file, text)
	} else {
		e.write(file, text)
	}
}

func (e *evening) moveOne() {
	who, v, n := e.any()
	e.say("moved: %s %s %d", who, v.key, n)
	e.hand(fmt.Sprintf("channel.%d.%s", soakSeats[who], v.name), profiles.Number(float64(n)))
}

// collect takes what was told up to now.
func (e *evening) collect() {
	for {
		select {
		case event, more := <-e.events:
			if !more {
				return
			}
			e.note(event)
		default:
			return
		}
	}
}

func (e *evening) note(event agent.Event) {
	e.say("    told: %s", sayEvent(event))
	if event.Kind == agent.Trouble || event.Result != nil && !event.Result.Complete() {
		e.waits[event.Position] = true // for a swap, all of it
	}
	for _, c := range event.Changes {
		if event.Kind == agent.Held || event.Kind == agent.Saved {
			e.held[c.Parameter.String()+" "+c.Spec.Say(c.From)+" "+c.Spec.Say(c.To)] = true
		}
	}
}

// quiet lets the network be well and waits until the agent has nothing left to do: a save
// of a file that nobody touched else comes to the desk, and a hand's move beside it into
// the file, a few times over.
func (e *evening) quiet() {
	e.mock.Misbehave(noTrouble)
	deadline := time.Now().Add(patience)
	for len(e.differences()) > 0 {
		if time.Now().After(deadline) {
			return // judge says what is wrong
		}
		select {
		case event, more := <-e.events:
			if !more {
				e.t.Fatal("the agent ended")
			}
			e.note(event)
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// differences lists where file and desk differ, and nobody was told.
func (e *evening) differences() []string {
	book := e.readBook()
	var all []string
	for who, channel := range soakSeats {
		position := map[int]string{3: "lectern", 5: "table-left"}[channel]
		if e.waits[position] {
			continue
		}
		cast, err := book.CastFor(e.venue, position, who, nil)
		if err != nil {
			return []string{err.Error()}
		}
		strip, err := e.venue.Resolve(cast)
		if err != nil {
			return []string{err.Error()}
		}
		holds := make(scenes.Values)
		for _, q := range e.venue.Desk.Profile.At(strip.Position.Place()) {
			holds[q], _ = e.mock.Holds(q)
		}
		for _, c := range e.venue.Compare(holds, strip.Wanted) {
			if said := c.Parameter.String() + " " + c.Spec.Say(c.From) + " " + c.Spec.Say(c.To); !e.held[said] {
				all = append(all, said)
			}
		}
	}
	return all
}

// judge fails where file and desk differ untold, or a file holds what nobody gave it.
func (e *evening) judge() {
	e.t.Helper()
	if diff := cmp.Diff([]string(nil), e.differences()); diff != "" {
		e.t.Fatalf("file and desk differ, and nobody was told (seed %d):\n%s\n%s", *soakSeed, diff, strings.Join(e.story, "\n"))
	}
	for _, who := range soakPerformers {
		text := e.read("performers/" + who + ".toml")
		for _, v := range soakValues {
			if n := v.value(text); !e.given[who+" "+v.key+" "+n] {
				e.t.Fatalf("%s has a %s of %s, which nobody has set (seed %d)", who, v.key, n, *soakSeed)
			}
		}
	}
	// A person settles all by the book, so that the next chapter begins in step.
	e.swap("lectern", "botanist")
	e.swap("table-left", "pilot")
	clear(e.held)
	clear(e.waits)
	e.story = nil
}

func openHandles() int {
	entries, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		return 0 // this system does not list them; others do
	}
	return len(entries)
}
