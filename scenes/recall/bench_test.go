package recall_test

import (
	"testing"

	"deskhand/profiles/mockdesk"
)

// BenchmarkSwap is one swap over the network of this machine: as the shipped profile
// paces it, and as fast as a desk without a limit takes it.
func BenchmarkSwap(b *testing.B) {
	whole := []string{"channels = 8", "channels = 24", "mixes = 3", "mixes = 8"}
	for name, profile := range map[string][]string{
		"paced": whole,
		"unlimited": append([]string{
			"pace = 400", "pace = 1000000", "burst = 16", "burst = 1000", "window = 16", "window = 64", `linger = "100ms"`, `linger = "1ms"`,
		}, whole...),
	} {
		b.Run(name, func(b *testing.B) {
			s := newStage(b, setting{udp: true, profile: profile, mock: mockdesk.Options{}})
			s.must(s.on("lectern", performers[2]))
			s.heard()
			i := 0
			for b.Loop() {
				s.must(s.on("lectern", performers[i%len(performers)]))
				i++
			}
			events := s.heard()
			b.ReportMetric(float64(len(sets(events)))/float64(i), "settings/op")
			b.ReportMetric(float64(len(events)-len(sets(events)))/float64(i), "questions/op")
		})
	}
}
