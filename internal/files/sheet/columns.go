package sheet

import "spile/internal/trade/column"

// value reads the cell of a column as what the column holds; nil where nothing is given or it is at fault. keys are the
// practices that a row may name.
func value[T any](r *record, c column.Column[T], keys []string) any {
	name := c.Name
	if !r.has(name) {
		return nil
	}
	switch c.Kind {
	case column.YesNo:
		return r.yes(name)
	case column.Number:
		return given(r.number(name, c.Bounds))
	case column.Whole:
		return given(r.whole(name, c.Bounds))
	case column.Inches:
		return given(r.inches(name, c.Bounds))
	case column.Day:
		if t := r.date(name); !t.IsZero() {
			return t
		}
	case column.Practice:
		return word(r.choice(name, keys...))
	case column.Volume:
		return word(string(r.volume(name)))
	default:
		if c.Words != nil {
			return word(r.choice(name, c.Words...))
		}
		return word(r.text(name))
	}
	return nil
}

func given[T any](p *T) any {
	if p == nil {
		return nil
	}
	return *p
}

func word(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// set reads the cell of a column into a row, where it holds something.
func set[T any](r *record, c column.Column[T], keys []string, row T) {
	if v := value(r, c, keys); v != nil {
		c.Set(row, v)
	}
}
