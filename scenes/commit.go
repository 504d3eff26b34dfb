package scenes

import (
	"context"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"
)

// ErrNothingToCommit says that no performer's file differs from the last commit.
var ErrNothingToCommit = errors.New("no performer's file differs from the last commit: there is nothing to commit")

// CommitPerformers makes a git commit of the performers' files that differ from the last
// commit, and of no other file. The subject comes first; below it says for each performer what
// was kept in an evening, as the record has it. It gives the files.
func (b *Book) CommitPerformers(ctx context.Context, m *Memory, evening, subject string) ([]string, error) {
	if strings.TrimSpace(subject) == "" {
		return nil, errors.New("a commit needs a message: -m TEXT")
	}
	out, err := b.git(ctx, "diff", "--name-only", "-z", "--relative", "HEAD", "--", string(Performers))
	if err != nil {
		return nil, fmt.Errorf("nothing was committed: %w", err)
	}
	files := strings.FieldsFunc(string(out), func(r rune) bool { return r == 0 })
	if len(files) == 0 {
		return nil, ErrNothingToCommit
	}
	kept, _, err := m.Record(evening)
	if err != nil {
		return nil, err
	}
	arguments := []string{"commit", "--quiet", "-m", subject, "-m", commitBody(files, kept), "--"}
	if _, err := b.git(ctx, append(arguments, files...)...); err != nil {
		return nil, fmt.Errorf("nothing was committed: %w", err)
	}
	return files, nil
}

// commitBody says what was kept in each file, a line for each setting in the trade's units.
func commitBody(files []string, kept []Record) string {
	var lines []string
	for _, file := range files {
		performer := strings.TrimSuffix(path.Base(file), ".toml")
		before := len(lines)
		for _, r := range kept {
			if r.What != DidKeep || r.File != file {
				continue
			}
			for _, c := range r.Changes {
				lines = append(lines, performer+": "+c.Words)
			}
		}
		if len(lines) == before {
			lines = append(lines, performer+": edited")
		}
	}
	return strings.Join(slices.Compact(lines), "\n")
}
