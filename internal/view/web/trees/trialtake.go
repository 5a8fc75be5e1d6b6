package trees

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"encoding/base64"
	"io"
	"net/http"
	"net/url"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/design"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/gloss"
	trials "spile/internal/trade/trial"
	"spile/internal/view/report"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// sheetLinks are the field sheets of a trial's seasons.
func (s desk) sheetLinks(t trials.Trial) []page.Link {
	v := s.Voice
	var list []page.Link
	blind := t.Question != nil && t.Question.Blind
	for _, r := range t.Records {
		to := func(kind string, hide bool) string {
			q := url.Values{"name": {t.Name}, "season": {strconv.Itoa(r.Season)}}
			if hide {
				q.Set("hide", "yes")
			}
			return "/trials/sheets/field-sheets." + kind + "?" + q.Encode()
		}
		year := v.Year(r.Season)
		if blind {
			list = append(list, page.Link{Name: v.Text("%s, codes alone, to print (PDF)", year), Href: to("pdf", true)},
				page.Link{Name: v.Text("%s, codes alone, to fill in (XLSX)", year), Href: to("xlsx", true)})
		}
		list = append(list, page.Link{Name: v.Text("%s, with practices, to print (PDF)", year), Href: to("pdf", false)},
			page.Link{Name: v.Text("%s, with practices, to fill in (XLSX)", year), Href: to("xlsx", false)})
	}
	return list
}

// fieldSheets answers with the field sheets of a season.
func (s desk) fieldSheets(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	t, ok := s.Trial(q.Get("name"))
	year, err := strconv.Atoi(q.Get("season"))
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	if !ok || err != nil || name != "field-sheets" {
		s.Missing(w, r)
		return
	}
	f := report.Field{Trial: design.Coded(t, s.Input.Practices), Season: year, Set: s.Input.Practices,
		Hide: q.Get("hide") != "", V: s.Voice, Version: s.Version}
	if err := f.Check(); err != nil {
		page.Fail(w, http.StatusNotFound, s.Said(page.Faults(err))...)
		return
	}
	var data []byte
	mime := "application/pdf"
	switch kind {
	case "pdf":
		data, err = f.Sheets()
	case "xlsx":
		var code func(string) string
		if f.Hide {
			code = f.Code
		}
		var b bytes.Buffer
		err = sheet.WriteXLSX(&b, sheet.FieldTables(t, year, code, show.VolumeUnit(s.Voice))...)
		data, mime = b.Bytes(), "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
	default:
		s.Missing(w, r)
		return
	}
	if err != nil {
		http.Error(w, s.Voice.Text("This page could not be made: %s", err.Error()), http.StatusInternalServerError)
		return
	}
	page.Attach(w, "field-sheets-"+strconv.Itoa(year)+"."+kind)
	page.Send(w, r, mime, data)
}

// takenTrial is the form that takes a file of a trial in.
type takenTrial struct {
	Name, Href, Pasted string
	File, Held         string // a file that was given before, packed so that a form can carry it
	Said               gloss.Glossary
	Replace            bool
	Faulty             []faultyRow
	Asked              []page.Unusual
	Unusual            bool     // Faulty is unusual, and not at fault
	Taken, Notes       []string // of the file before, once it is stored
}

// faultyRow is a row of a file with what is wrong with it, or unusual.
type faultyRow struct {
	Row, Text string
	Faults    []string
	Asked     []page.Unusual
}

func (s desk) takingTrial(w http.ResponseWriter, r *http.Request, q url.Values, t page.Trouble, faulty ...faultyRow) {
	b := typedTrial(q)
	b.Faulty = faulty
	s.takePage(w, r, q, t, b)
}

// typedTrial is the form as it was typed, with the file that it holds.
func typedTrial(q url.Values) takenTrial {
	b := takenTrial{Name: q.Get("name"), Pasted: q.Get("pasted"), Replace: q.Get("replace") != "",
		Said: page.Senses(q)}
	if held := q.Get("held"); held != "" {
		b.File, b.Held = page.Clean(q.Get("file-name")), held
	}
	return b
}

func (s desk) takePage(w http.ResponseWriter, r *http.Request, q url.Values, t page.Trouble, b takenTrial) {
	v := s.Voice
	x, ok := s.Trial(q.Get("name"))
	b.Name, b.Href = x.Name, page.TrialAddress(x.Name)
	if !ok {
		s.Missing(w, r)
		return
	}
	s.Show(w, "taketrial", v.Text("Take in a file of %s", x.Name),
		page.Page{Here: "/trials", Trouble: t, Seen: page.Seen(q),
			Back: &page.Link{Name: v.Text("Back to the trial %s", x.Name), Href: page.TrialAddress(x.Name)},
			Lead: []string{v.Text("Readings, events, measured dumps, tanks, counts of taps, temperatures or a season " +
				"table, told by their columns; all of it is taken in, or nothing. The field spreadsheet, filled in, " +
				"is such a file.")},
			Body: b})
}

// takeTrial takes a file of a trial in, all of it or nothing.
func (s desk) takeTrial(w http.ResponseWriter, r *http.Request) {
	q := r.PostForm
	t, ok := s.Trial(q.Get("name"))
	if !ok {
		s.Missing(w, r)
		return
	}
	name, data, err := given(r)
	switch {
	case err != nil:
		s.takingTrial(w, r, q, page.Trouble{Faults: []string{page.Unread(s.Voice)}, Code: http.StatusBadRequest})
		return
	case len(bytes.TrimSpace(data)) == 0:
		s.takingTrial(w, r, q, page.Refused(s.Voice.Text("Choose a file, or paste rows with their "+
			"header.")))
		return
	}
	base, words := design.Coded(t.Read(), s.Input.Practices), settledIn(s.Have.Words, page.Senses(q))
	if s.settling(w, q, base, name, data) {
		return
	}
	said, notes, err := sheet.TrialOf(base, s.Input.Practices, words, name, data)
	var saved book.Saved
	if err == nil {
		list, answers, open := s.Asked(said.Doubts(s.Now().Year()+1), q)
		if open {
			b := typedTrial(q)
			b.Faulty, b.Asked = s.unusualRows(data, list)
			b.Unusual = true
			s.takePage(w, r, q, page.Refused(s.Voice.Text("Something is unusual. Nothing was kept: "+
				"say of each that it is meant, or correct it.")), b)
			return
		}
		for _, x := range sheet.Lasting(page.Senses(q)) {
			answers = append(answers, book.Keep(x))
		}
		saved, err = s.Book.Save(
			book.Edit{At: s.Now(), Who: s.Who, What: s.Voice.Text("took in %s of %s", name, t.Name),
				Why: page.Why(q), Seen: page.Seen(r.PostForm), Replace: q.Get("replace") != ""},
			append(book.TrialItems(said), answers...)...)
	}
	if err != nil {
		tr, at := s.Troubled(err, nil)
		rows, rest := s.faultyRows(data, page.Faults(err))
		if len(rows) > 0 && tr.Theirs == nil {
			tr.Faults = append([]string{
				s.Voice.Text("%d faults: each stands beside what it is about. Nothing was kept.",
					len(page.Faults(err)))}, rest...)
		}
		if at.Change > 0 {
			q.Set(page.SeenKey, at.String())
		}
		s.takingTrial(w, r, q, tr, rows...)
		return
	}
	next := url.Values{"name": {t.Name}}
	if saved.Change > 0 {
		next.Set(page.SeenKey, saved.Seen.String())
	}
	s.takePage(w, r, next, page.Trouble{}, takenTrial{Taken: s.tookIn(saved), Notes: s.Voice.Notes(notes)})
}

// given is what a form gives to be taken in: a file, rows, or a file that it was given before and still holds.
func given(r *http.Request) (name string, data []byte, err error) {
	q := r.PostForm
	if f, header, none := r.FormFile("file"); none == nil {
		defer f.Close()
		data, err = io.ReadAll(f)
		name = page.Clean(filepath.Base(strings.ReplaceAll(header.Filename, `\`, "/")))
		q.Del("pasted")
		q.Set("file-name", name)
		q.Set("held", packed(data))
		for _, k := range []string{"of", "said", "means", "do"} { // of the one before
			q.Del(k)
		}
		return name, data, err
	}
	if pasted := q.Get("pasted"); strings.TrimSpace(pasted) != "" {
		q.Del("held")
		return "pasted.tsv", []byte(strings.ToValidUTF8(pasted, "\uFFFD")), nil
	}
	if held := q.Get("held"); held != "" {
		data, err = unpacked(held)
	}
	return page.Clean(q.Get("file-name")), data, err
}

// packed is a file as a form carries it.
func packed(data []byte) string {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write(data) // into memory, which does not fail
	z.Close()
	return base64.StdEncoding.EncodeToString(b.Bytes())
}

func unpacked(held string) ([]byte, error) {
	data, err := base64.StdEncoding.DecodeString(held)
	if err != nil {
		return nil, err
	}
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(z, page.MostForm))
}

// settledIn is what the workbook knows of words, then what a form says.
func settledIn(known, said gloss.Glossary) gloss.Glossary {
	return slices.Concat(known, slices.DeleteFunc(slices.Clone(said), func(x gloss.Sense) bool {
		return x.Means == ""
	}))
}

// tookIn counts what a file brought, kind by kind.
func (s desk) tookIn(saved book.Saved) (list []string) {
	v := s.Voice
	for _, part := range []struct {
		list []book.Touched
		text string
	}{
		{saved.Added, "stored: %s"},
		{saved.Replaced, "put in the place of others: %s"},
		{saved.Unchanged, "there already, with the same content: %s"},
	} {
		if kinds, _ := s.Counted(part.list, 1, 0); kinds != nil {
			list = append(list, v.Text(part.text, v.List(kinds)))
		}
	}
	if list == nil {
		list = []string{v.Text("nothing that was not there already")}
	}
	return list
}

// faultyRows puts faults beside the rows of a text that they are of; rest are those of no row.
func (s desk) faultyRows(data []byte, faults note.Faults) (rows []faultyRow, rest []string) {
	for _, n := range faults {
		if n.Where.Row == 0 {
			rest = append(rest, s.Said(note.Faults{n})...)
			continue
		}
		x := s.rowAt(&rows, data, n.Where)
		column := n.Where.Column
		said := strings.Join(s.Said(note.Faults{n}), " ")
		x.Faults = append(x.Faults, cmp.Or(strings.TrimPrefix(column+": "+said, ": "), said))
	}
	return slices.Clip(rows), rest
}

// unusualRows puts questions beside the rows of a text that they are of; rest are those of no row.
func (s desk) unusualRows(data []byte, asked []page.Unusual) (rows []faultyRow, rest []page.Unusual) {
	for _, a := range asked {
		if a.At.Row == 0 {
			rest = append(rest, a)
			continue
		}
		x := s.rowAt(&rows, data, a.At)
		x.Asked = append(x.Asked, a)
	}
	return rows, rest
}

// rowAt is the row of a text at a place, new where there is none of it yet.
func (s desk) rowAt(rows *[]faultyRow, data []byte, at note.Where) *faultyRow {
	row := faultyRow{Row: strconv.Itoa(at.Row)}
	if at.Sheet != "" {
		row.Row = s.Voice.Text("%s, row %d", at.Sheet, at.Row)
	}
	i := slices.IndexFunc(*rows, func(x faultyRow) bool { return x.Row == row.Row })
	if i >= 0 {
		return &(*rows)[i]
	}
	lines := strings.Split(strings.ToValidUTF8(string(data), "\uFFFD"), "\n")
	if !bytes.HasPrefix(data, []byte("PK")) && at.Row <= len(lines) { // a spreadsheet's rows are named alone
		row.Text = strings.TrimSpace(lines[at.Row-1])
	}
	*rows = append(*rows, row)
	return &(*rows)[len(*rows)-1]
}
