package sheet

import (
	"fmt"
	"slices"

	"spile/internal/trade/column"
	"spile/internal/trade/trial"
)

// TrialTables are the tables of a trial, each in the form in which Trial reads it back: its plan, its layout, and what
// there is of the rest. Volumes are in litres, lengths in metres, vacuum in kPa, temperatures in °C.
func TrialTables(t trial.Trial) []Table {
	return slices.DeleteFunc(trialTablesIn(t, false), func(x Table) bool { return len(x.Rows) == 0 })
}

// customary is how columns end whose numbers are in the units that go with gallons.
var customary = []string{"gal", "in", "inhg", "f"}

// trialTablesIn are those tables, the empty ones too; in gallons, inches, inches of mercury and degrees Fahrenheit
// where that is asked.
func trialTablesIn(t trial.Trial, gallons bool) []Table {
	return []Table{
		{Name: planRole, Columns: []Column{{Name: "key"}, {Name: "value"}}, Rows: planRows(t)},
		tableIn(t, trial.Layouts, gallons), tableIn(t, trial.Readings, gallons), tableIn(t, trial.Events, gallons),
		tableIn(t, trial.Dumps, gallons), tableIn(t, trial.Tanks, gallons), tableIn(t, trial.Counts, gallons),
		tableIn(t, trial.Sums, gallons), tableIn(t, trial.Days, gallons), tableIn(t, trial.Decisions, gallons),
	}
}

func tableIn[T any](t trial.Trial, x trial.Table[T], gallons bool) Table {
	return tableOf(x.Name, x.Columns, x.Rows(t), gallons)
}

// planRows are the keys of trial.toml.
func planRows(t trial.Trial) [][]any {
	rows := keyRows(&t, trial.Keys)
	if t.Question != nil {
		for i := range t.Question.Units {
			rows = append(rows, keyRows(&t.Question.Units[i], unitsBelow(fmt.Sprintf("design.unit.%d.", i+1)))...)
		}
	}
	return rows
}

// keyRows are what stands below keys, a row each.
func keyRows[T any](of *T, keys []column.Column[*T]) (rows [][]any) {
	for _, k := range keys {
		if k.Get == nil || k.Instead != "" {
			continue
		}
		switch v := k.Get(of).(type) {
		case nil:
		case []string:
			for i, word := range v {
				rows = append(rows, []any{fmt.Sprintf("%s.%d", k.Name, i+1), word})
			}
		default:
			rows = append(rows, []any{k.Name, cellOf(k.Kind, v)})
		}
	}
	return rows
}
