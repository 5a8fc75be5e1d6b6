package sheet

import (
	"errors"
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

// gathering is files on their way into one input.
type gathering struct {
	in     input.Input
	known  practice.Set // those of the input, and those known from elsewhere
	words  gloss.Glossary
	bushes []*record
	rules  []ruleIn
	trials []*tablesOf
	stands map[string]note.Where // each study
	out    []note.Where          // the rows of in.Excluded
}

// tablesOf are the files of one trial of a data package.
type tablesOf struct {
	trial string
	files []*file
}

// gathered makes one input of files. Practices and words come first: every other file may use them.
func gathered(elsewhere practice.Set, words gloss.Glossary, files []file) (input.Input, error) {
	g := gathering{in: input.Input{Practices: practice.Shipped()}, stands: map[string]note.Where{}}
	for i := range files {
		if r := files[i].toml; r != nil && files[i].role != typedRole {
			g.in.Practices = append(g.in.Practices, ownPractices(r, g.in.Practices, elsewhere)...)
		}
	}
	g.known = slices.Clone(g.in.Practices)
	for _, p := range elsewhere {
		if _, have := g.known.Find(p.Key); !have {
			g.known = append(g.known, p)
		}
	}
	for i := range files {
		g.wordsOf(&files[i])
	}
	g.words = slices.Concat(words, g.in.Words)
	for i := range files {
		switch f := &files[i]; {
		case f.role == typedRole: // below, beside the tables that say the same
		case f.toml != nil:
			g.settings(f)
		case f.faults.count() == 0 && f.data != nil: // it could be loaded
			g.table(f)
		}
	}
	for _, t := range g.trials {
		g.trial(t)
	}
	asOf := ""
	if g.in.Prices != nil {
		asOf = g.in.Prices.AsOf
	}
	g.in.Rules = judgeRules(g.rules, asOf)
	g.in.Bushes = drafts(g.bushes, g.in.Prices, g.known)
	for _, f := range files {
		if f.role != typedRole || f.faults.count() > 0 {
			continue
		}
		if r := f.toml; r != nil && !typedAs(&g.in, r, g.known) || r == nil && !studiesTyped(g.in.Studies, f.data) {
			g.in.Notes = append(g.in.Notes, note.New("this says otherwise than the tables beside it, which count").
				At(note.Where{File: f.path}))
		}
	}
	all := new(faults)
	for _, f := range files {
		all.join(f.faults)
	}
	if all.count() == 0 {
		g.excluded(all)
	}
	if err := all.err(); err != nil {
		return input.Input{}, err
	}
	return g.in, nil
}

// source keeps the digest of what was read from a file.
func (g *gathering) source(name string, records []*record, isNumber func(string, cell) bool) {
	g.in.Sources = append(g.in.Sources, digest(name, records, isNumber))
}

func noNumber(string, cell) bool { return false }

// wordsOf takes what a file settles of words.
func (g *gathering) wordsOf(f *file) {
	switch {
	case f.toml != nil && f.role != typedRole && !isBush(f.toml):
		g.in.Words = append(g.in.Words, readMapping(f.toml, g.known)...)
	case f.role == wordsRole && f.data != nil:
		list, records := readWords(f.path, f.data, f.faults)
		g.source(f.path, records, isNumeric)
		g.in.Words = append(g.in.Words, list...)
	}
}

// settings takes prices and rules, or a sugarbush, of a TOML file, or of a table that says the same.
func (g *gathering) settings(f *file) {
	r := f.toml
	g.source(f.path, []*record{r}, func(_ string, c cell) bool { return c.kind == num })
	if isBush(r) {
		g.bushes = append(g.bushes, r)
		return
	}
	g.rules = append(g.rules, readRules(r, f.role == rulesRole)...)
	if !speaksOfPrices(r) {
		return
	}
	if first := g.in.Prices; first != nil {
		f.faults.add(secondPrices(first, r))
		return
	}
	g.in.Prices = readPrices(r, g.known)
}

// table takes a table by what it holds; where nothing says what, by its header.
func (g *gathering) table(f *file) {
	switch trialNumber, _, _ := strings.Cut(strings.TrimPrefix(f.role, trialRole), "-"); {
	case f.role == wordsRole: // read before
	case f.role == bushesRole:
		for _, r := range readBushes(f.path, f.data, f.faults) {
			g.source(f.path+"#"+r.text("name"), []*record{r}, noNumber)
			g.bushes = append(g.bushes, r)
		}
	case f.role == "" && isSections(f.path, f.data):
		if r := bushRecord(f.path, f.data, f.faults); r != nil {
			g.source(f.path, []*record{r}, noNumber)
			g.bushes = append(g.bushes, r)
		}
	case f.role == pastRole || f.role == "" && isPast(f.path, f.data):
		g.past(f)
	case f.role == excludedRole:
		list, records := readExcluded(f.path, f.data, f.faults)
		g.source(f.path, records, isNumeric)
		g.in.Excluded = append(g.in.Excluded, list...)
		for _, r := range records {
			g.out = append(g.out, r.where("study"))
		}
	case f.role == searchRole:
		g.search(f)
	case f.role == answersRole:
		list, records := readAnswers(f.path, f.data, f.faults)
		g.source(f.path, records, isNumeric)
		g.in.Answers = append(g.in.Answers, list...)
	case strings.HasPrefix(f.role, trialRole):
		g.tableOf(filepath.Join(filepath.Dir(f.path), trialNumber), f)
	default:
		g.evidence(f)
	}
}

func (g *gathering) past(f *file) {
	list, notes, records := readPast(f.path, f.data, f.faults)
	g.source(f.path, records, isNumeric)
	g.in.Notes = append(g.in.Notes, notes...)
	if len(g.in.Past) > 0 && len(list) > 0 {
		f.faults.add(note.New("past seasons stand in another file already; allowed: one table of them").
			At(note.Where{File: f.path}))
	}
	g.in.Past = append(g.in.Past, list...)
}

// search takes the text that says how studies were looked for.
func (g *gathering) search(f *file) {
	text := strings.TrimSpace(strings.TrimPrefix(string(f.data), "\ufeff"))
	at := note.Where{File: f.path}
	switch {
	case !utf8.ValidString(text):
		f.faults.add(note.New("this text is not UTF-8; allowed: a text saved as UTF-8").At(at))
	case g.in.Search != "" && g.in.Search != input.Search(text):
		f.faults.add(note.New("how studies were looked for is told twice, and otherwise; allowed: one text").At(at))
	default:
		g.in.Search = input.Search(text)
		g.in.Sources = append(g.in.Sources, input.Source{Name: f.path, Digest: textDigest(text)})
	}
}

// tableOf keeps a file for its trial; the same number in another package is another trial.
func (g *gathering) tableOf(trial string, f *file) {
	i := slices.IndexFunc(g.trials, func(t *tablesOf) bool { return t.trial == trial })
	if i < 0 {
		i, g.trials = len(g.trials), append(g.trials, &tablesOf{trial: trial})
	}
	g.trials[i].files = append(g.trials[i].files, f)
}

// trial puts a trial together.
func (g *gathering) trial(of *tablesOf) {
	t, notes, err := gatherTrial(trial.Trial{}, g.known, g.words, func(x *trialGather,
		_ func() *faults) (tables []trialTable) {
		for _, f := range of.files {
			for _, t := range x.tables(f.path, f.data, f.faults) {
				g.source(f.path, t.records, isNumeric)
				tables = append(tables, t)
			}
		}
		return tables
	})
	g.in.Notes = append(g.in.Notes, notes...)
	if faults := (note.Faults{}); errors.As(err, &faults) {
		for _, n := range faults {
			of.files[0].faults.add(n)
		}
		return
	}
	g.in.Trials = append(g.in.Trials, t)
}

func (g *gathering) evidence(f *file) {
	studies, notes, records := readEvidence(f.path, f.data, g.known, g.words, f.faults)
	if f.faults.count() == 0 { // of what is left out
		notes = append(notes, f.faults.hints...)
	}
	g.in.Notes = append(g.in.Notes, notes...)
	g.source(f.path, records, isNumeric)
	if len(records) > 0 {
		if calls := records[0].head.theirs(); len(calls) > 0 {
			if g.in.Calls == nil {
				g.in.Calls = map[string]map[string]string{}
			}
			g.in.Calls[f.path] = calls
		}
	}
	for _, s := range studies {
		if first, have := g.stands[s.Name]; have {
			f.faults.add(note.New("the study %s stands in another file already (%s, row %d); allowed: each study "+
				"in one file", quote(s.Name), first.File, first.Row).At(s.Where))
		}
		g.stands[s.Name] = s.Where
	}
	g.in.Studies = append(g.in.Studies, studies...)
}

// excluded finds the studies that are left out, and are not there.
func (g *gathering) excluded(all *faults) {
	for i, e := range g.in.Excluded {
		_, have := g.stands[e.Study]
		if !have && !slices.ContainsFunc(g.in.Trials, func(t trial.Trial) bool { return t.Name == e.Study }) {
			all.add(note.New("the study %s is left out, and there is none of that name; allowed: the name of a study "+
				"in these files", quote(e.Study)).At(g.out[i]))
		}
	}
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
