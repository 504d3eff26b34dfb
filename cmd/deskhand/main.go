// Command deskhand keeps the sound of performers and rooms in files, and takes a
// digital mixing desk there over OSC, safely and with proof.
//
// This folder has one file a command. What every command shares is here: which book,
// venue and desk are meant (session.go), how an error ends the program (exit.go),
// and everything that a person or a program reads (say*.go, json.go). No other
// package prints.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], console{in: os.Stdin, out: os.Stdout, err: os.Stderr})
	stop()
	os.Exit(code)
}

// console is where a command reads and prints.
type console struct {
	in       io.Reader
	out, err io.Writer
}

// run carries out one command line and gives the exit code.
func run(ctx context.Context, arguments []string, c console) int {
	app := newApp(c)
	root := app.commands()
	root.SetArgs(arguments)
	root.SetIn(c.in)
	root.SetOut(c.out)
	root.SetErr(c.err)
	err := root.ExecuteContext(ctx)
	return app.end(err)
}
