package scenes

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"

	"deskhand/profiles/source"
)

// ErrRevision says that git has no such revision of the book.
var ErrRevision = errors.New("no such revision")

const (
	// maxArchive bounds what is read of a revision.
	maxArchive = 256 << 20
	// maxComplaint bounds what is read of git's complaints.
	maxComplaint = 1 << 20
)

// At opens the book as git has it at a revision, through the installed git.
func (b *Book) At(ctx context.Context, revision string) (*Book, error) {
	if b.Dir == "" {
		return nil, fmt.Errorf("%q: %w: this book is one already", revision, ErrRevision)
	}
	if revision == "" || strings.HasPrefix(revision, "-") {
		return nil, fmt.Errorf("%w: %q: write a commit, tag or branch, as HEAD~1", ErrRevision, revision)
	}
	commit, err := b.git(ctx, "rev-parse", "--verify", "--quiet", "--end-of-options", revision+"^{commit}")
	if err != nil {
		return nil, b.noRevision(ctx, revision, err)
	}
	hash := strings.TrimSpace(string(commit))
	if _, err := b.git(ctx, "cat-file", "-e", hash+":./"+SettingsFile); err != nil {
		return nil, fmt.Errorf("%w: revision %s has no %s", ErrNoBook, revision, SettingsFile)
	}
	// Run in the book's folder, git archive gives what is below it, as seen from there.
	archive, err := b.git(ctx, "archive", "--format=zip", hash, "*.toml")
	if err != nil {
		return nil, fmt.Errorf("read the book at %s: %w", revision, err)
	}
	files, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	if err != nil {
		return nil, fmt.Errorf("read the book at %s: %w", revision, err)
	}
	return OpenFS(files, revision)
}

// noRevision says why git gave no revision.
func (b *Book) noRevision(ctx context.Context, revision string, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if errors.Is(err, exec.ErrNotFound) {
		return fmt.Errorf("%w %q: git is not installed", ErrRevision, revision)
	}
	if _, err := b.git(ctx, "rev-parse", "--git-dir"); err != nil {
		if strings.Contains(err.Error(), "not a git repository") {
			return fmt.Errorf("%w %q: %s is not kept in git (git init, git add and git commit begin its history)", ErrRevision, revision, b.Dir)
		}
		return fmt.Errorf("%w %q: %w", ErrRevision, revision, err)
	}
	if _, err := b.git(ctx, "rev-parse", "--verify", "--quiet", "HEAD"); err != nil {
		return fmt.Errorf("%w %q: nothing is committed yet (git add and git commit begin the history)", ErrRevision, revision)
	}
	refs, _ := b.git(ctx, "for-each-ref", "--format=%(refname:short)")
	words := append(strings.Fields(string(refs)), "HEAD")
	return fmt.Errorf("%w: git has no %q%s", ErrRevision, revision, source.DidYouMean(revision, words))
}

// git runs git in the book's folder and gives what it prints, at most maxArchive.
func (b *Book) git(ctx context.Context, arguments ...string) ([]byte, error) {
	return b.gitReading(ctx, nil, arguments...)
}

// gitReading is git with something to read.
func (b *Book) gitReading(ctx context.Context, in []byte, arguments ...string) ([]byte, error) {
	command := exec.CommandContext(ctx, "git", arguments...)
	command.Dir = b.Dir
	command.Env = append(os.Environ(), "LC_ALL=C") // its complaints are looked into
	command.Stdin = bytes.NewReader(in)
	out, complaint := bounded{most: maxArchive}, bounded{most: maxComplaint}
	command.Stdout, command.Stderr = &out, &complaint
	err := command.Run()
	if out.full {
		return nil, fmt.Errorf("git: the book has more than %d MiB", maxArchive>>20)
	}
	if err == nil {
		return out.Bytes(), nil
	}
	if first, _, _ := strings.Cut(strings.TrimSpace(complaint.String()), "\n"); first != "" {
		return nil, fmt.Errorf("git: %s: %w", strings.TrimPrefix(first, "fatal: "), err)
	}
	return nil, fmt.Errorf("git: %w", err)
}

// bounded keeps what is written to it, up to a limit.
type bounded struct {
	bytes.Buffer
	most int
	full bool
}

func (b *bounded) Write(p []byte) (int, error) {
	if b.Len()+len(p) > b.most {
		b.full = true
		return 0, errors.New("that is too much")
	}
	return b.Buffer.Write(p)
}
