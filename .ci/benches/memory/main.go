// Command memory runs each command of deskhand and prints, as rows of a table in markdown,
// the most memory that it held (resident, as the system counts it, with those pages of the
// program that it touched). Commands that go on are ended after some seconds. The system
// counts a little of this program in, so that no figure is below its own.
//
//	memory DESKHAND BOOK LARGE-BOOK DESK PERFORMER
package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"
)

// asked is the most memory in MB of 1,000,000 bytes.
const asked = 40

func main() {
	if len(os.Args) != 6 {
		fmt.Fprintln(os.Stderr, "memory: give DESKHAND BOOK LARGE-BOOK DESK PERFORMER")
		os.Exit(1)
	}
	if err := measure(os.Args[1], os.Args[2], os.Args[3], os.Args[4], os.Args[5]); err != nil {
		fmt.Fprintln(os.Stderr, "memory:", err)
		os.Exit(1)
	}
}

// goesOn is how long a command is watched that doesn't end by itself, patience how long any
// other may take.
const (
	goesOn   = 3 * time.Second
	patience = 40 * time.Second
)

func measure(deskhand, book, large, desk, performer string) error {
	at := func(dir string) string { return " --book " + dir }
	on := at(book) + " --desk " + desk
	work := filepath.Dir(book)
	for _, line := range []string{
		"--version",
		"demo",
		"new " + filepath.Join(work, "fresh"),
		"check" + at(book),
		"check" + at(large),
		"show scenes/opening.toml" + at(book),
		"show scenes/opening.toml --plot " + filepath.Join(work, "opening.svg") + at(book),
		"show scenes/opening.toml --plot " + filepath.Join(work, "opening.png") + at(book),
		"show performers/" + performer + ".toml" + at(large),
		"diff performers/poet.toml performers/pilot.toml" + at(book),
		"read" + on,
		"send scenes/opening.toml --allow-rise 40" + on,
		"swap lectern poet --allow-rise 40" + on,
		"swap lectern " + performer + " --allow-rise 40 --desk " + desk + at(large),
		"keep lectern" + on,
		"undo --allow-rise 40" + on,
		"run winter-talks --plain" + on,
		"watch" + on,
		"watch --desk " + desk + at(large),
		"mock barge-48 --listen 127.0.0.1:0",
		"sheet winter-talks --text" + at(book),
		"log" + at(book),
		"profile list" + at(book),
		"profile check barge-48" + at(book),
	} {
		most, err := mostOf(deskhand, strings.Fields(line))
		if err != nil {
			return err
		}
		line = strings.NewReplacer(at(large), " (10,000 performers)", at(book), "", " --desk "+desk, "", work+"/", "", " --allow-rise 40", "").Replace(line)
		fmt.Printf("| `%s` | %.1f MB | under %d MB |\n", strings.TrimSpace(line), float64(most)/1e6, asked)
	}
	return nil
}

// mostOf gives the most memory in bytes that a command held. Whether it did what it is for
// is not looked at but for this: it must have understood its words.
func mostOf(deskhand string, words []string) (int64, error) {
	c := exec.Command(deskhand, words...)
	waiting, err := c.StdinPipe() // open and silent, as a person is who watches
	if err != nil {
		return 0, err
	}
	defer waiting.Close()
	var said strings.Builder
	c.Stderr = &said
	if err := c.Start(); err != nil {
		return 0, err
	}
	within := patience
	if slices.Contains([]string{"run", "watch", "mock"}, words[0]) {
		within = goesOn
	}
	end := time.AfterFunc(within, func() { _ = c.Process.Signal(syscall.SIGTERM) })
	kill := time.AfterFunc(2*patience, func() { _ = c.Process.Kill() })
	defer end.Stop()
	defer kill.Stop()
	err = c.Wait()
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() == 2) {
		return 0, fmt.Errorf("deskhand %s: %w: %s", strings.Join(words, " "), err, said.String())
	}
	usage, ok := c.ProcessState.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0, errors.New("this system doesn't say how much memory a program held")
	}
	return usage.Maxrss * 1024, nil // Linux counts in KiB
}
