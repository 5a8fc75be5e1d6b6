package web

import (
	"bytes"
	"cmp"
	"errors"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
)

// desk is the workbench over a workbook. Each state of the workbook has a site of its own, which does not change: a
// change, of this process or of another, makes the next one.
type desk struct {
	Config
	memo   *advice.Memo
	pages  *template.Template
	assets map[string]asset
	mu     sync.Mutex
	now    *site
}

func newDesk(c Config, memo *advice.Memo) (*desk, error) {
	if c.Now == nil {
		c.Now = time.Now
	}
	d := &desk{Config: c, memo: memo, assets: assets()}
	s := &site{Config: c}
	var err error
	if d.pages, err = s.templates(); err != nil {
		return nil, err
	}
	_, err = d.site()
	return d, err
}

// site is the pages over the workbook as it stands now.
func (d *desk) site() (http.Handler, error) {
	s, err := d.current()
	if err != nil {
		return nil, err
	}
	return s.h, nil
}

func (d *desk) current() (*site, error) {
	have, err := d.Book.Contents()
	if err != nil {
		return nil, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.now != nil && d.now.have.Change == have.Change && slices.Equal(d.now.Input.Sources, have.Sources) {
		return d.now, nil
	}
	s := &site{Config: d.Config, memo: d.memo, pages: d.pages, assets: d.assets, desk: d, have: have}
	s.Input = advice.Usual(have.Input)
	// A workbook that gives no answer yet, or no more, is still to be edited: the page Workbook says what is wrong.
	if err := s.work(); err != nil && !errors.As(err, &s.idle) {
		s.idle = note.Faults{note.New("%s", err.Error())}
	}
	s.h = s.handler()
	d.now = s
	return s, nil
}

// ServeHTTP answers with the workbook as it stands at the time.
func (d *desk) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h, err := d.site()
	if err != nil {
		http.Error(w, strings.Join(d.Voice.Notes(faultsOf(err)), "\n"), http.StatusInternalServerError)
		return
	}
	h.ServeHTTP(w, r)
}

func faultsOf(err error) note.Faults {
	var f note.Faults
	if errors.As(err, &f) {
		return f
	}
	return note.Faults{note.New("%s", err.Error())}
}

// mostForm is the largest form that is taken, in bytes: a table as large as a file may be, and what stands around it.
const mostForm = 17 << 20

// edits are the pages that change the workbook.
func (s *site) edits(mux *routes) {
	post := func(path string, do func(w http.ResponseWriter, r *http.Request)) {
		mux.HandleFunc("POST "+path, s.formed(do))
	}
	mux.HandleFunc("GET /workbook", s.workbook)
	mux.HandleFunc("GET /history", func(w http.ResponseWriter, r *http.Request) { s.history(w, r, nil) })
	post("/undo", s.undo)
	mux.HandleFunc("GET /study", s.study)
	post("/study", s.saveRows)
	mux.HandleFunc("GET /exclude", func(w http.ResponseWriter, r *http.Request) {
		s.exclusion(w, r, r.URL.Query().Get("name"), "", nil)
	})
	post("/exclude", s.exclude)
	post("/restore", s.restore)
	mux.HandleFunc("GET /take", func(w http.ResponseWriter, r *http.Request) { s.taking(w, "", nil) })
	post("/take", s.take)
	mux.HandleFunc("GET /prices", func(w http.ResponseWriter, r *http.Request) { s.prices(w, nil, trouble{}) })
	post("/prices", s.savePrices)
	mux.HandleFunc("GET /prices/list", func(w http.ResponseWriter, r *http.Request) { s.priceList(w, s.priceText(), s.have.Change, trouble{}) })
	post("/prices/list", s.savePriceList)
	mux.HandleFunc("GET /practices", func(w http.ResponseWriter, r *http.Request) { s.practices(w, s.ownRows(), s.have.Change, trouble{}) })
	post("/practices", s.savePractices)
	mux.HandleFunc("GET /rules", s.rules)
	mux.HandleFunc("GET /rule", func(w http.ResponseWriter, r *http.Request) { s.rule(w, s.ruleAt(r.URL.Query().Get("of")), trouble{}) })
	post("/rule", s.saveRule)
	post("/keep", s.keep)
	mux.HandleFunc("GET /data/{file}", s.data)
	s.trialEdits(mux, post)
}

// formed reads the form of a request before it is done, or says why it cannot be read.
func (s *site) formed(do func(w http.ResponseWriter, r *http.Request)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if r.ContentLength > mostForm {
			w.Header().Set("Connection", "close") // what is still to come is not read
			http.Error(w, s.Voice.Text("This is larger than %v MiB; allowed: at most that", float64(mostForm>>20)), http.StatusRequestEntityTooLarge)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, mostForm)
		err := r.ParseForm()
		if err == nil {
			err = r.ParseMultipartForm(mostForm)
		}
		if r.MultipartForm != nil {
			defer r.MultipartForm.RemoveAll()
		}
		switch {
		case errors.As(err, new(*http.MaxBytesError)):
			http.Error(w, s.Voice.Text("This is larger than %v MiB; allowed: at most that", float64(mostForm>>20)), http.StatusRequestEntityTooLarge)
		case err != nil && !errors.Is(err, http.ErrNotMultipart):
			http.Error(w, s.Voice.Text("This form could not be read: %s", err.Error()), http.StatusBadRequest)
		default:
			rememberForm(w, r)
			do(w, r)
		}
	}
}

// frame is what stands around every page.
type frame struct {
	Lang, Version, Title, Style, Script string
	Nav                                 []link
	Report, PDF, Slides                 string
	Sources                             []input.Source
	Tongues                             []tongue
}

// frame of the page at a path, where a query is tried.
func (s *site) frame(title, query, here string) frame {
	f := frame{
		Lang: s.Voice.Lang(), Version: s.Version, Title: title, Sources: s.Input.Sources, Tongues: s.tongues(),
		Style: "/asset/style.css?v=" + s.assets["style.css"].tag, Script: "/asset/page.js?v=" + s.assets["page.js"].tag,
	}
	if s.phone != nil {
		f.Sources = nil
		return f // all that a phone sees of the workbook is what it reads
	}
	for _, n := range s.nav() {
		f.Nav = append(f.Nav, link{n.name, withQuery(n.path, query), n.path == here})
	}
	if s.base != nil {
		f.Report, f.PDF, f.Slides = withQuery("/report.html", query), withQuery("/report.pdf", query), withQuery("/slides.pdf", query)
	}
	return f
}

// keeping is how a page lets what is tried become an edit.
type keeping struct {
	Seen int64
	From string
	Can  bool // something that is tried is of the prices
}

// evidenceDoors are the ways from the page Evidence to those that change it, or how to come to have them.
func (s *site) evidenceDoors() (said []string, doors []link) {
	v := s.Voice
	if s.desk == nil {
		return []string{v.Text("These are files, and stay as they are. To add and change studies in the browser, take them into a workbook: %s, then %s, then %s.",
			"spile new station.spile", "spile add station.spile evidence.csv prices.toml", "spile serve station.spile")}, nil
	}
	return nil, []link{{Name: v.Text("Add a study"), Href: "/study"}, {Name: v.Text("Upload a file or paste rows"), Href: "/take"},
		{Name: v.Text("All studies, and why some are left out"), Href: "/workbook"}, {Name: v.Text("History"), Href: "/history"}}
}

// trouble is why a form was not kept.
type trouble struct {
	Faults []string
	Theirs []theirs
	Code   int
}

// theirs is what somebody else has changed in the meantime.
type theirs struct {
	Said  string
	Table [][3]string // what, as they have it, as it stands in the form
}

// troubled words the error of a save; mine gives what the form has, to stand beside what they have.
func (s *site) troubled(err error, mine func(book.Later) [][3]string) (t trouble, seen int64) {
	v := s.Voice
	var c *book.Conflict
	if !errors.As(err, &c) {
		return trouble{Faults: s.said(faultsOf(err)), Code: http.StatusUnprocessableEntity}, 0
	}
	t.Code = http.StatusConflict
	for _, l := range c.Theirs {
		seen = max(seen, l.ID)
		said := v.Text("%s changed %s while you were writing (change %d, %s: %s).", l.Who, s.thing(l.Touched), int(l.ID), s.at(l.At), l.What)
		if l.Value == nil {
			said = v.Text("%s removed %s while you were writing (change %d, %s: %s).", l.Who, s.thing(l.Touched), int(l.ID), s.at(l.At), l.What)
		}
		their := theirs{Said: said}
		if mine != nil && l.Value != nil {
			their.Table = mine(l)
		}
		t.Theirs = append(t.Theirs, their)
	}
	return t, seen
}

// said words faults without the place in a file, which a form does not have.
func (s *site) said(f note.Faults) []string {
	var list []string
	for _, n := range f {
		n.Where = note.Where{}
		if text := s.Voice.Note(n); !slices.Contains(list, text) {
			list = append(list, text)
		}
	}
	return list
}

// at is the time of a change, to the minute, UTC: the same for everybody who has the workbook.
func (s *site) at(t time.Time) string {
	return s.Voice.Text("%s, %s UTC", s.Voice.Date(t.UTC()), s.Voice.Clock(t.UTC()))
}

// thing names what was touched.
func (s *site) thing(t book.Touched) string {
	v := s.Voice
	switch t.Kind {
	case book.Study:
		return v.Text("the study %s", t.Key)
	case book.Prices:
		return v.Text("the prices")
	case book.Practice:
		return v.Text("the practice %s", t.Key)
	case book.Rule:
		return v.Text("a rule on what is permitted")
	case book.Trial:
		return v.Text("the trial %s", t.Key)
	case book.Bush:
		return v.Text("the sugarbush %s", t.Key)
	case book.Excluded:
		return v.Text("whether %s is left out", t.Key)
	case book.Answer:
		return v.Text("the answer to a question")
	}
	for _, k := range written {
		if k.kind == t.Kind {
			return v.Text(k.one, t.Key)
		}
	}
	return v.Text("a %s", string(t.Kind))
}

// save keeps items in the name of who runs the workbench; what is for the history, in the language of who did it.
func (s *site) save(what string, seen int64, replace bool, items ...book.Item) error {
	_, err := s.Book.Save(book.Edit{At: s.Now(), Who: s.Who, What: what, Seen: seen, Replace: replace}, items...)
	return err
}

// seen is the change that a form was made from; where it does not say, none.
func seen(r *http.Request) int64 {
	n, err := strconv.ParseInt(r.PostForm.Get(seenKey), 10, 64)
	if err != nil || n < 0 {
		return 0
	}
	return n
}

// sheetPage is a page of the workbook.
type sheetPage struct {
	Frame  frame
	Back   *link
	Lead   []string
	Seen   int64
	Here   string // the page of the head that it belongs to; "": Workbook
	Cached bool   // may be shown again where the workbench does not answer
	trouble
	Body any
}

// show answers with a page of the workbook.
func (s *site) show(w http.ResponseWriter, name, title string, p sheetPage) {
	p.Frame = s.frame(title, "", cmp.Or(p.Here, "/workbook"))
	if p.Seen == 0 {
		p.Seen = s.have.Change
	}
	if p.Back == nil && name != "workbook" {
		p.Back = &link{Name: s.Voice.Text("Back to the workbook"), Href: "/workbook"}
	}
	var b bytes.Buffer
	if err := s.pages.ExecuteTemplate(&b, name, p); err != nil {
		http.Error(w, s.Voice.Text("This page could not be made: %s", err.Error()), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", htmlType)
	if !p.Cached {
		w.Header().Set("Cache-Control", "no-store") // Back shows what was typed, an answer of before is of no use
	}
	w.WriteHeader(cmp.Or(p.Code, http.StatusOK))
	w.Write(b.Bytes())
}

func seeOther(w http.ResponseWriter, r *http.Request, to string) {
	if r.Method == http.MethodPost && r.URL.Path != "/" { // which is the door for phones
		forgetForm(w)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

func studyAddress(name string) string { return "/study?" + url.Values{"name": {name}}.Encode() }

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
	for _, x := range s.have.Studies {
		l := listed{
			Name: x.Name, Site: x.Site, Season: v.Year(x.Season), Kind: v.Term(note.Term(x.Kind)), Edit: studyAddress(x.Name),
			Out: "/exclude?" + url.Values{"name": {x.Name}}.Encode(),
		}
		var keys []string
		for _, a := range x.Arms {
			if k := s.practiceName(a.Practice); !slices.Contains(keys, k) {
				keys = append(keys, k)
			}
		}
		l.Practices = v.List(keys)
		var marks []string
		for _, c := range x.Caveats {
			marks = append(marks, s.caveatName(c))
		}
		l.Caveats = strings.Join(marks, ", ")
		if e, out := s.excluded(x.Name); out {
			l.Reason, l.Excluded = e.Reason, true
		}
		list = append(list, l)
	}
	prices := v.Text("no prices yet")
	if s.have.Prices != nil {
		prices = v.Text("prices in %s", s.have.Prices.Currency)
	}
	lead := []string{v.Text("This workbook holds %s, %s and %s; the last change is number %d.", v.Text("%d studies", len(s.have.Studies)), prices,
		v.Text("%d practices of your own", len(s.have.Own())), int(s.have.Change))}
	if len(s.have.Studies) == 0 {
		lead = append(lead, v.Text("Begin with a study, or with a table that you have already."))
	}
	p := sheetPage{Lead: lead, Body: struct {
		Studies  []listed
		Writable []string
	}{list, nil}}
	if len(s.have.Studies) > 0 {
		p.Faults = s.said(s.idle)
	}
	if err := s.Book.Writable(); err != nil {
		p.Faults = append(p.Faults, s.said(faultsOf(err))...)
	}
	s.show(w, "workbook", v.Text("Workbook"), p)
}

func (s *site) excluded(study string) (input.Exclusion, bool) {
	for _, e := range s.have.Excluded {
		if e.Study == study {
			return e, true
		}
	}
	return input.Exclusion{}, false
}

// find gives a study of the workbook by its name.
func (s *site) find(name string) (evidence.Study, bool) {
	i := slices.IndexFunc(s.have.Studies, func(x evidence.Study) bool { return x.Name == name })
	if i < 0 {
		return evidence.Study{}, false
	}
	return s.have.Studies[i], true
}

// The page that asks why a study is to be left out.
func (s *site) exclusion(w http.ResponseWriter, r *http.Request, name, reason string, t *trouble) {
	if _, ok := s.find(name); !ok {
		s.missing(w, r)
		return
	}
	v := s.Voice
	p := sheetPage{Lead: []string{v.Text("The study stays in the workbook and on the page Evidence; no answer rests on it until it is taken back.")}, Body: struct{ Name, Reason string }{name, reason}}
	if t != nil {
		p.trouble = *t
	}
	s.show(w, "exclude", v.Text("Leave out %s", name), p)
}

func (s *site) exclude(w http.ResponseWriter, r *http.Request) {
	name, reason := r.PostForm.Get("name"), clean(r.PostForm.Get("reason"))
	if reason == "" {
		s.exclusion(w, r, name, reason, &trouble{Faults: []string{s.Voice.Text("Say why: the reason is printed wherever the study appears.")}, Code: http.StatusUnprocessableEntity})
		return
	}
	if err := s.save(s.Voice.Text("left out %s", name), seen(r), true, book.Keep(input.Exclusion{Study: name, Reason: reason})); err != nil {
		t, _ := s.troubled(err, func(l book.Later) [][3]string {
			their, _ := l.Value.(input.Exclusion)
			return [][3]string{{s.Voice.Text("reason"), their.Reason, reason}}
		})
		s.exclusion(w, r, name, reason, &t)
		return
	}
	seeOther(w, r, "/workbook")
}

func (s *site) restore(w http.ResponseWriter, r *http.Request) {
	name := r.PostForm.Get("name")
	if err := s.save(s.Voice.Text("took back %s", name), seen(r), true, book.Remove(book.Excluded, name)); err != nil {
		s.history(w, r, err)
		return
	}
	seeOther(w, r, "/workbook")
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
		http.Error(w, strings.Join(v.Notes(faultsOf(err)), "\n"), http.StatusInternalServerError)
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
		list = append(list, entry{ID: e.ID, At: s.at(e.At), Who: e.Who, What: e.What, Added: s.touched(e.Added), Changed: s.touched(e.Replaced), Removed: s.touched(e.Removed)})
	}
	p := sheetPage{Lead: []string{v.Text("Every change since the workbook was made, the latest first. Nothing is ever lost: an undo is a change as well.")}, Body: struct {
		Entries []entry
		Older   string
	}{list, older}}
	if failed != nil {
		p.trouble, _ = s.troubled(failed, nil)
	}
	s.show(w, "history", v.Text("History"), p)
}

// touched names what a change touched: a few by name, many by their number.
func (s *site) touched(list []book.Touched) string {
	const most = 6
	var counts, names []string
	for _, k := range written {
		of := func(t book.Touched) bool { return t.Kind == k.kind }
		n := 0
		for _, t := range list {
			if of(t) {
				n++
			}
		}
		if n > 1 {
			counts = append(counts, s.Voice.Text(k.text, n))
			list = slices.DeleteFunc(slices.Clone(list), of)
		}
	}
	for _, t := range list[:min(len(list), most)] {
		names = append(names, s.thing(t))
	}
	names = append(names, counts...)
	if more := len(list) - most; more > 0 {
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
		err = note.Faults{note.New("no change is named %s", short(r.PostForm.Get("change")))}
	}
	if err != nil {
		s.history(w, r, err)
		return
	}
	seeOther(w, r, "/history")
}

// data answers with everything in the workbook, as files for others.
func (s *site) data(w http.ResponseWriter, r *http.Request) {
	p := sheet.Package{Input: s.have.Input}
	var b bytes.Buffer
	var err error
	kind, name := "application/octet-stream", r.PathValue("file")
	switch name {
	case "package.zip":
		kind, err = "application/zip", p.WriteZIP(&b)
	case "workbook.xlsx":
		kind, err = xlsxType, sheet.WriteXLSX(&b, p.Tables()...)
	case "evidence.csv":
		kind, err = "text/csv; charset=utf-8", sheet.EvidenceTable(p.Studies).WriteCSV(&b)
	case "sources.bib":
		b.Write(sheet.BibTeX(p.Studies))
	case "sources.ris":
		b.Write(sheet.RIS(p.Studies))
	case "prices.toml":
		if p.Prices == nil {
			s.missing(w, r)
			return
		}
		b.Write(sheet.PricesTOML(*p.Prices))
	default:
		s.missing(w, r)
		return
	}
	if err != nil {
		http.Error(w, strings.Join(s.Voice.Notes(faultsOf(err)), "\n"), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	send(w, r, kind, b.Bytes())
}

// clean is what was typed on one row: no controls, no line ends, valid UTF-8.
func clean(text string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == 0x2028 || r == 0x2029 {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(text, "")))
}
