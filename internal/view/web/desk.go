package web

import (
	"bytes"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/input"
	"spile/internal/view/web/page"
	"spile/internal/view/web/trees"
)

// desk is the workbench over a workbook. Each state of the workbook has a site of its own, which does not change: a
// change, of this process or of another, makes the next one.
type desk struct {
	Config
	memo *advice.Memo
	kit  *page.Kit
	mu   sync.Mutex
	now  *state
}

func newDesk(c Config, memo *advice.Memo) (*desk, error) {
	kit, err := c.kit()
	if err != nil {
		return nil, err
	}
	d := &desk{Config: c, memo: memo, kit: kit}
	_, err = d.current()
	return d, err
}

// current is the pages over the workbook as it stands now.
func (d *desk) current() (*state, error) {
	have, err := d.Book.Contents()
	if err != nil {
		return nil, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.now != nil && d.now.Have.Change == have.Change && slices.Equal(d.now.Input.Sources, have.Sources) {
		return d.now, nil
	}
	s := d.site(d.kit, d.memo)
	s.Have, s.Input = have, advice.Usual(have.Input)
	// A workbook that gives no answer yet, or no more, is still to be edited: the page Workbook says what is wrong.
	if err := s.work(); err != nil {
		s.Idle = page.Faults(err)
	}
	d.now = d.open(s)
	return d.now, nil
}

// ServeHTTP answers with the workbook as it stands at the time.
func (d *desk) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	now, err := d.current()
	if err != nil {
		page.Fail(w, http.StatusInternalServerError, d.Voice.Notes(page.Faults(err))...)
		return
	}
	now.ServeHTTP(w, r)
}

// edits are the pages that change the workbook.
func (s *site) edits(m *page.Routes) {
	m.Get("/workbook", s.workbook)
	m.Get("/history", func(w http.ResponseWriter, r *http.Request) { s.history(w, r, nil) })
	m.Post("/undo", s.undo)
	m.Get("/study", s.study)
	m.Post("/study", s.saveRows)
	m.Get("/exclude", func(w http.ResponseWriter, r *http.Request) {
		s.exclusion(w, r, r.URL.Query().Get("name"), "", nil)
	})
	m.Post("/exclude", s.exclude)
	m.Post("/restore", s.restore)
	m.Get("/take", func(w http.ResponseWriter, r *http.Request) { s.taking(w, "", nil) })
	m.Post("/take", s.take)
	m.Get("/prices", func(w http.ResponseWriter, r *http.Request) { s.prices(w, nil, page.Trouble{}) })
	m.Post("/prices", s.savePrices)
	m.Get("/prices/list", func(w http.ResponseWriter, r *http.Request) {
		s.priceList(w, s.priceText(), s.Have.Change, page.Trouble{})
	})
	m.Post("/prices/list", s.savePriceList)
	m.Get("/practices", func(w http.ResponseWriter, r *http.Request) {
		s.practices(w, s.ownRows(), s.Have.Change, page.Trouble{})
	})
	m.Post("/practices", s.savePractices)
	m.Get("/rules", s.rules)
	m.Get("/rule", func(w http.ResponseWriter, r *http.Request) {
		s.rule(w, s.ruleAt(r.URL.Query().Get("of")), page.Trouble{})
	})
	m.Post("/rule", s.saveRule)
	m.Post("/keep", s.keep)
	m.Get("/data/{file}", s.data)
	(&trees.Room{Site: s.Site, Phones: s.phones}).Open(m)
}

// listed is a study on the page Workbook.
type listed struct {
	Name, Site, Season, Kind, Practices, Caveats string
	Edit, Out                                    string
	Reason                                       string
	Excluded                                     bool
}

func (s *site) workbook(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	var list []listed
	for _, x := range s.Have.Studies {
		l := listed{
			Name: x.Name, Site: x.Site, Season: v.Year(x.Season), Kind: v.Term(note.Term(x.Kind)), Edit: page.StudyAddress(x.Name),
			Out: "/exclude?" + url.Values{"name": {x.Name}}.Encode(),
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
		if e, out := s.excluded(x.Name); out {
			l.Reason, l.Excluded = e.Reason, true
		}
		list = append(list, l)
	}
	prices := v.Text("no prices yet")
	if s.Have.Prices != nil {
		prices = v.Text("prices in %s", s.Have.Prices.Currency)
	}
	lead := []string{v.Text("This workbook holds %s, %s and %s; the last change is number %d.", v.Text("%d studies", len(s.Have.Studies)), prices,
		v.Text("%d practices of your own", len(s.Have.Own())), int(s.Have.Change))}
	if len(s.Have.Studies) == 0 {
		lead = append(lead, v.Text("Begin with a study, or with a table that you have already."))
	}
	p := page.Page{Lead: lead, Body: struct {
		Studies  []listed
		Writable []string
	}{list, nil}}
	if len(s.Have.Studies) > 0 {
		p.Faults = s.Said(s.Idle)
	}
	if err := s.Book.Writable(); err != nil {
		p.Faults = append(p.Faults, s.Said(page.Faults(err))...)
	}
	s.Show(w, "workbook", v.Text("Workbook"), p)
}

func (s *site) excluded(study string) (input.Exclusion, bool) {
	for _, e := range s.Have.Excluded {
		if e.Study == study {
			return e, true
		}
	}
	return input.Exclusion{}, false
}

// The page that asks why a study is to be left out.
func (s *site) exclusion(w http.ResponseWriter, r *http.Request, name, reason string, t *page.Trouble) {
	if _, ok := s.Study(name); !ok {
		s.Missing(w, r)
		return
	}
	v := s.Voice
	p := page.Page{Lead: []string{v.Text("The study stays in the workbook and on the page Evidence; no answer rests on it until it is taken back.")}, Body: struct{ Name, Reason string }{name, reason}}
	if t != nil {
		p.Trouble = *t
	}
	s.Show(w, "exclude", v.Text("Leave out %s", name), p)
}

func (s *site) exclude(w http.ResponseWriter, r *http.Request) {
	name, reason := r.PostForm.Get("name"), page.Clean(r.PostForm.Get("reason"))
	if reason == "" {
		s.exclusion(w, r, name, reason, &page.Trouble{Faults: []string{s.Voice.Text("Say why: the reason is printed wherever the study appears.")}, Code: http.StatusUnprocessableEntity})
		return
	}
	if err := s.Save(s.Voice.Text("left out %s", name), page.Seen(r.PostForm), true, book.Keep(input.Exclusion{Study: name, Reason: reason})); err != nil {
		t, _ := s.Troubled(err, func(l book.Later) [][3]string {
			their, _ := l.Value.(input.Exclusion)
			return [][3]string{{s.Voice.Text("reason"), their.Reason, reason}}
		})
		s.exclusion(w, r, name, reason, &t)
		return
	}
	page.SeeOther(w, r, "/workbook")
}

func (s *site) restore(w http.ResponseWriter, r *http.Request) {
	name := r.PostForm.Get("name")
	if err := s.Save(s.Voice.Text("took back %s", name), page.Seen(r.PostForm), true, book.Remove(book.Excluded, name)); err != nil {
		s.history(w, r, err)
		return
	}
	page.SeeOther(w, r, "/workbook")
}

// entry is a change as the history shows it.
type entry struct {
	ID             int64
	At, Who, What  string
	Added, Changed string
	Removed        string
	Undo           bool
	Undone         bool
}

// pageOfHistory is how many changes stand on one page.
const pageOfHistory = 100

func (s *site) history(w http.ResponseWriter, r *http.Request, failed error) {
	v := s.Voice
	all, err := s.Book.History()
	if err != nil {
		http.Error(w, strings.Join(v.Notes(page.Faults(err)), "\n"), http.StatusInternalServerError)
		return
	}
	before, _ := strconv.ParseInt(r.URL.Query().Get("before"), 10, 64)
	if before > 0 {
		at := slices.IndexFunc(all, func(e book.Entry) bool { return e.ID < before })
		if at < 0 {
			at = len(all)
		}
		all = all[at:]
	}
	var older string
	if len(all) > pageOfHistory {
		all = all[:pageOfHistory]
		older = "/history?before=" + strconv.FormatInt(all[len(all)-1].ID, 10)
	}
	var list []entry
	for _, e := range all {
		list = append(list, entry{ID: e.ID, At: s.At(e.At), Who: e.Who, What: e.What, Added: s.touched(e.Added), Changed: s.touched(e.Replaced), Removed: s.touched(e.Removed)})
	}
	p := page.Page{Lead: []string{v.Text("Every change since the workbook was made, the latest first. Nothing is ever lost: an undo is a change as well.")}, Body: struct {
		Entries []entry
		Older   string
	}{list, older}}
	if failed != nil {
		p.Trouble, _ = s.Troubled(failed, nil)
	}
	s.Show(w, "history", v.Text("History"), p)
}

// touched names what a change touched: a few by name, many by their number.
func (s *site) touched(list []book.Touched) string {
	const most = 6
	counts, rest := s.Counted(list, 2)
	var names []string
	for _, t := range rest[:min(len(rest), most)] {
		names = append(names, s.Thing(t))
	}
	names = append(names, counts...)
	if more := len(rest) - most; more > 0 {
		names = append(names, s.Voice.Text("%d more", more))
	}
	return s.Voice.List(names)
}

func (s *site) undo(w http.ResponseWriter, r *http.Request) {
	id, err := strconv.ParseInt(r.PostForm.Get("change"), 10, 64)
	if err == nil {
		var did book.Saved
		if did, err = s.Book.Undo(book.Edit{At: s.Now(), Who: s.Who, What: s.Voice.Text("undo of change %d", int(id))}, id); err == nil && did.Change == 0 {
			err = note.Faults{note.New("all that change %d touched stands already as it was before: there is nothing to undo", int(id))}
		}
	} else {
		err = note.Faults{note.New("no change is named %s", page.Short(r.PostForm.Get("change")))}
	}
	if err != nil {
		s.history(w, r, err)
		return
	}
	page.SeeOther(w, r, "/history")
}

// data answers with everything in the workbook, as files for others.
func (s *site) data(w http.ResponseWriter, r *http.Request) {
	p := sheet.Package{Input: s.Have.Input}
	var b bytes.Buffer
	var err error
	kind, name := "application/octet-stream", r.PathValue("file")
	switch name {
	case "package.zip":
		kind, err = "application/zip", p.WriteZIP(&b)
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
		http.Error(w, strings.Join(s.Voice.Notes(page.Faults(err)), "\n"), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	page.Send(w, r, kind, b.Bytes())
}
