package scenes

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"os/exec"
	"strings"

	"deskhand/profiles/source"
)

// ErrRevision says that git has no such revision of the book.
var ErrRevision = errors.New("no such revision")

// maxArchive bounds what is read of a revision.
const maxArchive = 256 << 20

// At opens the book as git has it at a revision, through the installed git.
func (b *Book) At(ctx context.Context, revision string) (*Book, error) {
	if b.Dir == "" {
		return nil, fmt.Errorf("%s: %w: this book is one already", revision, ErrRevision)
	}
	if revision == "" || strings.HasPrefix(revision, "-") {
		return nil, fmt.Errorf("%w: %q: write a commit, tag or branch, as HEAD~1", ErrRevision, revision)
	}
	if _, err := b.git(ctx, "rev-parse", "--verify", "--quiet", "--end-of-options", revision+"^{commit}"); err != nil {
		return nil, b.noRevision(ctx, revision, err)
	}
	archive, err := b.git(ctx, "archive", "--format=zip", revision)
	if err != nil {
		return nil, fmt.Errorf("read the book at %s: %w", revision, err)
	}
	if len(archive) > maxArchive {
		return nil, fmt.Errorf("read the book at %s: it has more than %d MiB", revision, maxArchive>>20)
	}
	files, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	if err != nil {
		return nil, fmt.Errorf("read the book at %s: %w", revision, err)
	}
	return OpenFS(files, revision)
}

func (b *Book) noRevision(ctx context.Context, revision string, err error) error {
	if errors.Is(err, exec.ErrNotFound) {
		return fmt.Errorf("%w %q: git is not installed", ErrRevision, revision)
	}
	if _, err := b.git(ctx, "rev-parse", "--git-dir"); err != nil {
		return fmt.Errorf("%w %q: %s is not kept in git (git init, git add and git commit begin its history)", ErrRevision, revision, b.Dir)
	}
	refs, _ := b.git(ctx, "for-each-ref", "--format=%(refname:short)")
	words := append(strings.Fields(string(refs)), "HEAD")
	return fmt.Errorf("%w: git has no %q%s", ErrRevision, revision, source.DidYouMean(revision, words))
}

// git runs git in the book's folder and gives what it prints.
func (b *Book) git(ctx context.Context, arguments ...string) ([]byte, error) {
	command := exec.CommandContext(ctx, "git", arguments...)
	command.Dir = b.Dir
	var complaint bytes.Buffer
	command.Stderr = &complaint
	out, err := command.Output()
	if err == nil {
		return out, nil
	}
	if first, _, _ := strings.Cut(strings.TrimSpace(complaint.String()), "\n"); first != "" {
		return nil, fmt.Errorf("git: %s: %w", strings.TrimPrefix(first, "fatal: "), err)
	}
	return nil, fmt.Errorf("git: %w", err)
}
