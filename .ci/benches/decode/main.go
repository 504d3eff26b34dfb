// Command decode does nothing but what any program has to that reads a book: it decodes
// each TOML file below a folder with the TOML library into a map. With "parallel" as many
// goroutines as there are processors share the files.
//
//	decode [parallel] DIR
package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/BurntSushi/toml"
)

func main() {
	if err := decode(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "decode:", err)
		os.Exit(1)
	}
}

func decode(arguments []string) error {
	workers := 1
	if len(arguments) == 2 && arguments[0] == "parallel" {
		workers, arguments = runtime.GOMAXPROCS(0), arguments[1:]
	}
	if len(arguments) != 1 {
		return fmt.Errorf("give [parallel] DIR")
	}
	files, err := filesIn(arguments[0])
	if err != nil {
		return err
	}
	if err := share(files, workers); err != nil {
		return err
	}
	fmt.Println(len(files), "files decoded")
	return nil
}

func filesIn(dir string) (files []string, err error) {
	err = filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err == nil && !e.IsDir() && strings.HasSuffix(path, ".toml") {
			files = append(files, path)
		}
		return err
	})
	return files, err
}

// share has each worker take the next file until there is none left.
func share(files []string, workers int) error {
	var next atomic.Int64
	errs := make([]error, workers)
	var all sync.WaitGroup
	for w := range workers {
		all.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(files)) && errs[w] == nil; i = next.Add(1) - 1 {
				errs[w] = decodeFile(files[i])
			}
		})
	}
	all.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func decodeFile(file string) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	var tree map[string]any
	if _, err := toml.Decode(string(text), &tree); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	return nil
}
