package trees

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"spile/internal/files/sheet"
	"spile/internal/note"
	tables "spile/internal/trade/column"
	"spile/internal/trade/gloss"
	trials "spile/internal/trade/trial"
	"spile/internal/view/web/page"
)

// settled is a table in the form that asks what its headers and words stand for.
type settled struct {
	Title                   string // the sheet, where there are several
	Notes                   []string
	Headers, Lacking, Words []page.Settle
}

// settling asks what the headers and words of a trial's tables stand for, with a guess at each; false where nothing is
// open, or what is cannot be settled here.
func (s desk) settling(w http.ResponseWriter, q url.Values, base trials.Trial, name string, data []byte) bool {
	v, said := s.Voice, page.Senses(q)
	words, again := settledIn(s.Have.Words, said), q.Get("do") == "again"
	q.Del("do")
	if again {
		words = slices.DeleteFunc(words, func(x gloss.Sense) bool { return slices.Contains(said, x) })
	}
	list, err := sheet.TrialWords(base, s.Input.Practices, words, name, data)
	if err != nil || len(list) == 0 {
		return false
	}
	index := said.Index()
	b := struct {
		takenTrial
		Tables []settled
	}{takenTrial: typedTrial(q)}
	p := page.Page{Here: "/trials", Seen: page.Seen(q),
		Back: &page.Link{Name: v.Text("Back to the trial %s", base.Name), Href: page.TrialAddress(base.Name)},
		Lead: []string{v.Text("Each header and each word is settled once, for all rows, and the workbook keeps it " +
			"for your next table. What is guessed is chosen already.")}}
	open, shown := false, gloss.Glossary{}
	for k, x := range list {
		t := s.settledOf(x, index, k)
		if len(list) > 1 {
			t.Title = x.Where.Sheet
		}
		for _, a := range slices.Concat(t.Headers, t.Words, t.Lacking) {
			_, seen := index.Find(a.Of, a.Said)
			open = open || !seen || a.Means == "" && a.Of != gloss.Rows
			shown = append(shown, a.Sense)
		}
		for _, c := range x.Lacking {
			open = true
			if say := v.Text("Lacking: %s. Say which header stands for it.", s.called(c)); len(said) > 0 {
				p.Faults = append(p.Faults, say)
			} else {
				p.Lead = append(p.Lead, say)
			}
		}
		open = open || len(x.Twice) > 0
		b.Tables = append(b.Tables, t)
	}
	if !open && !again {
		return false
	}
	if len(said) > 0 && !again {
		p.Code = http.StatusUnprocessableEntity
	}
	have := shown.Index()
	b.Said = slices.DeleteFunc(b.Said, func(x gloss.Sense) bool { _, here := have.Find(x.Of, x.Said); return here })
	p.Body = b
	s.Show(w, "trialwords", v.Text("What your headers and words stand for"), p)
	return true
}

// settledOf is one table in that form, the k-th.
func (s desk) settledOf(x sheet.Spoken, said gloss.Index, k int) (t settled) {
	id := func(kind string, i int) string { return kind + "-" + strconv.Itoa(k) + "-" + strconv.Itoa(i) }
	for _, n := range x.Notes {
		n.Where = note.Where{}
		t.Notes = append(t.Notes, s.Voice.Note(n))
	}
	for i, h := range x.Columns {
		if h == "" {
			continue
		}
		means := x.Means[i]
		unsure := slices.ContainsFunc(x.Asked, func(a sheet.Asked) bool {
			return a.Of == gloss.Columns && a.Said == h && a.Means == ""
		})
		if !unsure {
			means = cmp.Or(means, gloss.Note)
		}
		a := page.Settle{Sense: gloss.Sense{Of: gloss.Columns, Said: h, Means: means}, ID: id("h", i), Label: h,
			Seen: page.SomeOf(x.Rows, i), Options: s.targets(means)}
		if slices.Contains(x.Twice, i) {
			a.Fault = s.Voice.Text("another header stands for this too; allowed: one")
		}
		t.Headers = append(t.Headers, a)
	}
	for i, c := range x.Lacking {
		given, _ := said.Find(gloss.Rows, c)
		if c != "unit" && c != "practice" { // which one for all would make no trial
			t.Lacking = append(t.Lacking, page.Settle{Sense: gloss.Sense{Of: gloss.Rows, Said: c, Means: given},
				ID: id("l", i), Label: s.called(c)})
		}
	}
	for i, a := range x.Asked {
		if a.Of == gloss.Columns {
			continue
		}
		c, _ := tables.Find(sheet.TrialColumns(), a.Column)
		t.Words = append(t.Words, page.Settle{Sense: a.Sense, ID: id("w", i), Label: a.Said, What: a.Header,
			Rows: a.Rows, Options: s.Meanings(a, c.Kind, c.Words)})
	}
	return t
}

// called is a column of a trial's tables in words, with its unit.
func (s desk) called(name string) string {
	c, ok := tables.Find(sheet.TrialColumns(), name)
	if !ok || c.Label == "" {
		return name
	}
	label := s.Voice.Term(note.Term(c.Label))
	if unit := sheet.OwnUnit(c).Label; unit != "" {
		return s.Voice.Text("%s: %s", label, s.Voice.Term(note.Term(unit)))
	}
	return label
}

// targets are what a header of a trial's tables may stand for.
func (s desk) targets(now string) []page.Picked {
	list := []page.Option{page.Opt(gloss.Note, s.Voice.Text("not used"))}
	if now == "" {
		list = append([]page.Option{page.Opt("", s.Voice.Text("choose"))}, list...)
	}
	for _, c := range sheet.TrialColumns() {
		if c.Label != "" {
			list = append(list, page.Opt(c.Name, s.called(c.Name)))
		}
	}
	return page.Pick(list, now)
}
