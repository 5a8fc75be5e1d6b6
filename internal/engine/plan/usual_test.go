package plan

import (
	"slices"
	"testing"

	"spile/internal/trade/bush"
	"spile/internal/trade/practice"
)

// Laterals put in in 2020 that are replaced every ten seasons are replaced in 2030 and 2040, though no study followed
// any so long: they had been replaced in every season, so that going on as last season came out dearer than doing
// nothing. Drops whose age is known are replaced by it, whenever that is.
func TestPlasticIsReplacedByTheCalendar(t *testing.T) {
	k := &maker{Sugarbush: &bush.Sugarbush{First: 2026}, Evidence: Evidence{Set: practice.Shipped()}}
	var actions []action
	for _, x := range []practice.Key{practice.Unsanitized, "new-spout", "new-drop", "new-lateral"} {
		actions = append(actions, action{deed: &deed{doing: doing{practice: x}}})
	}
	for _, c := range []struct {
		section bush.Section
		at      func(season int) stand
		want    []int
	}{
		{bush.Section{Practice: "new-lateral", Every: 10, DropsReplaced: 2020}, nil, []int{2030, 2040}},
		{bush.Section{Practice: "new-lateral", Every: 10, DropsReplaced: 2009}, nil, []int{2026, 2036}},
		{bush.Section{Practice: "new-drop", Every: 12}, nil, []int{2026, 2038}},
		{bush.Section{Practice: "new-drop", DropsReplaced: 2020}, nil, nil},
		{bush.Section{Practice: "new-drop", Every: 3, DropsReplaced: 2024},
			func(season int) stand { return stand{kind: "new-drop", age: 2 + season} }, []int{2027, 2028}},
	} {
		var got []int
		for season := range 16 {
			at := stand{}
			if c.at != nil {
				if at = c.at(season); season > 2 {
					break
				}
			}
			i := k.usual(&table{section: c.section}, season, at, actions)
			if actions[i].practice == c.section.Practice {
				got = append(got, k.First+season)
			} else if actions[i].practice != "new-spout" {
				t.Errorf("%+v, %d: %s", c.section, k.First+season, actions[i].practice)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%+v: replaced in %v, want %v", c.section, got, c.want)
		}
	}
}
