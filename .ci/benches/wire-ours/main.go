// Command wire-ours reads a whole desk, or sends settings to it, on the way that deskhand
// read and deskhand send do, but for the pace, which has no limit. It prints how many values
// that were, and the seconds and the seconds of processor time (user and system) that it
// took, for all rounds together. Each round opens its own link.
//
//	wire-ours read PROFILE HOST:PORT ROUNDS
//	wire-ours send PROFILE HOST:PORT ROUNDS COUNT
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime/pprof"
	"strconv"
	"syscall"
	"time"

	"deskhand/profiles"
	"deskhand/scenes/desk"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "wire-ours:", err)
		os.Exit(1)
	}
}

func run(words []string) error {
	if len(words) < 4 {
		return errors.New("give read or send, PROFILE, HOST:PORT, ROUNDS, and for send COUNT")
	}
	p, err := unlimited(words[1])
	if err != nil {
		return err
	}
	rounds, err := strconv.Atoi(words[3])
	if err != nil {
		return err
	}
	work := readAll
	if words[0] == "send" {
		count, err := strconv.Atoi(words[4])
		if err != nil {
			return err
		}
		settings := starts(p, count)
		work = func(d *desk.Desk, _ *profiles.Profile) (int, error) {
			hoped, err := d.Write(context.Background(), settings, nil)
			return len(hoped), err
		}
	}
	if file := os.Getenv("WIRE_PROFILE"); file != "" {
		into, err := os.Create(file)
		if err != nil {
			return err
		}
		defer into.Close()
		if err := pprof.StartCPUProfile(into); err != nil {
			return err
		}
		defer pprof.StopCPUProfile()
	}
	return measure(p, words[2], rounds, work)
}

// unlimited is a shipped profile without a limit of pace.
func unlimited(name string) (*profiles.Profile, error) {
	text, err := profiles.Shipped(name)
	if err != nil {
		return nil, err
	}
	p, err := profiles.Load(name+".toml", text)
	if err != nil {
		return nil, err
	}
	p.Link.Pace = 0
	return p, nil
}

func measure(p *profiles.Profile, address string, rounds int, work func(*desk.Desk, *profiles.Profile) (int, error)) error {
	began, worked, values := time.Now(), processorTime(), 0
	for range rounds {
		d, err := desk.Open(context.Background(), p, address, desk.Options{})
		if err != nil {
			return err
		}
		n, err := work(d, p)
		values += n
		if err := errors.Join(err, d.Close()); err != nil {
			return err
		}
	}
	fmt.Printf("%d %.6f %.6f\n", values, time.Since(began).Seconds(), processorTime()-worked)
	return nil
}

func readAll(d *desk.Desk, p *profiles.Profile) (int, error) {
	values, missing, err := d.Read(context.Background(), p.Parameters(), func(int, int) {})
	if err == nil && len(missing) > 0 {
		err = fmt.Errorf("%d values were not answered", len(missing))
	}
	return len(values), err
}

// starts are so many settings of a desk, each to what it begins with, over and over.
func starts(p *profiles.Profile, count int) []profiles.Setting {
	settings := make([]profiles.Setting, 0, count)
	for len(settings) < count {
		for _, q := range p.Parameters() {
			control, _ := p.Control(q)
			if control.Reach() == profiles.OverOSC && len(settings) < count {
				settings = append(settings, profiles.Setting{Parameter: q, Value: control.Start})
			}
		}
	}
	return settings
}

// processorTime is what this process has taken, user and system, in seconds.
func processorTime() float64 {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		panic(err) // never for oneself
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano()).Seconds()
}
