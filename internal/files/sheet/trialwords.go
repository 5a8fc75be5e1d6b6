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
// for what.
func inOurWords(h *head, records []*record, set practice.Set) note.List {
	roles := ofOthers
	if role := roleOf(h); role != "" {
		roles = []string{role}
	}
	var best []string
	most := 0
	for _, role := range roles {
		if names, n := headedAs(h, columnsOf(role)); n > most {
			best, most = names, n
		}
	}
	if most == 0 {
		return nil
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
		order := dayOrder(records, i)
		for _, r := range records {
			if i >= len(r.cells) {
				continue
			}
			text := &r.cells[i].text
			switch c.Kind {
			case column.Moment:
				*text = momentOf(*text, order)
			case column.Practice:
				if key, ok := set.Called(*text); ok {
					*text = string(key)
				}
			}
		}
	}
	if said == nil {
		return nil
	}
	return note.List{note.New("headers of others are read as ours: %s", strings.Join(said, ", ")).At(h.where())}
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
func headedAs(h *head, columns []column.Column[any]) (names []string, gained int) {
	names = make([]string, len(h.names))
	taken := map[string]bool{}
	for i, n := range h.names {
		if _, ours := column.Find(columns, n); ours {
			names[i], taken[n] = n, true
		}
	}
	for i, n := range h.names {
		plain := gloss.Plain(n)
		if names[i] != "" || plain == "" {
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
