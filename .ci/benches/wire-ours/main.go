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
	"strconv"

	"deskhand/.ci/benches/measure"
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
	if len(words) == 0 || len(words) != map[string]int{"read": 4, "send": 5}[words[0]] {
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
	work := func(d *desk.Desk) (int, error) { return readAll(d, p.Parameters()) }
	if words[0] == "send" {
		count, err := strconv.Atoi(words[4])
		if err != nil {
			return err
		}
		settings := starts(p, count)
		work = func(d *desk.Desk) (int, error) {
			hoped, err := d.Write(context.Background(), settings, nil)
			return len(hoped), err
		}
	}
	return measure.Rounds(rounds, func() (int, error) {
		d, err := desk.Open(context.Background(), p, words[2], desk.Options{})
		if err != nil {
			return 0, err
		}
		values, err := work(d)
		return values, errors.Join(err, d.Close())
	})
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

func readAll(d *desk.Desk, parameters []profiles.Parameter) (int, error) {
	values, missing, err := d.Read(context.Background(), parameters, func(int, int) {}) // as whoever shows how far it is
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
