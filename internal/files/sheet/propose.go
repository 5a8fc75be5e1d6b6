package sheet

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"spile/internal/note"
)

// Proposal is a header of somebody's table and the column that it may stand for; "" where none is near.
type Proposal struct{ Header, Column string }

// others are words that people head such columns with.
var others = map[string][]string{
	"study":     {"trial name", "experiment", "study name", "study id"},
	"site":      {"location", "farm", "place", "sugarbush", "station"},
	"season":    {"year", "spring"},
	"practice":  {"treatment", "method", "arm"},
	"mean":      {"yield", "sap", "sap per tap", "mean yield", "average", "yield per tap"},
	"mean_unit": {"yield unit", "units of yield"},
	"n":         {"reps", "replicates", "sample size", "no of units"},
	"sd":        {"std dev", "stdev", "standard deviation"},
	"se":        {"std err", "stderr", "standard error", "sem"},
	"gain_pct":  {"gain", "increase", "percent gain", "percent increase", "gain percent"},
	"taps":      {"taps per unit", "number of taps"},
	"drop_age":  {"age of drops", "age of drop", "dropline age"}, "spout_age": {"age of spouts", "age of spout"}, "line_age": {"age of line", "age of tubing", "lateral age"},
	"vacuum_inhg": {"vacuum", "vacuum in hg"}, "vacuum_kpa": {"vacuum in kpa"},
	"tubing_in": {"tubing", "tubing size", "lateral size"},
	"tapped":    {"tap date", "tapping date", "date tapped"}, "last_run": {"last run date", "end date"},
	"caveats": {"remarks", "flags"}, "source": {"reference text", "citation", "publication"}, "funding": {"funded by", "sponsor"},
}

var between = regexp.MustCompile(`[^\pL\pN]+`)

// Propose guesses which column each header stands for, for a person to agree to: what is ours already first, then
// words that people use, then misspellings. No column is proposed twice. What is agreed to goes into a mapping file
// as [columns].
func Propose(headers []string) []Proposal {
	list := make([]Proposal, len(headers))
	taken := map[string]bool{}
	say := func(i int, column string) {
		if list[i].Column == "" && column != "" && !taken[column] {
			list[i].Column, taken[column] = column, true
		}
	}
	plain := make([]string, len(headers))
	for i, h := range headers {
		list[i].Header = h
		plain[i] = strings.TrimSpace(between.ReplaceAllString(strings.ToLower(h), " "))
		if low := strings.ToLower(strings.TrimSpace(h)); known[low] {
			say(i, low)
		}
	}
	for i, h := range plain {
		for _, c := range columns {
			if strings.ReplaceAll(c.name, "_", " ") == h || slices.Contains(others[c.name], h) {
				say(i, c.name)
			}
		}
	}
	for i, h := range plain {
		say(i, note.Near(h, slices.DeleteFunc(columnNames(), func(n string) bool { return taken[n] || len(n) < 4 })))
	}
	return list
}

// mapping is the mapping file of proposals, on one line.
func mapping(agreed []Proposal) string {
	var list []string
	for _, p := range agreed {
		if p.Column != "" {
			list = append(list, p.Column+" = "+tomlString(p.Header))
		}
	}
	return "columns = { " + strings.Join(list, ", ") + " }"
}

// mappable tells of the headers of a table that may stand for columns that it lacks, and how to say that they do.
func mappable(file string, data []byte, foreign map[string]string) (note.Note, bool) {
	t, err := GridOf(file, data)
	if err != nil {
		return note.Note{}, false
	}
	headers := slices.Clone(t.Columns)
	for i, h := range headers {
		headers[i] = cmp.Or(foreign[h], h)
	}
	odd := slices.DeleteFunc(Propose(headers), func(p Proposal) bool { return p.Column == "" || known[p.Header] })
	if len(odd) == 0 {
		return note.Note{}, false
	}
	return note.New("if these headers stand for columns of ours, say so in a TOML file that is read with the table: %s", mapping(odd)).At(note.Where{File: file}), true
}
