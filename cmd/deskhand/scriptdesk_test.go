package main

import (
	"flag"
	"os"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"

	"github.com/rogpeppe/go-internal/testscript"
)

// stage is what a script has running beside the commands it runs.
type stage struct {
	desk    *mockdesk.Desk
	profile *profiles.Profile

	mu    sync.Mutex
	taken []mockdesk.Event // settings since the last count
	slept time.Duration    // how far the desk's clock is ahead

	processes map[string]*process
}

type stageKey struct{}

func newStage(e *testscript.Env) {
	s := &stage{processes: make(map[string]*process)}
	e.Values[stageKey{}] = s
	e.Defer(s.close)
}

func stageOf(ts *testscript.TestScript) *stage { return ts.Value(stageKey{}).(*stage) }

func (s *stage) close() {
	if s.desk != nil {
		s.desk.Close()
	}
	for _, p := range s.processes {
		p.kill()
	}
}

func (s *stage) watch(e mockdesk.Event) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if e.What == mockdesk.Set {
		s.taken = append(s.taken, e)
	}
}

// troubleOf reads the flags that make trouble.
func troubleOf(ts *testscript.TestScript, f *flag.FlagSet, args []string) mockdesk.Trouble {
	t := mockdesk.Trouble{Seed: 1}
	f.Float64Var(&t.In.Lose, "lose", 0, "")
	f.Float64Var(&t.Out.Lose, "lose-answers", 0, "")
	f.DurationVar(&t.In.Delay, "delay", 0, "")
	ts.Check(f.Parse(args))
	return t
}

// mockDesk starts a desk: mockdesk [-says NAME] [-silent] [-lose SHARE] PROFILE.
func mockDesk(ts *testscript.TestScript, neg bool, args []string) {
	s := stageOf(ts)
	o := mockdesk.Options{Watch: s.watch, Now: s.now}
	f := flag.NewFlagSet("mockdesk", flag.ContinueOnError)
	f.StringVar(&o.Says, "says", "", "")
	f.BoolVar(&o.Silent, "silent", false, "")
	o.Trouble = troubleOf(ts, f, args)
	if text, err := strconv.Unquote(o.Says); err == nil {
		o.Says = text // written so for what can't be in a script
	}
	if neg || f.NArg() != 1 || s.desk != nil {
		ts.Fatalf("usage: mockdesk [-says NAME] [-silent] [-lose SHARE] PROFILE, once")
	}
	text, err := profiles.Shipped(f.Arg(0))
	ts.Check(err)
	s.profile, err = profiles.Load(f.Arg(0), text)
	ts.Check(err)
	s.desk, err = mockdesk.Start(s.profile, o)
	ts.Check(err)
	ts.Setenv("DESK", s.desk.Addr())
}

// quick puts the shipped profile into the book with a pace and a burst so high that
// reading a whole desk takes no time.
func quick(ts *testscript.TestScript, neg bool, args []string) {
	text, err := profiles.Shipped(strings.Join(args, " "))
	ts.Check(err)
	fast := regexp.MustCompile(`(?m)^pace = .*$`).ReplaceAll(text, []byte("pace = 20000"))
	ts.Check(os.MkdirAll(ts.MkAbs("profiles"), 0o777))
	ts.Check(os.WriteFile(ts.MkAbs("profiles/"+args[0]+".toml"), fast, 0o666))
}

func misbehaves(ts *testscript.TestScript, neg bool, args []string) {
	stageOf(ts).desk.Misbehave(troubleOf(ts, flag.NewFlagSet("misbehaves", flag.ContinueOnError), args))
}

func (s *stage) now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return time.Now().Add(s.slept)
}

// fails switches the desk off once it has taken so many more settings; wakes has it on
// again, with nothing of what it held.
func fails(ts *testscript.TestScript, neg bool, args []string) {
	n, err := strconv.Atoi(strings.Join(args, " "))
	ts.Check(err)
	stageOf(ts).desk.RestartAfter(n, time.Hour)
}

func wakes(ts *testscript.TestScript, neg bool, args []string) {
	s := stageOf(ts)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.slept += 2 * time.Hour
}

// parameter finds a parameter of the script's desk.
func (s *stage) parameter(ts *testscript.TestScript, word string) (profiles.Parameter, *profiles.Control) {
	q, err := profiles.ParseParameter(word)
	ts.Check(err)
	control, ok := s.profile.Control(q)
	if !ok {
		ts.Fatalf("there is no %s", q)
	}
	return q, control
}

func hand(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: hand PARAMETER VALUE")
	}
	s := stageOf(ts)
	q, control := s.parameter(ts, args[0])
	v := profiles.Word(args[1])
	if n, err := strconv.ParseFloat(args[1], 64); err == nil {
		v = profiles.Number(n)
	} else if control.Spec.Kind == profiles.Toggle {
		v = profiles.Switch(args[1] == "on")
	}
	_, err := s.desk.Move(q, v)
	ts.Check(err)
}

// holds asks the mock desk itself, which is the judge of what a command did.
func holds(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: holds PARAMETER VALUE")
	}
	s := stageOf(ts)
	q, control := s.parameter(ts, args[0])
	v, _ := s.desk.Holds(q)
	if said := control.Spec.Say(v); (said == args[1]) == neg {
		ts.Fatalf("the desk holds %s", said)
	}
}

// settings counts the messages that set something since the last count, all and those
// that changed what the desk held.
func settings(ts *testscript.TestScript, neg bool, args []string) {
	s := stageOf(ts)
	f := flag.NewFlagSet("settings", flag.ContinueOnError)
	but := f.String("but", "", "do not count this `NAME`")
	once := f.Bool("once", false, "no setting may come twice")
	ts.Check(f.Parse(args))
	s.mu.Lock()
	taken := s.taken
	s.taken = nil
	s.mu.Unlock()
	switch {
	case f.NArg() == 0:
		return // begin to count
	case neg || f.NArg() != 2:
		ts.Fatalf("usage: settings [-but NAME] [-once] TOTAL CHANGING")
	}
	total, changed := 0, 0
	times := make(map[profiles.Parameter]int)
	for _, e := range taken {
		if e.Setting.Parameter.Name == *but {
			continue
		}
		total++
		if e.Changed {
			changed++
		}
		if times[e.Setting.Parameter]++; *once && times[e.Setting.Parameter] > 1 {
			ts.Fatalf("%s was sent more than once", e.Setting.Parameter)
		}
	}
	if got := strings.Join([]string{strconv.Itoa(total), strconv.Itoa(changed)}, " "); got != f.Arg(0)+" "+f.Arg(1) {
		ts.Fatalf("the desk took %d settings, of which %d changed something", total, changed)
	}
}

// scriptPatience is how long a script waits for what must come.
const scriptPatience = 20 * time.Second
