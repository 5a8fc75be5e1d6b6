package sheet

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"io/fs"
	"os"
	pathpkg "path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/doubt"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/past"
	"spile/internal/trade/price"
	"spile/internal/trade/trial"
)

// A data package (Frictionless Data, Data Package 1 and Table Schema 1, specs.frictionlessdata.io) is a folder of CSV
// files and of datapackage.json, which says what they and their columns are.
const descriptor = "datapackage.json"

// What the resources of a package hold, by their names. Every other resource of CSV is an evidence table.
const (
	evidenceRole   = "evidence"
	pricesRole     = "prices"
	practicesRole  = "practices"
	rulesRole      = "rules"
	excludedRole   = "excluded"
	answersRole    = "answers"
	wordsRole      = "words"
	bushesRole     = "sugarbushes"
	pastRole       = "past"
	referencesRole = "references"
	searchRole     = "search" // no table, but a text
	typedRole      = "typed"  // behind the name of what was typed: prices-typed
	trialRole      = "trial-" // and its number and table: trial-2-readings
)

// trialName is the name of a table of a trial.
var trialName = regexp.MustCompile(`^trial-[1-9][0-9]{0,3}-[a-z]+$`)

// maxDescriptor is far above what a description of a handful of tables takes.
const maxDescriptor = 1 << 20

// Package is all that a workbook holds, for others.
type Package struct {
	input.Input
	License string // an identifier such as CC-BY-4.0, or "": not said
}

// File is a file to be written.
type File struct {
	Name string
	Data []byte
}

type descriptorBody struct {
	Profile     string         `json:"profile"`
	Name        string         `json:"name"`
	Title       string         `json:"title"`
	Description string         `json:"description"`
	Licenses    []licenseBody  `json:"licenses,omitempty"`
	Sources     []sourceBody   `json:"sources,omitempty"`
	Resources   []resourceBody `json:"resources"`
}

type licenseBody struct {
	Name string `json:"name"`
}

type sourceBody struct {
	Title string `json:"title"`
}

type resourceBody struct {
	Profile     string      `json:"profile"`
	Name        string      `json:"name"`
	Path        string      `json:"path"`
	Title       string      `json:"title"`
	Description string      `json:"description,omitempty"`
	Format      string      `json:"format"`
	MediaType   string      `json:"mediatype"`
	Encoding    string      `json:"encoding"`
	Bytes       int         `json:"bytes"`
	Hash        string      `json:"hash"`
	Schema      *schemaBody `json:"schema,omitempty"`
}

type schemaBody struct {
	Fields        []fieldBody `json:"fields"`
	MissingValues []string    `json:"missingValues"`
}

type fieldBody struct {
	Name        string          `json:"name"`
	Type        string          `json:"type"`
	Description string          `json:"description,omitempty"`
	TrueValues  []string        `json:"trueValues,omitempty"`
	FalseValues []string        `json:"falseValues,omitempty"`
	Constraints *constraintBody `json:"constraints,omitempty"`
}

type constraintBody struct {
	Required bool `json:"required,omitempty"`
}

// Tables are the tables of the package: the evidence first, then what there is of the rest.
func (p Package) Tables() []Table {
	tables := []Table{EvidenceTable(p.Studies)}
	table := func(name string, columns ...string) *Table {
		t := Table{Name: name}
		for _, c := range columns {
			t.Columns = append(t.Columns, Column{Name: c})
		}
		tables = append(tables, t)
		return &tables[len(tables)-1]
	}
	if p.Prices != nil {
		t := table(pricesRole, "key", "value", "low", "high", "source")
		for _, s := range settings(*p.Prices) {
			row := []any{strings.Join(s.key, "."), s.value, nil, nil, nil}
			switch v := s.value.(type) {
			case price.Value:
				row[1] = v.Best
				for i, x := range []*float64{v.Low, v.High} {
					if x != nil {
						row[2+i] = *x
					}
				}
				if v.Source != "" {
					row[4] = v.Source
				}
			case bool:
				row[1] = yesNo(v)
			case dayText:
				row[1] = string(v)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	if own := p.Own(); len(own) > 0 {
		t := table(practicesRole, "key", "name", "spout", "drops", "wash")
		for _, k := range own {
			t.Rows = append(t.Rows, []any{string(k.Key), k.Name, string(k.Spout), string(k.Drops), string(k.Wash)})
		}
	}
	if len(p.Rules) > 0 {
		t := table(rulesRole, "wash", "spout", "product", "chemical", "unlabelled", "place", "organic", "verdict",
			"reason", "checked")
		for _, r := range p.Rules {
			organic := ""
			if r.Organic != nil {
				organic = yesNo(*r.Organic)
			}
			t.Rows = append(t.Rows, []any{string(r.Wash), string(r.Spout), r.Product, yesNo(r.Chemical),
				yesNo(r.Unlabelled), r.Place,
				organic, string(r.Verdict), r.Reason, r.Checked})
		}
	}
	if len(p.Excluded) > 0 {
		t := table(excludedRole, "study", "reason")
		for _, e := range p.Excluded {
			t.Rows = append(t.Rows, []any{e.Study, e.Reason})
		}
	}
	if len(p.Answers) > 0 {
		t := table(answersRole, "id", "about")
		for _, a := range p.Answers {
			t.Rows = append(t.Rows, []any{a.ID, a.About})
		}
	}
	if len(p.Words) > 0 {
		t := table(wordsRole, "of", "said", "means")
		for _, w := range p.Words {
			t.Rows = append(t.Rows, []any{w.Of, w.Said, w.Means})
		}
	}
	if len(p.Bushes) > 0 {
		tables = append(tables, bushesTable(p.Bushes))
	}
	if len(p.Past) > 0 {
		tables = append(tables, PastTable(p.Past))
	}
	for i, x := range p.Trials {
		for _, t := range TrialTables(x) {
			t.Name = fmt.Sprintf("%s%d-%s", trialRole, i+1, t.Name)
			tables = append(tables, t)
		}
	}
	if len(p.Studies) == 0 && len(tables) > 1 {
		return tables[1:] // an evidence table has a row
	}
	return tables
}

// title says what a table is.
func (p Package) title(name string) string {
	number, of, ok := strings.Cut(strings.TrimPrefix(name, trialRole), "-")
	if i, err := strconv.Atoi(number); ok && err == nil && i <= len(p.Trials) {
		return fmt.Sprintf("%s: %s", p.Trials[i-1].Name, trialTitles[of])
	}
	return titles[name]
}

// trialTitles says what each table of a trial is.
var trialTitles = map[string]string{
	planRole: "what was asked, and how it is analysed, one row a key", trial.Layouts.Name: trial.Layouts.Holds,
	trial.Readings.Name: trial.Readings.Holds,
	trial.Events.Name:   trial.Events.Holds, trial.Dumps.Name: trial.Dumps.Holds, trial.Tanks.Name: trial.Tanks.Holds,
	trial.Counts.Name: trial.Counts.Holds,
	trial.Sums.Name:   trial.Sums.Holds, trial.Days.Name: trial.Days.Holds, trial.Decisions.Name: trial.Decisions.Holds,
}

func yesNo(v bool) string {
	if v {
		return "yes"
	}
	return "no"
}

// titles says what each table is.
var titles = map[string]string{
	evidenceRole:  "Evidence table: one row an arm, which is one practice in one study",
	pricesRole:    "Prices and assumptions, one row a key, in the units that they say",
	practicesRole: "Practices beside those that the tool ships",
	rulesRole:     "Permission rules beside those that the tool ships; they inform, they do not permit",
	excludedRole:  "Studies left out of every answer, and why",
	answersRole:   "What was asked and is meant",
	wordsRole:     "What headers and words of tables of others stand for",
	bushesRole:    "Sugarbushes of producers, one row a key, as they were written",
	pastRole:      "Past seasons: what a tap gave and what syrup brought, one row a season and grade",
}

// Files writes the package: its tables as CSV, the sources as BibTeX and RIS, and the description of all. The same
// package gives the same bytes.
func (p Package) Files() ([]File, error) {
	d := descriptorBody{
		Profile: "data-package", Name: "spile-export", Title: "Trials of tap-hole and tubing practices",
		Description: "Gains in sap of practices that keep tap holes and tubing clean, as trials found them, and what " +
			"their money rests on. Written by spile; docs/data.md describes every column.",
	}
	if p.License != "" {
		d.Licenses = []licenseBody{{p.License}}
	}
	cited := map[string]bool{}
	for _, s := range p.Studies {
		if s.Source != "" && !cited[s.Source] {
			cited[s.Source] = true
			d.Sources = append(d.Sources, sourceBody{s.Source})
		}
	}
	var files []File
	add := func(r resourceBody, data []byte) {
		sum := sha256.Sum256(data)
		r.Encoding, r.Bytes, r.Hash = "utf-8", len(data), "sha256:"+hex.EncodeToString(sum[:])
		d.Resources = append(d.Resources, r)
		files = append(files, File{r.Path, data})
	}
	for _, t := range p.Tables() {
		var b bytes.Buffer
		if err := t.WriteCSV(&b); err != nil {
			return nil, err
		}
		r := resourceBody{Profile: "tabular-data-resource", Name: t.Name, Path: t.Name + ".csv", Title: p.title(t.Name),
			Format: "csv", MediaType: "text/csv",
			Schema: &schemaBody{MissingValues: []string{""}}}
		for _, c := range t.Columns {
			r.Schema.Fields = append(r.Schema.Fields, field(t.Name, c.Name))
		}
		add(r, b.Bytes())
	}
	asTyped := func(name, title, text string) {
		if text != "" {
			add(resourceBody{Profile: "data-resource", Name: name + "-" + typedRole, Path: name + ".toml", Title: title,
				Format: "toml", MediaType: "application/toml"}, []byte(text))
		}
	}
	if p.Search != "" {
		add(resourceBody{Profile: "data-resource", Name: searchRole, Path: searchRole + ".md",
			Title: "How studies were looked for, when, and what was left out and why", Format: "md",
			MediaType: "text/markdown"}, []byte(p.Search))
	}
	if data := typedJSON(p.Studies); data != nil {
		add(resourceBody{Profile: "data-resource", Name: evidenceRole + "-" + typedRole,
			Path: evidenceRole + "-" + typedRole + ".json", Title: "The evidence as it was typed", Format: "json",
			MediaType: "application/json"}, data)
	}
	if p.Prices != nil {
		asTyped(pricesRole, "The price file as it was typed", p.Prices.Text)
	}
	for i, b := range p.Bushes {
		asTyped(fmt.Sprintf("sugarbush-%d", i+1), "The file of the sugarbush "+b.Name+" as it was typed", b.Text)
	}
	if len(d.Sources) > 0 {
		add(resourceBody{Profile: "data-resource", Name: referencesRole + "-bib", Path: referencesRole + ".bib",
			Title: "Sources as BibTeX", Format: "bib", MediaType: "application/x-bibtex"}, BibTeX(p.Studies))
		add(resourceBody{Profile: "data-resource", Name: referencesRole + "-ris", Path: referencesRole + ".ris",
			Title: "Sources as RIS", Format: "ris", MediaType: "application/x-research-info-systems"}, RIS(p.Studies))
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(d); err != nil {
		return nil, err
	}
	return append([]File{{descriptor, b.Bytes()}}, files...), nil
}

// WriteZIP writes the package as one file, without the time, so that the same package gives the same bytes.
func (p Package) WriteZIP(w io.Writer) error {
	files, err := p.Files()
	if err != nil {
		return err
	}
	return WriteZIP(w, files)
}

// WriteZIP writes files as one ZIP file.
func WriteZIP(w io.Writer, files []File) error {
	z := zip.NewWriter(w)
	for _, f := range files {
		part, err := z.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Deflate})
		if err != nil {
			return err
		}
		if _, err := part.Write(f.Data); err != nil {
			return err
		}
	}
	return z.Close()
}

// field describes a column in the words of Table Schema.
func field(table, name string) fieldBody {
	f := fieldBody{Name: name, Type: "string"}
	if strings.HasPrefix(table, trialRole) {
		_, role, _ := strings.Cut(strings.TrimPrefix(table, trialRole), "-")
		c, _ := column.Find(columnsOf(role), name)
		switch {
		case c.Bounds == column.Spring:
			f.Type = "year"
		case c.Kind == column.Whole:
			f.Type = "integer"
		case c.Kind == column.Number:
			f.Type = "number"
		case c.Kind == column.YesNo:
			f.Type, f.TrueValues, f.FalseValues = "boolean", []string{"yes"}, []string{"no"}
		}
		return f
	}
	if table == pastRole {
		c, _ := column.Find(past.Columns, name)
		f.Type, f.Description = schemaType(c.Kind, c.Bounds), c.Holds
		return f
	}
	if table != evidenceRole {
		switch {
		case name == "low" || name == "high":
			f.Type = "number"
		case name == "checked":
			f.Type = "date"
		case name == "chemical" || name == "unlabelled" || name == "organic":
			f.Type, f.TrueValues, f.FalseValues = "boolean", []string{"yes"}, []string{"no"}
		}
		return f
	}
	i := slices.IndexFunc(evidence.Columns, func(c evidence.Column) bool { return c.Name == name })
	if i < 0 {
		f.Description = "not known to the tool; kept as a note"
		return f
	}
	c := evidence.Columns[i]
	f.Type, f.Description = schemaType(c.Kind, c.Bounds), strings.ReplaceAll(c.Holds, "`", "")
	if f.Type == "boolean" {
		f.TrueValues, f.FalseValues = []string{"yes"}, []string{"no"}
	}
	if c.Needed {
		f.Constraints = &constraintBody{Required: true}
	}
	return f
}

// schemaType is the type of a column in the words of Table Schema.
func schemaType(k column.Kind, b column.Bounds) string {
	switch {
	case b == column.Spring:
		return "year"
	case k == column.Whole || k.Numeric() && b.Whole:
		return "integer"
	case k.Numeric():
		return "number"
	case k == column.Day:
		return "date"
	case k == column.YesNo:
		return "boolean"
	}
	return "string"
}

// packageOf is the descriptor that a path names, itself, by its folder, or by a ZIP file that holds it at its top or in
// one folder; and where its files are taken from.
func packageOf(path string) (string, source, bool) {
	if strings.EqualFold(filepath.Base(path), descriptor) {
		return path, disk, true
	}
	if strings.EqualFold(filepath.Ext(path), ".zip") {
		return zipped(path)
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		if _, err := os.Stat(filepath.Join(path, descriptor)); err == nil {
			return filepath.Join(path, descriptor), disk, true
		}
	}
	return "", nil, false
}

// zipped is packageOf for a ZIP file. One that unpacks to more than maxUnzipped is none: the library reads no more of a
// file than its header says.
func zipped(path string) (string, source, bool) {
	var f faults
	data := disk.read(path, maxCSV, &f)
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if data == nil || err != nil {
		return "", nil, false
	}
	of, size := "", uint64(0)
	for _, part := range z.File {
		if size += part.UncompressedSize64; size > maxUnzipped || part.UncompressedSize64 > maxUnzipped {
			return "", nil, false
		}
		if folder, name := pathpkg.Split(part.Name); name == descriptor && strings.Count(folder, "/") <= 1 && of == "" {
			of = part.Name
		}
	}
	from := func(inside string) (fs.File, error) {
		rest, err := filepath.Rel(path, inside)
		if err != nil {
			return nil, err
		}
		return z.Open(filepath.ToSlash(rest))
	}
	return filepath.Join(path, filepath.FromSlash(of)), from, of != ""
}

// loadPackage takes the tables of a data package.
func (from source) loadPackage(path string) []file {
	whole := file{path: path, faults: new(faults)}
	data := from.read(path, maxDescriptor, whole.faults)
	resources := readDescriptor(path, data, whole.faults)
	files := []file{whole}
	for _, r := range resources {
		at := filepath.Join(filepath.Dir(path), filepath.FromSlash(r.path))
		f := file{path: at, faults: new(faults)}
		if strings.EqualFold(filepath.Ext(at), ".json") {
			f.raw = from.read(at, maxCSV, f.faults)
			f.data = f.raw
		} else {
			f = from.load(at)
		}
		f.role = r.role
		// other hashes are not looked at
		if says, isSHA := strings.CutPrefix(strings.ToLower(r.hash), "sha256:"); isSHA && f.raw != nil {
			if sum := sha256.Sum256(f.raw); says != hex.EncodeToString(sum[:]) {
				f.faults.add(note.New("this is not the file that the package was made with: its SHA-256 is %s, and "+
					"%s says %s; if the change is meant, take the hash out of the description",
					hex.EncodeToString(sum[:]), descriptor, quote(says)).At(note.Where{File: f.path}))
			}
		}
		if f.data != nil && slices.Contains([]string{pricesRole, practicesRole, rulesRole}, r.role) {
			f.toml = dottedTable(f.path, r.role, f.data, f.faults)
			f.data = nil
		}
		files = append(files, f)
	}
	return files
}

// part is one table of a package.
type part struct{ role, path, hash string }

// readDescriptor lists the tables that a descriptor names.
func readDescriptor(path string, data []byte, f *faults) []part {
	if data == nil {
		return nil
	}
	at := note.Where{File: path}
	var d struct {
		Resources []struct {
			Name, Format, Hash string
			Path               json.RawMessage
		}
	}
	if err := json.Unmarshal(data, &d); err != nil {
		f.add(note.New("this is not the description of a data package (%s)", err.Error()).At(at))
		return nil
	}
	var list []part
	for i, r := range d.Resources {
		at.Column = fmt.Sprintf("resources.%d", i+1)
		var p string
		if err := json.Unmarshal(r.Path, &p); err != nil {
			var several []string
			if json.Unmarshal(r.Path, &several) != nil || len(several) != 1 {
				f.add(note.New("the resource %s has no path of its own; allowed: the name of one file in the folder "+
					"of the package", quote(r.Name)).At(at))
				continue
			}
			p = several[0]
		}
		switch ext := strings.ToLower(filepath.Ext(p)); {
		case strings.HasPrefix(r.Name, referencesRole):
			continue
		case strings.Contains(p, "://") || strings.Contains(p, `\`) || !filepath.IsLocal(filepath.FromSlash(p)):
			f.add(note.New("the path %s leads out of the package; allowed: the name of a file in its folder", quote(p)).
				At(at))
			continue
		case (ext == ".toml" || ext == ".json") && strings.HasSuffix(r.Name, "-"+typedRole):
			list = append(list, part{typedRole, p, r.Hash})
			continue
		case ext == ".md" && r.Name == searchRole:
			list = append(list, part{searchRole, p, r.Hash})
			continue
		case ext != ".csv" && ext != ".tsv" && ext != ".txt":
			f.add(note.New("the resource %s is not a table of text (%s); allowed: CSV", quote(r.Name), quote(p)).At(at))
			continue
		}
		if slices.ContainsFunc(list, func(l part) bool { return l.path == p }) {
			f.add(note.New("the path %s stands twice; allowed: once", quote(p)).At(at))
			continue
		}
		role := evidenceRole
		if slices.Contains([]string{pricesRole, practicesRole, rulesRole, excludedRole, answersRole, wordsRole,
			bushesRole, pastRole},
			r.Name) || trialName.MatchString(r.Name) {
			role = r.Name
		}
		list = append(list, part{role, p, r.Hash})
	}
	at.Column = ""
	if len(list) == 0 && f.count() == 0 {
		f.add(note.New("this package names no table; allowed: resources, each with a name and a path").At(at))
	}
	return list
}

// tableColumns are the columns of the tables beside the evidence.
var tableColumns = map[string][]string{
	pricesRole:    {"key", "value", "low", "high", "source"},
	practicesRole: {"key", "name", "spout", "drops", "wash"},
	rulesRole: {"wash", "spout", "product", "chemical", "unlabelled", "place", "organic", "verdict", "reason",
		"checked"},
	excludedRole: {"study", "reason"},
	answersRole:  {"id", "about"},
	wordsRole:    {"of", "said", "means"},
	bushesRole:   {"sugarbush", "key", "value"},
}

// small reads a table whose columns are known, the first of which is needed in every row.
func small(file, role string, data []byte, f *faults) []*record {
	columns := map[string]bool{}
	for _, c := range tableColumns[role] {
		columns[c] = true
	}
	h, records := table(file, data, columns, nil, f)
	if h == nil {
		return nil
	}
	for _, c := range tableColumns[role] {
		if _, ok := h.index[c]; !ok {
			f.missing(note.New("the column %s is missing; needed: %s", c, strings.Join(tableColumns[role], ", ")).
				At(h.where()))
		}
	}
	for _, name := range h.names {
		if !columns[name] {
			f.add(note.New("the column %s is not known; allowed: %s", quote(name),
				strings.Join(tableColumns[role], ", ")).At(h.where()))
		}
	}
	return records
}

// dottedTable reads prices, practices or rules from a table into the same keys that a TOML file has.
func dottedTable(file, role string, data []byte, f *faults) *record {
	records := small(file, role, data, f)
	if f.count() > 0 {
		return nil
	}
	d := newDots(file, f)
	for i, r := range records {
		switch role {
		case pricesRole:
			key, ok := d.key(r)
			if !ok {
				continue
			}
			if r.has("low") || r.has("high") || r.has("source") {
				d.put(r, key+".best", "value")
				d.put(r, key+".low", "low")
				d.put(r, key+".high", "high")
				d.put(r, key+".source", "source")
			} else {
				d.put(r, key, "value")
			}
		case practicesRole:
			if r.need("key") {
				for _, column := range tableColumns[role][1:] {
					d.put(r, "practice."+strings.ReplaceAll(r.text("key"), ".", ",")+"."+column, column)
				}
			}
		case rulesRole:
			for _, column := range tableColumns[role] {
				d.put(r, fmt.Sprintf("rule.%d.%s", i+1, column), column)
			}
		}
	}
	r := d.record()
	allKeys(r).check(r)
	return r
}

// dots gathers the dotted keys of a table, as a TOML file has them.
type dots struct {
	file   string
	keys   []string
	cells  map[string]cell
	tables map[string]int
	faults *faults
}

func newDots(file string, f *faults) *dots {
	return &dots{file: file, cells: map[string]cell{}, tables: map[string]int{}, faults: f}
}

// key reads the key of a row.
func (d *dots) key(r *record) (string, bool) {
	if !r.need("key") {
		return "", false
	}
	key := r.text("key")
	if strings.Count(key, ".") > deepest || strings.Contains("."+key+".", "..") {
		d.faults.add(note.New("the key %s is not known", quote(key)).At(r.where("key")))
		return "", false
	}
	return key, true
}

// put takes what stands in a column as the value of a key.
func (d *dots) put(r *record, key, column string) {
	c, ok := r.get(column)
	if !ok {
		return
	}
	twice := func(row int) {
		d.faults.add(note.New("%s is given twice, first in row %d; allowed: once", key, row).
			At(note.Where{File: d.file, Row: c.row, Column: "key"}))
	}
	for at := key; at != ""; at = at[:max(0, strings.LastIndexByte(at, '.'))] {
		if before, have := d.cells[at]; have {
			twice(before.row)
			return
		}
	}
	if row, have := d.tables[key]; have {
		twice(row)
		return
	}
	d.cells[key] = c
	d.keys = append(d.keys, key)
	for i := strings.LastIndexByte(key, '.'); i >= 0; i = strings.LastIndexByte(key[:i], '.') {
		if _, have := d.tables[key[:i]]; !have {
			d.tables[key[:i]] = c.row
		}
	}
}

func (d *dots) record() *record { return dottedRecord(d.file, d.keys, d.cells, d.tables, d.faults) }

// keyedRecord reads a table of keys and values into the keys that a TOML file has.
func keyedRecord(file string, records []*record, f *faults) *record {
	d := newDots(file, f)
	for _, r := range records {
		if key, ok := d.key(r); ok {
			d.put(r, key, "value")
		}
	}
	return d.record()
}

// readExcluded reads which studies are left out, and why.
func readExcluded(file string, data []byte, f *faults) ([]input.Exclusion, []*record) {
	records := small(file, excludedRole, data, f)
	var list []input.Exclusion
	for _, r := range records {
		if r.need("study") && r.need("reason") {
			list = append(list, input.Exclusion{Study: r.text("study"), Reason: r.text("reason")})
		}
	}
	return list, records
}

// readWords reads what headers and words stand for.
func readWords(file string, data []byte, f *faults) (words gloss.Glossary, records []*record) {
	records = small(file, wordsRole, data, f)
	for _, r := range records {
		if r.need("of") && r.need("said") {
			words = append(words, gloss.Sense{Of: r.text("of"), Said: r.text("said"), Means: r.text("means")})
		}
	}
	return words, records
}

// readAnswers reads what was asked and is meant.
func readAnswers(file string, data []byte, f *faults) ([]doubt.Answer, []*record) {
	records := small(file, answersRole, data, f)
	var list []doubt.Answer
	for _, r := range records {
		if r.need("id") {
			list = append(list, doubt.Answer{ID: r.text("id"), About: r.text("about")})
		}
	}
	return list, records
}
