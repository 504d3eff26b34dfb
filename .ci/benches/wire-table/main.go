// Command wire-table holds the programs of .ci/benches/wire against each other and prints a
// row of a table for each figure. It runs the mock desks and the bare echoes that all of them
// ask, lets them run by turns, and takes medians: of the figures, and of the ratio in each
// turn. It ends by itself.
//
//	wire-table FOLDER, where the programs are
package main

import (
	"fmt"
	"os"

	"deskhand/.ci/benches/measure"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: wire-table FOLDER")
		os.Exit(2)
	}
	if err := run(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "wire-table:", err)
		os.Exit(1)
	}
}

func run(programs string) error {
	fmt.Println("| what | ours | beside | ratio | asked |")
	fmt.Println("| --- | --- | --- | --- | --- |")
	for _, d := range []struct {
		name   string
		rounds int
	}{{"quay-24", 6}, {"barge-48", 6}} {
		if err := compareReading(programs, d.name, d.rounds); err != nil {
			return err
		}
	}
	if err := compareSending(programs, "quay-24"); err != nil {
		return err
	}
	return compareCodec()
}

// turns is how often each program runs.
const turns = 9

func compareReading(programs, name string, rounds int) error {
	s, err := newStage(programs, name)
	if err != nil {
		return err
	}
	defer s.close()
	r := fmt.Sprint(rounds)
	ours, liblo, bare := new(contender), new(contender), new(contender)
	for range turns {
		if err := s.run(ours, nil, "wire-ours", "read", name, s.mock.Addr(), r); err != nil {
			return err
		}
		if err := s.run(liblo, s.questions, "read", s.protocol(), s.host, s.port, s.window(), r); err != nil {
			return err
		}
		if err := s.run(bare, s.sizes, "wire-bare", "exchange", s.echo.addr(), s.window(), r); err != nil {
			return err
		}
	}
	what := fmt.Sprintf("read all %d values of %s", s.values, name)
	row(what+", values a second", ours.rate, "liblo", liblo.rate, ratios(ours.rate, liblo.rate), "at least 1")
	row(what+", us of processor a value", ours.work, "liblo", liblo.work, ratios(ours.work, liblo.work), "at most 1")
	row(what+", values a second", ours.rate, "bare echo", bare.rate, ratios(ours.rate, bare.rate), "at least 0.75")
	row(what+", us of processor a value", ours.work, "bare echo", bare.work, ratios(ours.work, bare.work), "")
	fmt.Printf("| the mock desk at work meanwhile, processors | %.2f | with liblo %.2f, bare echo %.2f | | |\n",
		measure.Median(ours.desk), measure.Median(liblo.desk), measure.Median(bare.desk))
	return nil
}

// settings is how many are sent, and sendings how often in one turn.
const settings, sendings = 10_000, 2

func compareSending(programs, name string) error {
	s, err := newStage(programs, name)
	if err != nil {
		return err
	}
	defer s.close()
	told, sizes, err := s.settings(settings)
	if err != nil {
		return err
	}
	r := fmt.Sprint(sendings)
	ours, liblo, bare := new(contender), new(contender), new(contender)
	for range turns {
		if err := s.run(ours, nil, "wire-ours", "send", name, s.mock.Addr(), r, fmt.Sprint(settings)); err != nil {
			return err
		}
		if err := s.run(liblo, told, "send", s.host, s.port, r); err != nil {
			return err
		}
		if err := s.run(bare, sizes, "wire-bare", "send", s.mock.Addr(), r); err != nil {
			return err
		}
	}
	what := fmt.Sprintf("send %d settings to %s", settings, name)
	row(what+", a second", ours.rate, "liblo", liblo.rate, ratios(ours.rate, liblo.rate), "at least 1")
	row(what+", us of processor each", ours.work, "liblo", liblo.work, ratios(ours.work, liblo.work), "")
	row(what+", a second", ours.rate, "bare loop", bare.rate, ratios(ours.rate, bare.rate), "at least 0.8")
	return nil
}

func row(what string, ours []float64, beside string, theirs, ratio []float64, asked string) {
	fmt.Printf("| %s | %s | %s %s | %.2f | %s |\n", what, figure(measure.Median(ours)), beside, figure(measure.Median(theirs)), measure.Median(ratio), asked)
}

func figure(v float64) string {
	if v >= 100 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.2f", v)
}

func ratios(a, b []float64) []float64 {
	r := make([]float64, len(a))
	for i := range r {
		r[i] = a[i] / b[i]
	}
	return r
}
