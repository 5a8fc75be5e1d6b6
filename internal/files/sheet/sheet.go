// Package sheet reads a user's files (CSV, XLSX, TOML, data packages) and writes them. All faults of all files come
// at once, each with its file, row, column, what stood there and what is allowed; where there is one, nothing is taken.
// docs/data.md describes every column and key.
package sheet

import (
	"cmp"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
)

// Files larger than these are refused unread: ten thousand studies take some 3 MiB, a price file some 10 KiB.
const (
	maxCSV  = 16 << 20
	maxTOML = 1 << 18
)

// Read reads evidence tables (.csv, .tsv, .txt), price files, practices and permission rules (.toml), in any order and
// any number, into one input. Practices that a TOML file defines are known to every table. The error is a note.Faults
// with everything wrong in all files, and then the input is empty.
func Read(paths ...string) (input.Input, error) { return ReadBeside(nil, nil, paths...) }

// ReadBeside reads files that may name practices and words known from elsewhere, beside those that they define
// themselves. Only the latter, and the practices shipped, are in the input.
func ReadBeside(elsewhere practice.Set, words gloss.Glossary, paths ...string) (input.Input, error) {
	var files []file
	for _, path := range paths {
		if of, from, ok := packageOf(path); ok {
			files = append(files, from.loadPackage(of)...)
		} else {
			files = append(files, disk.load(path))
		}
	}
	return gathered(elsewhere, words, files)
}

// ReadTOML reads prices, practices and rules, or a sugarbush, from the bytes of a TOML file, as ReadBeside does.
func ReadTOML(elsewhere practice.Set, name string, data []byte) (input.Input, error) {
	f := file{path: name, faults: new(faults)}
	f.parse(data)
	return gathered(elsewhere, nil, []file{f})
}

// file is one being read. Its faults are its own until the end, so that they are listed file by file.
type file struct {
	path   string
	raw    []byte  // as it stands on the disk
	data   []byte  // of a table
	toml   *record // of a TOML file, or of a table of a data package that says the same
	role   string  // what a table of a data package holds; "" is evidence
	faults *faults
}

// source is where files are taken from: the disk, or a data package in one ZIP file.
type source func(path string) (fs.File, error)

// disk opens what keeps still: a pipe or a device would have the call wait for whoever writes into it.
var disk source = func(path string) (fs.File, error) {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return nil, errNoFile
	}
	return os.Open(path)
}

var errNoFile = errors.New("a pipe or a device")

// load takes a file, as far as its kind can be told and its size allows.
func (from source) load(path string) file {
	f := file{path: path, faults: new(faults)}
	at := note.Where{File: path}
	limit := int64(maxCSV)
	if name, _, ok := spreadsheetName(path); ok {
		path, at.File = name, name
	}
	ext := strings.ToLower(filepath.Ext(path))
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		from.read(path, limit, f.faults) // which says so
		return f
	}
	switch ext {
	case ".csv", ".tsv", ".txt", ".xlsx":
	case ".toml":
		limit = maxTOML
	case ".md":
		limit, f.role = maxTOML, searchRole
	case ".zip":
		if from.read(path, limit, f.faults) == nil {
			return f
		}
		f.faults.add(note.New("this ZIP file holds no data package; allowed: one with datapackage.json in it, whose "+
			"files unpack to at most %v MiB", maxUnzipped>>20).At(at))
		return f
	default:
		f.faults.add(note.New("files that end in %s are not read; allowed: .csv, .tsv, .txt, .xlsx (an evidence "+
			"table), .toml (prices, practices, rules), .md (how studies were looked for)",
			quote(cmp.Or(ext, filepath.Base(path)))).At(at))
		return f
	}
	f.raw = from.read(path, limit, f.faults)
	if ext == ".toml" && f.raw != nil {
		f.parse(f.raw)
	} else {
		f.data = f.raw
	}
	return f
}

// parse takes the bytes of a TOML file.
func (f *file) parse(data []byte) {
	if f.toml = flatten(f.path, data, f.faults); f.toml == nil {
		return
	}
	switch held, _ := f.toml.holds(); held {
	case sectionsHeld:
		bushKeys().check(f.toml)
	case trialHeld:
		f.faults.instead(held, true, pricesHeld, note.Where{File: f.path})
		f.toml = nil
	default:
		allKeys(f.toml).check(f.toml)
	}
}

// read gives the bytes of a file, or nil where it cannot be read or is larger than limit, which is a fault.
func (from source) read(path string, limit int64, f *faults) []byte {
	at := note.Where{File: path}
	open, err := from(path)
	if err == nil {
		defer open.Close()
		var info fs.FileInfo
		if info, err = open.Stat(); err == nil && info.IsDir() {
			f.add(note.New("this is a folder; allowed: a file, or the folder of a data package").At(at))
			return nil
		}
	}
	data := []byte{}
	if err == nil {
		data, err = io.ReadAll(io.LimitReader(open, limit+1))
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		f.add(note.NoFile(path))
	case errors.Is(err, errNoFile):
		f.add(note.New("this is a pipe or a device; allowed: a file").At(at))
	case errors.Is(err, fs.ErrPermission):
		f.add(note.New("this file may not be read: permission is denied").At(at))
	case err != nil:
		f.add(note.New("this file could not be read: %s", err.Error()).At(at))
	case int64(len(data)) > limit:
		f.add(note.New("this file is larger than %v MiB; allowed: at most that", float64(limit)/(1<<20)).At(at))
	default:
		return data
	}
	return nil
}
