package sheet

import (
	"maps"
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// ofOthers are the tables of a trial whose headers may be those of others.
var ofOthers = []string{longRole, layoutRole, sumsRole, countsRole, eventsRole, calibrationRole, tanksRole, daysRole}

// ofTrials are the columns of these tables, each name once.
var ofTrials = func() (list []column.Column[any]) {
	for _, role := range ofOthers {
		for _, c := range columnsOf(role) {
			if _, have := column.Find(list, c.Name); !have && c.Allowed != trial.Unread {
				list = append(list, c)
			}
		}
	}
	return list
}()

// trialWords is what headers of a trial's tables may stand for, as far as that is settled or can be guessed.
func trialWords(words gloss.Index, set practice.Set) *vocabulary {
	return &vocabulary{known: trialKnown(), set: set, plain: true, columns: func(headers []string) []string {
		names := make([]string, len(headers))
		for i, h := range headers {
			names[i] = strings.ToLower(h)
		}
		h := newHead(names)
		h.said = headers
		return spokenOf(h, nil, words, set, true).names
	}}
}

// spoken is a table of a trial that somebody else wrote, on its way into our words.
type spoken struct {
	columns []column.Column[any] // that it may have
	names   []string             // by header, the column that it stands for; "" none
	asked   []Asked              // headers of which that is a guess, or open
	lacks   []string             // columns that it needs and has not
	given   []string             // and those of which all rows have what a person said
	twice   []int                // headers that were settled to stand for what another stands for
	has     int                  // columns that it has
	gained  int                  // of these, those that are called otherwise
}

// spokenOf is what a table is in our words, as the one of a trial that it is most like. What people head a column with
// stands for it without a question, capitals, accents and marks apart; where guess is true, so does what is likely.
func spokenOf(h *head, rows [][]string, words gloss.Index, set practice.Set, guess bool) (best spoken) {
	best.names = make([]string, len(h.names))
	if _, evidence := h.index["study"]; evidence {
		return best
	}
	roles, role := ofOthers, roleOf(h)
	if role != "" {
		roles = []string{role}
	}
	for _, x := range roles {
		if !slices.Contains(ofOthers, x) {
			continue
		}
		s := spoken{columns: columnsOf(x), names: make([]string, len(h.names))}
		s.read(h, rows, words, set, guess)
		if guess || role != "" || len(s.lacks) == 0 && s.gained > 0 {
			if s.has-len(s.lacks) > best.has-len(best.lacks) || best.columns == nil {
				best = s
			}
		}
	}
	return best
}

// read finds what each header stands for: what is settled first, then our names, then what people write, then guesses.
func (s *spoken) read(h *head, rows [][]string, words gloss.Index, set practice.Set, guess bool) {
	taken, kept := map[string]bool{}, map[int]bool{}
	take := func(i int, name string) bool {
		if s.names[i] != "" || kept[i] || taken[name] {
			return false
		}
		s.names[i], taken[name] = name, true
		if name != h.names[i] {
			s.gained++
		}
		return true
	}
	for i := range h.names {
		means, settled := words.Find(gloss.Columns, h.said[i])
		kept[i] = settled && means == gloss.Note
		if _, ours := column.Find(s.columns, means); ours && !take(i, means) {
			s.twice = append(s.twice, i)
		}
	}
	for i, n := range h.names {
		if _, ours := column.Find(s.columns, n); ours {
			take(i, n)
		}
	}
	for i, n := range h.names {
		plain := gloss.Plain(n)
		for _, c := range s.columns {
			if plain != "" && heads(c, plain) && take(i, c.Name) {
				break
			}
		}
	}
	reserved := maps.Clone(taken) // nothing is guessed twice
	for i, n := range h.names {
		_, dated := readDay(n)
		if s.names[i] != "" || kept[i] || gloss.Plain(n) == "" || dated {
			continue
		}
		if means, likely := s.likely(i, n, rows, reserved, set); likely {
			s.asked = append(s.asked, Asked{Sense: gloss.Sense{Of: gloss.Columns, Said: h.said[i], Means: means}})
			if guess && means != "" {
				take(i, means)
			}
			reserved[means] = true
		}
	}
	roots := map[string]bool{}
	for _, c := range s.columns {
		if taken[c.Name] {
			s.has++
			roots[rootOf(c)] = true
		}
	}
	for _, c := range s.columns {
		if !c.Needed || roots[rootOf(c)] {
			continue
		}
		roots[rootOf(c)] = true
		if _, whole := words.Find(gloss.Rows, c.Name); whole {
			s.given = append(s.given, c.Name)
			s.has++
		} else {
			s.lacks = append(s.lacks, c.Name)
		}
	}
}

// rootOf is the column that holds what a column holds, and is written.
func rootOf(c column.Column[any]) string {
	if c.Instead != "" {
		return c.Instead
	}
	return c.Name
}

// heads is true of a plain header that is what people call a column, with its unit where there is one column a unit.
func heads(c column.Column[any], plain string) bool {
	if gloss.Plain(c.Name) == plain {
		return true
	}
	if OwnUnit(c).Key == "" {
		return slices.Contains(c.Headers, plain)
	}
	for _, u := range OwnUnit(c).Says {
		for _, rest := range gloss.Without(plain, u) {
			words := slices.DeleteFunc(strings.Fields(rest), func(w string) bool {
				return slices.Contains([]string{"in", "en", "of", "de"}, w)
			})
			rest = strings.Join(words, " ")
			if slices.Contains(c.Headers, rest) || strings.HasPrefix(c.Name, rest+"_") {
				return true
			}
		}
	}
	return false
}

// OwnUnit is the way of a column's own unit; the zero one where there is not a column a unit of measure.
func OwnUnit(c column.Column[any]) (own column.Way) {
	for _, w := range c.Ways {
		if strings.HasSuffix(c.Name, "_"+w.Key) {
			own = w
		}
	}
	return own
}

// likely guesses at what a header stands for, by its words and by what stands under it; what is measured and says its
// unit nowhere is asked about without a guess. false: nothing is near.
func (s *spoken) likely(i int, name string, rows [][]string, taken map[string]bool, set practice.Set) (means string,
	ok bool) {
	plain, longest := gloss.Plain(name), 2
	var under []string
	for _, r := range rows {
		if i < len(r) && r[i] != "" && !slices.Contains(under, r[i]) && len(under) < 100 {
			under = append(under, r[i])
		}
	}
	most := func(is func(text string) bool) bool {
		n := 0
		for _, text := range under {
			if is(text) {
				n++
			}
		}
		return n > 0 && 3*n >= 2*len(under)
	}
	for _, c := range s.columns {
		said := append(slices.Clone(c.Headers), strings.TrimSuffix(c.Name, "_"+OwnUnit(c).Key))
		for _, phrase := range said {
			if phrase = gloss.Plain(phrase); len(phrase) <= longest || taken[c.Name] || !stands(plain, phrase) {
				continue
			}
			if OwnUnit(c).Key == "" {
				means, longest, ok = c.Name, len(phrase), true
				continue
			}
			ok, longest = true, len(phrase)
			if means = s.inUnit(c, plain, under); taken[means] {
				means = ""
			}
		}
	}
	if ok {
		return means, true
	}
	for _, c := range s.columns {
		if taken[c.Name] || !c.Needed {
			continue
		}
		switch c.Kind {
		case column.Practice:
			ok = len(under) > 1 && most(func(text string) bool { key, _ := set.Guess(text); return key != "" })
		case column.Moment:
			ok = most(func(text string) bool { _, day := readDay(text); return day && !bareNumber(text) })
		case column.Whole:
			ok = c.Name == "season" && most(func(text string) bool { _, year := seasonOf(text, true); return year })
		}
		if ok {
			return c.Name, true
		}
	}
	return "", false
}

// inUnit is the column among those of one quantity whose unit a header says, or else the numbers under it; "" none.
func (s *spoken) inUnit(of column.Column[any], plain string, under []string) (name string) {
	longest, most := 0, 0
	for _, c := range s.columns {
		if rootOf(c) != rootOf(of) {
			continue
		}
		for _, u := range OwnUnit(c).Says {
			if len(u) > longest && gloss.Holds(plain, u) {
				name, longest = c.Name, len(u)
			}
		}
	}
	for _, c := range s.columns {
		if rootOf(c) != rootOf(of) || longest > 0 {
			continue
		}
		n := 0
		for _, text := range under {
			if _, unit, ok := measured(text); ok && slices.Contains(OwnUnit(c).Says, gloss.Plain(unit)) {
				n++
			}
		}
		switch {
		case n > most:
			name, most = c.Name, n
		case n == most:
			name = "" // which of them the bare numbers are in is not told
		}
	}
	return name
}

// stands is true of a plain header that has every word of a phrase.
func stands(header, phrase string) bool {
	return !slices.ContainsFunc(strings.Fields(phrase), func(w string) bool { return !gloss.Holds(header, w) })
}

// cells reads what stands under the headers as what it must be.
func (s *spoken) cells(h *head, rows [][]string, words gloss.Index, set practice.Set, guess bool) *reader {
	u := &reader{columns: s.columns, words: words, set: set, guess: guess, headers: h.said, rows: rows, asIs: true,
		targets: make([]gloss.Target, len(h.names)), cells: make([][]string, len(h.names)),
		beside: map[string][]string{}, besides: map[string]string{}, means: map[string][]column.Way{},
		marks: map[byte]bool{}, orders: map[string]bool{}, parts: map[int]string{}, lost: make([]bool, len(rows))}
	if h.sep == ';' {
		u.mark = ','
	}
	for i, n := range s.names {
		if c := u.find(n); n != "" && !ready(rows, i, c, set) {
			u.targets[i].Column = n
		}
	}
	u.tell()
	for _, first := range []bool{true, false} { // days may have no year but that of their season
		for i, t := range u.targets {
			if t.Column != "" && (t.Column == "season") == first {
				u.column(i)
			}
		}
	}
	return u
}

// ready is true of a column whose cells are as our files have them.
func ready(rows [][]string, i int, c column.Column[any], set practice.Set) bool {
	return !slices.ContainsFunc(rows, func(r []string) bool {
		if i >= len(r) || r[i] == "" {
			return false
		}
		switch text := r[i]; {
		case c.Kind.Numeric():
			_, _, ok := parse(text, false)
			return !ok
		case c.Kind == column.Moment || c.Name == "to":
			_, ok := column.ParseMoment(text)
			return !ok
		case c.Kind == column.Practice:
			_, ok := set.Find(practice.Key(text))
			return !ok
		case c.Words != nil:
			return !slices.Contains(c.Words, text)
		}
		return true
	})
}

// inOurWords puts a table of a trial that somebody else wrote into our words, as far as that leaves no doubt or words
// settle it. It says what it took for what, and gives what is still to be settled.
func inOurWords(h *head, records []*record, words gloss.Index, set practice.Set) (open func() Spoken, said note.List) {
	rows := make([][]string, len(records))
	for k, r := range records {
		rows[k] = make([]string, len(h.names))
		for i := range min(len(r.cells), len(h.names)) {
			rows[k][i] = r.cells[i].text
		}
	}
	names := slices.Clone(h.names)
	before := *h
	before.names = names
	open = func() Spoken { return openOf(&before, rows, words, set) }
	s := spokenOf(h, rows, words, set, false)
	if s.columns == nil {
		return open, nil
	}
	var list []string
	for i, name := range s.names {
		_, ours := column.Find(s.columns, h.names[i])
		switch {
		case name != "" && name != h.names[i]:
			list = append(list, h.said[i]+" = "+name)
			h.names[i], h.foreign = name, true
		case name == "" && ours:
			h.names[i] += " (note)"
		}
	}
	for _, c := range s.given {
		text, _ := words.Find(gloss.Rows, c)
		for k, r := range records {
			for len(r.cells) < len(h.names) {
				r.cells = append(r.cells, cell{row: r.row})
			}
			r.cells, rows[k] = append(r.cells, cell{text: text, row: r.row}), append(rows[k], text)
		}
		h.names, h.said, s.names = append(h.names, c), append(h.said, ""), append(s.names, c)
	}
	h.index = newHead(h.names).index
	u := s.cells(h, rows, words, set, false)
	for i, t := range u.targets {
		if t.Column == "" {
			continue
		}
		for k, r := range records {
			if i < len(r.cells) {
				r.cells[i].text = u.cells[i][k]
			}
		}
	}
	for k, r := range records {
		r.lost = r.lost || u.lost[k]
		r.comma = false // every number that is one has a point by now
	}
	if list == nil {
		return open, nil
	}
	return open, note.List{note.New("headers of others are read as ours: %s", strings.Join(list, ", ")).At(h.where())}
}

// Spoken is a table of a trial that somebody else wrote: what its headers stand for, and what a person must settle.
type Spoken struct {
	Grid
	Where   note.Where
	Means   []string // by header: the column that it stands for, as far as that is settled or guessed; "" none
	Asked   []Asked  // headers and words
	Lacking []string // columns that it needs and that none of its headers stands for
	Twice   []int    // headers that stand for what another one stands for
	Has     int      // columns of ours that it has, as far as can be guessed
}

// Open is true where something must be settled before the table can be read.
func (s Spoken) Open() bool { return len(s.Asked)+len(s.Twice) > 0 || len(s.Lacking) > 0 }

// openOf is what is open of a table.
func openOf(h *head, rows [][]string, words gloss.Index, set practice.Set) Spoken {
	s := spokenOf(h, rows, words, set, true)
	t := Spoken{Grid: Grid{Columns: h.said, Rows: rows, Notes: h.notes}, Where: h.where(), Means: s.names,
		Lacking: s.lacks, Twice: s.twice, Asked: s.asked, Has: s.has}
	if s.columns != nil {
		t.Asked = append(t.Asked, s.cells(h, rows, words, set, true).asked...)
	}
	return t
}

// TrialWords is what is to be settled of the tables of a file that says something of a trial, beside what words settle:
// of tables of others alone. The error is note.Faults, where the file cannot be read.
func TrialWords(base trial.Trial, set practice.Set, words gloss.Glossary, file string, data []byte) (list []Spoken,
	err error) {
	g := newTrialGather(base, set, words)
	f := new(faults)
	for _, t := range g.tables(file, data, f) {
		if t.open == nil || t.faults.broken || len(t.records) == 0 {
			continue
		}
		if s := t.open(); s.Open() {
			list = append(list, s)
		}
	}
	return list, nil
}

// TrialColumns are the columns that headers of a trial's tables may stand for.
func TrialColumns() []column.Column[any] { return ofTrials }
