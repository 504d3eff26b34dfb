package agent

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"
	"time"
)

// sizes are how many performers the benchmarked books have.
var sizes = []int{10, 10_000}

// bookOf writes a book of that many performers.
func bookOf(b *testing.B, performers int) string {
	b.Helper()
	dir := b.TempDir()
	must(b, os.Mkdir(filepath.Join(dir, "performers"), 0o755))
	for i := range performers {
		must(b, os.WriteFile(filepath.Join(dir, nth(i)), fmt.Appendf(nil, "label = \"Guest %d\"\n", i), 0o644))
	}
	must(b, os.WriteFile(filepath.Join(dir, "book.toml"), nil, 0o644))
	return dir
}

func nth(i int) string { return fmt.Sprintf("performers/guest-%05d.toml", i) }

// BenchmarkStart is from nothing until whatever changes is told; and the memory that is
// held then.
func BenchmarkStart(b *testing.B) {
	for _, size := range sizes {
		b.Run(strconv.Itoa(size), func(b *testing.B) {
			dir := bookOf(b, size)
			before := heap()
			var held uint64
			for b.Loop() {
				f, err := WatchFiles(b.Context(), dir, FileOptions{})
				must(b, err)
				if held == 0 {
					b.StopTimer()
					held = max(heap(), before) - before
					b.StartTimer()
				}
				must(b, f.Close())
			}
			b.ReportMetric(float64(held)/1024, "KiB-held")
		})
	}
}

func heap() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// BenchmarkSave is from a save, written to a new file and renamed over, until it is
// told, without the time to settle.
func BenchmarkSave(b *testing.B) {
	for _, size := range sizes {
		b.Run(strconv.Itoa(size), func(b *testing.B) {
			dir := bookOf(b, size)
			f, err := WatchFiles(b.Context(), dir, FileOptions{Settle: time.Nanosecond})
			must(b, err)
			file := nth(size / 2)
			at, fresh := filepath.Join(dir, file), filepath.Join(dir, "performers", "fresh~")
			text := []byte("label = \"The guest\"\n")
			for b.Loop() {
				must(b, os.WriteFile(fresh, text, 0o644))
				must(b, os.Rename(fresh, at))
				if batch := <-f.Changes(); len(batch) != 1 || batch[0] != file {
					b.Fatalf("told %v", batch)
				}
			}
			must(b, f.Close())
		})
	}
}

// BenchmarkLook is one look at every file, as each two seconds.
func BenchmarkLook(b *testing.B) {
	for _, size := range sizes {
		b.Run(strconv.Itoa(size), func(b *testing.B) {
			f := &Files{dir: bookOf(b, size), pace: usualPace, told: map[string]string{}, burst: burst{names: map[string]grounds{}}}
			f.folders, f.at = foldersOf(f.dir)
			must(b, f.first(b.Context()))
			for b.Loop() {
				f.enqueueAll(changed)
				for f.looking() {
					f.step()
				}
			}
			f.unwatch()
		})
	}
}
