package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"

	"github.com/google/go-cmp/cmp"
	"github.com/rogpeppe/go-internal/testscript"
)

// exits runs a command that is to end with exactly this code.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits N COMMAND...")
	}
	err := ts.Exec(args[1], args[2:]...)
	code := 0
	var exit *exec.ExitError
	switch {
	case errors.As(err, &exit):
		code = exit.ExitCode()
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if strconv.Itoa(code) != args[0] {
		ts.Fatalf("exit %d, not %s", code, args[0])
	}
	if out := ts.ReadFile("stdout") + ts.ReadFile("stderr"); strings.Contains(out, "goroutine ") || strings.Contains(out, "panic:") {
		ts.Fatalf("a stack trace reached the user")
	}
}

// changing is what differs from one run to the next, and what to read instead.
var changing = []struct {
	pattern *regexp.Regexp
	instead string
}{
	{regexp.MustCompile(`in [0-9]+\.[0-9] s`), "in N s"},
	{regexp.MustCompile(`127\.0\.0\.1:[0-9]+`), "ADDRESS"},
	{regexp.MustCompile(`[0-9]{4}-[0-9]{2}-[0-9]{2}-[0-9]{2}\.[0-9]{2}\.[0-9]{2}`), "STAMP"},
	{regexp.MustCompile(`[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:]{8}Z`), "TIME"},
	{regexp.MustCompile(`\(of [0-9]+ [A-Z][a-z]+, [0-9:]{8}\)`), "(of DAY, TIME)"},
}

func prints(ts *testscript.TestScript, neg bool, args []string)    { isText(ts, "stdout", neg, args) }
func complains(ts *testscript.TestScript, neg bool, args []string) { isText(ts, "stderr", neg, args) }

// isText holds a whole output against a file, but for times and addresses.
func isText(ts *testscript.TestScript, output string, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: prints FILE, complains FILE")
	}
	got, want := ts.ReadFile(output), ts.ReadFile(args[0])
	for _, c := range changing {
		got = c.pattern.ReplaceAllString(got, c.instead)
	}
	got = strings.ReplaceAll(got, ts.Getenv("WORK"), "WORK")
	if diff := cmp.Diff(strings.Split(want, "\n"), strings.Split(got, "\n")); diff != "" {
		ts.Fatalf("%s is not %s (- wanted, + printed):\n%s", output, args[0], diff)
	}
}

// findJSON holds one value of the last output, which must be one JSON object, against
// a text: json changes.0.from -12.5. The length of a list is at len.
func findJSON(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: json PATH VALUE")
	}
	decoder := json.NewDecoder(strings.NewReader(ts.ReadFile("stdout")))
	decoder.UseNumber()
	var found any
	if err := decoder.Decode(&found); err != nil {
		ts.Fatalf("no JSON object: %v", err)
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		ts.Fatalf("more than one JSON object was printed")
	}
	for _, step := range strings.Split(args[0], ".") {
		next, err := into(found, step)
		if err != nil {
			ts.Fatalf("%s: %v", args[0], err)
		}
		found = next
	}
	text := fmt.Sprint(found)
	if found == nil {
		text = "null"
	}
	if (text == args[1]) == neg {
		ts.Fatalf("%s is %q", args[0], text)
	}
}

// into takes one step into a JSON value.
func into(v any, step string) (any, error) {
	switch v := v.(type) {
	case map[string]any:
		inner, ok := v[step]
		if !ok {
			return nil, fmt.Errorf("there is no %q", step)
		}
		return inner, nil
	case []any:
		if step == "len" {
			return len(v), nil
		}
		n, err := strconv.Atoi(step)
		if err != nil || n < 0 || n >= len(v) {
			return nil, fmt.Errorf("%q is none of the %d of the list", step, len(v))
		}
		return v[n], nil
	}
	return nil, fmt.Errorf("%q is in no object or list, but in %v", step, v)
}

// edit changes a file as a person would.
func edit(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: edit FILE OLD NEW")
	}
	text := ts.ReadFile(args[0])
	if n := strings.Count(text, args[1]); n != 1 {
		ts.Fatalf("%q is there %d times", args[1], n)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.Replace(text, args[1], args[2], 1)), 0o666))
}
