package sheet

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
)

// Tables of others come in many shapes: a title above and totals below, a header in two rows, studies side by side, two
// numbers in a cell. What stands here gives each one header, one row a row and one number a cell, in their own words;
// what the words mean is understood afterwards. What is taken away or moved is said.

// vocabulary is what headers and words of a table of others may stand for.
type vocabulary struct {
	known   map[string]bool                 // our own headers
	columns func(headers []string) []string // of ours, for which headers may stand; "" none
	set     practice.Set
	plain   bool // its tables have a row a row and a number a cell: no more than titles and sums are put apart
}

func (v vocabulary) practice(word string) bool {
	key, _ := v.set.Guess(word)
	return key != ""
}

// ours counts the headers that are ours.
func (v vocabulary) ours(headers []string) (n int) {
	for _, h := range headers {
		if v.known[strings.ToLower(h)] {
			n++
		}
	}
	return n
}

// may counts the headers that may stand for one of ours.
func (v vocabulary) may(headers []string) (n int) {
	for _, c := range v.columns(headers) {
		if c != "" {
			n++
		}
	}
	return n
}

// alike is true of a row that names two seasons or two practices.
func (v vocabulary) alike(row []string) bool {
	practices, seasons := map[practice.Key]bool{}, map[string]bool{}
	for _, text := range row {
		key, _ := v.set.Guess(text)
		practices[key] = key != ""
		year, is := seasonOf(text, false)
		seasons[year] = is
	}
	delete(practices, "")
	delete(seasons, "")
	return len(practices) >= 2 || len(seasons) >= 2
}

// topRows is how far down a header is looked for.
const topRows = 20

// top is the row of the header: the first that names two columns of ours, or else may stand for three of them, or else
// names two seasons or practices, or else has two cells. Without a way to tell what others mean it is the first kind,
// or the first row.
func (v vocabulary) top(rows [][]string) int {
	rows = slices.Clone(rows[:min(len(rows), topRows)])
	for i, row := range rows {
		rows[i] = row[:min(len(row), maxColumns)]
	}
	for _, is := range []func(row []string) bool{
		func(row []string) bool { return v.ours(row) >= 2 && !sameLetter(row) },
		func(row []string) bool {
			return v.columns != nil && filledCells(row) >= 3 && v.may(row) >= 3 && !sameLetter(row)
		},
		func(row []string) bool { return v.columns != nil && filledCells(row) >= 3 && v.alike(row) },
		func(row []string) bool { return v.columns != nil && filledCells(row) >= 2 },
	} {
		if at := slices.IndexFunc(rows, is); at >= 0 {
			return at
		}
	}
	return 0
}

func filledCells(row []string) (n int) {
	for _, text := range row {
		if text != "" {
			n++
		}
	}
	return n
}

func texts(r *record) []string {
	list := make([]string, len(r.cells))
	for i, c := range r.cells {
		list[i] = c.text
	}
	return list
}

// shape is a table that is being put into shape.
type shape struct {
	vocabulary
	file, sheet string
	said        []string
	row         int // of its header
	levels      int // rows of its header
	records     []*record
	above       [][]string // lines above the rows, as they stood; nil: its lines are not its rows
	below       [][]string
	notes       note.List
	statistics  bool // a row is headed by a statistic, beside which CV is one too
}

// shaped finds the header among the rows of a table and puts what stands below it into shape; merged are its merged
// cells, of a spreadsheet.
func shaped(g *grid, merged []area, wrong map[int][]note.Note, v vocabulary) (*head, []*record) {
	rows := g.records
	if len(rows) == 0 {
		return g.end()
	}
	cells := make([][]string, min(len(rows), topRows+1))
	for i := range cells {
		cells[i] = texts(rows[i])
	}
	s := &shape{vocabulary: v, file: g.file, sheet: g.sheet}
	top := v.top(cells)
	s.head(rows, cells, top)
	if len(s.said) > maxColumns {
		g.faults.add(note.New("the header has %d columns; allowed: at most %d", len(s.said), maxColumns).
			At(note.Where{File: g.file, Sheet: g.sheet, Row: s.row}))
		return nil, nil
	}
	for _, r := range rows[:len(rows)-len(s.records)] {
		s.above = append(s.above, r.stood...)
	}
	all := slices.Clone(s.above)
	for _, r := range s.records {
		all = append(all, r.stood...)
	}
	h := s.named(g)
	names := v.columns(h.said)
	for _, r := range s.records {
		for _, n := range wrong[r.row] {
			if col := n.Where.Row; col <= len(h.names) { // the column, until its name is known
				n.Where.Column = h.names[col-1]
			}
			n.Where.Row = r.row
			g.faults.add(n)
		}
	}
	spread(h, names, s.levels, s.records, merged, g.faults)
	if !v.plain {
		s.letters()
		s.second()
	}
	s.statistics = slices.ContainsFunc(s.records, statistic)
	if !v.plain {
		s.combined()
		s.pairs()
		s.turn()
		s.sections()
		s.seasons()
		s.repetitions()
	} else {
		s.readings()
	}
	s.without()
	s.unnumber()
	if !v.plain {
		s.part()
	}
	h = s.named(g)
	for i, name := range h.names {
		if name != "" && slices.Contains(h.names[:i], name) {
			at := h.where()
			at.Column = name
			g.faults.add(note.New("the column %s stands twice in the header; allowed: each column once", quote(name)).
				At(at))
		}
	}
	for _, r := range s.records {
		r.head, r.file, r.sheet, r.comma, r.faults = h, g.file, g.sheet, g.comma, g.faults
		for i, c := range r.cells {
			if i >= len(h.names) && c.text != "" {
				g.faults.add(note.New("%s stands beyond the last column of the header; allowed: %d fields (a text "+
					"with the separator in it is written in quotes)", quote(c.text), len(h.names)).
					At(note.Where{File: g.file, Sheet: g.sheet, Row: r.row}))
			}
		}
		r.cells = r.cells[:min(len(r.cells), len(h.names))]
	}
	h.notes = s.notes
	switch {
	case s.above == nil: // none of its lines is of one row alone
		h.above = all
		for _, r := range s.records {
			r.stood = nil
		}
	case s.reshaped():
		h.above, h.below = s.above, s.below
	}
	return h, s.records
}

// reshaped is true of a table whose lines say more than its header and rows do.
func (s *shape) reshaped() bool {
	same := func(line, cells []string) bool {
		for len(line) > len(cells) && line[len(line)-1] == "" {
			line = line[:len(line)-1]
		}
		return len(line) == len(cells) && slices.Equal(line, cells)
	}
	if len(s.above) != 1 || len(s.below) > 0 || !same(s.above[0], s.said) {
		return len(s.above) > 0
	}
	return slices.ContainsFunc(s.records, func(r *record) bool {
		return len(r.stood) != 1 || !same(r.stood[0], texts(r))
	})
}

// note says what became of the table.
func (s *shape) note(n note.Note) {
	s.notes = append(s.notes, n.At(note.Where{File: s.file, Sheet: s.sheet, Row: s.row}))
}

// named is the head of the table as it is now.
func (s *shape) named(g *grid) *head {
	for len(s.said) > 0 && s.said[len(s.said)-1] == "" {
		s.said = s.said[:len(s.said)-1]
	}
	names := make([]string, len(s.said))
	for i, text := range s.said {
		names[i] = strings.ToLower(text)
	}
	h := newHead(names)
	h.said, h.sep, h.file, h.sheet, h.row = slices.Clone(s.said), g.sep, g.file, g.sheet, s.row
	return h
}

// head takes the header of the rows of which it is: one, or two where the upper says of which practice the lower is, or
// the lower says the units of the upper.
func (s *shape) head(rows []*record, cells [][]string, top int) {
	s.said, s.row, s.levels = cells[top], rows[top].row, 1
	s.records = rows[top+1:]
	if len(s.said) > maxColumns {
		return
	}
	if top+1 < len(cells) && rows[top+1].row == s.row+1 && s.isLevel(cells[top+1], s.said) {
		s.said, s.row, s.levels = stacked(s.said, cells[top+1], s.practice), s.row+1, 2
		s.records = rows[top+2:]
		return
	}
	if top > 0 && rows[top-1].row == s.row-1 && s.isGroups(cells[top-1], s.said) {
		s.said, s.levels = stacked(cells[top-1], s.said, s.practice), 2
		return
	}
	s.said = s.apiece()
}

// apiece calls headers that stand more than once, each behind that of a practice, by that practice too.
func (s *shape) apiece() []string {
	said, phrase := slices.Clone(s.said), ""
	for i, h := range s.said {
		twice := slices.Contains(s.said[:i], h) || slices.Contains(s.said[i+1:], h)
		if key, is := s.set.Guess(h); key != "" && is != "" {
			phrase = is
		} else if twice && h != "" && phrase != "" {
			said[i] = phrase + " " + h
		}
	}
	return said
}

// isLevel is true of a row below a header that says units, or what was measured: it has no number, and half of what it
// says at least is one of these.
func (s *shape) isLevel(row, above []string) bool {
	if len(row) > len(above)+3 { // the last header may stand for several columns
		return false
	}
	if len(row) > 0 && s.practice(row[0]) { // a row of its own, whatever is not known of it
		return false
	}
	all, filled := 0, 0
	for _, text := range row {
		if _, _, ok := measured(text); ok && text != "" {
			return false
		}
		if text == "" || gloss.Blank(text) {
			continue
		}
		filled++
		t := headed(plainHeader(text))
		if t.Way != "" || text == "%" || strings.HasPrefix(text, "(") && strings.HasSuffix(text, ")") ||
			t.Column != "" && columnOf(t.Column).Kind.Numeric() {
			all++
		}
	}
	return all > 0 && 2*all >= filled && len(above) >= 2 && !sameLetter(row)
}

// sameLetter is true of a row that says one letter again and again behind its first cell: it names, and says nothing
// that is measured.
func sameLetter(row []string) bool {
	said := slices.DeleteFunc(slices.Clone(row[min(1, len(row)):]), func(text string) bool { return text == "" })
	return len(said) >= 2 && len(said[0]) == 1 && gloss.Plain(said[0]) != "" && len(slices.Compact(said)) == 1
}

// isGroups is true of a row above a header that says which practice the columns below it are of, or tells apart those
// that are called the same.
func (s *shape) isGroups(row, below []string) bool {
	practices, names := 0, 0
	for i, text := range row {
		if s.practice(text) {
			practices++
		}
		if _, _, number := measured(text); i > 0 && text != "" && !number {
			names++
		}
	}
	twice := false
	for i, text := range below {
		twice = twice || text != "" && slices.Contains(below[:i], text)
	}
	return (practices >= 2 || twice && (practices == 1 || names >= 2)) && !sameLetter(below)
}

// stacked puts two rows of a header together. What stands in the upper holds for the blank ones behind it too, where
// the lower needs it: it stands more than once, or practice is true of the upper.
func stacked(upper, lower []string, practice func(word string) bool) []string {
	said := make([]string, max(len(upper), len(lower)))
	group := ""
	alone := func(i int) bool {
		low := lower[i]
		return !practice(group) && !slices.Contains(lower[:i], low) && !slices.Contains(lower[i+1:], low)
	}
	for i := range said {
		up, low := "", ""
		if i < len(upper) {
			up = upper[i]
		}
		if i < len(lower) {
			low = lower[i]
		}
		switch {
		case up != "":
			group = up
		case low == "":
			group = ""
		case !alone(i):
			up = group
		}
		said[i] = strings.TrimSpace(up + " " + low)
		if gloss.Fold(up) == gloss.Fold(low) {
			said[i] = up
		}
	}
	return said
}

// letters gives a header to a column without one that holds the letters of a test of the means before it.
func (s *shape) letters() {
	for i := 1; i < len(s.said); i++ {
		some := false
		var units []string
		others := slices.ContainsFunc(s.records, func(r *record) bool {
			if i >= len(r.cells) || r.cells[i].text == "" {
				return false
			}
			some = true
			units = append(units, r.cells[i].text)
			return !lettered.MatchString("1" + r.cells[i].text)
		})
		// One letter again and again is a unit, but where all means are alike.
		if units = slices.Compact(units); len(units) == 1 && units[0] != "a" {
			continue
		}
		before := headed(plainHeader(s.said[i-1]))
		if before.Column != "" && !columnOf(before.Column).Kind.Numeric() { // no mean, of which there is a test
			continue
		}
		if s.said[i] == "" && s.said[i-1] != "" && some && !others {
			s.said[i] = s.said[i-1] + lettersMark
		}
	}
}

// second leaves out a second table below the first, with a header of its own that names some columns of the first.
func (s *shape) second() {
	at := slices.IndexFunc(s.records, func(r *record) bool {
		row, same, numbers := texts(r), 0, false
		for i, text := range row {
			if _, _, ok := measured(text); ok {
				numbers = true
			}
			if i < len(s.said) && text != "" && gloss.Fold(text) == gloss.Fold(s.said[i]) {
				same++
			}
		}
		return same >= 2 && !numbers && !s.again(r) && s.may(row) >= 3
	})
	if at <= 0 {
		return
	}
	row := s.records[at].row
	if filledCells(texts(s.records[at-1])) == 1 { // its title
		at--
	}
	for _, r := range s.records[at:] {
		s.below = append(s.below, r.stood...)
	}
	s.records = s.records[:at]
	s.note(note.New("a second table begins in row %d, with a header of its own, and is not read; take it in by itself",
		row))
}

// turn turns a table round whose headers stand in its first column, or that has a column a study and a row a practice.
func (s *shape) turn() {
	if len(s.records) < 2 || len(s.records) > 100 || len(s.said) < 2 || s.ours(s.said) >= 3 {
		return
	}
	first := []string{s.said[0]}
	practices, numbers, cells, others := map[string]bool{}, 0, 0, false
	for _, r := range s.records {
		row := texts(r)
		if len(row) == 0 || row[0] == "" {
			first = append(first, "")
			continue
		}
		first = append(first, row[0])
		if key, _ := s.set.Guess(row[0]); key != "" {
			practices[string(key)] = true
		} else if !s.sums(row[0]) {
			others = true
		}
		for _, text := range row[1:] {
			if _, _, ok := measured(text); ok {
				numbers++
			}
			if text != "" {
				cells++
			}
		}
	}
	corner := s.said[0]
	down := s.may(first)
	if len(slices.Compact(slices.Sorted(slices.Values(first)))) < len(first) {
		down = 0 // no headers stand twice
	}
	switch {
	case len(practices) >= 2 && 2*numbers > cells && !others && !s.measures(s.said[1:]):
		s.withoutSums()
		first = first[:1]
		for _, r := range s.records {
			first = append(first, texts(r)[0])
		}
		corner = "study"
		if !slices.ContainsFunc(s.said[1:], func(h string) bool {
			_, bare := seasonOf(h, true)
			return h != "" && !bare
		}) {
			corner = "season"
		}
	case down >= 3 && down > s.may(s.said) && s.may(s.said) < 3:
		if corner == "" {
			corner = "study"
		}
	default:
		return
	}
	first[0] = corner
	var records []*record
	for k, header := range s.said[1:] {
		r := &record{row: s.row, turned: header, cells: []cell{{text: header, row: s.row}}}
		some := false
		for _, from := range s.records {
			c := cell{row: from.row}
			if k+1 < len(from.cells) {
				c.text = from.cells[k+1].text
			}
			some = some || c.text != ""
			r.lost = r.lost || from.lost
			r.cells = append(r.cells, c)
		}
		if some {
			records = append(records, r)
		}
	}
	s.note(note.New("this table is read down: each of its columns is a row"))
	s.above = nil
	s.said, s.records = first, records
}

// withoutSums leaves out of a table of practices by seasons the row and the column that sum it up.
func (s *shape) withoutSums() {
	sums := s.sums
	var out []string
	s.records = slices.DeleteFunc(s.records, func(r *record) bool {
		is := len(r.cells) == 0 || sums(r.cells[0].text)
		if is && len(r.cells) > 0 {
			out = append(out, r.cells[0].text)
		}
		return is
	})
	for i := len(s.said) - 1; i > 0; i-- {
		if !sums(s.said[i]) {
			continue
		}
		out = append(out, s.said[i])
		s.said = slices.Delete(s.said, i, i+1)
		for _, r := range s.records {
			if i < len(r.cells) {
				r.cells = slices.Delete(r.cells, i, i+1)
			}
		}
	}
	if len(out) > 0 {
		s.note(note.New("rows and columns that sum others up are left out: %s", strings.Join(out, ", ")))
	}
}

// measures is true of headers of which one stands for a number that was measured.
func (s *shape) measures(headers []string) bool {
	return slices.ContainsFunc(headers, func(h string) bool {
		t := headed(plainHeader(h))
		if t.Column == "" {
			t = alike(plainHeader(h))
		}
		return t.Column != "season" && columnOf(t.Column).Kind.Numeric() && t.Column != ""
	})
}

// averaging are words, plain, that say in the place of a practice too that a row sums up others.
var averaging = []string{"total", "totals", "totaux", "subtotal", "sous total", "grand total", "total general", "mean",
	"means", "average", "averages", "grand mean", "overall", "overall mean", "moyenne", "moyennes", "moyenne generale",
	"median", "mediane"}

// summing are words, plain, at the head of a row that sums up others.
var summing = slices.Concat(averaging, []string{"sum", "sums", "somme", "sommes", "avg", "moy", "ensemble", "sd", "std",
	"std dev", "standard deviation", "ecart type", "se", "sem", "standard error", "erreur type", "cv", "cv %", "lsd",
	"lsd 0 05", "ppds", "p", "p value", "valeur p", "valeur de p", "min", "max", "minimum", "maximum", "count", "n"})

// sums is true of what stands at the head of a row, or of a column, that sums up others. CV is a check valve, unless it
// is in percent or other statistics stand at the heads of rows.
func (s *shape) sums(text string) bool {
	if plain := gloss.Plain(text); plain != "cv" {
		return slices.Contains(summing, plain)
	}
	return strings.Contains(text, "%") || s.statistics || !s.practice(text)
}

// statistic is true of a row headed by a statistic other than a mean or a coefficient of variation.
func statistic(r *record) bool {
	i := slices.IndexFunc(r.cells, func(c cell) bool { return c.text != "" })
	if i < 0 {
		return false
	}
	plain := gloss.Plain(r.cells[i].text)
	return plain != "cv" && len(plain) > 1 && slices.Contains(summing, plain) && !slices.Contains(averaging, plain)
}

// without leaves out the rows that sum others up, headers that stand again, and remarks below the table.
func (s *shape) without() {
	lacks := map[int]bool{} // columns that every row must fill
	of := -1                // that of practices
	for i, name := range s.columns(s.said) {
		if name == "practice" {
			of = i
		}
		c, _ := column.Find(ofTrials, name)
		lacks[i] = s.plain && c.Needed || !s.plain && columnOf(name).Needed
	}
	sums := func(r *record) bool {
		i := slices.IndexFunc(r.cells, func(c cell) bool { return c.text != "" })
		lacking := slices.ContainsFunc(s.said, func(h string) bool {
			k := slices.Index(s.said, h)
			return lacks[k] && (k >= len(r.cells) || r.cells[k].text == "")
		})
		if i < 0 || r.turned != "" {
			return false
		}
		if of >= 0 && of < len(r.cells) && slices.Contains(averaging, gloss.Plain(r.cells[of].text)) {
			return true // a mean or total in the place of a practice
		}
		return lacking && s.sums(r.cells[i].text)
	}
	remark := func(r *record) bool {
		row := texts(r)
		text := strings.Join(row, "")
		_, _, number := measured(text)
		return r.turned == "" && !s.plain && len(s.said) >= 3 && filledCells(row) == 1 && !number && !gloss.Blank(text)
	}
	var out []string
	last := len(s.records)
	for last > 0 && (remark(s.records[last-1]) || sums(s.records[last-1])) {
		last--
	}
	kept, above, below := s.records[:0:0], s.above, s.below
	for i, r := range s.records {
		if i >= last || sums(r) || s.again(r) {
			at := slices.IndexFunc(r.cells, func(c cell) bool { return c.text != "" })
			out = append(out, strconv.Itoa(r.row)+" ("+shorten(r.cells[at].text)+")")
			switch {
			case i >= last:
				below = append(below, r.stood...)
			case len(kept) > 0:
				kept[len(kept)-1].stood = append(kept[len(kept)-1].stood, r.stood...)
			default:
				above = append(above, r.stood...)
			}
			continue
		}
		kept = append(kept, r)
	}
	if len(kept) == 0 || len(out) == 0 {
		return
	}
	s.records, s.below = kept, below
	if s.above != nil {
		s.above = above
	}
	s.note(note.New("rows that sum others up, say the header again or hold a remark are left out: %s",
		strings.Join(out[:min(len(out), 8)], ", ")))
}

// unnumber leaves out a column without a header that numbers the rows.
func (s *shape) unnumber() {
	if len(s.said) < 2 || s.said[0] != "" || len(s.records) == 0 {
		return
	}
	first, err := strconv.Atoi(s.records[0].cells[0].text)
	for i, r := range s.records {
		if n, bad := strconv.Atoi(r.cells[0].text); err != nil || bad != nil || n < first+i {
			return
		}
	}
	s.said = s.said[1:]
	for _, r := range s.records {
		r.cells = r.cells[1:]
	}
}

// What stands behind a number in its cell gets a column of its own, headed by one of these.
const (
	spreadMark  = " ±"
	lowMark     = ": low"
	highMark    = ": high"
	countMark   = ": n"
	lettersMark = ": letters"
	testMark    = ": p"
	writtenMark = ": as written"
)

// someLetters are those of a test of means, which join what cannot be told apart: a, ab, a-c, A, b,c.
const someLetters = `(?:[a-k](?:[,/\-–]? ?[a-k]){0,4}|[A-K](?:[,/\-–]? ?[A-K]){0,4})`

const aNumber = `[-+−]?\d[\d.,'’ \x{a0}\x{202f}]*`

var (
	lettered = regexp.MustCompile(`^(.*\d\)?)\s*(` + someLetters + `|\(` + someLetters + `\)|\(?(?i:n\.?s\.?)\)?|` +
		`[ᵃᵇᶜᵈᵉᶠᵍʰ](?:[,\-–]?[ᵃᵇᶜᵈᵉᶠᵍʰ]){0,3}|\*{1,3}|[¹²³⁴⁵⁶⁷⁸⁹†‡§]{1,3})$`)
	roughly = regexp.MustCompile(`(?i)^(?:~|≈|≃|±|c\.|ca\.?|circa|env\.?|environ|about|approx\.?)\s*(\d.*)$`)
	plusOr  = regexp.MustCompile(`^(` + aNumber + `\S*(?: [^\d±+]+)?)\s*(?:±|\+/-|\+-|\+/−)\s*(` + aNumber + `.*)$`)
	inside  = regexp.MustCompile(`^(` + aNumber + `[^()\[\]]*?)\s*[(\[](.+)[)\]]$`)
	ranged  = regexp.MustCompile(`^(` + aNumber + `)\s*%?\s*(?:–|—|\bto\b|\bà\b|-|;)\s*(` + aNumber + `)\s*%?$`)
	// of a paper's or a page's note, right behind its number
	squared  = regexp.MustCompile(`\[([^\[\]]*)\]$`)
	footnote = regexp.MustCompile(`\d\[[1-9]\d?\]$`)
	tested   = regexp.MustCompile(`(?i)^p\s*[<>=≤≥]`)
	counted  = regexp.MustCompile(`(?i)^n\s*=?\s*(\d+)$`)
	limits   = regexp.MustCompile(`\b(ci|ic|interval|intervalle|range|limits|limites|bornes|95)\b`)
)

// footnotes is true of a column whose numbers in square brackets are those of notes: they count from 1 and few numbers
// have one, or another column tells the spreads. One that is none makes all of them spreads, which are asked.
func (s *shape) footnotes(i int, names []string) bool {
	if base, _ := s.apart(s.said[i]); base != s.said[i] {
		return false // which it says itself
	}
	last, have, filled, inOrder := 0, 0, 0, true
	for _, r := range s.records {
		if i >= len(r.cells) || r.cells[i].text == "" {
			continue
		}
		filled++
		m := squared.FindStringSubmatch(r.cells[i].text)
		if m == nil {
			continue
		}
		if !footnote.MatchString(r.cells[i].text) {
			return false
		}
		n, _ := strconv.Atoi(m[1])
		inOrder = inOrder && n <= last+1
		have, last = have+1, max(last, n)
	}
	others := slices.Concat(names[:i], names[i+1:])
	return inOrder && 2*have <= filled || slices.ContainsFunc(others, func(name string) bool {
		return name == "sd" || name == "se" || name == "gain_se_pct"
	})
}

// parted is what a cell says beside its number, by the mark of the column that it gets; "" is the number. Notes is true
// where a number in square brackets right behind it is that of a note.
func parted(text string, limits, notes bool) map[string]string {
	all := map[string]string{}
	if m := roughly.FindStringSubmatch(text); m != nil {
		all[writtenMark], text = text, m[1]
	}
	if m := lettered.FindStringSubmatch(text); m != nil {
		text, all[lettersMark] = m[1], m[2]
	}
	if m := inside.FindStringSubmatch(text); m != nil {
		in := strings.TrimSpace(m[2])
		switch {
		case notes && footnote.MatchString(text):
			text, all[lettersMark] = m[1], "["+in+"]"
		case tested.MatchString(in):
			text, all[testMark] = m[1], in
		case counted.MatchString(in):
			text, all[countMark] = m[1], counted.FindStringSubmatch(in)[1]
		case ranged.MatchString(in):
			r := ranged.FindStringSubmatch(in)
			text, all[lowMark], all[highMark] = m[1], strings.TrimSpace(r[1]), strings.TrimSpace(r[2])
		default:
			if _, _, ok := measured(in); ok {
				text, all[spreadMark] = m[1], in
			}
		}
	}
	if m := lettered.FindStringSubmatch(text); m != nil && all[lettersMark] == "" {
		text, all[lettersMark] = m[1], m[2]
	}
	if m := plusOr.FindStringSubmatch(text); m != nil {
		text, all[spreadMark] = strings.TrimSpace(m[1]), m[2]
		if m := lettered.FindStringSubmatch(text); m != nil && all[lettersMark] == "" {
			text, all[lettersMark] = m[1], m[2]
		}
	}
	if m := ranged.FindStringSubmatch(strings.Trim(text, "()[]")); m != nil && limits {
		return map[string]string{lowMark: strings.TrimSpace(m[1]), highMark: strings.TrimSpace(m[2])}
	}
	if len(all) == 0 {
		return nil
	}
	if _, _, ok := measured(text); !ok {
		return nil
	}
	all[""] = text
	return all
}

var partMarks = []string{"", spreadMark, lowMark, highMark, countMark, lettersMark, testMark, writtenMark}

// part gives what stands beside the numbers of a column a column of its own.
func (s *shape) part() {
	var said []string
	var from [][2]int // the column and the mark of each new one
	cells := make([][]map[string]string, len(s.said))
	names := s.columns(s.said)
	ours := !slices.ContainsFunc(needed(), func(c string) bool { return !slices.Contains(s.said, c) })
	for i, h := range s.said {
		if c := columnOf(names[i]); ours && c.Name == "" || c.Name != "" && !c.Kind.Numeric() || c.Name == "season" {
			said, from = append(said, h), append(from, [2]int{i, -1})
			continue
		}
		isLimits, notes := limits.MatchString(gloss.Plain(h)), s.footnotes(i, names)
		list := make([]map[string]string, len(s.records))
		numbers, filled := 0, 0
		has := map[string]int{}
		for k, r := range s.records {
			if i >= len(r.cells) || r.cells[i].text == "" {
				continue
			}
			text := r.cells[i].text
			filled++
			if list[k] = parted(text, isLimits, notes); list[k] != nil {
				numbers++
				for mark := range list[k] {
					has[mark]++
				}
			} else if _, unit, ok := measured(text); ok && (unit == "" || unit == "%") || ranged.MatchString(text) {
				numbers++
			}
		}
		if has[lettersMark] > 0 && !testOfMeans(columnOf(names[i]).Column, list, numbers) {
			for k, all := range list {
				if !isMark(all[lettersMark]) {
					list[k] = nil
				}
			}
			has = map[string]int{}
			for _, all := range list {
				for mark := range all {
					has[mark]++
				}
			}
		}
		if len(has) == 0 || 2*numbers < filled {
			said, from = append(said, h), append(from, [2]int{i, -1})
			continue
		}
		cells[i] = list
		base, spread := s.apart(h)
		for m, mark := range partMarks {
			switch {
			case has[mark] == 0 && (mark != "" || has[lowMark] > 0 && has[""] == 0):
				continue
			case mark == "":
				said = append(said, base)
			case mark == spreadMark:
				said = append(said, spread)
			default:
				said = append(said, base+mark)
			}
			from = append(from, [2]int{i, m})
		}
		s.note(note.New("what stands beside the numbers under %s has columns of its own", quote(h)))
	}
	if !slices.ContainsFunc(from, func(f [2]int) bool { return f[1] >= 0 }) {
		return
	}
	for k, r := range s.records {
		row := make([]cell, len(from))
		for j, f := range from {
			row[j].row = r.row
			if f[0] >= len(r.cells) {
				continue
			}
			old := r.cells[f[0]]
			switch all := cells[f[0]]; {
			case f[1] < 0 || all != nil && all[k] == nil && partMarks[f[1]] == "":
				row[j] = old
			case all != nil && all[k] != nil:
				row[j] = cell{text: all[k][partMarks[f[1]]], row: old.row, kind: old.kind}
			}
		}
		r.cells = append(row, r.cells[min(len(r.cells), len(s.said)):]...) // what is beyond the header is at fault
	}
	s.said = said
}

// isMark is true of what may stand behind one number alone: a star, a footnote's number, n.s.
func isMark(text string) bool {
	return strings.Trim(text, "*¹²³⁴⁵⁶⁷⁸⁹†‡§") == "" || footnote.MatchString("1"+text) ||
		strings.Trim(strings.ToLower(text), "(ns.)") == ""
}

// testOfMeans is true of a column whose letters are those of a test of means: of something measured, behind half of its
// numbers, and no unit that all of them are in.
func testOfMeans(c column.Column[evidence.Row], list []map[string]string, numbers int) bool {
	if c.Name != "" && !slices.Contains([]string{"mean", "sd", "se", "gain_pct"}, c.Name) {
		return false
	}
	said, rows := map[string]bool{}, 0
	for _, all := range list {
		if letters := all[lettersMark]; !isMark(letters) {
			said[strings.ToLower(letters)] = true
			rows++
		}
	}
	return rows >= 2 && 2*rows >= numbers && (len(said) > 1 || said["a"] || c.Name != "" && (said["b"] || said["c"]))
}

// apart parts a header that says of what its second number is: mean ± SD, mean (SE).
func (s *shape) apart(header string) (base, spread string) {
	for _, sign := range []string{"±", "+/-"} {
		before, behind, ok := strings.Cut(header, sign)
		if before = strings.TrimSpace(before); ok && before != "" {
			unit, closed := "", strings.Count(before, "(") == strings.Count(before, ")")
			if at := strings.IndexAny(behind, "(["); at >= 0 && closed {
				unit = " " + behind[at:]
			}
			return strings.TrimRight(before, "(") + unit, header
		}
	}
	for at := strings.LastIndexAny(header, "(["); at > 0; at = strings.LastIndexAny(header[:at], "([") {
		base, in := strings.TrimSpace(header[:at]), header[at:]
		if end := strings.IndexAny(in, ")]"); end >= 0 {
			base, in = base+in[end+1:], in[:end]
		}
		if spreadOf(in) != "" {
			return base, base + spreadMark + " " + strings.Trim(in, "()[]")
		}
	}
	return header, header + spreadMark
}

// spreadOf is the column of a spread that a text names; "" where it names none.
func spreadOf(text string) string {
	text = gloss.Plain(text)
	for _, name := range []string{"se", "sd"} {
		for _, h := range append([]string{name}, columnOf(name).Headers...) {
			if gloss.Holds(text, h) {
				return name
			}
		}
	}
	return ""
}

// derived is what a header stands for that parts a column, whose own target is given; false where it is none.
func derived(header string, of gloss.Target) (t gloss.Target, told, ok bool) {
	gain := of.Column == "gain_pct"
	if of.Column != "mean" && !gain {
		of = gloss.Target{}
	}
	pick := func(ofMean, ofGain string) string {
		switch {
		case gain:
			return ofGain
		case of.Column != "":
			return ofMean
		}
		return ""
	}
	t = of
	switch _, behind, spread := strings.Cut(strings.ReplaceAll(header, "+/-", "±"), "±"); {
	case spread:
		is := spreadOf(behind)
		t.Column, told = pick(is, "gain_se_pct"), is != ""
		if t.Column == "" {
			t.Column = pick("sd", "gain_se_pct")
		}
	case strings.HasSuffix(header, lowMark):
		t.Column, t.Way = pick("mean_low", "gain_low_pct"), levelIn(header)
	case strings.HasSuffix(header, highMark):
		t.Column, t.Way = pick("mean_high", "gain_high_pct"), levelIn(header)
	case strings.HasSuffix(header, countMark):
		t.Column, t.Way, told = pick("n", ""), "", true
	case strings.HasSuffix(header, lettersMark), strings.HasSuffix(header, testMark),
		strings.HasSuffix(header, writtenMark):
		t, told = gloss.Target{}, true
	default:
		return t, false, false
	}
	switch {
	case t.Column == "":
		t = gloss.Target{}
	case gain:
		t.Way = likeGain(t.Column, of.Way)
	}
	return t, told, true
}

// levelIn is the level of an interval that a header says, in percent; "" where it says none of those that are usual.
func levelIn(header string) string {
	for _, w := range columnOf("mean_low").Ways {
		if gloss.Holds(gloss.Plain(header), w.Is) {
			return w.Key
		}
	}
	return ""
}

// A season as people write it: the year of its spring, a winter of two years, with words beside.
var (
	twoYears   = regexp.MustCompile(`^((?:19|20)\d\d)\s*[-–—/]\s*((?:19|20)?\d\d)$`)
	shortYear  = regexp.MustCompile(`^['’](\d\d)$`)
	oneYear    = regexp.MustCompile(`^((?:19|20)\d\d)(?:\.0+)?$`)
	besideYear = regexp.MustCompile(`(?i)^(?:season|spring|winter|year|saison|printemps|hiver|ann[ée]e)?\s*` +
		`(?:of |de |du )?(.*?)\s*(?:season|spring|saison|printemps)?$`)
	someYear = regexp.MustCompile(`(?:^|[^\d])((?:19|20)\d\d(?:\s*[-–—/]\s*(?:19|20)?\d\d)?)(?:[^\d]|$)`)
)

// seasonOf is the year of the spring that a text says; false where it says none. 2018-2019 may be two seasons: it is
// that of 2019 where winters is true, or a word beside it says so.
func seasonOf(text string, winters bool) (year string, ok bool) {
	text = strings.TrimSpace(text)
	if m := besideYear.FindStringSubmatch(text); m != nil && m[1] != "" && m[1] != text {
		text, winters = m[1], true
	}
	if m := shortYear.FindStringSubmatch(text); m != nil {
		return strconv.Itoa(century(m[1])), true
	}
	if m := oneYear.FindStringSubmatch(text); m != nil {
		return m[1], true
	}
	if m := twoYears.FindStringSubmatch(text); m != nil {
		first, _ := strconv.Atoi(m[1])
		second := m[2]
		if len(second) == 2 {
			second, winters = strconv.Itoa(first + 1)[:2]+second, true
		}
		if n, _ := strconv.Atoi(second); n == first+1 && winters {
			return second, true
		}
	}
	return "", false
}

// Springs are the seasons that a text names or spans, none where there are more than mostSprings.
func Springs(text string) (years []string) {
	all := fourDigits.FindAllString(text, mostSprings)
	if m := twoYears.FindStringSubmatch(strings.TrimSpace(text)); m != nil {
		first, _ := strconv.Atoi(m[1])
		last, _ := strconv.Atoi(m[1][:4-len(m[2])] + m[2])
		for y := first; y <= last && last-first < mostSprings; y++ {
			years = append(years, strconv.Itoa(y))
		}
		return years
	}
	for _, y := range all {
		if !slices.Contains(years, y) {
			years = append(years, y)
		}
	}
	return years
}

const mostSprings = 40

var fourDigits = regexp.MustCompile(`\b(?:19|20)\d\d\b`)

// yearIn is the one season that a name says, and the name without it; false where it says none or several.
func yearIn(name string) (year, rest string, ok bool) {
	all := someYear.FindAllStringSubmatchIndex(name, -1)
	if len(all) != 1 {
		return "", "", false
	}
	from, to := all[0][2], all[0][3]
	year, ok = seasonOf(name[from:to], false)
	return year, strings.Trim(name[:from]+name[to:], " -–—_/,;:()"), ok
}
