// Package measure is what the benches measure with. As ./... leaves out what begins with a
// dot, it is built and looked at with ./.ci/benches/... only.
package measure

import (
	"cmp"
	"fmt"
	"slices"
	"syscall"
	"time"
)

// Rounds has a work done so often, and prints how many values that were, and the seconds and
// the seconds of processor time that it took, for all rounds together.
func Rounds(rounds int, work func() (values int, err error)) error {
	began, worked, values := time.Now(), Processor(), 0
	for range rounds {
		n, err := work()
		if err != nil {
			return err
		}
		values += n
	}
	fmt.Printf("%d %.6f %.6f\n", values, time.Since(began).Seconds(), (Processor() - worked).Seconds())
	return nil
}

// Processor is the processor time that this process has taken, user and system.
func Processor() time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		panic(err) // never for oneself
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}

// Median is the middle one of figures, of which there is at least one.
func Median[T cmp.Ordered](of []T) T { return slices.Sorted(slices.Values(of))[len(of)/2] }
