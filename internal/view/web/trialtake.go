package web

import (
	"bytes"
	"cmp"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/design"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/doubt"
	trials "spile/internal/trade/trial"
	"spile/internal/view/report"
	"spile/internal/view/show"
)

// sheetLinks are the field sheets of a trial's seasons.
func (s *site) sheetLinks(t trials.Trial) []link {
	v := s.Voice
	var list []link
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
			list = append(list, link{Name: v.Text("%s, codes alone, to print (PDF)", year), Href: to("pdf", true)},
				link{Name: v.Text("%s, codes alone, to fill in (XLSX)", year), Href: to("xlsx", true)})
		}
		list = append(list, link{Name: v.Text("%s, with practices, to print (PDF)", year), Href: to("pdf", false)},
			link{Name: v.Text("%s, with practices, to fill in (XLSX)", year), Href: to("xlsx", false)})
	}
	return list
}

// fieldSheets answers with the field sheets of a season.
func (s *site) fieldSheets(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	t, ok := s.findTrial(q.Get("name"))
	year, err := strconv.Atoi(q.Get("season"))
	name, kind, _ := strings.Cut(r.PathValue("file"), ".")
	if !ok || err != nil || name != "field-sheets" {
		s.missing(w, r)
		return
	}
	f := report.Field{Trial: design.Coded(t, s.Input.Practices), Season: year, Set: s.Input.Practices, Hide: q.Get("hide") != "", V: s.Voice, Version: s.Version}
	if err := f.Check(); err != nil {
		http.Error(w, strings.Join(s.said(faultsOf(err)), "\n"), http.StatusNotFound)
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
		s.missing(w, r)
		return
	}
	if err != nil {
		http.Error(w, s.Voice.Text("This page could not be made: %s", err.Error()), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Disposition", `attachment; filename="field-sheets-`+strconv.Itoa(year)+"."+kind+`"`)
	send(w, r, mime, data)
}

// takenTrial is the form that takes a file of a trial in.
type takenTrial struct {
	Name, Href, Pasted string
	Replace            bool
	Faulty             []faultyRow
	Asked              []unusual
	Taken, Notes       []string // of the file before, once it is stored
}

// unusual is a question about something unusual, and whether it was answered.
type unusual struct {
	ID, Text string
	Meant    bool
}

// doubts are what is asked about a trial and was not answered in the workbook, the answers that a form gives, and whether
// they answer all of it.
func (s *site) doubts(t trials.Trial, q url.Values) (list []unusual, answers []book.Item, open bool) {
	var known []string
	for _, a := range s.have.Answers {
		known = append(known, a.ID)
	}
	for _, d := range t.Doubts(s.Now().Year() + 1).Open(known) {
		x := unusual{d.ID, s.Voice.Note(d.Note), slices.Contains(q["accept"], d.ID)}
		if list = append(list, x); x.Meant {
			answers = append(answers, book.Keep(doubt.Answer{ID: d.ID, About: x.Text}))
		}
		open = open || !x.Meant
	}
	return list, answers, open
}

// faultyRow is a row of a file with what is wrong with it.
type faultyRow struct {
	Row, Text string
	Faults    []string
}

func (s *site) takingTrial(w http.ResponseWriter, r *http.Request, q url.Values, t trouble, faulty ...faultyRow) {
	s.takePage(w, r, q, t, takenTrial{Pasted: q.Get("pasted"), Replace: q.Get("replace") != "", Faulty: faulty})
}

func (s *site) takePage(w http.ResponseWriter, r *http.Request, q url.Values, t trouble, b takenTrial) {
	v := s.Voice
	x, ok := s.findTrial(q.Get("name"))
	b.Name, b.Href = x.Name, trialAddress(x.Name)
	if !ok {
		s.missing(w, r)
		return
	}
	s.show(w, "taketrial", v.Text("Take in a file of %s", x.Name), sheetPage{Here: "/trials", trouble: t, Seen: seenIn(q),
		Back: &link{Name: v.Text("Back to the trial %s", x.Name), Href: trialAddress(x.Name)},
		Lead: []string{v.Text("Readings, events, measured dumps, tanks, counts of taps, temperatures or a season table, told by their columns; all of it is taken in, or nothing. The field spreadsheet, filled in, is such a file.")},
		Body: b})
}

// seenIn is the change that a form was made from; 0 where it does not say.
func seenIn(q url.Values) int64 {
	n, err := strconv.ParseInt(q.Get(seenKey), 10, 64)
	if err != nil || n < 0 {
		return 0
	}
	return n
}

// takeTrial takes a file of a trial in, all of it or nothing.
func (s *site) takeTrial(w http.ResponseWriter, r *http.Request) {
	q := r.PostForm
	t, ok := s.findTrial(q.Get("name"))
	if !ok {
		s.missing(w, r)
		return
	}
	name, data := "pasted.tsv", []byte(strings.ToValidUTF8(q.Get("pasted"), "\uFFFD"))
	if f, header, err := r.FormFile("file"); err == nil {
		defer f.Close()
		if data, err = io.ReadAll(f); err != nil {
			s.takingTrial(w, r, q, trouble{Faults: []string{s.Voice.Text("This form could not be read: %s", err.Error())}, Code: http.StatusBadRequest})
			return
		}
		name = header.Filename
	}
	if len(bytes.TrimSpace(data)) == 0 {
		s.takingTrial(w, r, q, trouble{Faults: []string{s.Voice.Text("Choose a file, or paste rows with their header.")}, Code: http.StatusUnprocessableEntity})
		return
	}
	said, notes, err := sheet.TrialOf(design.Coded(t, s.Input.Practices), s.Input.Practices, name, data)
	var saved book.Saved
	if err == nil {
		list, answers, open := s.doubts(said, q)
		if open {
			s.takePage(w, r, q, trouble{Faults: []string{s.Voice.Text("Something is unusual. Nothing was kept: say of each that it is meant, or correct it.")},
				Code: http.StatusUnprocessableEntity}, takenTrial{Pasted: q.Get("pasted"), Replace: q.Get("replace") != "", Asked: list})
			return
		}
		saved, err = s.Book.Save(book.Edit{At: s.Now(), Who: s.Who, What: s.Voice.Text("took in %s of %s", name, t.Name), Seen: seen(r), Replace: q.Get("replace") != ""}, append(book.TrialItems(said), answers...)...)
	}
	if err != nil {
		tr, at := s.troubled(err, nil)
		rows, rest := s.faultyRows(data, faultsOf(err))
		if len(rows) > 0 && tr.Theirs == nil {
			tr.Faults = append([]string{s.Voice.Text("%d faults: each stands beside what it is about. Nothing was kept.", len(faultsOf(err)))}, rest...)
		}
		if at > 0 {
			q.Set(seenKey, strconv.FormatInt(at, 10))
		}
		s.takingTrial(w, r, q, tr, rows...)
		return
	}
	next := url.Values{"name": {t.Name}}
	if saved.Change > 0 {
		next.Set(seenKey, strconv.FormatInt(saved.Change, 10))
	}
	s.takePage(w, r, next, trouble{}, takenTrial{Taken: s.tookIn(saved), Notes: s.Voice.Notes(notes)})
}

// written are the kinds of what is written down of a trial: one is told by its key, more by their number.
var written = []struct {
	kind      book.Kind
	text, one string
}{
	{book.Reading, "%d readings", "the reading %s"}, {book.Event, "%d events", "the event %s"}, {book.Calibration, "%d measured dumps", "the measured dump %s"},
	{book.Tank, "%d tanks", "the tank %s"}, {book.Count, "%d counts of taps", "the count of taps %s"}, {book.Weather, "%d years of temperatures", "the temperatures %s"},
	{book.Sums, "%d season tables", "the season table %s"}, {book.Decision, "%d decisions", "the decision %s"},
}

// tookIn counts what a file brought, kind by kind.
func (s *site) tookIn(saved book.Saved) (list []string) {
	v := s.Voice
	for _, part := range []struct {
		list []book.Touched
		text string
	}{{saved.Added, "stored: %s"}, {saved.Replaced, "put in the place of others: %s"}, {saved.Unchanged, "there already, with the same content: %s"}} {
		var kinds []string
		for _, k := range written {
			n := 0
			for _, t := range part.list {
				if t.Kind == k.kind {
					n++
				}
			}
			if n > 0 {
				kinds = append(kinds, v.Text(k.text, n))
			}
		}
		if kinds != nil {
			list = append(list, v.Text(part.text, v.List(kinds)))
		}
	}
	if list == nil {
		list = []string{v.Text("nothing that was not there already")}
	}
	return list
}

// faultyRows puts faults beside the rows of a text that they are of; rest are those of no row.
func (s *site) faultyRows(data []byte, faults note.Faults) (rows []faultyRow, rest []string) {
	lines := strings.Split(strings.ToValidUTF8(string(data), "\uFFFD"), "\n")
	isText := !bytes.HasPrefix(data, []byte("PK")) // a spreadsheet is a ZIP file: its rows are named alone
	at := map[string]int{}
	for _, n := range faults {
		if n.Where.Row == 0 {
			rest = append(rest, s.said(note.Faults{n})...)
			continue
		}
		where := strconv.Itoa(n.Where.Row)
		if n.Where.Sheet != "" {
			where = s.Voice.Text("%s, row %d", n.Where.Sheet, n.Where.Row)
		}
		i, have := at[where]
		if !have {
			i = len(rows)
			at[where] = i
			row := faultyRow{Row: where}
			if isText && n.Where.Row <= len(lines) {
				row.Text = strings.TrimSpace(lines[n.Where.Row-1])
			}
			rows = append(rows, row)
		}
		column := n.Where.Column
		said := strings.Join(s.said(note.Faults{n}), " ")
		rows[i].Faults = append(rows[i].Faults, cmp.Or(strings.TrimPrefix(column+": "+said, ": "), said))
	}
	return slices.Clip(rows), rest
}
