// Package sheet reads a user's files (CSV, XLSX, TOML, data packages) and writes them. All faults of all files come
// at once, each with its file, row, column, what stood there and what is allowed; where there is one, nothing is taken.
// docs/data.md describes every column and key.
package sheet

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"spile/internal/note"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/trial"
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

// gathered makes one input of files.
func gathered(elsewhere practice.Set, words gloss.Glossary, files []file) (input.Input, error) {
	var out []note.Where // of each study excluded
	in := input.Input{Practices: practice.Shipped()}
	for i := range files {
		// Practices and words first: every other file may use them.
		if r := files[i].toml; r != nil && files[i].role != typedRole {
			in.Practices = append(in.Practices, ownPractices(r, in.Practices, elsewhere)...)
		}
	}
	known := slices.Clone(in.Practices)
	for _, p := range elsewhere {
		if _, have := known.Find(p.Key); !have {
			known = append(known, p)
		}
	}
	for i := range files {
		switch f := &files[i]; {
		case f.toml != nil && f.role != typedRole && !isBush(f.toml):
			in.Words = append(in.Words, readMapping(f.toml, known)...)
		case f.role == wordsRole && f.data != nil:
			list, records := readWords(f.path, f.data, f.faults)
			in.Sources = append(in.Sources, digest(f.path, records, isNumeric))
			in.Words = append(in.Words, list...)
		}
	}
	words = slices.Concat(words, in.Words)
	var bushes []*record
	var rules []ruleIn
	parts, order := map[string][]*file{}, []string{} // tables of trials, by trial
	stands := map[string]note.Where{}                // of each study
	for i := range files {
		f := &files[i]
		if f.role == typedRole {
			continue // below, beside the tables that say the same
		}
		if r := f.toml; r != nil {
			in.Sources = append(in.Sources,
				digest(f.path, []*record{r}, func(_ string, c cell) bool { return c.kind == num }))
			if isBush(r) {
				bushes = append(bushes, r)
				continue
			}
			rules = append(rules, readRules(r, f.role == rulesRole)...)
			if !speaksOfPrices(r) {
				continue
			}
			if first := in.Prices; first != nil {
				f.faults.add(secondPrices(first, r))
				continue
			}
			in.Prices = readPrices(r, known)
			continue
		}
		if f.faults.count() > 0 || f.data == nil {
			continue // it could not be loaded
		}
		if f.role == bushesRole {
			for _, r := range readBushes(f.path, f.data, f.faults) {
				in.Sources = append(in.Sources,
					digest(f.path+"#"+r.text("name"), []*record{r}, func(_ string, c cell) bool { return false }))
				bushes = append(bushes, r)
			}
			continue
		}
		if f.role == "" && isSections(f.path, f.data) {
			if r := bushRecord(f.path, f.data, f.faults); r != nil {
				in.Sources = append(in.Sources,
					digest(f.path, []*record{r}, func(_ string, c cell) bool { return false }))
				bushes = append(bushes, r)
			}
			continue
		}
		if f.role == pastRole || f.role == "" && isPast(f.path, f.data) {
			list, notes, records := readPast(f.path, f.data, f.faults)
			in.Sources = append(in.Sources, digest(f.path, records, isNumeric))
			in.Notes = append(in.Notes, notes...)
			if len(in.Past) > 0 && len(list) > 0 {
				f.faults.add(note.New("past seasons stand in another file already; allowed: one table of them").
					At(note.Where{File: f.path}))
			}
			in.Past = append(in.Past, list...)
			continue
		}
		if f.role == excludedRole {
			list, records := readExcluded(f.path, f.data, f.faults)
			in.Sources = append(in.Sources, digest(f.path, records, isNumeric))
			in.Excluded = append(in.Excluded, list...)
			for _, r := range records {
				out = append(out, r.where("study"))
			}
			continue
		}
		if f.role == wordsRole {
			continue // read before
		}
		if f.role == searchRole {
			text := strings.TrimSpace(strings.TrimPrefix(string(f.data), "\ufeff"))
			at := note.Where{File: f.path}
			switch {
			case !utf8.ValidString(text):
				f.faults.add(note.New("this text is not UTF-8; allowed: a text saved as UTF-8").At(at))
			case in.Search != "" && in.Search != input.Search(text):
				f.faults.add(note.New("how studies were looked for is told twice, and otherwise; allowed: one text").
					At(at))
			default:
				in.Search = input.Search(text)
				in.Sources = append(in.Sources, input.Source{Name: f.path, Digest: textDigest(text)})
			}
			continue
		}
		if f.role == answersRole {
			list, records := readAnswers(f.path, f.data, f.faults)
			in.Sources = append(in.Sources, digest(f.path, records, isNumeric))
			in.Answers = append(in.Answers, list...)
			continue
		}
		if number, _, ok := strings.Cut(strings.TrimPrefix(f.role, trialRole), "-"); ok &&
			strings.HasPrefix(f.role, trialRole) {
			whole := filepath.Join(filepath.Dir(f.path), number) // the same number in another package is another trial
			if _, have := parts[whole]; !have {
				order = append(order, whole)
			}
			parts[whole] = append(parts[whole], f)
			continue
		}
		studies, notes, records := readEvidence(f.path, f.data, known, words, f.faults)
		in.Notes = append(in.Notes, notes...)
		in.Sources = append(in.Sources, digest(f.path, records, isNumeric))
		if len(records) > 0 {
			if calls := records[0].head.theirs(); len(calls) > 0 {
				in.Calls = merged(in.Calls, f.path, calls)
			}
		}
		for _, s := range studies {
			if first, have := stands[s.Name]; have {
				f.faults.add(note.New("the study %s stands in another file already (%s, row %d); allowed: each study "+
					"in one file",
					quote(s.Name), first.File, first.Row).At(s.Where))
			}
			stands[s.Name] = s.Where
		}
		in.Studies = append(in.Studies, studies...)
	}
	for _, whole := range order {
		t, notes, err := gatherTrial(trial.Trial{}, known,
			func(g *trialGather, _ func() *faults) (tables []trialTable) {
				for _, f := range parts[whole] {
					for _, t := range g.tables(f.path, f.data, f.faults) {
						in.Sources = append(in.Sources, digest(f.path, t.records, isNumeric))
						tables = append(tables, t)
					}
				}
				return tables
			})
		in.Notes = append(in.Notes, notes...)
		if faults := (note.Faults{}); errors.As(err, &faults) {
			for _, n := range faults {
				parts[whole][0].faults.add(n)
			}
			continue
		}
		in.Trials = append(in.Trials, t)
	}
	asOf := ""
	if in.Prices != nil {
		asOf = in.Prices.AsOf
	}
	in.Rules = judgeRules(rules, asOf)
	in.Bushes = drafts(bushes, in.Prices, known)
	for _, f := range files {
		if r := f.toml; r != nil && f.role == typedRole && f.faults.count() == 0 && !typedAs(&in, r, known) {
			in.Notes = append(in.Notes, note.New("this says otherwise than the tables beside it, which count").
				At(note.Where{File: f.path}))
		}
	}
	all := new(faults)
	for _, f := range files {
		all.join(f.faults)
	}
	for i, e := range in.Excluded {
		_, have := stands[e.Study]
		have = have || slices.ContainsFunc(in.Trials, func(t trial.Trial) bool { return t.Name == e.Study })
		if !have && all.count() == 0 {
			all.add(note.New("the study %s is left out, and there is none of that name; allowed: the name of a study "+
				"in these files", quote(e.Study)).At(out[i]))
		}
	}
	if err := all.err(); err != nil {
		return input.Input{}, err
	}
	return in, nil
}

// merged is a map with one more entry.
func merged[K comparable, V any](m map[K]V, k K, v V) map[K]V {
	if m == nil {
		m = map[K]V{}
	}
	m[k] = v
	return m
}

// typedAs takes how prices or a sugarbush were typed; false where that says otherwise than they do.
func typedAs(in *input.Input, r *record, known practice.Set) bool {
	r.faults = new(faults)
	if isBush(r) {
		d := r.draft()
		for i := range in.Bushes {
			if b := &in.Bushes[i]; slices.Equal(b.Keys, d.Keys) {
				b.Text = d.Text
				return true
			}
		}
		return false
	}
	p := readPrices(r, known)
	if in.Prices == nil || r.faults.count() > 0 || !reflect.DeepEqual(p.Said(), in.Prices.Said()) {
		return false
	}
	in.Prices.Text, in.Prices.Units, in.Prices.Lines = p.Text, p.Units, p.Lines
	return true
}

// speaksOfPrices is true of a TOML file that holds more than practices, rules and words.
func speaksOfPrices(r *record) bool {
	for _, key := range r.head.names {
		if top, _, _ := strings.Cut(key, "."); top != "practice" && top != "rule" && !isMapping(top) {
			return true
		}
	}
	return false
}

func secondPrices(first *price.Prices, r *record) note.Note {
	if c := r.text("currency"); c != "" && c != first.Currency {
		return note.New("two currencies stand in one input, %s here and %s in %s; allowed: one", c, first.Currency,
			first.Where.File).At(r.where("currency"))
	}
	return note.New("this is a second price file, beside %s; allowed: one", first.Where.File).
		At(note.Where{File: r.file})
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
			quote(ext)).At(at))
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
		allKeys().check(f.toml)
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
		f.add(note.New("there is no such file").At(at))
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
