//go:build ignore

// Long prints every line of Go under the paths given (here: all) that a screen does not show whole: more than 120
// columns, a tab being four. It fails where there are any. What stands in a raw string or in a struct's tag cannot be
// cut, and is let be.
package main

import (
	"bytes"
	"fmt"
	"go/scanner"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

const most = 120

func main() {
	paths := os.Args[1:]
	if len(paths) > 0 && paths[0] == "--" { // go run takes what ends in .go for its own
		paths = paths[1:]
	}
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
			whole := raw(data)
			n := 0
			for line := range bytes.Lines(data) {
				n++
				line = bytes.TrimSuffix(line, []byte("\n"))
				if columns := utf8.RuneCount(line) + 3*bytes.Count(line, []byte("\t")); columns > most && !whole[n] {
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

// raw is the lines that a raw string stands on.
func raw(data []byte) map[int]bool {
	files := token.NewFileSet()
	file := files.AddFile("", files.Base(), len(data))
	var s scanner.Scanner
	s.Init(file, data, nil, 0)
	lines := map[int]bool{}
	for {
		pos, t, text := s.Scan()
		if t == token.EOF {
			return lines
		}
		if t == token.STRING && text[0] == '`' {
			for n := range strings.Count(text, "\n") + 1 {
				lines[file.Line(pos)+n] = true
			}
		}
	}
}
