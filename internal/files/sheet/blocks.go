package sheet

import (
	"cmp"
	"maps"
	"regexp"
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/gloss"
)

// sections gives a column of its own to what stands alone in a row and holds for the rows below it, up to the next one:
// a table a site, or a season, below one another. Every row must stand below one, and the first may stand above the
// header.
func (s *shape) sections() {
	alone := func(row []string) string {
		text := strings.Join(row, "")
		_, _, number := measured(text)
		if _, year := seasonOf(text, true); filledCells(row) != 1 || number && !year || gloss.Blank(text) {
			return ""
		}
		return text
	}
	names := make([]string, len(s.records)) // of sections that begin with a record
	begun, first := 0, ""
	for i, r := range s.records {
		if r.turned == "" && i+1 < len(s.records) && alone(texts(s.records[i+1])) == "" {
			names[i] = alone(texts(r))
		}
		if names[i] != "" {
			begun++
		}
	}
	if len(s.said) < 3 || begun == 0 {
		return
	}
	if names[0] == "" { // the first one's name stands above the header
		again := slices.ContainsFunc(s.records, s.again)
		for n := len(s.above) - s.levels; n > 0; n-- {
			if filledCells(s.above[n-1]) > 0 {
				first = alone(s.above[n-1])
				break
			}
		}
		label, _ := labelled(first)
		another, _ := labelled(names[slices.IndexFunc(names, func(n string) bool { return n != "" })])
		if first == "" || !again && (label == "" || label != another) {
			return
		}
		begun++
	}
	if begun < 2 {
		return
	}
	header, label := "", ""
	for _, name := range append([]string{first}, names...) {
		if name == "" {
			continue
		}
		label, name = labelled(name)
		switch _, year := seasonOf(name, true); {
		case label != "":
			header = label
		case s.practice(name):
			header = "Treatment"
		case year:
			header = "Season"
		default:
			header = "Site"
		}
	}
	says := func(name string) string { _, name = labelled(name); return name }
	if slices.Contains(s.said, header) { // what it says more is the season, if anything
		header = "Season"
		years := func(name string) string { year, _, _ := yearIn(name); return year }
		if slices.Contains(s.columns(s.said), "season") || slices.ContainsFunc(append([]string{first}, names...),
			func(name string) bool { return name != "" && years(name) == "" }) {
			return
		}
		says = years
	}
	now := says(first)
	var kept []*record
	above := s.above
	for i, r := range s.records {
		if names[i] != "" {
			now = says(names[i])
			if len(kept) > 0 {
				kept[len(kept)-1].stood = append(kept[len(kept)-1].stood, r.stood...)
			} else {
				above = append(above, r.stood...)
			}
			continue
		}
		text := now
		if s.again(r) {
			text = header
		}
		r.cells = append([]cell{{text: text, row: r.row}}, r.cells...)
		kept = append(kept, r)
	}
	s.records = kept
	if s.above != nil {
		s.above = above
	}
	s.said = append([]string{header}, s.said...)
	s.note(note.New("what stands alone in a row and holds for those below it has a column of its own, %s",
		quote(header)))
}

// labelled parts a label from what it says: Site: Beaver Lot.
func labelled(text string) (label, says string) {
	before, behind, ok := strings.Cut(text, ":")
	if !ok || strings.TrimSpace(behind) == "" {
		return "", strings.TrimRight(text, ": ")
	}
	return strings.TrimSpace(before), strings.TrimSpace(behind)
}

// keyed is what a column of a wide table is: of a key that its header says, what was measured of it; "" of every row.
type keyed struct{ key, of string }

// seasons gives a row to each season of a table that has a column a season, or several alike: 2019 sap, 2020 sap.
func (s *shape) seasons() {
	parts, columns, years := make([]keyed, len(s.said)), map[string]int{}, map[string]bool{}
	for i, h := range s.said {
		year, rest, ok := yearIn(h)
		if !ok || !s.numeric(i) {
			continue
		}
		if strings.Count(rest, "(") > strings.Count(rest, ")") {
			rest += ")"
		}
		if rest = strings.Join(strings.Fields(rest), " "); rest == "" {
			rest = "Yield"
		}
		parts[i] = keyed{year, rest}
		columns[rest]++
		years[year] = true
	}
	alone := slices.ContainsFunc(parts, func(p keyed) bool { return p.key != "" && columns[p.of] < 2 })
	if len(years) < 2 || alone || slices.Contains(s.columns(s.said), "season") {
		return
	}
	var out []int
	for i, h := range s.said {
		if parts[i].key == "" && s.sums(h) {
			s.note(note.New("the column %s sums others up and is left out", quote(h)))
			out = append(out, i)
		}
	}
	s.long(parts, out, "Season", nil)
	s.note(note.New("each season of this table has a column: its rows are parted by season (%s)",
		strings.Join(slices.Sorted(maps.Keys(years)), ", ")))
}

// repetitions gives a row to each unit, or reading, of a table that has a column for each: Rep 1, Rep 2.
func (s *shape) repetitions() {
	names := s.columns(s.said)
	parts, words, numbered := make([]keyed, len(s.said)), map[string]bool{}, 0
	for i, h := range s.said {
		m := repetition.FindStringSubmatch(gloss.Plain(h))
		if m == nil || !s.numeric(i) {
			continue
		}
		if names[i] != "" && columnOf(names[i]).Kind != column.Text && names[i] != "n" {
			return
		}
		parts[i] = keyed{h, "Yield"}
		words[m[1]] = true
		numbered++
	}
	if len(words) != 1 || numbered < 2 || slices.Contains(names, "mean") || slices.Contains(s.said, "Yield") {
		return
	}
	header, keeps := "Repetition", func(*record, string) bool { return false }
	for w := range words {
		if slices.Contains(timely, w) { // a reading of the unit of the row
			header, keeps = strings.ToUpper(w[:1])+w[1:], s.unread(names, parts)
		}
	}
	s.long(parts, nil, header, keeps)
	s.note(note.New("each unit or reading of this table has a column: it is given a row of its own"))
}

// repetition is a plain header that numbers a unit, or a reading of one.
var repetition = regexp.MustCompile(`^(run|visit|week|day|collection|reading|coulee|visite|semaine|jour|lecture|rep|repl|replicate|replication|block|blk|tree|plot|unit|chamber|mainline|line|r|` +
	`repetition|bloc|arbre|parcelle|unite|chambre|ligne|collecteur) ?(?:no )?\d{1,3}$`)

// pairs gives a row of its own to the control of a table that has, in the row of each practice, what its control gave
// beside what the practice did: control mean, treated mean.
func (s *shape) pairs() {
	names := s.columns(s.said)
	at := slices.Index(names, "practice")
	if at < 0 || s.numeric(at) {
		return
	}
	sides, header := [2]map[string]int{{}, {}}, map[string]string{}
	of, control := make([]string, len(s.said)), ""
	for i, h := range s.said {
		for side, group := range groups {
			m := group.FindStringIndex(h)
			if i == at || m == nil || groups[1-side].MatchString(h) || !s.numeric(i) {
				continue
			}
			rest := strings.TrimSpace(h[:m[0]] + " " + h[m[1]:])
			name := headed(plainHeader(rest)).Column
			if name == "" && alike(plainHeader(rest)).Column == "taps" {
				name = "taps"
			}
			if gloss.Plain(rest) == "" {
				name, rest = "mean", "Yield"
			}
			if !slices.Contains([]string{"mean", "sd", "se", "n", "taps"}, name) {
				continue
			}
			of[i], sides[side][name], header[name] = name, i, rest
			if side == 0 {
				control = strings.Trim(h[m[0]:m[1]], "_ ")
			}
		}
	}
	same := maps.EqualFunc(sides[0], sides[1], func(int, int) bool { return true })
	if _, mean := sides[0]["mean"]; !mean || !same {
		return
	}
	if len(control) == 1 { // one letter, which says it no more than beside the other
		control = "Control"
	}
	var said []string
	var keep []int
	for i, h := range s.said {
		if of[i] == "" {
			said, keep = append(said, h), append(keep, i)
		}
	}
	values := slices.Sorted(maps.Keys(header))
	for _, name := range values {
		said = append(said, header[name])
	}
	last := make([]string, len(s.said)) // of what may stand above only
	row := func(r *record, side int) (own record, key string) {
		own, own.cells = *r, nil
		for _, i := range keep {
			c := r.at(i)
			switch col := columnOf(names[i]); {
			case side == 1:
			case i == at:
				c.text = control
			case !col.Once || col.Name == "" || col.Joined: // which is said of the practice
				c.text = ""
			}
			text := c.text
			if columnOf(names[i]).Needed && i != at {
				last[i] = cmp.Or(text, last[i])
				text = last[i]
			}
			own.cells, key = append(own.cells, c), key+"\x00"+gloss.Fold(text)
		}
		for _, name := range values {
			c := r.at(sides[side][name])
			own.cells, key = append(own.cells, c), key+"\x00"+c.text
		}
		return own, key
	}
	var records []*record
	seen := map[string]bool{}
	for _, r := range s.records {
		if s.again(r) {
			continue
		}
		first, key := row(r, 0)
		if r.at(sides[0]["mean"]).text != "" && !seen[key] { // one control may stand beside several practices
			records = append(records, &first)
			seen[key] = true
		}
		second, _ := row(r, 1)
		records = append(records, &second)
	}
	s.said, s.records, s.above = said, records, nil
	s.note(note.New("each row of this table is of a practice and its control: each has a row of its own"))
}

// groups are the words of headers for the control and for what is compared with it.
var groups = [2]*regexp.Regexp{
	regexp.MustCompile(`(?i)(?:^|[\s_.(])(?:control|ctrl|untreated|unsanitized|t[ée]moin|non trait[ée]|c)\b\)?`),
	regexp.MustCompile(`(?i)(?:^|[\s_.(])(?:treatment|treated|treat|trt|trait[ée]|traitement|t)(?:$|[\s_.)])`),
}

// readings gives a row to each reading of a table that has a column a day, or a column a unit beside its days.
func (s *shape) readings() {
	names := s.columns(s.said)
	has := func(list ...string) bool {
		return slices.ContainsFunc(list, func(n string) bool { return slices.Contains(names, n) })
	}
	days, units := make([]keyed, len(s.said)), make([]keyed, len(s.said))
	nDays, nUnits := 0, 0
	for i, h := range s.said {
		if _, day := readDay(h); day && !bareNumber(h) {
			days[i] = keyed{h, "Sap"}
			nDays++
		} else if h != "" && names[i] == "" && s.numeric(i) && !slices.ContainsFunc(ofTrials, called(gloss.Plain(h))) {
			units[i] = keyed{h, "Sap"}
			nUnits++
		}
	}
	switch {
	case slices.Contains(s.said, "read"): // which our own wide tables say of each row
	case nDays >= 2 && !has("date"):
		s.long(days, nil, "Date", nil)
	case nUnits >= 2 && nDays == 0 && has("date") && !has("unit", "code", "practice", "volume_l"):
		s.long(units, nil, "Unit", nil)
	}
}

// called is true of the column that a plain header calls, with its unit or without.
func called(plain string) func(c column.Column[any]) bool {
	return func(c column.Column[any]) bool {
		return strings.HasPrefix(c.Name, plain+"_") || slices.Contains(c.Headers, plain)
	}
}

// unread is true of a blank where other rows of the study have a reading: what was gathered then is not known, and what
// all runs gave is not the sum of the others.
func (s *shape) unread(names []string, parts []keyed) func(r *record, key string) bool {
	study := map[*record]string{}
	read := map[string]bool{} // of studies, what they have
	last := make([]string, len(names))
	for _, r := range s.records {
		for i, name := range names {
			if slices.Contains(naming, name) || name == "season" {
				last[i] = cmp.Or(r.at(i).text, last[i])
				study[r] += gloss.Fold(last[i]) + "\x00"
			}
		}
		for i, p := range parts {
			if p.key != "" && r.at(i).text != "" {
				read[study[r]+p.key] = true
			}
		}
	}
	return func(r *record, key string) bool { return read[study[r]+key] }
}

// long makes a wide table a long one: a row a key, which a column says, headed by header; out are columns left out. A
// key under which a record has nothing gives it no row, unless keeps is true of it, or there is none under which it has
// something; without keeps it gives it none.
func (s *shape) long(parts []keyed, out []int, header string, keeps func(r *record, key string) bool) {
	var said, keys, values []string
	var keep []int
	for i, p := range parts {
		switch {
		case p.key == "" && !slices.Contains(out, i):
			said, keep = append(said, s.said[i]), append(keep, i)
		case p.key != "" && !slices.Contains(keys, p.key):
			keys = append(keys, p.key)
		}
		if p.key != "" && !slices.Contains(values, p.of) {
			values = append(values, p.of)
		}
	}
	var records []*record
	for _, r := range s.records {
		at := func(i int) cell {
			if i >= 0 && i < len(r.cells) {
				return r.cells[i]
			}
			return cell{row: r.row}
		}
		none := !slices.ContainsFunc(parts, func(p keyed) bool {
			return p.key != "" && r.at(slices.Index(parts, p)).text != ""
		})
		for k, key := range keys {
			own, some := *r, false
			own.cells = nil
			for _, i := range keep {
				own.cells = append(own.cells, at(i))
			}
			if own.cells = append(own.cells, cell{text: key, row: r.row}); none {
				own.cells[len(keep)].text = "" // what has nothing is of none, and may be a remark
			}
			for _, of := range values {
				c := at(slices.Index(parts, keyed{key, of}))
				some = some || c.text != ""
				own.cells = append(own.cells, c)
			}
			if (some || keeps != nil && (none && k == 0 || keeps(r, key))) && !s.again(r) {
				records = append(records, &own)
			}
		}
	}
	s.said, s.records, s.above = slices.Concat(said, []string{header}, values), records, nil
}

// numeric is true of a column whose cells are mostly numbers.
func (s *shape) numeric(i int) bool {
	numbers, filled := 0, 0
	for _, r := range s.records {
		if i < len(r.cells) && r.cells[i].text != "" && !s.again(r) {
			filled++
			if _, _, ok := measured(r.cells[i].text); ok || parted(r.cells[i].text, false, false) != nil {
				numbers++
			}
		}
	}
	return filled > 0 && 2*numbers >= filled
}

// again is true of a row that says the header again.
func (s *shape) again(r *record) bool {
	row := texts(r)
	return len(row) > 0 && slices.Equal(row, s.said[:min(len(s.said), len(row))])
}
