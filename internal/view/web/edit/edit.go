// Package edit is where the workbook is kept: its studies, prices, practices and rules, what is left out, and the
// history.
package edit

import (
	"bytes"
	"embed"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/doubt"
	"spile/internal/trade/input"
	"spile/internal/view/web/look"
	"spile/internal/view/web/page"
)

//go:embed *.html
var Files embed.FS

// Room is the room over one state of a workbook.
type Room struct {
	*page.Site
	studies   studies
	prices    prices
	practices practices
	rules     rules
	pasts     pasts
}

// New is the room; look is nil where the workbook gives no answer.
func New(s *page.Site, look *look.Room) *Room {
	return &Room{s, studies{s}, prices{s, look}, practices{s}, rules{s}, pasts{s}}
}

// Routes are the pages that change the workbook.
func (s *Room) Routes(m *page.Routes) {
	m.Get("/workbook", s.workbook)
	m.Get("/history", func(w http.ResponseWriter, r *http.Request) { s.history(w, r, nil) })
	m.Get("/history/{change}", func(w http.ResponseWriter, r *http.Request) { s.history(w, r, nil) })
	m.Get("/changes", s.changes)
	m.Get("/changes/{file}", s.changesFile)
	m.Get("/crossed", func(w http.ResponseWriter, r *http.Request) { s.crossed(w, page.Trouble{}) })
	m.Post("/crossed", s.decide)
	m.Post("/undo", s.undo)
	m.Post("/meant", s.meant)
	m.Get("/exclude", func(w http.ResponseWriter, r *http.Request) {
		s.exclusion(w, r, r.URL.Query().Get("name"), "", nil)
	})
	m.Post("/exclude", s.exclude)
	m.Post("/restore", s.restore)
	m.Get("/search", func(w http.ResponseWriter, r *http.Request) {
		s.search(w, string(s.Have.Search), page.Trouble{})
	})
	m.Post("/search", s.keepSearch)
	m.Get("/take", func(w http.ResponseWriter, r *http.Request) { s.taking(w, taken{}, nil) })
	m.Post("/take", s.take)
	m.Get("/data/{file}", s.data)
	s.studies.routes(m)
	s.prices.routes(m)
	s.practices.routes(m)
	s.rules.routes(m)
	s.pasts.routes(m)
}

// listed is a study on the page Workbook.
type listed struct {
	Name, Site, Season, Kind, Practices, Caveats string
	Edit, Out                                    string
	Reason                                       string
	Excluded                                     bool
}

func (s *Room) workbook(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	var list []listed
	for _, x := range s.Have.Studies {
		l := listed{
			Name: x.Name, Site: x.Site, Season: v.Year(x.Season), Kind: v.Term(note.Term(x.Kind)),
			Edit: page.StudyAddress(x.Name),
			Out:  "/exclude?" + url.Values{"name": {x.Name}}.Encode(),
		}
		var keys []string
		for _, a := range x.Arms {
			if k := s.Practice(a.Practice); !slices.Contains(keys, k) {
				keys = append(keys, k)
			}
		}
		l.Practices = v.List(keys)
		var marks []string
		for _, c := range x.Caveats {
			marks = append(marks, s.Caveat(c))
		}
		l.Caveats = strings.Join(marks, ", ")
		if e, out := s.studies.excluded(x.Name); out {
			l.Reason, l.Excluded = e.Reason, true
		}
		list = append(list, l)
	}
	prices := v.Text("no prices yet")
	if s.Have.Prices != nil {
		prices = v.Text("prices in %s", v.MoneyUnit(s.Have.Prices.Currency))
	}
	lead := []string{v.Text("This workbook holds %s, %s and %s; the last change is number %d.",
		v.Text("%d studies", len(s.Have.Studies)), prices,
		v.Text("%d practices of your own", len(s.Have.Own())), int(s.Have.Change))}
	asked, _, _ := s.Asked(s.doubts(), nil)
	taken, look := s.taken(r)
	p := page.Page{Lead: lead, Body: struct {
		Studies   []listed
		Asked     []page.Unusual
		Steps     []step
		Undecided []page.Link
		Taken     string
		Look      []page.Link
	}{list, asked, s.steps(), s.undecided(), taken, look}}
	if len(s.Have.Studies) > 0 {
		p.Faults = s.Said(s.Idle)
	}
	if err := s.Book.Writable(); err != nil {
		p.Faults = append(p.Faults, s.Said(page.Faults(err))...)
	}
	s.Show(w, "workbook", v.Text("Workbook"), p)
}

// doubts are what the workbook holds that is unusual and was not asked about when it was taken in, as an older program
// took it.
func (s *Room) doubts() doubt.Questions { return sheet.Doubts(s.Have.Input, input.Input{}, s.Now()) }

// meant keeps that something unusual is meant.
func (s *Room) meant(w http.ResponseWriter, r *http.Request) {
	_, answers, _ := s.Asked(s.doubts(), r.PostForm)
	if len(answers) > 0 {
		if err := s.Save(r.PostForm, s.Voice.Text("answered questions"), page.Seen(r.PostForm), true,
			answers...); err != nil {
			s.history(w, r, err)
			return
		}
	}
	page.SeeOther(w, r, "/workbook")
}

// The page that asks why a study is to be left out.
func (s *Room) exclusion(w http.ResponseWriter, r *http.Request, name, reason string, t *page.Trouble) {
	if _, ok := s.Study(name); !ok {
		s.Missing(w, r)
		return
	}
	v := s.Voice
	p := page.Page{Lead: []string{v.Text("The study stays in the workbook and on the page Evidence; no answer rests " +
		"on it until it is taken back.")}, Body: struct{ Name, Reason string }{name, reason}}
	if t != nil {
		p.Trouble = *t
	}
	s.Show(w, "exclude", v.Text("Leave out %s", name), p)
}

func (s *Room) exclude(w http.ResponseWriter, r *http.Request) {
	name, reason := r.PostForm.Get("name"), page.Clean(r.PostForm.Get("reason"))
	if reason == "" {
		s.exclusion(w, r, name, reason,
			new(page.Refused(s.Voice.Text("Say why: the reason is printed wherever the study appears."))))
		return
	}
	if err := s.Save(r.PostForm, s.Voice.Text("left out %s", name), page.Seen(r.PostForm), true,
		book.Keep(input.Exclusion{Study: name, Reason: reason})); err != nil {
		t, _ := s.Troubled(err, func(l book.Later) [][3]string {
			their, _ := l.Value.(input.Exclusion)
			return [][3]string{{s.Voice.Text("reason"), their.Reason, reason}}
		})
		s.exclusion(w, r, name, reason, &t)
		return
	}
	page.SeeOther(w, r, "/workbook")
}

// The page where it is typed how studies were looked for.
func (s *Room) search(w http.ResponseWriter, text string, t page.Trouble) {
	v := s.Voice
	s.Show(w, "search", v.Text("How studies were looked for"), page.Page{Trouble: t, Body: text, Lead: []string{
		v.Text("What a reader needs to look for them again: where and when you looked, by which words, and what you " +
			"left out and why. It stands in the report, in the data package, and among the criteria on the page " +
			"Trust.")}})
}

func (s *Room) keepSearch(w http.ResponseWriter, r *http.Request) {
	text := strings.TrimSpace(strings.ReplaceAll(strings.ToValidUTF8(r.PostForm.Get("text"), "\uFFFD"), "\r\n", "\n"))
	item := book.Keep(input.Search(text))
	if text == "" {
		item = book.Drop(input.Search(""))
	}
	if err := s.Save(r.PostForm, s.Voice.Text("wrote down how studies were looked for"),
		page.Seen(r.PostForm), true, item); err != nil {
		t, _ := s.Troubled(err, func(l book.Later) [][3]string {
			their, _ := l.Value.(input.Search)
			return [][3]string{{s.Voice.Text("how studies were looked for"), string(their), text}}
		})
		s.search(w, text, t)
		return
	}
	page.SeeOther(w, r, "/evidence")
}

func (s *Room) restore(w http.ResponseWriter, r *http.Request) {
	name := r.PostForm.Get("name")
	if err := s.Save(r.PostForm, s.Voice.Text("took back %s", name), page.Seen(r.PostForm), true,
		book.Remove(book.Excluded, name)); err != nil {
		s.history(w, r, err)
		return
	}
	page.SeeOther(w, r, "/workbook")
}

// data answers with everything in the workbook, as files for others.
func (s *Room) data(w http.ResponseWriter, r *http.Request) {
	p := sheet.Package{Input: s.Have.Input}
	var b bytes.Buffer
	var err error
	kind, name := "application/octet-stream", r.PathValue("file")
	switch name {
	case "package.zip":
		kind, err = "application/zip", p.WriteZIP(&b)
	case "as-typed.zip":
		var files []sheet.File
		if files, err = sheet.TypedFiles(p.Input); err == nil {
			kind, err = "application/zip", sheet.WriteZIP(&b, files)
		}
	case "workbook.xlsx":
		kind, err = page.XLSX, sheet.WriteXLSX(&b, p.Tables()...)
	case "evidence.csv":
		kind, err = "text/csv; charset=utf-8", sheet.EvidenceTable(p.Studies).WriteCSV(&b)
	case "sources.bib":
		b.Write(sheet.BibTeX(p.Studies))
	case "sources.ris":
		b.Write(sheet.RIS(p.Studies))
	case "prices.toml":
		if p.Prices == nil {
			s.Missing(w, r)
			return
		}
		b.Write(sheet.PricesTOML(*p.Prices))
	default:
		s.Missing(w, r)
		return
	}
	if err != nil {
		page.Fail(w, http.StatusInternalServerError, s.Voice.Notes(page.Faults(err))...)
		return
	}
	page.Attach(w, name)
	page.Send(w, r, kind, b.Bytes())
}
