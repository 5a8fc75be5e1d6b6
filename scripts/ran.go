//go:build ignore

// Ran reads what go test -json says. It tells of each package, of a failing test all that it said, and of what was not
// run because something is missing here: a test that skips itself with a reason beginning "NOT RUN". It fails where a
// test failed, and with SPILE_STRICT=1 where anything was not run.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
)

type event struct {
	Action, Package, ImportPath, Test, Output string
	Elapsed                                   float64
}

func main() {
	in := json.NewDecoder(os.Stdin)
	said := map[[2]string][]string{}
	var failed, missed []string
	for {
		var e event
		if err := in.Decode(&e); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			fmt.Println("no result of go test -json:", err)
			os.Exit(1)
		}
		at := [2]string{e.Package, e.Test}
		switch e.Action {
		case "build-output":
			fmt.Print(e.Output)
		case "build-fail":
			failed = append(failed, e.ImportPath)
		case "output":
			said[at] = append(said[at], e.Output)
		case "skip":
			for _, line := range said[at] {
				if _, reason, ok := strings.Cut(line, "NOT RUN: "); ok {
					missed = append(missed, e.Package+" "+e.Test+": "+strings.TrimSpace(reason))
				}
			}
		case "fail":
			failed = append(failed, strings.TrimSpace(e.Package+" "+e.Test))
			fmt.Print(strings.Join(said[at], ""))
			for of, lines := range said { // what ran when the package came to its end, as by a timeout
				if e.Test == "" && of[0] == e.Package && of[1] != "" {
					fmt.Print(strings.Join(lines, ""))
				}
			}
		case "pass":
			if e.Test == "" {
				fmt.Printf("ok %8.1fs %s\n", e.Elapsed, e.Package)
			}
		}
		if e.Action == "pass" || e.Action == "fail" || e.Action == "skip" {
			delete(said, at)
		}
	}
	slices.Sort(missed)
	for _, m := range missed {
		fmt.Println("NOT RUN", m)
	}
	for _, f := range failed {
		fmt.Println("FAILED", f)
	}
	if len(failed) > 0 || len(missed) > 0 && os.Getenv("SPILE_STRICT") == "1" {
		os.Exit(1)
	}
}
