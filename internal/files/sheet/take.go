package sheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/practice"
)

// take reads a row by the columns of its table; false where something of it is at fault or lacking.
func take[T any](r *record, columns []column.Column[*T], set practice.Set) (row T, ok bool) {
	before := r.faults.count()
	fill(r, &row, columns, set)
	return row, r.faults.count() == before && !r.lost
}

// fill is take into a row that is there.
func fill[T any](r *record, row *T, columns []column.Column[*T], set practice.Set) {
	group, given := "", ""
	for i, c := range columns {
		if name := cmp.Or(c.Instead, c.Name); name != group { // the ways of writing one value stand together
			group, given = name, ""
		}
		if c.Set != nil && (r.has(c.Name) || (c.Kind == column.List || c.Kind == column.Practices) &&
			r.below(c.Name) != nil) {
			if given != "" && c.Kind.Numeric() {
				r.fault(c.Name, note.New("%s and %s say the same in two units; allowed: one of them", given, c.Name))
			} else if v := valueOf(r, c, set); v != nil && given == "" {
				c.Set(row, v)
			}
			given = cmp.Or(given, c.Name)
		}
		last := i+1 == len(columns) || cmp.Or(columns[i+1].Instead, columns[i+1].Name) != group
		if last && c.Needed && given == "" {
			r.need(group)
		}
	}
}

// present are the columns of a table that a row may fill or must.
func present[T any](h *head, columns []column.Column[*T]) []column.Column[*T] {
	return slices.DeleteFunc(slices.Clone(columns), func(c column.Column[*T]) bool {
		_, have := h.index[c.Name]
		return c.Set == nil || !have && !c.Needed
	})
}

// namesOf are the names of columns, to look one up in.
func namesOf[T any](columns []column.Column[T]) map[string]bool {
	known := map[string]bool{}
	for _, c := range columns {
		known[c.Name] = true
	}
	return known
}

// valueOf is what a row has under a column; nil where nothing is given or it is at fault.
func valueOf[T any](r *record, c column.Column[T], set practice.Set) any {
	switch c.Kind {
	case column.Text:
		if c.Words != nil {
			return some(r.choice(c.Name, c.Words...))
		}
		return some(r.text(c.Name))
	case column.Practice:
		return some(r.choice(c.Name, keysOf(set)...))
	case column.Practices:
		var list []string
		for _, i := range r.below(c.Name) {
			if k := r.choice(c.Name+"."+i, keysOf(set)...); k != "" {
				list = append(list, k)
			}
		}
		return list
	case column.Volume:
		return some(string(r.volume(c.Name)))
	case column.YesNo:
		return r.yes(c.Name)
	case column.Number:
		return maybe(r.number(c.Name, c.Bounds))
	case column.Whole:
		return maybe(r.whole(c.Name, c.Bounds))
	case column.Inches:
		return maybe(r.inches(c.Name, c.Bounds))
	case column.Day:
		if t := r.date(c.Name); !t.IsZero() {
			return t
		}
	case column.Moment:
		if t, ok := r.moment(c.Name); ok {
			return t
		}
	case column.List:
		return r.list(c.Name)
	case column.Own:
		text, _ := r.get(c.Name)
		v, bad := c.Parse(strings.TrimSpace(text.text))
		if bad.Key == "" {
			return v
		}
		r.fault(c.Name, bad)
	default:
		panic(fmt.Sprintf("sheet: no file is read with a column of the kind %d", c.Kind))
	}
	return nil
}

// some is a text that is given.
func some(text string) any {
	if text == "" {
		return nil
	}
	return text
}

func maybe[N int | float64](n *N) any {
	if n == nil {
		return nil
	}
	return *n
}

func keysOf(set practice.Set) []string {
	keys := make([]string, len(set))
	for i, k := range set.Keys() {
		keys[i] = string(k)
	}
	return keys
}

// moment reads a day that may have a time; false where it is not given or at fault.
func (r *record) moment(key string) (time.Time, bool) {
	c, ok := r.get(key)
	if !ok {
		return time.Time{}, false
	}
	t, ok := column.ParseMoment(strings.TrimSpace(c.text))
	if !ok {
		r.fault(key, column.NoMoment(c.text))
	}
	return t, ok
}

// list reads words: those below a key of a TOML file, or those of a cell, with semicolons between.
func (r *record) list(key string) (list []string) {
	for _, i := range r.below(key) {
		list = append(list, r.text(key+"."+i))
	}
	for part := range strings.SplitSeq(r.text(key), ";") {
		if part = strings.TrimSpace(part); part != "" {
			list = append(list, part)
		}
	}
	return list
}

// tableOf is rows as a table, under the columns that they fill. Of several columns for one quantity it is that of a
// data package, or, where gallons is true, that of gallons.
func tableOf[T any](name string, columns []column.Column[*T], rows []T, gallons bool) Table {
	t := Table{Name: name, Rows: make([][]any, len(rows))}
	written := map[string]string{} // by the column that is written in a package
	for _, c := range columns {
		root := cmp.Or(c.Instead, c.Name)
		if c.Instead == "" || gallons && slices.Contains(customary, c.Name[strings.LastIndexByte(c.Name, '_')+1:]) {
			written[root] = c.Name
		}
	}
	for _, c := range columns {
		if c.Get == nil || written[cmp.Or(c.Instead, c.Name)] != c.Name {
			continue
		}
		cells, filled := make([]any, len(rows)), false
		for i := range rows {
			cells[i] = cellOf(c.Kind, c.Get(&rows[i]))
			filled = filled || cells[i] != nil
		}
		if !filled {
			continue
		}
		t.Columns = append(t.Columns, Column{Name: c.Name})
		for i, v := range cells {
			t.Rows[i] = append(t.Rows[i], v)
		}
	}
	return t
}

// cellOf is a value as a cell has it.
func cellOf(k column.Kind, v any) any {
	switch v := v.(type) {
	case nil:
		return nil
	case bool:
		return yesNo(v)
	case []string:
		return strings.Join(v, ";")
	case time.Time:
		if k == column.Moment {
			return column.MomentText(v)
		}
		return v.Format(time.DateOnly)
	}
	if k == column.Own {
		return fmt.Sprint(v)
	}
	return v
}
