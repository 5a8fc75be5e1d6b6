package demo

import (
	"encoding/csv"
	"io/fs"
	"strconv"
	"strings"
	"testing"

	"spile/internal/trade/practice"
)

// The scenario holds what a real drawer of studies holds.
func TestScenario(t *testing.T) {
	data, err := fs.ReadFile(Files(), "evidence.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(data)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	has := map[string]map[string]int{} // column, value: rows
	for _, name := range rows[0] {
		has[name] = map[string]int{}
	}
	ages, pumped := map[string]bool{}, []float64{}
	for _, row := range rows[1:] {
		for name, i := range at {
			has[name][row[i]]++
		}
		if row[at["practice"]] == "new-drop" {
			ages[row[at["drop_age"]]] = true
		}
		if v, err := strconv.ParseFloat(row[at["vacuum_inhg"]], 64); err == nil && v > 0 {
			pumped = append(pumped, v)
		}
	}
	if n := len(has["study"]); n < 33 || n > 37 {
		t.Errorf("%d studies", n)
	}
	if n := len(rows) - 1; n < 75 || n > 90 {
		t.Errorf("%d arms", n)
	}
	for season := 2014; season <= 2025; season++ {
		if has["season"][strconv.Itoa(season)] == 0 {
			t.Errorf("no study in %d", season)
		}
	}
	for _, k := range practice.Shipped().Keys() {
		if has["practice"][string(k)] == 0 {
			t.Errorf("no arm of %s", k)
		}
	}
	for _, age := range []string{"0", "1", "2", "3", "4"} {
		if !ages[age] {
			t.Errorf("no drops of age %s", age)
		}
	}
	low, high := pumped[0], pumped[0]
	for _, v := range pumped {
		low, high = min(low, v), max(high, v)
	}
	if low != 18 || high != 27 {
		t.Errorf("vacuum from %v to %v inHg, want 18 to 27", low, high)
	}
	for _, want := range [][2]string{
		{"kind", "unreplicated"}, {"kind", "producer-report"}, {"mean_unit", "gal"}, {"mean_unit", "l"},
		{"mean_unit", "gal_imp"},
		{"tubing_in", "3/16"}, {"pump", "none"}, {"funding", "a maker of spouts"}, {"trial", "Larkmoor drops"},
	} {
		if has[want[0]][want[1]] == 0 {
			t.Errorf("no row with %s %s", want[0], want[1])
		}
	}
	freak := 0
	for w := range has["weather"] {
		if strings.Contains(w, "freak") {
			freak++
		}
	}
	if freak != 1 {
		t.Errorf("%d freak seasons, want one", freak)
	}
	if has["mean"][""] < 4 {
		t.Errorf("%d rows with only a percentage", has["mean"][""])
	}
}
