package main

import (
	"path/filepath"
	"slices"

	"github.com/alecthomas/kong"

	"spile/internal/files/output"
	"spile/internal/note"
)

// written are the flags that name what a command writes; whatever else a call names is read.
var written = []string{"output", "figure", "dir"}

// texts is the texts that a call gave for its arguments and flags.
func texts(call []*kong.Path, these func(name string) bool) (list []string) {
	for _, p := range call {
		var value *kong.Value
		switch {
		case p.Positional != nil:
			value = p.Positional
		case p.Flag != nil:
			value = p.Flag.Value
		default:
			continue
		}
		if !these(value.Name) {
			continue
		}
		switch x := value.Target.Interface().(type) {
		case string:
			list = append(list, x)
		case []string:
			list = append(list, x...)
		}
	}
	return list
}

func reads(call []*kong.Path) []string {
	return texts(call, func(name string) bool { return !slices.Contains(written, name) })
}

// twice refuses a file that is named twice among those to be read.
func twice(call []*kong.Path) error {
	var faults note.Faults
	var seen []string
	for _, path := range texts(call, func(name string) bool { return name == "file" || name == "from" }) {
		name := filepath.Clean(path)
		if slices.Contains(seen, name) {
			faults.Add("%s is given twice; allowed: each file once", path)
		}
		seen = append(seen, name)
	}
	if faults == nil {
		return nil
	}
	return misuses{faults}
}

func writes(call []*kong.Path) []string {
	return texts(call, func(name string) bool { return slices.Contains(written, name) })
}

// tryAll tries each file that a call is to write, before anything is computed. A folder is tried by what goes into it.
func (o *out) tryAll(paths []string) error {
	var errs []error
	for _, path := range paths {
		if !output.IsFolder(path) {
			errs = append(errs, o.files.Try(path))
		}
	}
	return output.All(errs...)
}
