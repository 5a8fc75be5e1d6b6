package edit

import (
	"cmp"
	"encoding/csv"
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/view/web/page"
)

// foreign is a table as somebody else wrote it, with what was settled of it in its form.
type foreign struct {
	sheet.Grid
	file    string
	replace bool
	said    gloss.Glossary // what the form says; of what it leaves open the meaning is ""
}

// text is the table as it goes through a form.
func (t foreign) text() string {
	var b strings.Builder
	out := csv.NewWriter(&b)
	out.Write(t.Columns)
	out.WriteAll(t.Rows)
	return b.String()
}

// shape is how the table stood, as it goes through a form; "" where its rows say all of it.
func (t foreign) shape() string {
	if t.Above == nil {
		return ""
	}
	text, _ := json.Marshal(t.Shape) // of strings, which can be written
	return string(text)
}

// read takes it from a form; false where there is none.
func (t *foreign) read(r *http.Request) bool {
	f := r.PostForm
	t.file, t.replace = page.Clean(f.Get("file")), f.Get("replace") != ""
	if f.Get("semicolons") != "" {
		t.Mark = ','
	}
	in := csv.NewReader(strings.NewReader(f.Get("table")))
	in.FieldsPerRecord = -1
	rows, err := in.ReadAll()
	if err != nil || len(rows) == 0 {
		return false
	}
	if shape := f.Get("shape"); shape != "" && json.Unmarshal([]byte(shape), &t.Shape) != nil {
		t.Shape = sheet.Shape{}
	}
	t.Columns = rows[0][:min(len(rows[0]), 500)] // as many as a table may have
	for _, row := range rows[1:] {
		fit := make([]string, len(t.Columns))
		copy(fit, row)
		for i := range fit {
			fit[i] = page.Clean(fit[i])
		}
		t.Rows = append(t.Rows, fit)
	}
	t.said = page.Senses(r.PostForm)
	return true
}

// settled is what is settled for a table: what the workbook knows, then what a form says.
func (s studies) settled(said gloss.Glossary) gloss.Glossary {
	return slices.Concat(s.Have.Words, slices.DeleteFunc(slices.Clone(said), func(x gloss.Sense) bool {
		return x.Means == ""
	}))
}

// takeWords takes the form that settles headers and words, as far as the rows.
func (s studies) takeWords(w http.ResponseWriter, r *http.Request) {
	var t foreign
	if !t.read(r) {
		page.SeeOther(w, r, "/take")
		return
	}
	if r.PostForm.Get("do") == "again" {
		s.wording(w, t, true)
		return
	}
	s.understand(w, t)
}

// understand shows the rows of a table, or first asks what its headers and words stand for.
func (s studies) understand(w http.ResponseWriter, t foreign) {
	m := t.Understand(s.settled(t.said), s.Input.Practices)
	answered := t.said.Index()
	asks := len(t.said) == 0 && m.Open() || len(m.Lacking()) > 0 || len(m.Twice()) > 0 ||
		slices.ContainsFunc(m.Asked, func(a sheet.Asked) bool {
			_, seen := answered.Find(a.Of, a.Said)
			return a.Means == "" && a.Of == gloss.Columns || !seen && a.Of != gloss.Columns
		})
	if asks {
		s.wording(w, t, false)
		return
	}
	g := grid{many: true, file: t.file, replace: t.replace, columns: m.Columns,
		rows: m.Rows, headers: m.Headers,
		said: t.said, theirs: t.text(), shape: t.shape(), semicolons: t.Mark == ','}
	j := s.judge(&g)
	j.notes = append(s.shapeNotes(t, m), j.notes...)
	s.rows(w, s.Voice.Text("Take in %s", cmp.Or(g.file, s.Voice.Text("rows"))), g, j, book.Sight{}, page.Trouble{})
}

// shapeNotes is what became of the shape of a table, and what is told by other columns.
func (s studies) shapeNotes(t foreign, m sheet.Meant) (list []string) {
	for _, n := range append(slices.Clone(t.Notes), m.Derived()...) {
		n.Where = note.Where{}
		list = append(list, s.Voice.Note(n))
	}
	return list
}

// wordsPage is what the form of headers and words shows.
type wordsPage struct {
	File, Table, Shape  string
	Replace, Semicolons bool
	Headers, Words      []page.Settle
	Wide                bool
	Lacking             []page.Settle
	Notes               []string       // what became of the shape of the table
	Kept                gloss.Glossary // what the form said before and does not show
}

// wording asks what the headers and words of a table stand for, with a guess at each. again is true of a form that goes
// back to what was settled.
func (s studies) wording(w http.ResponseWriter, t foreign, again bool) {
	v := s.Voice
	m := t.Understand(s.settled(t.said), s.Input.Practices)
	first := t.Understand(nil, s.Input.Practices) // all that could be asked
	lacking := m.Lacking()
	if len(lacking) > 1 { // it is called by what is lacking too
		lacking = slices.DeleteFunc(lacking, func(c string) bool { return c == "study" })
	}
	b := wordsPage{File: t.file, Table: t.text(), Shape: t.shape(),
		Replace: t.replace, Semicolons: t.Mark == ',', Wide: m.Wide}
	settled := s.settled(t.said).Index()
	for i, h := range t.Columns {
		if h == "" {
			continue
		}
		means := cmp.Or(m.Targets[i].String(), gloss.Note)
		if slices.ContainsFunc(m.Asked, func(a sheet.Asked) bool {
			return a.Of == gloss.Columns && a.Said == h && a.Means == ""
		}) {
			means = ""
		}
		a := page.Settle{Sense: gloss.Sense{Of: gloss.Columns, Said: h, Means: means}, ID: "h-" + strconv.Itoa(i),
			Label: h, Seen: page.SomeOf(t.Rows, i), Options: s.targets(m, means)}
		if slices.Contains(m.Twice(), i) {
			a.Fault = v.Text("another header stands for this too; allowed: one")
		}
		b.Headers = append(b.Headers, a)
	}
	list := m.Asked
	if again {
		list = first.Asked
	}
	for i, q := range list {
		if q.Of == gloss.Columns {
			continue
		}
		if means, ok := settled.Find(q.Of, q.Said); ok {
			q.Means = means
		}
		c := columnOf(q.Column)
		b.Words = append(b.Words, page.Settle{Sense: q.Sense, ID: "w-" + strconv.Itoa(i), Label: q.Said, What: q.Header,
			Rows: q.Rows, Options: s.Meanings(q, c.Kind, c.Words)})
	}
	shown := gloss.Glossary{}
	for _, a := range slices.Concat(b.Headers, b.Words) {
		shown = append(shown, a.Sense)
	}
	index := shown.Index()
	for _, x := range t.said {
		if _, here := index.Find(x.Of, x.Said); !here && x.Of != gloss.Rows {
			b.Kept = append(b.Kept, x)
		}
	}
	p := page.Page{Body: b, Lead: []string{v.Text("Each header and each word is settled once, " +
		"for all rows, and the " +
		"workbook keeps it for your next table. What is guessed is chosen already.")}}
	if len(lacking) > 0 && len(t.said) > 0 {
		p.Code = http.StatusUnprocessableEntity
	}
	for i, c := range append(sheet.Needed(), "level", "taps", evidence.Sugar) {
		given, ok := settled.Find(gloss.Rows, c)
		if c != "practice" && (ok || slices.Contains(lacking, c)) {
			b.Lacking = append(b.Lacking, page.Settle{Sense: gloss.Sense{Of: gloss.Rows, Said: c, Means: given},
				ID: "l-" + strconv.Itoa(i), Label: s.column(c)})
		}
	}
	b.Notes = s.shapeNotes(t, m)
	p.Body = b
	for _, c := range lacking {
		said := v.Text("Lacking: %s. Say which header stands for it.", s.column(c))
		if c != "practice" && c != "mean" {
			said = v.Text("Lacking: %s. Say which header stands for it, or type what it is in all rows.", s.column(c))
		}
		if len(t.said) > 0 {
			p.Faults = append(p.Faults, said)
		} else {
			p.Lead = append(p.Lead, said)
		}
	}
	s.Show(w, "words", v.Text("What your headers and words stand for"), p)
}

// targets are what a header may stand for.
func (s studies) targets(m sheet.Meant, now string) []page.Picked {
	v := s.Voice
	list := []page.Option{page.Opt(gloss.Note, v.Text("kept as a note"))}
	if now == "" {
		list = append([]page.Option{page.Opt("", v.Text("choose"))}, list...)
	}
	add := func(c evidence.Column, key, name string) {
		list = append(list, page.Opt(key, name))
		for _, w := range c.Ways {
			t := gloss.ParseTarget(key)
			t.Way = w.Key
			list = append(list, page.Opt(t.String(), v.Text("%s: %s", name, v.Term(note.Term(w.Label)))))
		}
	}
	for _, c := range evidence.Columns {
		add(c, c.Name, s.column(c.Name))
	}
	if m.Wide || slices.Contains(m.Lacking(), "practice") {
		for _, p := range s.Input.Practices {
			for _, name := range []string{"mean", "sd", "se", "n", "gain_pct"} {
				add(columnOf(name), name+"@"+string(p.Key), v.Text("%s: %s", s.column(name),
					s.Practice(p.Key)))
			}
		}
	}
	return page.Pick(list, now)
}
