package agent_test

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"deskhand/profiles/mockdesk"
	"deskhand/scenes/agent"

	"github.com/fsnotify/fsnotify"
)

// BenchmarkFromASaveToThePacket measures from a save's end to the first packet at the
// desk, and beside that a bare program that sends one when the kernel tells of a file.
// What the agent adds is the pause in which a burst of saves becomes one.
func BenchmarkFromASaveToThePacket(b *testing.B) {
	b.Run("bare", func(b *testing.B) { sayTimes(b, bareTimes(b, 200)) })
	for _, performers := range []int{10, 10000} {
		b.Run(fmt.Sprint("agent, ", performers, " performers"), func(b *testing.B) { sayTimes(b, agentTimes(b, 200, performers)) })
	}
}

func sayTimes(b *testing.B, times []time.Duration) {
	slices.Sort(times)
	b.ReportMetric(times[len(times)/2].Seconds()*1000, "ms-median")
	b.ReportMetric(times[len(times)*99/100].Seconds()*1000, "ms-99th")
	b.ReportMetric(0, "ns/op")
}

func bareTimes(b *testing.B, saves int) []time.Duration {
	dir := b.TempDir()
	desk, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		b.Fatal(err)
	}
	defer desk.Close()
	link, err := net.Dial("udp", desk.LocalAddr().String())
	if err != nil {
		b.Fatal(err)
	}
	defer link.Close()
	watcher, err := fsnotify.NewWatcher()
	if err != nil {
		b.Fatal(err)
	}
	defer watcher.Close()
	if err := watcher.Add(dir); err != nil {
		b.Fatal(err)
	}
	go func() {
		for e := range watcher.Events {
			if e.Has(fsnotify.Write) || e.Has(fsnotify.Create) {
				_, _ = link.Write([]byte("/saved\x00\x00,\x00\x00\x00"))
			}
		}
	}()
	var times []time.Duration
	buffer := make([]byte, 64)
	for n := range saves {
		temporary := filepath.Join(b.TempDir(), "new")
		if err := os.WriteFile(temporary, fmt.Appendf(nil, "fader = %d\n", n), 0o666); err != nil {
			b.Fatal(err)
		}
		if err := os.Rename(temporary, filepath.Join(dir, "botanist.toml")); err != nil {
			b.Fatal(err)
		}
		saved := time.Now()
		if _, err := desk.Read(buffer); err != nil {
			b.Fatal(err)
		}
		times = append(times, time.Since(saved))
	}
	return times
}

func agentTimes(b *testing.B, saves, performers int) []time.Duration {
	s := newStage(b)
	for n := range performers {
		s.write(fmt.Sprintf("performers/extra-%d.toml", n), s.read(botanist))
	}
	s.times = agent.Times{Rest: time.Hour, Look: time.Hour}
	asked := make(chan time.Time, 10000)
	s.mock.Close()
	s.startDesk(mockdesk.Options{})
	s.asks = asked
	s.swap("lectern", "botanist")
	s.run(agent.Options{ToDesk: true})
	text := s.read(botanist)
	var times []time.Duration
	for n := range saves {
		for len(asked) > 0 {
			<-asked
		}
		next := replaced(b, text, "fader = -6.0", fmt.Sprintf("fader = -%d.0", 7+n%2))
		s.save(botanist, next)
		saved := time.Now()
		times = append(times, (<-asked).Sub(saved))
		s.confirmed()
	}
	return times
}
