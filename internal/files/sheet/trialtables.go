package sheet

import (
	"fmt"

	"spile/internal/trade/column"
	"spile/internal/trade/trial"
)

// TrialTables are the tables of a trial, each in the form in which Trial reads it back: its plan, its layout, and what
// there is of the rest. Volumes are in litres, lengths in metres, vacuum in kPa, temperatures in °C.
func TrialTables(t trial.Trial) []Table {
	var tables []Table
	for _, x := range []Table{
		{Name: planRole, Columns: []Column{{Name: "key"}, {Name: "value"}}, Rows: planRows(t)},
		tableIn(t, trial.Layouts), tableIn(t, trial.Readings), tableIn(t, trial.Events), tableIn(t, trial.Dumps),
		tableIn(t, trial.Tanks),
		tableIn(t, trial.Counts), tableIn(t, trial.Sums), tableIn(t, trial.Days), tableIn(t, trial.Decisions),
	} {
		if len(x.Rows) > 0 {
			tables = append(tables, x)
		}
	}
	return tables
}

func tableIn[T any](t trial.Trial, x trial.Table[T]) Table {
	return tableOf(x.Name, x.Columns, x.Rows(t))
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
