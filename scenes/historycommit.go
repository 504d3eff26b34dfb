package scenes

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os/exec"
	"slices"
	"strings"
)

// ErrNothingToCommit says that git has all performers' files as they are.
var ErrNothingToCommit = errors.New("nothing to commit: the performers' files are as the last commit has them")

// ChangedPerformers lists the performers' files that differ from the last commit, as paths in
// the book. A file that is gone is none of them.
func (b *Book) ChangedPerformers(ctx context.Context) ([]string, error) {
	if err := b.canCommit(ctx); err != nil {
		return nil, err
	}
	changed, err := b.git(ctx, "diff", "--name-only", "-z", "--relative", "--no-renames", "--diff-filter=d", "HEAD", "--", string(Performers))
	if err != nil {
		return nil, fmt.Errorf("commit: %w", err)
	}
	added, err := b.git(ctx, "ls-files", "-z", "--others", "--exclude-standard", "--", string(Performers))
	if err != nil {
		return nil, fmt.Errorf("commit: %w", err)
	}
	var files []string
	for _, file := range strings.Split(string(changed)+string(added), "\x00") {
		if strings.HasSuffix(file, ".toml") {
			files = append(files, file)
		}
	}
	slices.Sort(files)
	return slices.Compact(files), nil
}

// canCommit says why no commit can be made of the book, as far as that shows beforehand.
func (b *Book) canCommit(ctx context.Context) error {
	if _, err := b.git(ctx, "rev-parse", "--git-dir"); errors.Is(err, exec.ErrNotFound) {
		return fmt.Errorf("commit: git is not installed")
	} else if err != nil && strings.Contains(err.Error(), "not a git repository") {
		return fmt.Errorf("commit: %s is not kept in git (git init, git add and git commit begin its history)", b.Dir)
	} else if err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	if _, err := b.git(ctx, "rev-parse", "--verify", "--quiet", "HEAD"); err != nil {
		return fmt.Errorf("commit: nothing is committed yet (git add and git commit begin the history)")
	}
	if _, err := b.git(ctx, "var", "GIT_COMMITTER_IDENT"); err != nil {
		return fmt.Errorf("commit: git does not know who you are: set it with git config user.name and git config user.email")
	}
	return nil
}

// Commit makes a git commit of these files of the book as they are, and of nothing else:
// what else is changed, or staged, stays so. It gives the commit's short name. Where git
// refuses, as by a hook, nothing is committed.
func (b *Book) Commit(ctx context.Context, files []string, message string) (string, error) {
	if len(files) == 0 {
		return "", ErrNothingToCommit
	}
	fresh, err := b.addNew(ctx, files)
	if err != nil {
		return "", err
	}
	words := append([]string{"--literal-pathspecs", "commit", "--quiet", "--only", "--cleanup=whitespace", "--file=-", "--"}, files...)
	if _, err := b.gitReading(ctx, []byte(message), words...); err != nil {
		if len(fresh) > 0 {
			_, _ = b.git(ctx, append([]string{"--literal-pathspecs", "reset", "--quiet", "--"}, fresh...)...) // the error tells why already
		}
		return "", fmt.Errorf("commit: nothing was committed: %w", err)
	}
	name, err := b.git(ctx, "rev-parse", "--short", "HEAD")
	return string(bytes.TrimSpace(name)), err
}

// addNew makes known to git the files that it doesn't know yet, and lists them.
func (b *Book) addNew(ctx context.Context, files []string) ([]string, error) {
	out, err := b.git(ctx, append([]string{"--literal-pathspecs", "ls-files", "-z", "--others", "--"}, files...)...)
	if err != nil {
		return nil, fmt.Errorf("commit: %w", err)
	}
	fresh := slices.DeleteFunc(strings.Split(string(out), "\x00"), func(file string) bool { return file == "" })
	if len(fresh) == 0 {
		return nil, nil
	}
	if _, err := b.git(ctx, append([]string{"--literal-pathspecs", "add", "--"}, fresh...)...); err != nil {
		return nil, fmt.Errorf("commit: %w", err)
	}
	return fresh, nil
}
