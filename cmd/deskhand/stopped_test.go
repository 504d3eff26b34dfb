//go:build unix

package main

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"deskhand/profiles"
)

// stoppedFor is longer than the least time that counts as an absence, which is 5 s.
const stoppedFor = 5500 * time.Millisecond

// stopped stops the program for some seconds, as a computer that sleeps for an hour does. At
// the desk an hour goes by, so that what it was asked to tell has lapsed, and what is done
// meanwhile is done.
func (e *event) stopped(meanwhile func()) {
	e.k.t.Helper()
	e.k.must(e.command.Process.Signal(syscall.SIGSTOP))
	goOn := time.After(stoppedFor)
	e.k.slept.Add(int64(time.Hour))
	meanwhile()
	<-goOn
	e.k.sets.Store(0)
	e.k.must(e.command.Process.Signal(syscall.SIGCONT))
}

// stopHalfWay stops a program in the middle of a recall: when the desk has taken so many more
// settings, and is asked for the first of them. No setting is on its way out then: one that is
// leaving just as the program is stopped leaves when it goes on, and nobody can help that.
// What it gives is closed then.
func (k *killing) stopHalfWay(n int64, program <-chan *event) <-chan struct{} {
	half := make(chan struct{})
	k.atQuestion.Store(&moment{k.sets.Load() + n, func() {
		_ = (<-program).command.Process.Signal(syscall.SIGSTOP)
		close(half)
	}})
	return half
}

// has waits for a line with some words in it.
func (e *event) has(words string) string {
	e.k.t.Helper()
	for {
		if line := e.await(""); strings.Contains(line, words) {
			return line
		}
	}
}

func (k *killing) hand(path string, v profiles.Value) {
	k.t.Helper()
	q, err := profiles.ParseParameter(path)
	k.must(err)
	_, err = k.mock.Move(q, v)
	k.must(err)
}

// mustHaveSent holds how many settings the desk took since the program went on.
func (k *killing) mustHaveSentNothing() {
	k.t.Helper()
	if n := k.sets.Load(); n > 0 {
		k.t.Errorf("%d settings were sent", n)
	}
}

// swapped has the botanist put on the lectern.
func (k *killing) swapped() {
	k.t.Helper()
	swap := k.start("swap", "lectern", "botanist")
	swap.has("all confirmed")
	swap.ended()
}

const wasStopped = "deskhand was stopped, or the computer too busy for it, for"

func TestAWatchThatWasStoppedForAnHourFindsItselfAgainAndReports(t *testing.T) {
	t.Parallel()
	k := newKilling(t, "")
	k.swapped()
	e := k.start("watch", "--to-desk", "--to-files")
	e.has("watching the desk at")
	file := filepath.Join(k.dir, "performers", "botanist.toml")
	before, err := os.ReadFile(file)
	k.must(err)
	e.stopped(func() { k.hand("channel.3.fader", profiles.Number(-4)) })
	e.has(wasStopped)
	if line := e.has("the desk is back at"); !strings.HasSuffix(line, "; changed meanwhile: fader -6.0 dB -> -4.0 dB") {
		t.Errorf("it reports %q", line)
	}
	e.has("left alone: fader")
	k.mustHaveSentNothing()
	if after, err := os.ReadFile(file); err != nil || string(after) != string(before) {
		t.Error("what nobody saw a hand do went into the file")
	}
	// It is told again of what a hand moves, and of files.
	k.hand("channel.3.pan", profiles.Number(10))
	e.has("by hand into performers/botanist.toml")
	text, err := os.ReadFile(file)
	k.must(err)
	k.must(os.WriteFile(file, []byte(strings.Replace(string(text), "gain = -3.0", "gain = -2.0", 1)), 0o666))
	e.has("to the desk: ")
}

func TestAnEventThatWasStoppedInTheMiddleOfASceneOpensNothingWhenItGoesOn(t *testing.T) {
	t.Parallel()
	k := newKilling(t, "")
	e := k.begin()
	e.put(1)
	program := make(chan *event, 1)
	program <- e
	half := k.stopHalfWay(8, program)
	e.types("scene 2")
	<-half
	e.stopped(func() { k.mock.Restart(0) })
	e.has(wasStopped)
	e.has("the desk is back at")
	if line := e.await("on: "); !strings.HasPrefix(line, "on: 1 of 4") {
		t.Errorf("after it: %s", line)
	}
	k.mustHaveSentNothing()
	e.put(2)
	k.judge(0)
	k.must(e.in.Close())
	e.ended()
}

func TestASwapThatWasStoppedInTheMiddleLeavesThePositionMutedAndSaysSo(t *testing.T) {
	t.Parallel()
	k := newKilling(t, "")
	k.swapped()
	program := make(chan *event, 1)
	half := k.stopHalfWay(8, program)
	e := k.start("swap", "lectern", "poet")
	program <- e
	<-half
	e.stopped(func() { k.hand("channel.3.fader", profiles.Number(-4)) })
	e.has(wasStopped)
	e.ended()
	k.mustHaveSentNothing()
	if code := e.command.ProcessState.ExitCode(); code != exitNotConfirmed {
		t.Errorf("it ended with %d, not %d", code, exitNotConfirmed)
	}
	if held, _ := k.mock.Holds(profiles.Parameter{Place: profiles.Place{Part: profiles.Channel, Number: 3}, Name: "mute"}); held != profiles.Switch(true) {
		t.Error("the lectern is open")
	}
	again := k.start("swap", "lectern", "poet")
	again.has("all confirmed")
	again.ended()
}
