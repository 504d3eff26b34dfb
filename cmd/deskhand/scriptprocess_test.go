package main

import (
	"bufio"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"sync"
	"syscall"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// process is a command that runs beside the script.
type process struct {
	command *exec.Cmd
	in      io.WriteCloser
	lines   chan string // what it prints, until its output ends
	reading sync.WaitGroup
}

// startProcess starts a command and waits for its first line, which must be as said. An address in that line
// becomes $DESK.
func startProcess(ts *testscript.TestScript, neg bool, args []string) {
	first := ""
	if len(args) > 2 && args[0] == "-says" {
		first, args = args[1], args[2:]
	}
	if neg || len(args) < 2 {
		ts.Fatalf("usage: process [-says PATTERN] NAME COMMAND...")
	}
	path := ts.Getenv("PATH")
	name, err := lookUp(args[1], path)
	ts.Check(err)
	p := &process{command: exec.Command(name, args[2:]...), lines: make(chan string, 10000)}
	p.command.Dir = ts.MkAbs(".")
	for _, name := range []string{"PATH", "NO_COLOR", "HOME", "GORACE", "GOCOVERDIR"} {
		p.command.Env = append(p.command.Env, name+"="+ts.Getenv(name))
	}
	p.in, err = p.command.StdinPipe()
	ts.Check(err)
	// Both outputs into one pipe, which we close at our end only.
	out, writes, err := os.Pipe()
	ts.Check(err)
	p.command.Stdout, p.command.Stderr = writes, writes
	ts.Check(p.command.Start())
	writes.Close()
	p.reading.Go(func() {
		defer close(p.lines)
		defer out.Close()
		for lines := bufio.NewScanner(out); lines.Scan(); {
			p.lines <- lines.Text()
		}
	})
	stageOf(ts).processes[args[0]] = p
	line := p.await(ts, regexp.MustCompile(""))
	if !regexp.MustCompile(first).MatchString(line) {
		ts.Fatalf("its first line is not %q", first)
	}
	if at := regexp.MustCompile(`listens on ([^;]+);`).FindStringSubmatch(line); at != nil {
		ts.Setenv("DESK", at[1])
	}
}

func lookUp(command, path string) (string, error) {
	for _, dir := range filepath.SplitList(path) {
		if info, err := os.Stat(dir + "/" + command); err == nil && info.Mode().IsRegular() {
			return dir + "/" + command, nil
		}
	}
	return "", errors.New(command + " is not in PATH")
}

func (p *process) kill() {
	_ = p.command.Process.Kill()
	_ = p.command.Wait()
	p.reading.Wait()
}

// await gives the next line that a pattern fits.
func (p *process) await(ts *testscript.TestScript, pattern *regexp.Regexp) string {
	late := time.NewTimer(scriptPatience)
	defer late.Stop()
	for {
		select {
		case line, more := <-p.lines:
			if !more {
				ts.Fatalf("it ended before it said %q", pattern)
			}
			ts.Logf("| %s", line)
			if pattern.MatchString(line) {
				return line
			}
		case <-late.C:
			ts.Fatalf("it does not say %q", pattern)
		}
	}
}

func processOf(ts *testscript.TestScript, args []string, n int) *process {
	if len(args) != n {
		ts.Fatalf("%d words, not %d", n, len(args))
	}
	p := stageOf(ts).processes[args[0]]
	if p == nil {
		ts.Fatalf("no process is called %q", args[0])
	}
	return p
}

func types(ts *testscript.TestScript, neg bool, args []string) {
	_, err := io.WriteString(processOf(ts, args, 2).in, args[1]+"\n")
	ts.Check(err)
}

func closes(ts *testscript.TestScript, neg bool, args []string) {
	ts.Check(processOf(ts, args, 1).in.Close())
}

func says(ts *testscript.TestScript, neg bool, args []string) {
	pattern, err := regexp.Compile(args[len(args)-1])
	ts.Check(err)
	processOf(ts, args, 2).await(ts, pattern)
}

// ends waits for the end of a process, which must have this exit code. With a signal it
// is sent that first; killed, it has the code -1. A process that ends by itself must not be sent one: it may be
// gone already.
func ends(ts *testscript.TestScript, neg bool, args []string) {
	p := processOf(ts, args, max(len(args), 2))
	code := args[len(args)-1]
	if len(args) > 2 {
		signal, ok := map[string]syscall.Signal{"INT": syscall.SIGINT, "TERM": syscall.SIGTERM, "HUP": syscall.SIGHUP, "KILL": syscall.SIGKILL}[args[1]]
		if !ok || len(args) > 3 {
			ts.Fatalf("usage: ends NAME [INT|TERM|HUP|KILL] CODE")
		}
		ts.Check(p.command.Process.Signal(signal))
	}
	late := time.AfterFunc(scriptPatience, func() { _ = p.command.Process.Kill() })
	defer late.Stop()
	p.reading.Wait()
	err := p.command.Wait()
	delete(stageOf(ts).processes, args[0])
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		ts.Fatalf("%v", err)
	}
	if got := p.command.ProcessState.ExitCode(); strconv.Itoa(got) != code {
		for line := range p.lines {
			ts.Logf("| %s", line)
		}
		ts.Fatalf("it ended with %d, not %s (%v)", got, code, p.command.ProcessState)
	}
}
