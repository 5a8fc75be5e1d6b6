package sheet

import (
	"cmp"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// sheetColumn heads the names of the sheets that a table stands on.
const sheetColumn = "Sheet"

// Meant is a table in our words: its headers are columns of ours, practices are keys, numbers have a decimal point and
// days are year-month-day, as far as that is settled or leaves no doubt. What is neither stands as it was.
type Meant struct {
	Columns    []string // ours; what is kept as a note is called as it was
	Headers    []string // as the table calls them; of a column that was added, the header that says it
	Rows       [][]string
	From       [][]int // the rows of the table that each comes from
	Asked      []Asked
	Wide       bool           // the table had a column a practice, and was turned round
	lost       []bool         // rows of which a cell waits for an answer that another row asks for
	Unmeasured int            // rows that are left out, since they say that what was measured is not known
	Targets    []gloss.Target // what each header of the table stands for
	Told       []Told         // columns that others tell
	Few        []string       // units that have fewer readings than others of their study
	syrup      string         // the header of a yield of syrup, which is put into sap
	sweet      string         // and of the sugar of that sap; "" it is said for all rows
	brix       float64        // which is this
	made       string         // what it is of: syrup, sugar
	lacks      map[string]int // what yields are divided by and is not known, and the first row of which it is not
	guessed    bool
	twice      [][2]int // headers that stand for the same
}

// Told is a column that the table lacks and that others tell: the names under a header, or, of a study, its site and
// season.
type Told struct{ Column, From string }

// Asked is a header or a word that is to be settled.
type Asked struct {
	gloss.Sense          // what it may mean is a guess, "" none
	Header      string   // the column that a word stands in, as the table calls it
	Column      string   // and as we call it
	Rows        int      // that have it
	first       int      // of these
	Seen        []string // some of what stands in the column of a header
}

// Lacking are the columns that every row must fill, or that tell what others say, and that the table does not have; a
// table without gains needs means.
func (m Meant) Lacking() []string {
	wanted := needed()
	if slices.Contains(m.Columns, "mean_low") || slices.Contains(m.Columns, "mean_high") {
		wanted = append(wanted, "level")
	}
	wanted = slices.AppendSeq(wanted, slices.Values(sorted(m.lacks)))
	if !slices.Contains(m.Columns, "gain_pct") && !slices.Contains(m.Columns, "gain_said") {
		wanted = append(wanted, "mean")
	}
	return slices.DeleteFunc(wanted, func(c string) bool {
		_, lacks := m.lacks[c]
		return slices.Contains(m.Columns, c) && !lacks
	})
}

// Twice are headers that stand for what another one stands for.
func (m Meant) Twice() (headers []int) {
	for _, t := range m.twice {
		headers = append(headers, t[1])
	}
	return headers
}

// Open is true where a person must settle something before the table can be read.
func (m Meant) Open() bool {
	return len(m.Lacking()) > 0 || len(m.twice) > 0 || slices.ContainsFunc(m.Asked, func(a Asked) bool {
		return a.Of != gloss.Columns || a.Means != gloss.Note
	})
}

// Lasting is what of a glossary holds for other tables too: a header that is ours means itself there.
func Lasting(words gloss.Glossary) (lasting gloss.Glossary) {
	left := words.Index()
	for _, s := range words {
		_, ours := ourHeader(s.Said)
		means, ok := left.Find(s.Of, s.Said)
		ours = ours && s.Of == gloss.Columns || s.Of == gloss.Rows
		if ok && means == s.Means && means != "" && s.Said != "" && !ours {
			lasting = append(lasting, s)
			delete(left, [2]string{s.Of, gloss.Fold(s.Said)})
		}
	}
	return lasting
}

// Understand reads a table by what is settled; what is not it guesses at, and asks.
func (g Grid) Understand(words gloss.Glossary, set practice.Set) Meant {
	return understand(g.Columns, g.Rows, words, set, byte(g.Mark), true)
}

// reader is a table that is being understood.
type reader struct {
	columns []column.Column[any] // that the table may have
	words   gloss.Index
	set     practice.Set
	mark    byte // the decimal mark of what could be either; 0: not known
	guess   bool // what is guessed is taken until it is answered
	asIs    bool // what is blank is blank, and not what stands above
	headers []string
	rows    [][]string
	targets []gloss.Target
	cells   [][]string              // by column, in our words
	beside  map[string][]string     // columns that others say something of, by row
	besides map[string]string       // and the header that does
	means   map[string][]column.Way // how each mean was written, by practice and row: as what stands beside it
	studies map[string]string       // unit of the first mean of each study, which has one for all
	marks   map[byte]bool           // decimal marks that numbers of the table leave no doubt about
	orders  map[string]bool         // and orders of its days
	asked   []Asked
	lost    []bool
	twice   [][2]int
	syrup   string  // the header of a yield of syrup
	sweet   string  // and of the sugar of its sap, which every row has unless it lacks
	brix    float64 // the last
	made    string
	lacks   map[string]int // what yields are divided by and is not known, and the first row of which it is not
	parts   map[int]string // of a season, by row: early, late
	years   int            // the column that tells the season, where none is headed so
}

func understand(headers []string, rows [][]string, words gloss.Glossary, set practice.Set, mark byte,
	guess bool) Meant {
	u := &reader{columns: ofEvidence, words: words.Index(), set: set, mark: mark, guess: guess, headers: headers,
		rows:    rows,
		targets: make([]gloss.Target, len(headers)), cells: make([][]string, len(headers)),
		beside: map[string][]string{}, besides: map[string]string{}, means: map[string][]column.Way{},
		studies: map[string]string{}, marks: map[byte]bool{}, orders: map[string]bool{},
		parts: map[int]string{}, lost: make([]bool, len(rows)), lacks: map[string]int{}}
	u.head()
	u.tell()
	order := slices.SortedStableFunc(maps.Keys(indexes(headers)), func(a, b int) int {
		return cmp.Or(cmp.Compare(u.rank(a), u.rank(b)), cmp.Compare(a, b))
	})
	for _, i := range order {
		u.column(i)
	}
	u.places()
	return u.table()
}

// find is the column of a name; the zero one where the table may have none of it.
func (u *reader) find(name string) column.Column[any] {
	c, _ := column.Find(u.columns, name)
	return c
}

func indexes[T any](list []T) map[int]bool {
	m := make(map[int]bool, len(list))
	for i := range list {
		m[i] = true
	}
	return m
}

// rank puts first what other columns are read by: the study, the season of days, the unit of means, the taps of a unit,
// the means of their errors.
func (u *reader) rank(i int) int {
	first := []string{"study", "season", "mean_unit", "taps", "mean", "gain_pct"}
	if at := slices.Index(first, u.targets[i].Column); at >= 0 {
		return at
	}
	return len(first)
}

// head finds what each header stands for.
func (u *reader) head() {
	open := make([]string, len(u.headers)) // those that nothing settles
	for i, h := range u.headers {
		means, ok := u.words.Find(gloss.Columns, h)
		if columnOf(gloss.ParseTarget(means).Column).Name == "" && means != gloss.Note { // of a trial's tables
			ok = false
		}
		if ours, our := ourHeader(h); !ok && our {
			means, ok = ours, true
		}
		switch {
		case !ok:
			open[i] = h
		case means != gloss.Note:
			u.targets[i] = gloss.ParseTarget(means)
		}
	}
	at := map[string]int{}
	for i, t := range u.targets {
		key := gloss.Target{Column: t.Column, Practice: t.Practice}.String()
		if first, have := at[key]; have && t.Column != "" {
			u.twice = append(u.twice, [2]int{first, i})
			continue
		}
		at[key] = i
	}
	proposed := Propose(open, u.targets, u.set)
	u.byContent(open, proposed)
	u.bySheet(open, proposed)
	u.withoutGains(open, proposed)
	u.ofGains(open, proposed)
	u.limits(proposed)
	u.wholeUnits(proposed)
	u.ofAreas(open, proposed)
	wide := slices.ContainsFunc(slices.Concat(proposed, u.targets), func(t gloss.Target) bool {
		return t.Column == "mean" && t.Practice != ""
	})
	has := func(name string) bool {
		return slices.ContainsFunc(slices.Concat(proposed, u.targets), func(t gloss.Target) bool {
			return t.Column == name
		})
	}
	for i, t := range proposed {
		if strings.TrimSpace(open[i]) == "" {
			continue
		}
		told := false
		if part, sure, ok := derived(open[i], u.beforePart(i)); ok {
			t, told = part, sure
			if t.Column != "" && slices.ContainsFunc(u.targets, func(o gloss.Target) bool {
				return o.Column == t.Column && o.Practice == t.Practice
			}) {
				t = gloss.Target{}
			}
		}
		switch volume := u.find("mean_unit"); {
		case t.Column != "unit":
		case u.measures(i) && !has("n"): // how many, and not what
			t.Column = "n"
		case !has(volume.Name) && slices.ContainsFunc(u.rows, func(r []string) bool {
			return u.guessed(volume, r[i]) != ""
		}):
			t.Column = volume.Name
		}
		if t.Column != "" && u.odd(i, t) {
			t = gloss.Target{}
		}
		if told {
			u.targets[i] = t
			continue
		}
		a := Asked{Sense: gloss.Sense{Of: gloss.Columns, Said: open[i], Means: gloss.Note}}
		switch {
		case t.Column == "vacuum_inhg" && t.Way == "" && !strings.HasSuffix(gloss.Plain(open[i]), "hg") &&
			u.beyond(i, columnOf(t.Column).Bounds.High):
			t.Column = "vacuum_kpa"
		}
		if t.Column != "" {
			a.Means = t.String()
		}
		for _, r := range u.rows {
			if text := r[i]; text != "" && !slices.Contains(a.Seen, text) && len(a.Seen) < 3 {
				a.Seen = append(a.Seen, text)
			}
		}
		if len(a.Seen) == 0 && t.Column == "" {
			continue // nothing stands there
		}
		// a practice that nobody knows by that name, or something else
		if wide && t.Column == "" && alike(plainHeader(open[i])).Column == "" && u.measures(i) &&
			!ofVariation(open[i]) {
			a.Means = ""
		}
		u.asked = append(u.asked, a)
		if u.guess {
			u.targets[i] = t
		}
	}
}

// measures is true of a column of numbers that do not only count the rows.
func (u *reader) measures(i int) bool {
	numbers, filled, counts := 0, 0, true
	for k, r := range u.rows {
		if r[i] == "" || gloss.Blank(r[i]) {
			continue
		}
		filled++
		if n, _, ok := measured(r[i]); ok {
			numbers++
			counts = counts && n.value(0) == float64(k+1)
		}
	}
	return filled > 0 && numbers == filled && !counts
}

// byContent finds the column of practices and that of seasons by what stands in them, where no header says so.
func (u *reader) byContent(open []string, proposed []gloss.Target) {
	for _, c := range []struct {
		name string
		is   func(text string) bool
	}{
		{"practice", func(text string) bool { return u.guessed(u.find("practice"), text) != "" }},
		{"season", func(text string) bool {
			_, ok := seasonOf(text, true)
			_, day := readDay(text)
			return ok || !day && len(Springs(text)) > 1 && strings.IndexFunc(text, unicode.IsLetter) < 0
		}},
	} {
		share := func(i int) (all, is int) {
			seen := map[string]bool{}
			for _, r := range u.rows {
				if text := r[i]; text != "" && !seen[text] && len(seen) < 100 {
					seen[text] = true
					all++
					if c.is(text) {
						is++
					}
				}
			}
			return all, is
		}
		taken := func(list []gloss.Target) int {
			return slices.IndexFunc(list, func(t gloss.Target) bool {
				return t.Column == c.name || c.name == "practice" && t.Practice != ""
			})
		}
		at := taken(proposed)
		if at >= 0 {
			_, is := share(at)
			if proposed[at].Practice != "" || is > 0 {
				continue
			}
		}
		if taken(u.targets) >= 0 {
			continue
		}
		found := false
		for i, h := range open {
			all, is := share(i)
			free := proposed[i].Column == "" || columnOf(proposed[i].Column).Kind == column.Text
			if h != "" && free && !otherwise(c.name, plainHeader(h)) && is > 0 &&
				(is == all || c.name != "season" && is > 1 && 3*is >= 2*all) {
				if at >= 0 {
					proposed[at] = gloss.Target{}
				}
				proposed[i] = gloss.Target{Column: c.name}
				found = true
				break
			}
		}
		if only := u.onlyWords(open, proposed); c.name == "practice" && !found && at < 0 && only >= 0 {
			proposed[only] = gloss.Target{Column: c.name} // in words that nobody knows, each of which is asked about
		}
	}
}

// bySheet takes the names of the sheets of a table for its sites, where nothing else says them.
func (u *reader) bySheet(open []string, proposed []gloss.Target) {
	at := slices.Index(open, sheetColumn)
	if at >= 0 && proposed[at].Column == "" && !slices.ContainsFunc(slices.Concat(proposed, u.targets),
		func(t gloss.Target) bool { return t.Column == "site" }) {
		proposed[at] = gloss.Target{Column: "site"}
	}
}

// onlyWords is the only column of a few words that stands for nothing yet, and of which a site has several in a season;
// -1 where there is none, or more than one.
func (u *reader) onlyWords(open []string, proposed []gloss.Target) int {
	only := -1
	for i, h := range open {
		if h == "" || proposed[i].Column != "" {
			continue
		}
		words, rows := map[string]bool{}, map[string]bool{}
		for _, r := range u.rows {
			if _, _, number := measured(r[i]); number || r[i] == "" || len(strings.Fields(r[i])) > 5 {
				rows = nil
				break
			}
			words[gloss.Fold(r[i])] = true
			rows[u.among(proposed, r)+gloss.Fold(r[i])] = true
		}
		if len(words) < 2 || len(words) > 20 || len(rows) <= len(u.groups(proposed)) {
			continue
		}
		if only >= 0 {
			return -1
		}
		only = i
	}
	return only
}

// among is the study, site and season of a row, as far as its columns are known.
func (u *reader) among(proposed []gloss.Target, row []string) (key string) {
	for k := range row {
		t := u.targets[k]
		if t.Column == "" {
			t = proposed[k]
		}
		if slices.Contains([]string{"study", "site", "season"}, t.Column) {
			key += gloss.Fold(row[k]) + "\x00"
		}
	}
	return key
}

// groups are the studies, sites and seasons of the rows.
func (u *reader) groups(proposed []gloss.Target) map[string]bool {
	all := map[string]bool{}
	for _, r := range u.rows {
		all[u.among(proposed, r)] = true
	}
	return all
}

// withoutGains takes a column of gains for a note where each of its rows gives a mean too, from which the gain follows.
func (u *reader) withoutGains(open []string, proposed []gloss.Target) {
	gain := slices.IndexFunc(proposed, func(t gloss.Target) bool { return t.Column == "gain_pct" && t.Practice == "" })
	if gain < 0 {
		return
	}
	number := func(text string) bool { return strings.ContainsAny(text, "0123456789") }
	spread := slices.ContainsFunc(proposed, func(t gloss.Target) bool { return t.Column == "sd" || t.Column == "se" })
	for i, t := range proposed { // a mean by a likeness alone says less than a gain by its name
		if t == (gloss.Target{Column: "mean"}) && !spread && headed(plainHeader(u.headers[i])).Column != "mean" {
			proposed[i] = gloss.Target{}
		}
	}
	derived := false
	for _, r := range u.rows {
		if !number(r[gain]) {
			continue
		}
		derived = false
		for i := range r {
			if i < len(proposed) && number(r[i]) && (proposed[i].Column == "mean" || u.targets[i].Column == "mean") {
				derived = true
			}
		}
		if !derived {
			return
		}
	}
	if !derived {
		return
	}
	for i, h := range u.headers { // nor is its spread that of a mean
		_, answered := u.words.Find(gloss.Columns, h)
		t := cmp.Or(u.targets[i], proposed[i])
		if !answered && (t.Column == "sd" || t.Column == "se") && t.Practice == "" && u.besideGain(i, gain, t.Way) {
			open[i], u.targets[i], proposed[i] = h, gloss.Target{}, gloss.Target{}
		}
	}
	proposed[gain] = gloss.Target{}
}

// besideGain is true of a spread in no unit that rows without a gain lack, or of one in percent right behind the gain.
func (u *reader) besideGain(i, gain int, way string) bool {
	if way != "" && way != ofShare {
		return false
	}
	with, without := false, false
	for _, r := range u.rows {
		none := !strings.ContainsAny(r[gain], "0123456789")
		without = without || none
		with = with || none && strings.ContainsAny(r[i], "0123456789")
	}
	return without && !with || way == ofShare && i == gain+1
}

// limits takes the ends of an interval for those of the mean, where the table gives means and no gains.
func (u *reader) limits(proposed []gloss.Target) {
	both := slices.Concat(proposed, u.targets)
	has := func(name string) bool {
		return slices.ContainsFunc(both, func(t gloss.Target) bool { return t.Column == name })
	}
	if !has("mean") || has("gain_pct") {
		return
	}
	for i, t := range proposed {
		end, is := map[string]string{"gain_low_pct": "mean_low", "gain_high_pct": "mean_high"}[t.Column]
		if is && !gloss.Holds(gloss.Plain(u.headers[i]), "gain") {
			proposed[i] = gloss.Target{Column: end, Way: levelIn(u.headers[i]), Practice: t.Practice}
		}
	}
}

// ofGains finds whether yields over that of the reference are parts or percents of it, and takes spreads of a table
// that gives gains and no means for those of the gains, written as these are.
func (u *reader) ofGains(open []string, proposed []gloss.Target) {
	for i, t := range proposed {
		if t.Column == "gain_pct" && (t.Way == "ratio" || t.Way == "of") {
			proposed[i].Way = "ratio"
			if u.beyond(i, mostRatio) {
				proposed[i].Way = "of"
			}
		}
	}
	both := slices.Concat(proposed, u.targets)
	gain := slices.IndexFunc(both, func(t gloss.Target) bool { return t.Column == "gain_pct" })
	if gain < 0 || slices.ContainsFunc(both, func(t gloss.Target) bool { return t.Column == "mean" }) {
		return
	}
	way := both[gain].Way
	for i, h := range u.headers {
		now, settled := proposed[i], u.targets[i].Column != ""
		if settled {
			now = u.targets[i]
		}
		_, answered := u.words.Find(gloss.Columns, h)
		switch {
		case answered:
		case (now.Column == "se" || now.Column == "gain_se_pct" && now.Way == "") && !u.heads("gain_se_pct"):
			open[i], u.targets[i] = h, gloss.Target{}
			proposed[i] = gloss.Target{Column: "gain_se_pct", Practice: now.Practice}
			if !strings.Contains(h, "%") {
				proposed[i].Way = likeGain("gain_se_pct", way)
			}
		case (now.Column == "gain_low_pct" || now.Column == "gain_high_pct") && now.Way == "" && !settled:
			proposed[i].Way = likeGain(now.Column, way)
		}
	}
}

// likeGain is the way of a spread of a gain that is written in a way; "" percent.
func likeGain(name, way string) string {
	if !hasWay(name, way) {
		return ""
	}
	return way
}

// areas are words, plain, of headers of what stands on an area.
var areas = []string{"acre", "acres", "ac", "ha", "hectare", "hectares"}

// ofAreas takes yields of an area for those of a whole unit of so many taps as stand on it: a column tells them, or
// they are asked for. Taps of something else divide no area.
func (u *reader) ofAreas(open []string, proposed []gloss.Target) {
	if slices.ContainsFunc(proposed, func(t gloss.Target) bool { return t.Column == "mean" }) || u.heads("mean") {
		return
	}
	without := func(header string, words ...string) gloss.Target {
		return headed(strings.Join(slices.DeleteFunc(strings.Fields(plainHeader(header)), func(w string) bool {
			return slices.Contains(areas, w) || slices.Contains(words, w)
		}), " "))
	}
	area := func(header string) string {
		at := slices.IndexFunc(areas, func(a string) bool { return gloss.Holds(gloss.Plain(header), a) })
		if at < 0 {
			return ""
		}
		return areas[at][:1]
	}
	for i, h := range open {
		t := without(h)
		if area(h) == "" || proposed[i].Column != "" || t.Column != "mean" || !hasWay("mean", t.Way+ofUnit) {
			continue
		}
		stand := slices.IndexFunc(open, func(o string) bool {
			return area(o) != "" && without(o, "per", "par", "a", "l").Column == "taps"
		})
		if stand >= 0 && proposed[stand].Column == "" && !u.heads("taps") {
			proposed[stand].Column = "taps"
		}
		for k, other := range slices.Concat(u.targets, proposed) {
			if k %= len(proposed); other.Column == "taps" && area(u.headers[k]) != area(h) {
				return
			}
		}
		proposed[i] = gloss.Target{Column: "mean", Way: t.Way + ofUnit}
		return
	}
}

// mostRatio is more than any practice gives times the sap of the reference: what is beyond is in percent of it.
const mostRatio = 10

// wholeUnits takes means that are more than any tap gives, or that are called totals, for those of whole units, where
// the taps of each stand beside.
func (u *reader) wholeUnits(proposed []gloss.Target) {
	if !slices.ContainsFunc(slices.Concat(proposed, u.targets), func(t gloss.Target) bool {
		return t.Column == "taps"
	}) {
		return
	}
	for i, t := range proposed {
		if t.Column != "mean" || ofTap(u.headers[i]) {
			continue
		}
		way, _ := wayOf(columnOf("mean").Column, t.Way, "")
		most := unit.Volume(evidence.UsualYield.High).In(unit.VolumeUnit(cmp.Or(way.Is, string(unit.USGallon))))
		whole := gloss.HoldsOne(gloss.Plain(u.headers[i]), "total", "totale", "totals", "totaux", "whole", "mainline",
			"mainlines") || u.beyond(i, most/way.Of(1))
		switch _, known := wayOf(columnOf("mean").Column, t.Way+ofUnit, ""); {
		case whole && t.Way != "" && known && way.Of(1) == 1:
			proposed[i].Way += ofUnit
		case whole:
			proposed[i] = gloss.Target{} // whose unit is not known, or who divides it
		}
	}
}

// beforePart is what the column stands for that a header behind it parts.
func (u *reader) beforePart(i int) gloss.Target {
	for k := i - 1; k >= 0; k-- {
		if _, _, part := derived(u.headers[k], gloss.Target{}); !part {
			return u.targets[k]
		}
	}
	return gloss.Target{}
}

// beginsWithNumber is true of 24, (24), ~24 and < 24, and not of ML1.
var beginsWithNumber = regexp.MustCompile(`^[^\pL]*[0-9]`)

// odd is true of a column that is not what its header says: one of a few words of which it has none, numbers that all
// begin as names do, or a count that tells the rows of a practice apart.
func (u *reader) odd(i int, t gloss.Target) bool {
	c := u.find(t.Column)
	if len(u.rows) == 0 {
		return false
	}
	if c.Words != nil && c.Kind == column.Text || c.Kind == column.YesNo {
		return !slices.ContainsFunc(u.rows, func(r []string) bool {
			_, ours := u.ours(c, r[i])
			return r[i] != "" && (ours || u.guessed(c, r[i]) != "")
		})
	}
	if c.Kind.Numeric() && c.Name != "season" {
		words, numbers := false, false
		for _, r := range u.rows {
			words = words || strings.ContainsAny(r[i], "0123456789")
			numbers = numbers || beginsWithNumber.MatchString(r[i])
		}
		if (words || c.Said != nil) && !numbers {
			return true
		}
	}
	if c.Name == "drop_age" && t.Way == "" && !gloss.Holds(gloss.Plain(u.headers[i]), "age") &&
		u.beyond(i, c.Usual.High) {
		return true // how many drops there are
	}
	if c.Name != "n" {
		return false
	}
	groups, last := map[string][]string{}, make([]string, len(u.headers)) // what stands above may hold below
	for _, r := range u.rows {
		key := ""
		for k, t := range u.targets {
			if slices.Contains(ofArm, t.Column) && t.Practice == "" {
				last[k] = cmp.Or(r[k], last[k])
				key += "\x00" + gloss.Fold(last[k])
			}
		}
		groups[key] = append(groups[key], r[i])
	}
	most := 0
	for _, list := range groups {
		most = max(most, len(list))
		if len(list) > 1 && len(slices.Compact(slices.Sorted(slices.Values(list)))) == 1 {
			return false
		}
	}
	return most >= 2
}

// beyond is true of a column in which a number that says no unit is larger than most.
func (u *reader) beyond(i int, most float64) bool {
	return slices.ContainsFunc(u.rows, func(r []string) bool {
		n, unit, ok := measured(r[i])
		return ok && (unit == "" || unit == "%") && !n.either && n.value(0) > most
	})
}

// tell finds which decimal marks and which orders of days the table leaves no doubt about.
func (u *reader) tell() {
	for i, t := range u.targets {
		switch k := u.find(t.Column).Kind; {
		case k.Numeric() && t.Column != "":
			for _, r := range u.rows {
				if n, _, ok := measured(r[i]); ok && n.mark != 0 {
					u.marks[n.mark] = true
				}
			}
		case isDays(k):
			for _, r := range u.rows {
				if d, ok := readDay(r[i]); ok && d.told {
					u.orders[d.order] = true
				}
			}
		}
	}
}

// column reads the cells of a column as what they must be.
func (u *reader) column(i int) {
	c := u.find(u.targets[i].Column)
	u.cells[i] = make([]string, len(u.rows))
	for r, row := range u.rows {
		u.cells[i][r] = strings.TrimSpace(row[i])
	}
	if c.Needed && !u.asIs {
		u.above(i)
	}
	if c.Name == "season" {
		u.seasons(i)
	}
	switch {
	case c.Name == "":
	case c.Name == "caveats":
		u.caveats(i)
	case c.Kind.Numeric():
		u.numbers(i, c)
	case isDays(c.Kind):
		u.days(i, c)
	case c.Words != nil || c.Kind == column.Practice || c.Kind == column.Volume || c.Kind == column.YesNo:
		u.choices(i, c)
	default:
		for r, text := range u.cells[i] {
			if u.blank(i, r, text, false) || strings.HasPrefix(text, "#") && gloss.Blank(text) {
				u.cells[i][r] = ""
			}
		}
	}
}

// seasons reads the years of springs. Several years in a cell are asked about: the row counts in one of them.
func (u *reader) seasons(i int) {
	for r, text := range u.cells[i] {
		if m := shortSeason.FindStringSubmatch(text); m != nil { // S21, and 20/21, which is of the spring of 2021
			u.cells[i][r] = strconv.Itoa(century(cmp.Or(m[1], m[3])))
			if first, last := century(m[2]), century(m[3]); m[1] == "" && last != first+1 {
				u.cells[i][r] = text
			}
		}
	}
	ranges, short, longer := map[string]bool{}, true, false
	for _, text := range u.cells[i] {
		if twoYears.MatchString(text) {
			ranges[text] = true
			longer = longer || len(Springs(text)) > 2
		}
		short = short && (text == "" || len(text) == 2 && bareNumber(text))
	}
	for r, text := range u.cells[i] {
		year, ok := u.words.Find("season", text)
		if !ok {
			year, ok = seasonOf(text, len(ranges) > 1 && !longer)
		}
		one, rest, named := yearIn(text)
		several := Springs(text)
		d, isDay := readDay(text)
		switch {
		case ok:
			u.cells[i][r] = year
		case isDay && d.year >= 1950 && !bareNumber(text):
			u.cells[i][r] = springOf(d)
		case len(several) > 1:
			last := several[len(several)-1]
			u.wait(i, r, gloss.Sense{Of: "season", Said: text, Means: last}, last)
		case named && gloss.HoldsOne(gloss.Plain(rest), otherSeason...):
			u.wait(i, r, gloss.Sense{Of: "season", Said: text, Means: one}, one)
		case named:
			if u.cells[i][r] = one; !slices.Contains(saysNoPart, gloss.Plain(rest)) {
				u.parts[r] = rest
			}
		case short && text != "":
			year := strconv.Itoa(century(text))
			u.wait(i, r, gloss.Sense{Of: "season", Said: text, Means: year}, year)
		}
		if len(several) > 2 || len(several) > 1 && !twoYears.MatchString(text) {
			u.say(remarksColumn, i, r, text)
		}
	}
}

// shortSeason is a season by two digits, beneath a header that says it is one: S21, printemps 21, or of two years.
var shortSeason = regexp.MustCompile(
	`^(?i:(?:s|p|sp|spr|spring|season|printemps|saison)\s*['’]?(\d\d)|` +
		`(?:(?:winter|hiver)\s*)?['’]?(\d\d)\s*[-–—/]\s*['’]?(\d\d))$`)

// otherSeason are words, plain, beside a year that is not that of the spring: the fall of 2018 ends with the spring of
// 2019.
var otherSeason = []string{"fall", "autumn", "automne", "before", "after", "since", "until", "avant", "apres", "depuis",
	"jusqu", "pre", "post"}

// saysNoPart are words, plain, that stand beside a year and part no season.
var saysNoPart = []string{"", "s", "c", "ca", "circa", "about", "approx", "env", "environ", "vers", "y", "yr"}

// isDays is true of a kind whose cells are days, with a time or without.
func isDays(k column.Kind) bool { return k == column.Day || k == column.Moment || k == column.Own }

// above takes what stands above for what is left blank, in a column that every row needs.
func (u *reader) above(i int) {
	last, blank := "", 0
	for _, text := range u.cells[i] {
		if text == "" {
			blank++
		}
	}
	if u.targets[i].Column == "practice" && 2*blank < len(u.rows) {
		return // one that was forgotten, sooner
	}
	for r, text := range u.cells[i] {
		switch {
		case text != "":
			last = text
		case last != "" && strings.Join(u.rows[r], "") != "":
			if _, ok := u.words.Find(gloss.Blanks, u.headers[i]); !ok {
				if u.ask(i, gloss.Sense{Of: gloss.Blanks, Said: u.headers[i], Means: gloss.Above}) {
					u.asked[len(u.asked)-1].first = r
				}
			}
			u.cells[i][r] = last
		}
	}
}

// bareNumber is true of digits alone, which a spreadsheet may count days by.
func bareNumber(text string) bool { return strings.Trim(text, "0123456789.,") == "" }

// springOf is the season of a day: from September on it is of the spring that follows.
func springOf(d writtenDay) string {
	month := d.a
	if d.order == gloss.Day {
		month = d.b
	}
	if month >= 9 {
		return strconv.Itoa(d.year + 1)
	}
	return strconv.Itoa(d.year)
}

// ask puts a question, or counts one more row of one that is there; true where it is new.
func (u *reader) ask(i int, s gloss.Sense) bool {
	same := func(a Asked) bool {
		return a.Of == s.Of && gloss.Fold(a.Said) == gloss.Fold(s.Said)
	}
	if at := slices.IndexFunc(u.asked, same); at >= 0 {
		u.asked[at].Rows++
		return false
	}
	u.asked = append(u.asked, Asked{Sense: s, Header: u.headers[i], Column: u.targets[i].Column, Rows: 1})
	return true
}

// wait leaves a cell to an answer: where the table is read without guesses, the first row that asks is at fault, and
// the others wait for it.
func (u *reader) wait(i, r int, s gloss.Sense, taken string) {
	first := u.ask(i, s)
	switch {
	case u.guess && s.Means != "":
		u.cells[i][r] = taken
	case !u.guess && !first:
		u.cells[i][r] = ""
		u.lost[r] = true
	}
}

// blank is true of a cell that says that something is not known; asked is whether such a word is worth a question.
func (u *reader) blank(i, r int, text string, asked bool) bool {
	if text == "" {
		return true
	}
	if _, ok := u.words.Find(gloss.Unknown, text); ok {
		return true
	}
	if asked {
		s := gloss.Sense{Of: gloss.Unknown, Said: text}
		if gloss.Blank(text) {
			s.Means = gloss.Unknown
		}
		u.wait(i, r, s, "")
	}
	return false
}

// numbers reads numbers, with their units where they carry some.
func (u *reader) numbers(i int, c column.Column[any]) {
	mark, known := u.decimal(i, c)
	for r, text := range u.cells[i] {
		if text == "" || c.Name == "gain_pct" && saidGain.MatchString(text) ||
			c.Kind == column.Inches && isFraction(text) {
			continue
		}
		for number, said := range c.Said {
			if slices.Contains(said, gloss.Plain(text)) {
				text, u.cells[i][r] = number, number
			}
		}
		if m := bracketed.FindStringSubmatch(text); m != nil && c.Bounds.Low >= 0 { // of a spread, as papers have it
			text, u.cells[i][r] = m[1], m[1]
		}
		n, unit, ok := measured(text)
		way, fits := wayOf(c, u.targets[i].Way, unit)
		switch {
		case ok && fits && n.either && !known:
			u.wait(i, r, gloss.Sense{Of: gloss.Numbers, Said: u.headers[i]}, "")
		case ok && fits:
			u.cells[i][r] = u.number(i, r, n, mark, way)
		case u.middle(i, r, text, mark, c):
		default:
			if u.blank(i, r, text, gloss.Blank(text) || !strings.ContainsAny(text, "0123456789") ||
				strings.ContainsRune("<>≤≥", []rune(text)[0])) {
				u.cells[i][r] = ""
			}
		}
	}
}

// aRange is two numbers, and their unit behind.
var aRange = regexp.MustCompile(`^(` + aNumber + `?)\s*(?:–|—|-|\bto\b|\bà\b)\s*(` + aNumber + `?)(\s*[^\d\s].*)?$`)

// middle reads a range in the place of a number as its middle, where that is said to be meant; of yields it is no
// guess. false: it is none.
func (u *reader) middle(i, r int, text string, mark byte, c column.Column[any]) bool {
	m := aRange.FindStringSubmatch(text)
	if m == nil || u.find("mean").Name == "" {
		return false
	}
	low, _, ok := measured(m[1])
	high, unit, fine := measured(m[2] + m[3])
	way, fits := wayOf(c, u.targets[i].Way, unit)
	a, b := low.value(mark), high.value(mark)
	if !ok || !fine || !fits || a >= b {
		return false
	}
	means, settled := u.words.Find(gloss.Ranges, u.headers[i])
	if !settled { // and all such rows wait for the answer
		if c.Name != "mean" && c.Name != "gain_pct" && !slices.Contains(likeMean, c.Name) {
			means = gloss.Middle
		}
		if u.ask(i, gloss.Sense{Of: gloss.Ranges, Said: u.headers[i], Means: means}) {
			a := &u.asked[len(u.asked)-1]
			a.first, a.Seen = r, []string{text}
		}
		if !u.guess {
			u.cells[i][r], u.lost[r] = "", true
			return true
		}
	}
	if means == gloss.Middle {
		x := (a + b) / 2
		if c.Bounds.Whole || c.Kind == column.Whole {
			x = math.Round(x)
		}
		mid, _ := readNumeral(number(x))
		u.cells[i][r] = u.number(i, r, mid, '.', way)
	}
	return true
}

// bracketed is a number in brackets, which books of accounts have for one below 0.
var bracketed = regexp.MustCompile(`^\(\s*([0-9][^()]*)\)$`)

// ofUnit ends the keys of the ways of a yield that is of a whole unit, behind those of a tap.
const ofUnit = "_unit"

// ofHundred ends those of a yield of a hundred taps.
const ofHundred = "_100"

// isFraction is true of a size as the trade writes it: 5/16.
func isFraction(text string) bool {
	top, bottom, ok := strings.Cut(strings.TrimSuffix(text, "\""), "/")
	return ok && strings.Trim(top+bottom, "0123456789") == ""
}

// wayOf is the unit that a number is in: that which stands behind it, else that which the header says.
func wayOf[T any](c column.Column[T], header, behind string) (column.Way, bool) {
	if behind == "%" && (c.Unit == "%" || c.Unit == "°Bx") { // °Bx is percent of mass
		behind = ""
		switch header {
		case "ratio":
			header = "of" // no ratio is in percent
		case "fraction":
			header = ""
		}
	}
	if at := slices.IndexFunc(c.Ways, func(w column.Way) bool { return w.Key == ofShare }); behind == "%" && at >= 0 {
		return c.Ways[at], true
	}
	if behind == inchMark {
		behind = "in"
	}
	if behind == "°" && strings.Contains(c.Unit, "°") {
		behind = ""
	}
	for _, w := range c.Ways {
		switch {
		case behind == "" && w.Key == header:
			return w, true
		case behind == "" || !says(c, w, gloss.Plain(behind)):
		case ofTap(behind):
			return w, true
		default:
			for _, of := range []string{ofUnit, ofHundred} { // 2,250 gal of a whole unit
				if key := w.Key + of; strings.HasSuffix(header, of) && !strings.HasSuffix(w.Key, of) {
					at := slices.IndexFunc(c.Ways, func(w column.Way) bool { return w.Key == key })
					if at < 0 {
						return column.Way{}, false
					}
					return c.Ways[at], true
				}
			}
			return w, true
		}
	}
	return column.Way{}, behind == ""
}

// number is a number in the unit of its column, in digits with a decimal point. What its unit says of the row beside is
// kept; a spread in another unit than its mean is put into that of the mean.
func (u *reader) number(i, r int, n numeral, mark byte, w column.Way) string {
	text, x := n.with(mark), n.value(mark)
	if w.Share != "" { // of a yield that is not known nothing is learnt
		of, err := strconv.ParseFloat(u.said(w.Share, i, r), 64)
		switch {
		case err != nil && w.Share == "mean" && !u.heads("mean"):
			return text // of something else, and at fault
		case err != nil:
			return ""
		}
		if w.Share == "gain_pct" {
			of += 100
		}
		return number(w.Of(x) * of / 100)
	}
	if w.Bend != nil && w.Beside == "" && w.Factor == 0 { // a spread, in the unit of its mean
		x = w.Of(x)
		text = number(x)
	}
	switch t := u.targets[i]; {
	case t.Column == "mean":
		if u.means[t.Practice] == nil {
			u.means[t.Practice] = make([]column.Way, len(u.rows))
		}
		u.means[t.Practice][r] = w
	case slices.Contains(likeMean, t.Column) && w.Beside != "mean_unit" && u.means[t.Practice] != nil:
		if w.Beside != "" {
			u.say(w.Beside, i, r, w.Is)
		}
		w = u.means[t.Practice][r]
	case slices.Contains(likeMean, t.Column) && u.means[t.Practice] != nil &&
		u.means[t.Practice][r].Per == evidence.Sugar:
		made, _, _ := strings.Cut(u.means[t.Practice][r].Key, "_")
		w, _ = wayOf(columnOf("mean").Column, made+"_"+w.Key, "")
	}
	lacks := func() string {
		if _, known := u.lacks[w.Per]; !known {
			u.lacks[w.Per] = r
		}
		return u.cells[i][r]
	}
	per := 1.0
	if w.Per == evidence.Sugar {
		u.made, _, _ = strings.Cut(w.Key, "_")
		if u.targets[i].Column == "mean" {
			u.syrup = u.headers[i]
		}
		if u.brix = u.sugar(r); u.brix == 0 {
			return lacks()
		}
		per = evidence.SugarIn(u.brix)
	} else if w.Per != "" {
		said := u.said(w.Per, i, r)
		if given, whole := u.words.Find(gloss.Rows, w.Per); said == "" && whole {
			said = given
		}
		of, err := strconv.ParseFloat(said, 64)
		if said == "" && !u.heads(w.Per) {
			return lacks()
		}
		if err != nil || of <= 0 {
			return u.cells[i][r] + " / " + w.Per // which is no number, and is said to be none
		}
		per = of
	}
	if w.Bend != nil && w.Factor == 0 {
		w.Bend = nil // which was done
	}
	if w.Of(x)/per != x {
		x = w.Of(x) / per
		text = number(x)
	}
	if w.Beside == "" {
		return text
	}
	if w.Beside != "mean_unit" {
		u.say(w.Beside, i, r, w.Is)
		return text
	}
	into, given := u.said("mean_unit", i, r), u.heads("mean_unit")
	if given && u.targets[i].Column == "mean" {
		return text // the column of units says it
	}
	study := u.said("study", i, r)
	into = cmp.Or(into, u.studies[study], w.Is)
	u.studies[study] = into
	if !given {
		u.say("mean_unit", i, r, into)
	}
	if v, ok := unit.ParseVolume(into); ok && into != w.Is {
		return number(unit.VolumeUnit(w.Is).Of(x).In(v))
	}
	return text
}

// sugar is the sugar of the sap of a row, °Bx, as a column beside tells it, or as it was said for all rows; 0: not
// known.
func (u *reader) sugar(r int) float64 {
	said, _ := u.words.Find(gloss.Rows, evidence.Sugar)
	for i, h := range u.headers {
		plain := gloss.Plain(h)
		if u.targets[i].Column == "" && u.rows[r][i] != "" && gloss.HoldsOne(plain, sweetness...) &&
			!gloss.HoldsOne(plain, noSweetness...) {
			said, u.sweet = u.rows[r][i], h
			break
		}
	}
	n, _, ok := measured(said)
	if x := n.value(','); ok && evidence.SapSugar.Has(x) {
		return x
	}
	return 0
}

// Words, plain, of headers of the sugar of sap, and of what else has sugar in its name: its spread, its limits, that of
// syrup, what a practice added to it, and trees.
var (
	sweetness   = []string{"brix", "bx", "sugar", "sucre"}
	noSweetness = []string{"sd", "se", "sem", "cv", "err", "error", "erreur", "high", "low", "max", "min", "haut",
		"bas", "syrup", "sirop", "gain", "increase", "hausse", "kg", "lb", "lbs", "maple", "maples", "erable",
		"erables", "bush"}
)

// likeMean are columns in the unit of the mean beside them, where they say no other.
var likeMean = []string{"sd", "se", "mean_low", "mean_high"}

// heads is true where a header of the table stands for a column.
func (u *reader) heads(name string) bool {
	return slices.ContainsFunc(u.targets, func(t gloss.Target) bool { return t.Column == name })
}

// said is what a row says in a column that was read, of the practice of column i where each has one, or beside another.
func (u *reader) said(name string, i, r int) string {
	for k, t := range u.targets {
		own := t.Practice == "" || t.Practice == u.targets[i].Practice
		if t.Column == name && own && u.cells[k] != nil && u.cells[k][r] != "" {
			return u.cells[k][r]
		}
	}
	if list := u.beside[name]; list != nil {
		return list[r]
	}
	return ""
}

// say puts down what a unit says of a row beside.
func (u *reader) say(name string, i, r int, is string) {
	if u.beside[name] == nil {
		u.beside[name], u.besides[name] = make([]string, len(u.rows)), u.headers[i]
	}
	if before := u.beside[name][r]; before != "" && name == remarksColumn {
		is = before + "; " + is
	}
	u.beside[name][r] = is
}

var markOf = map[string]byte{gloss.Comma: ',', gloss.Point: '.'}

// decimal is the decimal mark of the numbers of a column that may be read either way; false where it is to be asked.
func (u *reader) decimal(i int, c column.Column[any]) (byte, bool) {
	means, settled := u.words.Find(gloss.Numbers, u.headers[i])
	if settled && means != gloss.Ask {
		return markOf[means], true
	}
	marks, only := map[byte]bool{}, map[byte]bool{}
	fits := map[byte]bool{'.': true, ',': true}
	for _, text := range u.cells[i] {
		n, _, ok := measured(text)
		if !ok {
			continue
		}
		if n.mark != 0 {
			marks[n.mark] = true
		}
		if n.either {
			only[n.only()] = true
			for mark := range fits {
				fits[mark] = fits[mark] && c.Bounds.Has(n.value(mark))
			}
		}
	}
	one := func(m map[byte]bool) (byte, bool) {
		if m['.'] != m[','] {
			if m['.'] {
				return '.', true
			}
			return ',', true
		}
		return 0, false
	}
	if settled {
		return '.', !only[',']
	}
	if mark, ok := one(marks); ok {
		return mark, true
	}
	if mark, ok := one(fits); ok {
		return mark, true
	}
	mark, ok := one(only)
	switch {
	case ok && (c.Bounds.Whole || c.Kind == column.Whole): // nobody counts to three decimals
		return otherMark(mark), true
	case len(only) == 0:
		return '.', true
	}
	if mark, ok := one(u.marks); ok {
		return mark, true
	}
	if u.mark != 0 {
		return u.mark, true
	}
	return '.', !only[','] // 1.200 is what a program writes for 1.2
}

// days reads dates.
func (u *reader) days(i int, c column.Column[any]) {
	order, known := u.order(i)
	for r, text := range u.cells[i] {
		d, ok := readDay(text)
		clock := "" // behind the day
		if at := atNoon.FindString(text); at != "" && c.Kind != column.Day {
			clock = " " + strings.Trim(at[1:], "Z")
		}
		switch day := ""; {
		case text == "":
		case !ok:
			if u.blank(i, r, text, gloss.Blank(text)) {
				u.cells[i][r] = ""
			}
		case d.order == "" && !known:
			day = d.in(cmp.Or(order, gloss.Month), u.said("season", i, r)) + clock
			u.wait(i, r, gloss.Sense{Of: gloss.Dates, Said: u.headers[i], Means: order}, day)
		default:
			if day = d.in(cmp.Or(d.order, order), u.said("season", i, r)); day != "" {
				u.cells[i][r] = day + clock
			}
		}
	}
}

// order is what comes first in the days of a column that may be read either way; where it is to be asked, what is more
// likely, "" nothing.
func (u *reader) order(i int) (order string, known bool) {
	if means, ok := u.words.Find(gloss.Dates, u.headers[i]); ok {
		return means, true
	}
	told := map[string]bool{}
	for _, text := range u.cells[i] {
		if d, ok := readDay(text); ok && d.told {
			told[d.order] = true
		}
	}
	for _, m := range []map[string]bool{told, u.orders} {
		if len(m) == 1 {
			for order := range m {
				return order, true
			}
		}
	}
	likely := map[string]bool{gloss.Day: true, gloss.Month: true}
	for _, text := range u.cells[i] {
		if d, ok := readDay(text); ok && d.order == "" {
			likely[gloss.Month] = likely[gloss.Month] && (d.a < 6 || d.a > 10) // sap does not run in summer
			likely[gloss.Day] = likely[gloss.Day] && (d.b < 6 || d.b > 10)
		}
	}
	switch {
	case likely[gloss.Day] == likely[gloss.Month]:
		return "", false
	case likely[gloss.Day]:
		return gloss.Day, false
	}
	return gloss.Month, false
}

// choices reads words of which a column knows a few.
func (u *reader) choices(i int, c column.Column[any]) {
	read := map[string]string{}
	for r, text := range u.cells[i] {
		if text == "" {
			continue
		}
		if ours, ok := read[text]; ok {
			u.cells[i][r] = ours
			continue
		}
		if _, unknown := u.words.Find(gloss.Unknown, text); unknown {
			u.cells[i][r] = ""
		} else if means, ok := u.words.Find(c.Name, text); ok {
			u.cells[i][r], read[text] = means, means
		} else if ours, ok := u.ours(c, text); ok {
			u.cells[i][r], read[text] = ours, ours
		} else if guess := u.guessedUnder(i, c, text); guess == "" && gloss.Blank(text) {
			u.wait(i, r, gloss.Sense{Of: gloss.Unknown, Said: text, Means: gloss.Unknown}, "")
		} else {
			u.wait(i, r, gloss.Sense{Of: c.Name, Said: text, Means: guess}, guess)
		}
	}
}

// ours is the word of a column that a text is, capitals, accents and marks apart.
func (u *reader) ours(c column.Column[any], text string) (string, bool) {
	plain := gloss.Plain(text)
	switch {
	case c.Kind == column.Practice:
		key, ok := u.set.Called(text)
		return string(key), ok
	case c.Kind == column.Volume:
		v, ok := unit.ParseVolume(text)
		return string(v), ok && (!unit.BareGallon(text) || plain == "gal")
	case c.Kind == column.YesNo:
		switch plain {
		case "yes", "y", "true", "oui", "o", "vrai":
			return "yes", true
		case "no", "n", "false", "non", "faux":
			return "no", true
		}
		return "", false
	}
	for _, w := range c.Words {
		if gloss.Plain(w) == plain {
			return w, true
		}
	}
	return "", false
}

// guessedUnder is the word of a column that a text may stand for under its header: new under Spout is a new spout.
func (u *reader) guessedUnder(i int, c column.Column[any], text string) string {
	guess := u.guessed(c, text)
	part := practice.PartOf(u.headers[i])
	switch gloss.Plain(u.headers[i]) {
	case "treatment", "treatments", "traitement", "traitements": // which names whole practices
		part = ""
	}
	if guess == "" && c.Kind == column.Practice && part != "" {
		key, _ := u.set.Guess(string(part) + ": " + text)
		return string(key)
	}
	return guess
}

// guessed is the word of a column that a text may stand for; "" where none is near.
func (u *reader) guessed(c column.Column[any], text string) string {
	plain := gloss.Plain(text)
	if c.Kind == column.YesNo {
		switch plain {
		case "x", "1", "control", "temoin", "reference", "ref":
			return "yes"
		case "0", "none", "aucun":
			return "no"
		}
		return ""
	}
	if c.Kind == column.Practice {
		key, _ := u.set.Guess(text)
		return string(key)
	}
	if c.Kind == column.Volume {
		mean := columnOf("mean")
		for _, w := range mean.Ways {
			if says(mean.Column, w, plain) && w.Of(1) == 1 {
				return w.Is
			}
		}
	}
	best, most := "", 0
	for _, w := range c.Words {
		for _, said := range append(c.Said[w], gloss.Plain(w)) {
			if len(said) > most && gloss.Holds(plain, said) {
				best, most = w, len(said)
			}
		}
	}
	if best == "" && len(text) >= 4 { // shorter words are all alike
		best = note.Near(text, c.Words)
	}
	return best
}

// caveats reads caveats. What is neither one of the tool's nor said to be one is a remark: free words never become
// footnotes unasked. Under our own header a single word is a caveat of their own.
func (u *reader) caveats(i int) {
	_, ours := ourHeader(u.headers[i])
	for r, text := range u.cells[i] {
		var keys, remarks []string
		for part := range strings.SplitSeq(text, ";") {
			if part = strings.TrimSpace(part); part == "" || u.blank(i, r, part, false) {
				continue
			}
			key := strings.ReplaceAll(gloss.Plain(part), " ", "-")
			means, settled := u.words.Find("caveats", part)
			switch {
			case settled && means == gloss.Own:
				keys = append(keys, key)
			case settled && means != gloss.Remark:
				keys = append(keys, means)
			case slices.Contains(evidence.CaveatKeys(), key):
				keys = append(keys, key)
			case ours && !settled && strings.IndexFunc(part, isSpace) < 0:
				keys = append(keys, part)
			default:
				remarks = append(remarks, part)
			}
		}
		u.cells[i][r] = strings.Join(keys, "; ")
		if len(remarks) > 0 {
			u.say(remarksColumn, i, r, strings.Join(remarks, "; "))
		}
	}
}

// remarksColumn is where free words go that stood among caveats: a note, as every column that is not ours.
const remarksColumn = "remarks"

func isSpace(r rune) bool { return r == ' ' || r == '\u00a0' || r == '\t' }

// places asks whether one name of a place is of several where it is said whose each is, who would else share what their
// site does to sap.
func (u *reader) places() {
	site := slices.IndexFunc(u.targets, func(t gloss.Target) bool { return t.Column == "site" })
	whose := slices.IndexFunc(u.headers, func(h string) bool {
		return u.targets[slices.Index(u.headers, h)].Column == "" && gloss.HoldsOne(gloss.Plain(h), persons...)
	})
	if site < 0 || whose < 0 {
		return
	}
	owners := map[string]map[string]bool{}
	for r, name := range u.cells[site] {
		if owners[gloss.Fold(name)] == nil {
			owners[gloss.Fold(name)] = map[string]bool{}
		}
		owners[gloss.Fold(name)][gloss.Fold(u.rows[r][whose])] = u.rows[r][whose] != ""
	}
	means, settled := u.words.Find(gloss.Places, u.headers[whose])
	for r, name := range u.cells[site] {
		all := owners[gloss.Fold(name)]
		if delete(all, ""); len(all) < 2 || u.rows[r][whose] == "" {
			continue
		}
		if !settled {
			u.ask(whose, gloss.Sense{Of: gloss.Places, Said: u.headers[whose], Means: gloss.Apart})
		}
		if means == gloss.Apart || !settled && u.guess {
			u.cells[site][r] = name + " (" + u.rows[r][whose] + ")"
		}
	}
}

// table puts the columns together; one with a column a practice is turned round, to a row a practice.
func (u *reader) table() Meant {
	m := Meant{twice: u.twice, Targets: u.targets, guessed: u.guess, syrup: u.syrup, sweet: u.sweet,
		brix: u.brix, made: u.made, lacks: u.lacks}
	var shared, own []int // columns of a whole row, and those of one practice
	var practices []string
	for i, t := range u.targets {
		switch {
		case t.Practice == "":
			shared = append(shared, i)
		default:
			own = append(own, i)
			if !slices.Contains(practices, t.Practice) {
				practices = append(practices, t.Practice)
			}
		}
	}
	for _, i := range shared {
		m.Columns, m.Headers = append(m.Columns, u.name(i)), append(m.Headers, u.headers[i])
	}
	m.Wide = len(own) > 0
	if m.Wide {
		m.Columns, m.Headers = append(m.Columns, "practice"), append(m.Headers, "")
		for _, i := range own {
			if name := u.targets[i].Column; !slices.Contains(m.Columns, name) {
				m.Columns, m.Headers = append(m.Columns, name), append(m.Headers, u.headers[i])
			}
		}
	} else {
		practices = []string{""}
	}
	width := len(m.Columns)
	for _, name := range slices.Sorted(maps.Keys(u.beside)) {
		if !slices.Contains(m.Columns, name) {
			m.Columns, m.Headers = append(m.Columns, name), append(m.Headers, u.besides[name])
		}
	}
	u.whole(&m)
	var without []bool // rows of which nothing is learnt
	for r := range u.rows {
		for _, p := range practices {
			row := make([]string, len(m.Columns))
			for k, i := range shared {
				row[k] = u.cells[i][r]
			}
			said := !m.Wide
			for _, i := range own {
				if t := u.targets[i]; t.Practice == p {
					row[slices.Index(m.Columns, t.Column)] = u.cells[i][r]
					said = said || u.cells[i][r] != ""
				}
			}
			if !said {
				continue
			}
			if m.Wide {
				row[slices.Index(m.Columns, "practice")] = p
			}
			for name, list := range u.beside {
				k := slices.Index(m.Columns, name)
				switch {
				case list[r] == "":
				case row[k] == "" || k >= width:
					row[k] = list[r]
				case name == remarksColumn:
					row[k] += "; " + list[r]
				}
			}
			u.fill(&m, r, row)
			without = append(without, u.unmeasured(m, row, r))
			m.Rows, m.From, m.lost = append(m.Rows, row), append(m.From, []int{r}), append(m.lost, u.lost[r])
		}
	}
	if _, visits := u.visits(&m); !visits { // of which a unit's sum is not known
		m.leave(without)
	}
	u.repeats(&m)
	m.Asked = u.asked
	return m
}

// leave takes rows away in which nothing was measured.
func (m *Meant) leave(out []bool) {
	rows, from, lost := m.Rows, m.From, m.lost
	m.Rows, m.From, m.lost = nil, nil, nil
	for i, is := range out {
		if is {
			m.Unmeasured += len(from[i])
			continue
		}
		m.Rows, m.From, m.lost = append(m.Rows, rows[i]), append(m.From, from[i]), append(m.lost, lost[i])
	}
}

// ofArm are the columns that tell arms apart.
var ofArm = []string{"study", "site", "season", "practice", "drop_age"}

// among is the arm of a row: what its rows are of.
func (m *Meant) among(row []string) (key string) {
	for _, name := range ofArm {
		if i := slices.Index(m.Columns, name); i >= 0 {
			key += "\x00" + gloss.Fold(row[i])
		}
	}
	return key
}

// unmeasured is true of a row whose yield or gain is said not to be known, and that is not the reference: nothing is
// learnt of it.
func (u *reader) unmeasured(m Meant, row []string, r int) bool {
	unknown := false
	for i, t := range u.targets {
		if t.Practice != "" || t.Column != "mean" && t.Column != "gain_pct" {
			continue
		}
		if u.cells[i][r] != "" {
			return false
		}
		unknown = unknown || u.rows[r][i] != ""
	}
	at := func(name string) string {
		if i := slices.Index(m.Columns, name); i >= 0 {
			return row[i]
		}
		return ""
	}
	key := at("practice")
	return unknown && key != "" && key != string(practice.Unsanitized) && at("reference") != "yes" &&
		at("gain_said") == ""
}

// repeats makes one row of several that are of one practice of a study, each a unit of it: their mean, its sd and how
// many they are.
func (u *reader) repeats(m *Meant) {
	at := func(name string) int { return slices.Index(m.Columns, name) }
	mean := at("mean")
	if mean < 0 || at("practice") < 0 {
		return
	}
	groups, order := map[string][]int{}, []string{}
	for r, row := range m.Rows {
		key := m.among(row)
		if groups[key] == nil {
			order = append(order, key)
		}
		groups[key] = append(groups[key], r)
	}
	for _, name := range []string{"sd", "se", "n"} { // of rows that are means themselves
		if i := at(name); i >= 0 && slices.ContainsFunc(m.Rows, func(row []string) bool { return row[i] != "" }) {
			return
		}
	}
	unit, visits := u.visits(m)
	rows := 0
	for _, list := range groups {
		if visits && len(list) > 1 {
			rows += len(list)
			continue
		}
		numbers := slices.DeleteFunc(slices.Clone(list), func(r int) bool { return m.Rows[r][mean] == "" })
		if len(numbers) > 1 {
			rows += len(numbers)
		}
	}
	if rows == 0 {
		return
	}
	said := m.Headers[mean]
	means, ok := u.words.Find(gloss.Repeats, said)
	if !ok {
		means = gloss.Units
		if visits {
			means = gloss.Readings
		}
		u.asked = append(u.asked, Asked{Sense: gloss.Sense{Of: gloss.Repeats, Said: said, Means: means},
			Header: said, Column: "mean", Rows: rows})
	}
	if means == gloss.Readings && visits {
		u.summed(m, mean, unit)
		clear(groups)
		for r, row := range m.Rows {
			groups[m.among(row)] = append(groups[m.among(row)], r)
		}
	}
	if len(m.Rows) == 0 {
		return
	}
	for _, name := range []string{"n", "sd"} {
		if at(name) < 0 {
			m.Columns, m.Headers = append(m.Columns, name), append(m.Headers, m.Headers[mean])
		}
	}
	all, from, lost := m.Rows, m.From, m.lost
	m.Rows, m.From, m.lost = nil, nil, nil
	for _, key := range order {
		list := groups[key]
		if len(list) == 0 { // each reading of it has none
			continue
		}
		row := make([]string, len(m.Columns))
		out := false
		for i, name := range m.Columns[:len(all[0])] {
			var cells []string
			for _, r := range list {
				if text := all[r][i]; text != "" && (name == "mean" || !slices.Contains(cells, text)) {
					cells = append(cells, text)
				}
				out = out || lost[r]
			}
			c := columnOf(name)
			numbers, ok := numbersOf(cells)
			switch {
			case len(cells) == 0 || len(cells) == 1 && name != "mean":
				row[i] = strings.Join(cells, "")
			case name == "mean" && ok:
				avg, sd := meanAndSD(numbers)
				row[i] = number(avg)
				if means != gloss.Readings || unit >= 0 {
					row[at("n")] = strconv.Itoa(len(numbers))
				}
				if sd > 0 {
					row[at("sd")] = number(sd)
				}
			case c.Kind == column.Number && ok:
				avg, _ := meanAndSD(numbers)
				row[i] = number(avg)
			case c.Name == "" || c.Joined:
				row[i] = strings.Join(cells, "; ")
			default:
				row[i] = cells[0]
				for _, text := range cells[1:] { // what must be one of a row and is not is at fault where it is read
					if c.Kind.Numeric() || c.Once {
						row[i] += "; " + text
					}
				}
			}
		}
		var rows []int
		for _, r := range list {
			rows = append(rows, from[r]...)
		}
		m.Rows, m.From, m.lost = append(m.Rows, row), append(m.From, rows), append(m.lost, out)
	}
}

// timely are words, plain, of headers that tell one reading of a unit from the next.
var timely = []string{"date", "dates", "day", "days", "run", "runs", "visit", "week", "month", "collection", "reading",
	"gathering", "jour", "jours", "coulee", "coulees", "visite", "semaine", "mois", "recolte", "collecte", "lecture",
	"tournee"}

// untimely are words, plain, of headers that tell something else beside a timely word: where sap was collected, when a
// tree was tapped or cleaned.
var untimely = []string{"tank", "tanks", "bucket", "buckets", "pull", "pulled", "tapped", "tapping", "wash", "washed",
	"rinse", "cleaning", "installed", "reservoir", "reservoirs", "bassin", "seau", "seaux", "entaillage", "entaille",
	"desentaillage", "lavage", "rincage", "nettoyage", "pose"}

// tellsWhen is true of a column whose header says that it tells one reading from the next.
func (u *reader) tellsWhen(i int) bool {
	header := gloss.Plain(u.headers[i])
	return gloss.HoldsOne(header, timely...) && !gloss.HoldsOne(header, untimely...)
}

// visits is true of rows that are readings of units, one after the other: a column tells when each was. unit is the
// column that tells the units of a practice apart; -1: it has one.
func (u *reader) visits(m *Meant) (unit int, ok bool) {
	notes := func(yield func(i int) bool) {
		for i, t := range u.targets {
			if t.Column == "" && u.headers[i] != "" && !yield(i) {
				return
			}
		}
	}
	apart := func(columns ...int) bool { // one row, at most, has the same under all of them
		seen := map[string]bool{}
		for k, row := range m.Rows {
			key := m.among(row)
			for _, i := range columns {
				key += "\x00" + gloss.Fold(u.rows[m.From[k][0]][i])
			}
			if seen[key] {
				return false
			}
			seen[key] = true
		}
		return true
	}
	if apart() {
		return -1, false
	}
	for when := range notes {
		days := !slices.ContainsFunc(u.rows, func(r []string) bool {
			_, day := readDay(r[when])
			return !day || bareNumber(r[when])
		})
		if !days && !u.tellsWhen(when) {
			continue
		}
		if apart(when) {
			return -1, true
		}
		for i := range notes {
			if i != when && !apart(i) && apart(when, i) {
				return i, true
			}
		}
	}
	return -1, false
}

// summed makes one row of the readings of each unit. What a unit gave is not known where one of them is not.
func (u *reader) summed(m *Meant, mean, unit int) {
	var rows [][]string
	var from [][]int
	var lost []bool
	at := map[string]int{}
	for k, row := range m.Rows {
		key := m.among(row)
		if unit >= 0 {
			key += "\x00" + gloss.Fold(u.rows[m.From[k][0]][unit])
		}
		i, have := at[key]
		if !have {
			at[key] = len(rows)
			rows, from, lost = append(rows, slices.Clone(row)), append(from, m.From[k]), append(lost, m.lost[k])
			continue
		}
		for c, text := range row {
			switch name := columnOf(m.Columns[c]).Name; {
			case c == mean:
				rows[i][c] = sum(rows[i][c], text, strings.Contains(gloss.Plain(m.Headers[mean]), "cumul"))
			case name == "" && text != "" && text != rows[i][c]:
				rows[i][c] = strings.TrimPrefix(rows[i][c]+"; "+text, "; ")
			case rows[i][c] == "":
				rows[i][c] = text
			}
		}
		from[i], lost[i] = slices.Concat(from[i], m.From[k]), lost[i] || m.lost[k]
	}
	most := map[string]int{}
	study := func(row []string) (key string) {
		for _, name := range []string{"study", "site", "season"} {
			if i := slices.Index(m.Columns, name); i >= 0 {
				key += gloss.Fold(row[i]) + "\x00"
			}
		}
		return key
	}
	for i, row := range rows {
		most[study(row)] = max(most[study(row)], len(from[i]))
	}
	for i, row := range rows {
		switch {
		case len(from[i]) == most[study(row)]:
		case unit >= 0:
			m.Few = append(m.Few, u.rows[from[i][0]][unit])
		default: // a practice has one
			m.Few = append(m.Few, row[slices.Index(m.Columns, "practice")])
		}
	}
	m.Rows, m.From, m.lost = rows, from, lost
	out := make([]bool, len(rows))
	for i, row := range rows {
		out[i] = row[mean] == ""
	}
	m.leave(out)
}

// sum adds two numbers, or of numbers that were added up already takes the larger; blank where one of them is, and
// where one is none that one, which is at fault.
func sum(a, b string, added bool) string {
	x, _, ok := parse(a, false)
	y, _, fine := parse(b, false)
	switch {
	case a != "" && !ok:
		return a
	case b != "" && !fine:
		return b
	case a == "" || b == "":
		return ""
	case added:
		return strconv.FormatFloat(max(x, y), 'g', 12, 64)
	}
	return strconv.FormatFloat(x+y, 'g', 12, 64)
}

// number is a number that was worked out, with more digits than anybody measures and as few as a form has room for.
func number(x float64) string {
	x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', 7, 64), 64)
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// numbersOf are cells as numbers; false where one is none.
func numbersOf(cells []string) (numbers []float64, ok bool) {
	for _, text := range cells {
		x, _, is := parse(text, false)
		if !is {
			return nil, false
		}
		numbers = append(numbers, x)
	}
	return numbers, true
}

// meanAndSD are the mean of numbers and their sample standard deviation.
func meanAndSD(list []float64) (mean, sd float64) {
	for _, x := range list {
		mean += x / float64(len(list))
	}
	for _, x := range list {
		sd += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(sd / float64(max(1, len(list)-1)))
}

// whole adds the columns that a person gave for all rows, and those that others tell: a study that no column names is
// called by its site and season, and a season or a site that none names is told by what the study is called.
func (u *reader) whole(m *Meant) {
	has := func(name string) bool {
		_, given := u.words.Find(gloss.Rows, name)
		return given || u.heads(name)
	}
	if from := u.telling(); !has("season") && from >= 0 {
		m.Told = append(m.Told, Told{"season", u.headers[from]})
		u.years = from
		if !has("site") && slices.ContainsFunc(u.cells[from], func(text string) bool {
			_, rest, _ := yearIn(text)
			return rest != "" && slices.Contains(naming, u.targets[from].Column)
		}) {
			m.Told = append(m.Told, Told{"site", u.headers[from]})
		}
	}
	told := func(name string) bool {
		return slices.ContainsFunc(m.Told, func(t Told) bool { return t.Column == name })
	}
	if !has("study") && (has("site") || told("site")) && (has("season") || told("season")) {
		m.Told = append(m.Told, Told{Column: "study"})
	}
	for _, c := range evidence.Columns {
		_, given := u.words.Find(gloss.Rows, c.Name)
		if (given || told(c.Name)) && !slices.Contains(m.Columns, c.Name) {
			m.Columns, m.Headers = append(m.Columns, c.Name), append(m.Headers, "")
		}
	}
}

// naming are columns whose words may name a season.
var naming = []string{"study", "site", "trial"}

// telling is the column that tells the season of every row: a name with a year in it, or the day of tapping; -1: none.
func (u *reader) telling() int {
	for _, name := range []string{"study", "site", "trial", "tapped"} {
		i := slices.IndexFunc(u.targets, func(t gloss.Target) bool { return t.Column == name && t.Practice == "" })
		if i >= 0 && len(u.rows) > 0 && !slices.ContainsFunc(u.cells[i], func(text string) bool {
			_, _, ok := yearIn(text)
			if day, is := readDay(text); name == "tapped" {
				ok = is && day.year > 0
			}
			return !ok
		}) {
			return i
		}
	}
	for i, t := range u.targets { // or that of each reading
		if t.Column == "" && len(u.rows) > 0 && u.tellsWhen(i) && !slices.ContainsFunc(u.rows, func(r []string) bool {
			day, ok := readDay(r[i])
			other := day // with its numbers in the other order
			if other.a, other.b = day.b, day.a; day.order == "" && springOf(day) != springOf(other) {
				return true
			}
			return !ok || day.year == 0 || bareNumber(r[i])
		}) {
			return i
		}
	}
	return -1
}

// fill puts them into a row.
func (u *reader) fill(m *Meant, r int, row []string) {
	at := func(name string) int { return slices.Index(m.Columns, name) }
	for i, c := range m.Columns {
		if means, given := u.words.Find(gloss.Rows, c); given && row[i] == "" {
			row[i] = means
		}
	}
	for _, t := range m.Told {
		year, rest := "", ""
		if t.From != "" {
			year, rest, _ = yearIn(u.cells[u.years][r])
		}
		switch t.Column {
		case "season":
			if row[at("season")] = year; !slices.Contains(naming, u.targets[u.years].Column) {
				if day, ok := readDay(u.cells[u.years][r]); ok {
					row[at("season")] = springOf(day)
				}
			}
			if u.targets[u.years].Column == "site" && rest != "" {
				row[at("site")] = rest
			}
		case "site":
			row[at("site")] = rest
		case "study":
			row[at("study")] = strings.TrimSpace(row[at("site")] + " " + row[at("season")] + " " + u.parts[r])
		}
	}
}

// name is what a column is called in our words: a note that is called like a column of ours says that it is a note.
func (u *reader) name(i int) string {
	if t := u.targets[i]; t.Column != "" {
		return t.Column
	}
	name := strings.ToLower(u.headers[i])
	if known()[name] {
		name += " (note)"
	}
	return name
}
