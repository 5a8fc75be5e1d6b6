package sheet

import (
	"cmp"
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
)

// ofOthers are the tables of a trial whose headers may be those of others.
var ofOthers = []string{longRole, layoutRole, sumsRole, countsRole, eventsRole, calibrationRole, tanksRole, daysRole}

// inOurWords reads a table of a trial that somebody else headed: by what people head such columns with, capitals,
// accents and marks apart, where that leaves no doubt, and days and names of practices under them. It says what it took
// for what. What words settle goes first.
func inOurWords(h *head, records []*record, words gloss.Index, set practice.Set) note.List {
	roles := ofOthers
	if role := roleOf(h); role != "" {
		roles = []string{role}
	}
	var best []string
	most := 0
	for _, role := range roles {
		if names, n := headedAs(h, columnsOf(role), words); n > most {
			best, most = names, n
		}
	}
	switch {
	case most > 0:
	case roleOf(h) == "" || len(words) == 0:
		return nil
	default:
		best = h.names
	}
	var said []string
	for i, name := range best {
		if name != "" && name != h.names[i] {
			said = append(said, h.said[i]+" = "+name)
			h.names[i] = name
		}
	}
	h.foreign = true
	h.index = newHead(h.names).index
	columns := allOf(roles, h)
	for i, name := range h.names {
		c, ok := column.Find(columns, name)
		if !ok {
			continue
		}
		order, settled := words.Find(gloss.Dates, h.said[i])
		if !settled {
			order = dayOrder(records, i)
		}
		mark, _ := words.Find(gloss.Numbers, h.said[i])
		for _, r := range records {
			if i < len(r.cells) {
				r.cells[i].text = inOurWord(c, r.cells[i].text, words, order, mark, set)
			}
		}
	}
	if said == nil {
		return nil
	}
	return note.List{note.New("headers of others are read as ours: %s", strings.Join(said, ", ")).At(h.where())}
}

// inOurWord is what stands in a cell as a file of ours has it.
func inOurWord(c column.Column[any], text string, words gloss.Index, order, mark string, set practice.Set) string {
	if _, unknown := words.Find(gloss.Unknown, text); unknown {
		return ""
	}
	if means, ok := words.Find(c.Name, text); ok && means != gloss.Note {
		return means
	}
	switch {
	case c.Kind == column.Moment:
		return momentOf(text, order)
	case c.Kind == column.Practice:
		if key, ok := set.Called(text); ok {
			return string(key)
		}
	case c.Kind.Numeric() && mark == gloss.Comma:
		return strings.NewReplacer(".", "", ",", ".").Replace(text)
	case c.Kind.Numeric() && mark == gloss.Point:
		return strings.ReplaceAll(text, ",", "")
	}
	return text
}

// likely is what the headers of a table that stand for nothing yet, and its words for practices, may stand for, as
// the table of a trial that it is most like.
func likely(h *head, records []*record, set practice.Set) (asked []Asked) {
	roles := ofOthers
	role := roleOf(h)
	if role != "" {
		roles = []string{role}
	}
	most := 0
	for _, x := range roles {
		columns := columnsOf(x)
		if list, n := guessedAs(h, columns); n > most {
			asked, most = list, n
		}
	}
	i, ok := h.index["practice"]
	if !ok {
		return asked
	}
	seen := map[string]bool{}
	for _, r := range records {
		if i >= len(r.cells) || seen[r.cells[i].text] {
			continue
		}
		text := r.cells[i].text
		seen[text] = true
		if _, ours := set.Called(text); !ours {
			if key, _ := set.Guess(text); key != "" {
				asked = append(asked, Asked{Sense: gloss.Sense{Of: "practice", Said: text, Means: string(key)}})
			}
		}
	}
	return asked
}

// guessedAs are guesses at the headers of a table of some columns, and how many of these it has with them.
func guessedAs(h *head, columns []column.Column[any]) (asked []Asked, has int) {
	names, _ := headedAs(h, slices.DeleteFunc(slices.Clone(columns), func(c column.Column[any]) bool {
		return c.Needed // what is lacking is to be guessed at
	}), nil)
	if names == nil {
		names = make([]string, len(h.names))
	}
	taken := map[string]bool{}
	for i, n := range h.names {
		if _, ours := column.Find(columns, n); ours {
			names[i] = n
		}
		taken[names[i]] = names[i] != ""
	}
	for i, n := range h.names {
		plain, longest, guess := gloss.Plain(n), 2, ""
		if _, dated := readDay(n); names[i] != "" || plain == "" || dated {
			continue
		}
		for _, c := range columns {
			for _, said := range append(c.Headers, c.Name) {
				if said = gloss.Plain(said); len(said) > longest && !taken[c.Name] && stands(plain, said) {
					guess, longest = c.Name, len(said)
				}
			}
		}
		if guess != "" {
			taken[guess] = true
			asked = append(asked, Asked{Sense: gloss.Sense{Of: gloss.Columns, Said: h.said[i], Means: guess}})
		}
	}
	for _, c := range columns {
		if taken[c.Name] {
			has++
		}
	}
	return asked, has
}

// stands is true of a plain header that has every word of a phrase.
func stands(header, phrase string) bool {
	return !slices.ContainsFunc(strings.Fields(phrase), func(w string) bool { return !gloss.Holds(header, w) })
}

// allOf are the columns of the table that a head is of.
func allOf(roles []string, h *head) []column.Column[any] {
	if role := roleOf(h); role != "" {
		return columnsOf(role)
	}
	return columnsOf(roles[0])
}

// headedAs is a head in our words for a table of some columns, "" where a header stands for none; 0 where the table
// would lack a column that it needs, or nothing is gained.
func headedAs(h *head, columns []column.Column[any], words gloss.Index) (names []string, gained int) {
	names = make([]string, len(h.names))
	taken, note := map[string]bool{}, map[int]bool{}
	for i, n := range h.names {
		means, settled := words.Find(gloss.Columns, n)
		if note[i] = settled && means == gloss.Note; note[i] {
			continue
		}
		if _, ours := column.Find(columns, means); ours && !taken[means] {
			names[i], taken[means] = means, true
			gained++
		}
	}
	for i, n := range h.names {
		if _, ours := column.Find(columns, n); ours && names[i] == "" && !taken[n] && !note[i] {
			names[i], taken[n] = n, true
		}
	}
	for i, n := range h.names {
		plain := gloss.Plain(n)
		if names[i] != "" || plain == "" || note[i] {
			continue
		}
		for _, c := range columns {
			is := gloss.Plain(c.Name) == plain || slices.ContainsFunc(c.Headers, func(x string) bool {
				return gloss.Plain(x) == plain
			})
			if is && !taken[c.Name] {
				names[i], taken[c.Name] = c.Name, true
				gained++
				break
			}
		}
	}
	roots := map[string]bool{}
	for _, c := range columns {
		if taken[c.Name] {
			roots[cmp.Or(c.Instead, c.Name)] = true
		}
	}
	for _, c := range columns {
		if c.Needed && !roots[cmp.Or(c.Instead, c.Name)] {
			return nil, 0
		}
	}
	return names, gained
}

// dayOrder is what comes first in the days of a column, "" where none tells it.
func dayOrder(records []*record, i int) string {
	told := map[string]bool{}
	for _, r := range records {
		if i < len(r.cells) {
			if d, ok := readDay(r.cells[i].text); ok && d.told {
				told[d.order] = true
			}
		}
	}
	if len(told) != 1 {
		return ""
	}
	for order := range told {
		return order
	}
	return ""
}

// momentOf is a day of others, with its time where it has one, as a file has it; what leaves a doubt stays.
func momentOf(text, order string) string {
	if _, ours := column.ParseMoment(text); ours {
		return text
	}
	d, ok := readDay(text)
	if order = cmp.Or(d.order, order); !ok || order == "" || d.year == 0 {
		return text
	}
	day := d.in(order, "")
	if at := atNoon.FindString(strings.TrimSpace(text)); at != "" && day != "" {
		day += " " + strings.Trim(at[1:], "Z")
	}
	return cmp.Or(day, text)
}
