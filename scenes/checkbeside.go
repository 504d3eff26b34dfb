package scenes

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// beside has the files checked on as many processors as there are: none needs to know what was
// found in another, and what stands in several is said once in the end.
func (c *checker) beside(files []Named) {
	var next atomic.Int64
	take := func(c *checker) {
		for i := next.Add(1); i <= int64(len(files)); i = next.Add(1) {
			c.report.Files++
			c.file(files[i-1])
		}
	}
	others := make([]*checker, min(runtime.GOMAXPROCS(0), len(files)/worthAnother+1)-1)
	if len(others) > 0 {
		c.allStages() // once for all
	}
	var work sync.WaitGroup
	for i := range others {
		others[i] = c.another()
		work.Go(func() { take(others[i]) })
	}
	take(c)
	work.Wait()
	for _, o := range others {
		c.report.Files += o.report.Files
		c.report.Faults = append(c.report.Faults, c.unsaid(o.report.Faults)...)
		c.warn(o.report.Warnings)
	}
}

// another is a checker for another goroutine.
func (c *checker) another() *checker {
	other := newChecker(c.book.another(), c.isNamed)
	other.stages, other.loaded = c.stages, c.loaded
	return other
}

// worthAnother is how many files are worth another goroutine.
const worthAnother = 64
