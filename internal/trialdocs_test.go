package internal_test

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"spile/internal/trade/column"
	"spile/internal/trade/past"
	"spile/internal/trade/trial"
)

// The tables of a trial, and the keys of trial.toml.
func init() {
	made["past"] = func() string { return columnsOf(past.Columns) }
	made["trial-sums"] = func() string { return columnsOf(trial.Sums.Columns) }
	made["trial-units"] = func() string { return columnsOf(trial.Units.Columns) }
	made["trial-layout"] = func() string { return columnsOf(trial.Layouts.Columns) }
	made["trial-readings"] = func() string { return columnsOf(trial.Readings.Columns) }
	made["trial-events"] = func() string { return columnsOf(trial.Events.Columns) }
	made["trial-dumps"] = func() string { return columnsOf(trial.Dumps.Columns) }
	made["trial-tanks"] = func() string { return columnsOf(trial.Tanks.Columns) }
	made["trial-counts"] = func() string { return columnsOf(trial.Counts.Columns) }
	made["trial-days"] = func() string { return columnsOf(trial.Days.Columns) }
	made["trial-decisions"] = func() string { return columnsOf(trial.Decisions.Columns) }
	made["trial-keys"] = func() string { return described("key", trial.Keys) }
}

func columnsOf[T any](columns []column.Column[T]) string { return described("column", columns) }

// described is columns or keys, a row each; the ways of writing one value share one, as do neighbours that say the
// same.
func described[T any](what string, columns []column.Column[T]) string {
	var rows [][]string
	last := ""
	for _, c := range columns {
		name, value := "`"+c.Name+"`", cmp.Or(c.Instead, c.Name)
		if c.Needed {
			name = "**" + name + "**"
		}
		row := []string{name, c.Holds, c.Unit, allowed(c)}
		before := []string{"", "", "", ""}
		if len(rows) > 0 {
			before = rows[len(rows)-1]
		}
		switch {
		case value == last:
			before[0], before[2] = before[0]+", "+name, strings.Trim(before[2]+", "+c.Unit, ", ")
			if row[3] != before[3] {
				before[3] += "; " + row[3]
			}
		case slices.Equal(row[1:], before[1:]):
			before[0] += ", " + name
		default:
			rows = append(rows, row)
		}
		last = value
	}
	return markdown([]string{what, "what it holds", "unit", "allowed"}, rows...)
}

// allowed is what data.md says is allowed in a column, and what counts where nothing is given.
func allowed[T any](c column.Column[T]) string {
	if c.Without == "" {
		return cmp.Or(c.Allowed, follows(c))
	}
	return cmp.Or(c.Allowed, follows(c)) + "; left out: " + c.Without
}

// follows is what is allowed by a column's kind, words and bounds.
func follows[T any](c column.Column[T]) string {
	b := c.Bounds
	switch {
	case c.Words != nil:
		return "`" + strings.Join(c.Words, "`, `") + "`"
	case c.Kind == column.YesNo:
		return "`yes`, `no` or empty"
	case c.Kind == column.Day:
		return "year-month-day"
	case c.Kind == column.Moment:
		return "a time"
	case !c.Kind.Numeric():
		return "any text"
	}
	whole := ""
	if b.Whole || c.Kind == column.Whole {
		whole = "whole, "
	}
	switch {
	case b == column.Anything:
		return "any number"
	case b.High == column.Most && b.Open:
		return whole + "above " + plain(b.Low)
	case b.High == column.Most:
		return whole + plain(b.Low) + " or more"
	case b.Open:
		return whole + "above " + plain(b.Low) + ", at most " + plain(b.High)
	}
	return whole + plain(b.Low) + " to " + plain(b.High)
}

// plain is a number with all its digits.
func plain(x float64) string {
	return strings.Replace(strconv.FormatFloat(x, 'f', -1, 64), "-", "−", 1)
}

// A column that is added to a table of a trial, in one place, is described.
func TestAStrangersColumnIsDescribed(t *testing.T) {
	before := trial.Readings.Columns
	defer func() { trial.Readings.Columns = before }()
	trial.Readings.Columns = append(slices.Clone(before), column.Column[*trial.Reading]{Name: "ph",
		Holds:  "acidity of this sap",
		Bounds: column.Bounds{Low: 4, High: 9}, Field: column.Field[*trial.Reading]{Kind: column.Number}})
	if page, want := made["trial-readings"](), "| `ph` | acidity of this sap | | 4 to 9 |\n"; !strings.HasSuffix(page,
		want) {
		t.Errorf("not described: %s", page)
	}
}
