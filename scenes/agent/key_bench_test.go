package agent_test

import (
	"testing"
	"time"

	"deskhand/scenes/agent"
)

// BenchmarkFromTheKeyToConfirmed is from a key until all of a scene is confirmed, on the shipped
// quay-24 with its pace, beside the least that this pace allows for as many messages. The network
// is this machine's own, whose round trip is some hundredths of a millisecond.
func BenchmarkFromTheKeyToConfirmed(b *testing.B) {
	s := newStage(b, "channels = 8", "channels = 24", "mixes = 3", "mixes = 8", "pace = 20000 ", "pace = 400 ", "burst = 256 ", "burst = 16 ",
		`linger = "10ms"`, `linger = "100ms"`, `settle = "10ms"`, `settle = "400ms"`, `lapses = "3s"`, `lapses = "8s"`)
	s.times = agent.Times{Look: 500 * time.Millisecond}
	s.run(live)
	for number := 1; number <= 2; number++ { // phantom and all that is set once
		s.ask(agent.AskItem{Number: number})
	}
	link := s.venue.Desk.Profile.Link
	var took, least time.Duration
	number := 1
	for b.Loop() {
		before := s.mock.Counts()
		began := time.Now()
		e := s.ask(agent.AskItem{Number: number})
		took += time.Since(began)
		after := s.mock.Counts()
		messages := after.Received - before.Received
		least += time.Duration(float64(max(messages-link.Burst, 0)) / link.Pace * float64(time.Second))
		if len(e.Plan.Changes()) == 0 {
			b.Fatal("nothing to do")
		}
		number = 3 - number
	}
	b.ReportMetric(took.Seconds()*1000/float64(b.N), "ms-key-to-confirmed")
	b.ReportMetric(least.Seconds()*1000/float64(b.N), "ms-least-for-the-pace")
	b.ReportMetric(float64(took)/float64(least), "times-the-least")
}
