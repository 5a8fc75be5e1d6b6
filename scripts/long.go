//go:build ignore

// Long prints every line of Go under the paths given (here: all) that a screen does not show whole: more than 120
// columns, a tab being four. It fails where there are any.
package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

const most = 120

func main() {
	paths := os.Args[1:]
	if len(paths) == 0 {
		paths = []string{"."}
	}
	found := false
	for _, p := range paths {
		err := filepath.WalkDir(p, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
				return err
			}
			data, err := os.ReadFile(path)
			n := 0
			for line := range bytes.Lines(data) {
				n++
				line = bytes.TrimSuffix(line, []byte("\n"))
				if columns := utf8.RuneCount(line) + 3*bytes.Count(line, []byte("\t")); columns > most {
					fmt.Printf("%s:%d: %d columns\n", path, n, columns)
					found = true
				}
			}
			return err
		})
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	if found {
		os.Exit(1)
	}
}
