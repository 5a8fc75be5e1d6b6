package page

import (
	"cmp"
	"net/http"
	"slices"

	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
)

// Link is a way to a page.
type Link struct {
	Name, Href string
	Says       string // what is there
	Here       bool
}

// Group is the pages of one work.
type Group struct {
	Name  string
	Links []Link
}

// Option is one value of a choice, with its name.
type Option struct{ Value, Name string }

// Picked is an option as it stands in a form.
type Picked struct {
	Option
	ID   string
	Here bool
}

// Opt is an option.
func Opt(value, name string) Option { return Option{value, name} }

// PickWord is the entries of a list of the trade as they stand where one was chosen. A word that is in no list is shown
// as itself, so that it never passes for another.
func (s *Site) PickWord(words []practice.Word, now string) []Picked {
	var list []Option
	for _, w := range words {
		list = append(list, Option{w.Key, s.Voice.Term(note.Term(w.Name))})
	}
	if now != "" && !slices.ContainsFunc(words, func(w practice.Word) bool { return w.Key == now }) {
		list = append(list, Option{now, now})
	}
	return Pick(list, now)
}

// Terms are choices that are words of the tool.
func (s *Site) Terms(words ...string) (list []Option) {
	for _, w := range words {
		o := Option{Value: w}
		if w != "" {
			o.Name = s.Voice.Term(note.Term(w))
		}
		list = append(list, o)
	}
	return list
}

// Pick is choices as they stand where one was made.
func Pick(list []Option, now string) []Picked {
	picked := make([]Picked, len(list))
	for i, o := range list {
		picked[i] = Picked{Option: o, Here: o.Value == now}
	}
	return picked
}

// Kind is how a field of the page's form is filled in.
type Kind string

// The kinds: a number and a word are typed, of a choice one is chosen, of several any.
const (
	Number  Kind = "number"
	Word    Kind = "word"
	Choice  Kind = "choice"
	Several Kind = "several"
)

// Field is one thing that can be tried, as it stands on a page.
type Field struct {
	Key, ID, Label, Unit string
	Kind                 Kind
	Value                string // as it stands in the form
	Shown                string // as it is said
	Options              []Picked
	Changed              bool
	Was                  string
	Fault                string
	Reset                string
}

// Worksheet is where the money is to be had as a spreadsheet.
const Worksheet = "/money.xlsx"

// Frame is what stands around every page.
type Frame struct {
	Lang, Version, Title, Style, Script string
	Nav                                 []Group
	Now                                 string // the page of the head that this is, or belongs to
	Report, PDF, Slides, Deck           string
	Worksheet                           string // of the money; "": there are no prices
	Sources                             []input.Source
	Tongues                             []tongue
	Notice                              string // for every page: what happened to the workbook
	Sheet                               bool   // on paper it is the producer's sheet alone
}

// Frame is that of the page at a path, where a query is tried.
func (s *Site) Frame(title, query, here string) Frame {
	f := Frame{
		Lang: s.Voice.Lang(), Version: s.Version, Title: title, Tongues: s.tongues(),
		Style: s.Asset("style.css"), Script: s.Asset("page.js"),
	}
	if s.Have.Other {
		f.Notice = s.Voice.Text("Another file was put in the place of this workbook while it was open. Changes " +
			"that were seen here before may not be in it: look at its history.")
	}
	if s.Phone {
		return f // all that a phone sees of the workbook is what it reads
	}
	f.Sources = s.Input.Sources
	for _, p := range s.Places {
		if n := len(f.Nav); n == 0 || f.Nav[n-1].Name != p.Group {
			f.Nav = append(f.Nav, Group{Name: p.Group})
		}
		g := &f.Nav[len(f.Nav)-1]
		g.Links = append(g.Links, Link{p.Name, WithQuery(p.Path, query), p.Says, p.Path == here})
		if p.Path == here {
			f.Now = p.Name
		}
	}
	if s.Base != nil {
		f.Report, f.PDF = WithQuery("/report.html", query), WithQuery("/report.pdf", query)
		f.Slides, f.Deck = WithQuery("/slides.pdf", query), WithQuery("/slides.pptx", query)
	}
	if s.Priced() {
		f.Worksheet = WithQuery(Worksheet, query)
	}
	return f
}

// Page is a page that is worked on: its lead and what was wrong with the form that it answers, then its body.
type Page struct {
	Frame  Frame
	Back   *Link // nil: to the workbook; empty: nowhere
	Lead   []string
	Seen   book.Sight // what its form is made from; of nothing: what is there
	Why    string     // what its form says for the history
	Here   string     // the page of the head that it belongs to; "": Workbook
	Cached bool       // may be shown again where the workbench does not answer
	Sheet  bool       // on paper it is the producer's sheet alone
	Trouble
	Body any
}

// answering answers a form; what it says for the history stands in it again where it is refused.
type answering struct {
	http.ResponseWriter
	why string
}

// Show answers with a page, whose body is made by the template of that name.
func (s *Site) Show(w http.ResponseWriter, name, title string, p Page) {
	p.Frame = s.Frame(title, "", cmp.Or(p.Here, "/workbook"))
	p.Frame.Sheet = p.Sheet
	if p.Seen.Change == 0 {
		p.Seen = s.Have.Sight().And(p.Shown)
	}
	if a, ok := w.(answering); ok {
		p.Why = a.why
	}
	if p.Back == nil && name != "workbook" {
		p.Back = &Link{Name: s.Voice.Text("Back to the workbook"), Href: "/workbook"}
	}
	body, ok := s.Make(w, name, p)
	if !ok {
		return
	}
	w.Header().Set("Content-Type", HTML)
	if !p.Cached {
		w.Header().Set("Cache-Control", "no-store") // Back shows what was typed, an answer of before is of no use
	}
	w.WriteHeader(cmp.Or(p.Code, http.StatusOK))
	w.Write(body)
}

// Missing answers where there is no page: of a study that was taken back, or an address typed wrong.
func (s *Site) Missing(w http.ResponseWriter, _ *http.Request) {
	v := s.Voice
	s.Show(w, "plain", v.Text("No page here"), Page{
		Here: "/", Lead: []string{v.Text("There is no page at this address.")},
		Back:    &Link{Name: v.Text("To the beginning of the workbench"), Href: "/"},
		Trouble: Trouble{Code: http.StatusNotFound},
	})
}

// Broken answers where the workbook cannot be read: why, on every page, which asks again by itself.
func (s *Site) Broken(w http.ResponseWriter, r *http.Request, err error) {
	m := NewRoutes(s)
	m.Get("/asset/{file}", s.ServeAsset)
	m.Get("/language/{language}", s.Choose)
	m.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		v := s.Voice
		if r.Method == http.MethodGet {
			w.Header().Set("Refresh", "10")
		}
		s.Show(w, "plain", v.Text("The workbook cannot be read"), Page{Back: &Link{}, Here: "/",
			Lead: []string{v.Text("Nothing is kept until this is put right. Then the workbench goes on by " +
				"itself, with what the file then holds.")},
			Trouble: Trouble{Faults: v.Notes(Faults(err)), Code: http.StatusServiceUnavailable}})
	})
	m.ServeHTTP(w, r)
}
