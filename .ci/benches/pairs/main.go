// Command pairs runs two commands by turns, ours and what it is held against, and prints
// one row of a table in markdown: medians of wall time and of processor time, with the
// ratio of both. %n in a command is 0 and 1 by turns. A command that fails ends it.
//
//	pairs -n PAIRS -what WHAT -asked ASKED OURS... -- BESIDE...
package main

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"time"

	"deskhand/.ci/benches/measure"
)

func main() {
	if err := pairs(); err != nil {
		fmt.Fprintln(os.Stderr, "pairs:", err)
		os.Exit(1)
	}
}

// cost is what one run took.
type cost struct{ wall, processor time.Duration }

func pairs() error {
	n := flag.Int("n", 11, "how many `PAIRS`")
	what := flag.String("what", "", "the first column")
	asked := flag.String("asked", "", "the last column")
	flag.Parse()
	middle := slices.Index(flag.Args(), "--")
	if middle < 1 || middle+1 == flag.NArg() || *n < 1 {
		return fmt.Errorf("give OURS... -- BESIDE..., and at least one pair")
	}
	commands := [2][]string{flag.Args()[:middle], flag.Args()[middle+1:]}
	var costs [2][]cost
	for i := range *n + 1 {
		for side, command := range commands {
			c, err := run(command, i%2)
			if err != nil {
				return err
			}
			if i > 0 { // the first pair fills the caches
				costs[side] = append(costs[side], c)
			}
		}
	}
	ours, beside := median(costs[0]), median(costs[1])
	fmt.Printf("| %s | %s | %s | %.2f (processor %.2f) | %s |\n", *what, ours, beside,
		float64(ours.wall)/float64(beside.wall), float64(ours.processor)/float64(beside.processor), *asked)
	return nil
}

func run(command []string, turn int) (cost, error) {
	words := make([]string, len(command))
	for i, word := range command {
		words[i] = strings.ReplaceAll(word, "%n", strconv.Itoa(turn))
	}
	c := exec.Command(words[0], words[1:]...)
	var errors strings.Builder
	c.Stderr = &errors
	began := time.Now()
	err := c.Run()
	took := time.Since(began)
	if err != nil {
		return cost{}, fmt.Errorf("%s: %w: %s", strings.Join(words, " "), err, errors.String())
	}
	return cost{took, c.ProcessState.UserTime() + c.ProcessState.SystemTime()}, nil
}

// median takes the medians of both times, each by itself.
func median(costs []cost) cost {
	var walls, processors []time.Duration
	for _, c := range costs {
		walls, processors = append(walls, c.wall), append(processors, c.processor)
	}
	return cost{measure.Median(walls), measure.Median(processors)}
}

func (c cost) String() string {
	return fmt.Sprintf("%s (processor %s)", millis(c.wall), millis(c.processor))
}

func millis(d time.Duration) string { return fmt.Sprintf("%.1f ms", float64(d)/1e6) }
