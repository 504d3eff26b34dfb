// Command deskhand keeps the sound of performers and rooms in files, and takes a
// digital mixing desk there over OSC, safely and with proof.
//
// This folder has one file a command. What every command shares is here: which book,
// venue and desk are meant (session.go), what a person typed wrongly (words.go), how
// an error ends the program (exit.go), where output goes (output.go), and everything
// that a person or a program reads (rows.go, say*.go, json*.go). No other package
// prints.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
)

func main() {
	// Where the output leads to somebody who goes away, as "| head" does, a recall
	// goes on to its end all the same, rather than leave a position muted.
	signal.Ignore(syscall.SIGPIPE)
	os.Exit(run(context.Background(), os.Args[1:], console{in: os.Stdin, out: os.Stdout, err: os.Stderr, catch: catchSignals}))
}

// catchSignals ends a context with the signals that ask a program to end. They stay caught to
// the end: one that comes while the program is ending must not change what its exit code says
// of the desk. To begin with it takes two threads more, so that it is done once a command runs.
func catchSignals(ctx context.Context) context.Context {
	signals := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) {
		signals = append(signals, syscall.SIGHUP) // a closed window is put right as Ctrl-C is
	}
	ctx, _ = signal.NotifyContext(ctx, signals...)
	return ctx
}

// console is where a command reads and prints.
type console struct {
	in       io.Reader
	out, err io.Writer
	catch    func(context.Context) context.Context // ends a command as its user asks; nil for never
}

// run carries out one command line and gives the exit code.
func run(ctx context.Context, arguments []string, c console) int {
	app := newApp(c)
	app.typed = strings.Join(arguments, " ")
	root := app.commands()
	root.SetArgs(arguments)
	root.SetIn(app.in)
	root.SetOut(app.out)
	root.SetErr(app.err)
	return app.end(root.ExecuteContext(ctx))
}
