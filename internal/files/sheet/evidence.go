package sheet

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// What numbers of several files may be.
var (
	spring = column.Spring
)

// Evidence reads an evidence table from the bytes of a CSV file: practices are those that a row may name, words what is
// settled of its headers and words. The error is a note.Faults with everything that is wrong; then no study is
// returned.
func Evidence(file string, data []byte, practices practice.Set,
	words gloss.Glossary) ([]evidence.Study, note.List, error) {
	f := new(faults)
	studies, warnings, _ := readEvidence(file, data, practices, words, f)
	f.hints = nil // who calls shows the table itself
	if err := f.err(); err != nil {
		return nil, warnings, err
	}
	return studies, warnings, nil
}

// readEvidence reads a table by what is settled of its headers and words. What is not is a fault, and the last of them
// says how to settle it.
func readEvidence(file string, data []byte, practices practice.Set, words gloss.Glossary,
	f *faults) ([]evidence.Study, note.List, []*record) {
	h, records := table(file, data, known(), evidenceWords(words, practices), f)
	if h == nil {
		return nil, nil, nil
	}
	if held, told := h.holds(); f.instead(held, told, studiesHeld, h.where()) {
		return nil, nil, nil
	}
	if len(h.names) == 1 && !known()[h.names[0]] {
		f.add(note.New("the header is one column, %s; allowed: columns with a comma, a semicolon or a tab between",
			quote(h.names[0])).At(h.where()))
		return nil, nil, nil
	}
	grid := gridOf(h, records)
	read := func(guess bool) (Meant, []evidence.Study, note.List, *faults) {
		found := new(faults)
		m := understand(grid.Columns, grid.Rows, words, practices, byte(grid.Mark), guess)
		studies, warnings := m.studies(h, records, practices, found)
		typed := grid.Typed(m, words)
		for i := range studies {
			studies[i].Typed = typed[studies[i].Name]
		}
		return m, studies, append(h.notes, warnings...), found
	}
	m, studies, warnings, found := read(false)
	if found.count() == 0 && len(warnings) == 0 {
		return studies, warnings, m.records(h, records, found)
	}
	guessed, _, _, open := read(true)
	n, ok := guessed.mappable()
	n = n.At(note.Where{File: h.file})
	switch {
	case found.count() == 0 && ok:
		f.hints = append(f.hints, n)
	case found.count() == 0:
	case ok && (len(m.Lacking()) > 1 || guessed.Wide && !m.Wide) && len(guessed.Lacking()) == 0:
		f.add(note.New("this table has headers and words of its own; it is read by what is guessed below, if that is " +
			"right").At(h.where()))
		f.join(open)
		f.hints = append(f.hints, n)
	default:
		if n := len(guessed.Lacking()); ok && n > 0 && n < len(m.Lacking()) {
			found = open
		}
		f.join(found)
		if ok {
			f.hints = append(f.hints, n)
		}
	}
	return studies, warnings, m.records(h, records, found)
}

// records are the rows as they are meant, each where it stands in the file.
func (m Meant) records(h *head, of []*record, f *faults) []*record {
	meant := newHead(m.Columns)
	meant.file, meant.sheet, meant.row, meant.said, meant.foreign = h.file, h.sheet, h.row, m.Headers, true
	for i, c := range m.Columns { // what several headers stand for has the name of none
		if slices.ContainsFunc(m.Targets, func(t gloss.Target) bool { return t.Column == c && t.Practice != "" }) {
			meant.said = slices.Clone(meant.said)
			meant.said[i] = ""
		}
	}
	list := make([]*record, len(m.Rows))
	for i, row := range m.Rows {
		from := of[m.From[i][0]]
		r := &record{file: from.file, sheet: from.sheet, row: from.row, head: meant, faults: f,
			lost: from.lost || m.lost[i], cells: make([]cell, len(row))}
		for k, text := range row {
			r.cells[k] = cell{text: text, row: from.row}
		}
		if from.turned != "" || m.Wide {
			r.columns = m.places(h, from, r.text("practice"))
		}
		list[i] = r
	}
	return list
}

// Derived says what of the columns that the table lacks is told by others, and which rows say nothing.
func (m Meant) Derived() (said note.List) {
	if n := m.Unmeasured; n > 0 {
		said = append(said, note.New("%d rows are left out: what was measured is not known there", n))
	}
	if _, lacks := m.lacks[evidence.Sugar]; m.syrup != "" && !lacks {
		switch sugar := m.made == "sugar"; {
		case sugar && m.sweet != "":
			said = append(said,
				note.New("what stands under %s is sugar: it is read as the sap that holds it, as %s says",
					quote(m.syrup), quote(m.sweet)))
		case sugar:
			said = append(said,
				note.New("what stands under %s is sugar: it is read as the sap that holds it, of %v °Bx",
					quote(m.syrup), m.brix))
		case m.sweet != "":
			said = append(said, note.New("what stands under %s is syrup of %v °Bx: it is read as the sap that holds "+
				"its sugar, as %s says", quote(m.syrup), evidence.SyrupBrix, quote(m.sweet)))
		default:
			said = append(said, note.New("what stands under %s is syrup of %v °Bx: it is read as the sap that holds "+
				"its sugar, of %v °Bx", quote(m.syrup), evidence.SyrupBrix, m.brix))
		}
	}
	if n := len(m.Few); n > 0 {
		said = append(said, note.New("units that have fewer readings than others of their study are summed over those "+
			"that they have: %s", note.Some(m.Few)))
	}
	for _, t := range m.Told {
		switch {
		case t.From == "":
			said = append(said, note.New("no header names the study: each is called by its site and season"))
		case t.Column == "season":
			said = append(said, note.New("no header names the season: it is taken from what stands under %s",
				quote(t.From)))
		default:
			said = append(said, note.New("no header names the site: it is taken from what stands under %s",
				quote(t.From)))
		}
	}
	return said
}

// theirs is true of a table that somebody else headed.
func (m Meant) theirs() bool {
	return slices.ContainsFunc(m.Headers, func(h string) bool {
		_, ours := ourHeader(h)
		return h != "" && !ours
	}) && slices.ContainsFunc(m.Targets, func(t gloss.Target) bool {
		return t.Column == "practice" || t.Practice != ""
	})
}

// places are where the values of a row stand in a table that is read down, or that has a column a practice.
func (m Meant) places(h *head, from *record, practice string) map[string]note.Where {
	at := map[string]note.Where{}
	for i, t := range m.Targets {
		if i >= len(from.cells) || t.Column == "" || t.Practice != "" && t.Practice != practice {
			continue
		}
		w := note.Where{File: h.file, Sheet: h.sheet, Row: from.cells[i].row, Column: h.said[i]}
		if from.turned != "" {
			w.Column = from.turned
		}
		at[t.Column] = w
	}
	return at
}

// studies reads the rows of a table as they are meant.
func (m Meant) studies(h *head, of []*record, practices practice.Set, f *faults) ([]evidence.Study, note.List) {
	for _, t := range m.twice {
		at := h.where()
		at.Column = h.said[t[1]]
		f.add(note.New("%s and %s both stand for %s; allowed: each column once", quote(h.said[t[0]]),
			quote(h.said[t[1]]), m.Targets[t[0]].String()).At(at))
	}
	for _, a := range m.Asked {
		at := h.where()
		at.Column = a.Said
		switch _, _, part := derived(a.Said, gloss.Target{}); {
		case m.guessed:
		case a.Of == gloss.Blanks:
			at.Row = of[a.first].row
			f.add(note.New("nothing is given here, which is needed (rows: %d); allowed: a value in each, or to say "+
				"that a blank cell means what stands above it", a.Rows).At(at))
		case a.Of == gloss.Repeats:
			f.add(note.New("a practice of a study stands in several rows (rows: %d); allowed: one row each, or to say "+
				"that each is one unit, or one reading of a unit", a.Rows).At(at))
		case a.Of == gloss.Ranges:
			at.Row = of[a.first].row
			f.add(note.New("%s is a range and no number (rows: %d); allowed: one number in each, the ends of an "+
				"interval in columns of their own, or to say that a range means its middle, in a TOML file that is "+
				"read with the table: %s", quote(a.Seen[0]), a.Rows, "[ranges] middle = "+quote(a.Said)).At(at))
		case a.Of == gloss.Places:
			f.add(note.New("one name of a place stands beside several of these (rows: %d); allowed: to say whether "+
				"they are places apart, or one", a.Rows).At(at))
		case a.Of == gloss.Columns && a.Means == "":
			f.add(note.New("this may be a practice of its own; allowed: to say which, or that the column is kept " +
				"as a note").At(at))
		case part && a.Of == gloss.Columns && a.Means != gloss.Note:
			f.add(note.New("the numbers here may be standard deviations or standard errors; allowed: to say " +
				"which").At(at))
		}
	}
	lacking := m.Lacking()
	for _, name := range lacking {
		n := note.New("the column %s is missing; needed: %s", name, strings.Join(needed(), ", "))
		if m.theirs() {
			if name == "study" && len(lacking) > 1 {
				continue // it is called by what is lacking too
			}
			if name == "mean" {
				f.add(note.New("no header stands for the yield, nor for the gain; needed: one of them").At(h.where()))
				continue
			}
			n = note.New("no header stands for %s; where it is one for all rows, a TOML file that is read with the "+
				"table says so: %s", name, "[rows] "+name+" = \"…\"")
		}
		if name == evidence.Sugar && m.sweet != "" {
			at := h.where()
			at.Row, at.Column = of[m.lacks[name]].row, m.sweet
			f.add(note.New("no sugar of sap stands here, by which syrup is read as sap; allowed: 0.3 to 15 °Bx in "+
				"each row, or one that counts where it is blank, in a TOML file that is read with the table: %s",
				"[rows] "+name+" = \"…\"").At(at))
			continue
		}
		if near := note.Near(name, h.names); near != "" && !known()[near] {
			n = note.New("the column %s is missing; is it the one called %s? Needed: %s", name, quote(near),
				strings.Join(needed(), ", "))
		}
		f.add(n.At(h.where()))
	}
	if len(lacking) > 0 || len(m.twice) > 0 {
		return nil, nil
	}
	if len(of) == 0 {
		f.missing(note.New("there is a header and no row below it; allowed: one row an arm").
			At(note.Where{File: h.file, Sheet: h.sheet}))
		return nil, nil
	}
	warnings, extra := m.notes(h, of, f)
	for _, n := range m.Derived() {
		warnings = append(warnings, n.At(h.where()))
	}
	g := gather{faults: f, practices: practices, at: map[string]int{}, looked: map[evidence.Caveat]bool{}}
	for _, r := range m.records(h, of, f) {
		g.row(r, extra)
	}
	for i := range g.studies {
		g.finish(&g.studies[i])
	}
	studies := make([]evidence.Study, len(g.studies))
	for i := range g.studies {
		studies[i] = g.studies[i].Study
	}
	return studies, append(warnings, g.warnings...)
}

// notes are the columns that are kept as such, and the warnings that name those which nobody settled.
func (m Meant) notes(h *head, of []*record, f *faults) (warnings note.List, extra []string) {
	var odd []string
	for i, name := range m.Columns {
		switch {
		case known()[name]:
			continue
		case name == "":
			if slices.ContainsFunc(of, func(r *record) bool { return i < len(r.cells) && r.cells[i].text != "" }) {
				f.add(note.New("column %d has values and no name; allowed: a name for every column", i+1).At(h.where()))
			}
			continue
		}
		extra = append(extra, name)
		asked := func(a Asked) bool { return a.Of == gloss.Columns && a.Said == m.Headers[i] }
		if !slices.ContainsFunc(m.Asked, asked) || name == remarksColumn {
			continue // it is settled, or ours
		}
		others := slices.DeleteFunc(columnNames(), func(n string) bool { return slices.Contains(m.Columns, n) })
		if near := note.Near(name, others); near != "" {
			warnings = append(warnings,
				note.New("the column %s is not known and is kept as a note; did you mean %s?", quote(name), near).
					At(note.Where{File: h.file, Sheet: h.sheet, Row: h.row, Column: name}))
		} else {
			odd = append(odd, quote(name))
		}
	}
	if len(odd) > 0 {
		warnings = append(warnings,
			note.New("columns that are not known are kept as notes: %s", strings.Join(odd, ", ")).At(h.where()))
	}
	return warnings, extra
}

func columnNames() []string {
	names := make([]string, len(evidence.Columns))
	for i, c := range evidence.Columns {
		names[i] = c.Name
	}
	return names
}

// known are the columns of an evidence table, by name.
func known() map[string]bool {
	m := map[string]bool{}
	for _, c := range evidence.Columns {
		m[c.Name] = true
	}
	return m
}

// needed are the columns that every row fills.
func needed() []string {
	var names []string
	for _, c := range evidence.Columns {
		if c.Needed {
			names = append(names, c.Name)
		}
	}
	return names
}

// gather puts the rows of one study together.
type gather struct {
	faults    *faults
	practices practice.Set
	studies   []study
	at        map[string]int // index into studies by name
	warnings  note.List
	looked    map[evidence.Caveat]bool // caveats whose spelling was looked at
}

// study is one being gathered.
type study struct {
	evidence.Study
	said map[string]said // what its rows say of the study as a whole
	bad  bool            // a row is at fault: what its arms lack is not judged
}

type said struct {
	text string
	row  int
}

func (g *gather) row(r *record, extra []string) {
	before := g.faults.count()
	ok := true
	for _, c := range evidence.Columns {
		ok = (!c.Needed || r.need(c.Name)) && ok
	}
	name := r.text("study")
	if name == "" {
		return
	}
	i, have := g.at[name]
	if !have {
		i = len(g.studies)
		g.at[name] = i
		g.studies = append(g.studies, study{Study: evidence.Study{Where: r.where("study")}, said: map[string]said{}})
	}
	s := &g.studies[i]
	arm := evidence.Arm{Where: note.Where{File: r.file, Sheet: r.sheet, Row: r.row}}
	var limits evidence.Limits
	into := evidence.Row{Study: &s.Study, Arm: &arm, Limits: &limits}
	for _, c := range evidence.Columns {
		if c.Name == "mean_unit" && !r.has("mean") {
			continue
		}
		if text := r.text(c.Name); c.Name == "gain_pct" && saidGain.MatchString(text) {
			arm.Said = text
			continue
		}
		var v any
		if r.has(c.Name) {
			v = valueOf(r, c.Column, g.practices)
		}
		switch {
		case v == nil && c.Name != "mean_unit":
		case !c.Once:
			c.Set(into, v)
		case v == nil && arm.Mean == nil: // which is at fault
		case v == nil: // a mean without a unit: all of the study have none
			g.same(s, r, c.Name, noUnit)
		case g.same(s, r, c.Name, fmt.Sprint(v)):
			c.Set(into, v)
		}
		if c.Twin != "" && r.has(c.Name) && r.has(c.Twin) {
			r.fault(c.Name, note.New("this is given twice, as %s and as %s; allowed: one of them in a row", c.Twin,
				c.Name))
		}
	}
	g.spelling(r)
	g.limits(r, limits, &arm)
	g.whole(s, r, &arm)
	for _, name := range extra {
		if text := r.text(name); text != "" {
			if arm.Extra == nil {
				arm.Extra = map[string]string{}
			}
			arm.Extra[name] = text
		}
	}
	if g.faults.count() > before || !ok || r.lost {
		s.bad = true
	}
	s.Arms = append(s.Arms, arm)
}

// noUnit is what a mean without a unit says of it: that is something to contradict, unlike what is left empty.
const noUnit = "none"

// same is true where a row says of its study what the rows before it said.
func (g *gather) same(s *study, r *record, key, text string) bool {
	if text == "" {
		return false
	}
	before, have := s.said[key]
	if !have {
		s.said[key] = said{text, r.row}
		return true
	}
	if before.text == text {
		return true
	}
	switch {
	case text == noUnit:
		r.fault(key, note.New("nothing stands here and %s in row %d, in the same study %s; allowed: one unit for all "+
			"means of a study",
			quote(before.text), note.Row(before.row), quote(s.Name)))
	case before.text == noUnit:
		r.fault(key, note.New("%s stands here and nothing in row %d, in the same study %s; allowed: one unit for all "+
			"means of a study",
			quote(text), note.Row(before.row), quote(s.Name)))
	case key == "season":
		r.fault(key, note.New("%s stands here and %s in row %d, in the same study %s; allowed: one season a study "+
			"(name each season's study apart and give them one name in the column trial)",
			quote(text), quote(before.text), note.Row(before.row), quote(s.Name)))
	default:
		r.fault(key, note.New("%s stands here and %s in row %d, in the same study %s; allowed: one value a study",
			quote(text), quote(before.text), note.Row(before.row), quote(s.Name)))
	}
	return false
}

// spelling warns of caveats that are nearly those of the tool.
func (g *gather) spelling(r *record) {
	for _, c := range evidence.ParseCaveats(r.text("caveats")) {
		if g.looked[c] {
			continue // said once is enough
		}
		g.looked[c] = true
		if near := note.Near(string(c), evidence.CaveatKeys()); near != "" && near != string(c) {
			g.warnings = append(g.warnings,
				note.New("the caveat %s is taken as your own; did you mean %s?", quote(string(c)), near).
					At(r.where("caveats")))
		}
	}
}

// limits takes the standard error from the interval of a mean.
func (g *gather) limits(r *record, l evidence.Limits, a *evidence.Arm) {
	if l.Low == nil && l.High == nil {
		return
	}
	switch {
	case !r.has("mean"):
		r.fault("mean_low", note.New("the ends of an interval are given without its mean; allowed: beside a mean"))
	case r.has("sd") || r.has("se"):
		r.fault("mean_low", note.New("an interval is given beside an sd or se; allowed: one of them"))
	case !r.has("mean_low") || !r.has("mean_high"):
		r.fault("mean_low", note.New("one end of the interval is given without the other; allowed: both or neither"))
	case !r.has("level"):
		r.fault("mean_low", note.New("nothing says of which level this interval is; allowed: 95 in a column level, or "+
			"what it is"))
	case l.Low == nil || l.High == nil || l.Level == nil || a.Mean == nil: // at fault
	case !(*l.Low < *a.Mean && *a.Mean < *l.High):
		r.fault("mean_low", note.New("the mean, %v, does not lie between the ends of its interval, %v and %v; "+
			"allowed: one end below it and one above", *a.Mean, *l.Low, *l.High))
	default:
		a.SE = l.SE(a.N)
	}
}

// whole judges a row as a whole.
func (g *gather) whole(s *study, r *record, a *evidence.Arm) {
	if !a.Tapped.IsZero() && !a.LastRun.IsZero() && a.LastRun.Before(a.Tapped.Time) {
		r.fault("last_run", note.New("the last run, %s, comes before tapping, %s; allowed: a day after it",
			r.text("last_run"), r.text("tapped")))
	}
	if year := s.Season; year != 0 {
		for _, d := range []struct {
			key string
			day time.Time
		}{{"tapped", a.Tapped.Time}, {"last_run", a.LastRun.Time}} {
			if y := d.day.Year(); !d.day.IsZero() && (y < year-1 || y > year) {
				r.fault(d.key, note.New("%s does not belong to the season %d; allowed: a day of that year, or of the "+
					"winter before", quote(r.text(d.key)), year))
			}
		}
	}

	if a.Gain != nil {
		pct, low, high := a.Gain.Pct, a.Gain.LowPct, a.Gain.HighPct
		switch {
		case r.has("gain_low_pct") != r.has("gain_high_pct"):
			r.fault("gain_low_pct", note.New("one end of the interval is given without the other; allowed: both "+
				"gain_low_pct and gain_high_pct, or neither"))
		case low != nil && high != nil && *low >= *high:
			r.fault("gain_low_pct", note.New("the low end, %v, is not below the high end, %v; allowed: low below high",
				*low, *high))
		case low != nil && high != nil && (pct < *low || pct > *high):
			r.fault("gain_pct", note.New("the gain, %v, does not lie between its low end, %v, and its high end, %v; "+
				"allowed: gain_low_pct below it and gain_high_pct above",
				pct, *low, *high))
		}
	} else if !r.has("gain_pct") || a.Said != "" {
		for _, key := range []string{"gain_se_pct", "gain_low_pct", "gain_high_pct"} {
			if r.has(key) {
				r.fault(key, note.New("%s is given without gain_pct; allowed: beside a gain", key))
			}
		}
	}
	if !r.has("mean") && !r.lost { // which may wait for an answer
		for _, key := range []string{"sd", "se"} {
			if r.has(key) {
				r.fault(key, note.New("%s is given without mean; allowed: beside a mean (the error of a reported "+
					"gain stands in gain_se_pct)", key))
			}
		}
	}
	if a.SD != nil && a.SE != nil && a.N != nil {
		if se := *a.SD / math.Sqrt(*a.N); math.Abs(se-*a.SE) > 0.05**a.SE+0.005 {
			r.fault("se", note.New("se is %v, but sd and n give %.3g; allowed: one of sd and se, or two that agree",
				*a.SE, se))
		}
	}
	if r.has("mean") && r.has("gain_pct") {
		r.fault("gain_pct", note.New("a row gives a mean and a gain; allowed: one of them (the gain follows from the "+
			"means)"))
	}

}

// inches reads a size in inches, as a number or as the trade writes it: 5/16.
func (r *record) inches(key string, b bounds) *float64 {
	c, ok := r.get(key)
	if !ok {
		return nil
	}
	if top, bottom, ok := strings.Cut(strings.TrimSuffix(c.text, "\""), "/"); ok {
		a, errA := strconv.ParseUint(top, 10, 8)
		b, errB := strconv.ParseUint(bottom, 10, 8)
		if errA == nil && errB == nil && a > 0 && b > a {
			return new(float64(a) / float64(b))
		}
	}
	return r.number(key, b)
}

// volume reads a unit of volume.
func (r *record) volume(key string) unit.VolumeUnit {
	c, ok := r.get(key)
	if !ok {
		return ""
	}
	u, ok := unit.ParseVolume(c.text)
	switch word := strings.ToLower(strings.TrimSpace(c.text)); {
	case !ok || c.kind != plain && c.kind != str:
		r.fault(key, note.New("%s is not a unit of volume; allowed: gal (US gallon), gal_imp (imperial gallon), l "+
			"(litre)", quote(c.text)))
		return ""
	case unit.BareGallon(word) && word != "gal":
		r.fault(key, note.New("%s does not say which gallon; allowed: gal (US gallon), gal_imp (imperial gallon), l "+
			"(litre)", quote(c.text)))
		return ""
	}
	return u
}

// finish judges a study once all its rows are there.
func (g *gather) finish(s *study) {
	seen := map[practice.Treatment]int{}
	var refs []int
	unsanitized, measured := -1, 0
	for i := range s.Arms {
		a := &s.Arms[i]
		if a.Reference {
			refs = append(refs, i)
		}
		if a.Practice == practice.Unsanitized && unsanitized < 0 {
			unsanitized = i
		}
		if a.Mean != nil {
			measured++
		}
		if a.Practice == "" {
			continue
		}
		t := practice.Treatment{Practice: a.Practice}
		if p, ok := g.practices.Find(a.Practice); ok && p.Ages() && a.DropAge != nil {
			t.DropAge = *a.DropAge
		}
		if j, twice := seen[t]; twice {
			g.faults.add(note.New("%s stands twice in the study %s, first in row %d; allowed: each practice once a "+
				"study (new-drop once for each drop_age)",
				quote(string(a.Practice)), quote(s.Name), note.Row(s.Arms[j].Where.Row)).At(a.Where))
			s.bad = true
		} else {
			seen[t] = i
		}
	}
	if len(refs) > 1 {
		g.faults.add(note.New("two rows of the study %s are marked as its reference, this one and row %d; allowed: one",
			quote(s.Name), note.Row(s.Arms[refs[0]].Where.Row)).At(s.Arms[refs[1]].Where))
		s.bad = true
	}
	if s.bad {
		return
	}
	ref := unsanitized
	if len(refs) == 1 {
		ref = refs[0]
	}
	if ref < 0 && measured > 0 {
		g.faults.missing(note.New("the study %s has no reference; allowed: an arm unsanitized, or yes in the column "+
			"reference on one arm",
			quote(s.Name)).At(s.Where))
		return
	}
	for i := range s.Arms {
		a := &s.Arms[i]
		switch {
		case i == ref && a.SaysOnly() || i == ref && a.Gain != nil &&
			(a.Gain.Pct != 0 || a.Gain.SEPct != nil || a.Gain.LowPct != nil):
			g.faults.add(note.New("the reference of the study %s carries a gain; allowed: a mean, or nothing",
				quote(s.Name)).At(a.Where))
		case i == ref && a.Mean == nil && measured > 0:
			g.faults.add(note.New("the reference of the study %s has no mean, and other arms have one; allowed: a mean",
				quote(s.Name)).At(a.Where))
		case i != ref && a.Mean == nil && a.Gain == nil && a.Said == "":
			g.faults.add(note.New("this row has neither a mean nor a gain_pct; allowed: one of them").At(a.Where))
		}
	}
	if ref < 0 {
		// A report of gains alone says nothing of its reference's yield; the gains are over unsanitized.
		s.Arms = append([]evidence.Arm{{Practice: practice.Unsanitized, Where: s.Where}}, s.Arms...)
		ref = 0
	}
	if len(s.Arms) < 2 {
		g.faults.missing(note.New("the study %s has its reference and nothing beside it; allowed: one arm or more "+
			"against the reference", quote(s.Name)).At(s.Where))
		return
	}
	s.Arms[ref].Reference = true
	if s.Kind == "" { // where nothing speaks for replication nothing speaks against it either
		for _, a := range s.Arms {
			if a.N != nil && *a.N > 1 || a.SE != nil || a.Gain.HasError() {
				s.Kind = evidence.Replicated
			}
		}
	}
}

// saidGain is what some reports have in the place of a gain: that it is not significant, a bound, or a range.
var saidGain = regexp.MustCompile(
	`^(?i:n\.?\s?s\.?|nsd|not significant|non significatif|[<>≥≤]=?\s*\d+(?:[.,]\d+)?\s*%?|` +
		`\d+(?:[.,]\d+)?\s*%?\s*(?:-|–|to|à)\s*\d+(?:[.,]\d+)?\s*%?)$`)
