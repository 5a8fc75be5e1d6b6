package page

import (
	"net/url"
	"slices"

	"spile/internal/files/sheet"
	"spile/internal/trade/column"
	"spile/internal/trade/gloss"
)

// Settle is a header or a word of a table of others in the form that settles it.
type Settle struct {
	gloss.Sense
	ID, Label, What string   // What is the header that a word stands under
	Seen            []string // some of what stands under a header
	Rows            int      // that have a word
	Options         []Picked
	Fault           string
}

// Senses are what a form says of headers and words; of what it leaves open the meaning is "".
func Senses(form url.Values) (words gloss.Glossary) {
	of, said, means := form["of"], form["said"], form["means"]
	for i := range min(len(of), len(said), len(means), 5000) {
		words = append(words, gloss.Sense{Of: Clean(of[i]), Said: Clean(said[i]), Means: Clean(means[i])})
	}
	return words
}

// SomeOf are the first few that differ of what stands under a header.
func SomeOf(rows [][]string, i int) (seen []string) {
	for _, row := range rows {
		if text := row[i]; text != "" && len(seen) < 3 && !slices.Contains(seen, Short(text)) {
			seen = append(seen, Short(text))
		}
	}
	return seen
}

// Meanings are what a word may stand for that stands under a column of a kind, which may know a few words.
func (s *Site) Meanings(q sheet.Asked, kind column.Kind, words []string) []Picked {
	v := s.Voice
	list := []Option{Opt("", v.Text("choose"))}
	switch {
	case q.Of == gloss.Numbers:
		list = append(list, Opt(gloss.Point, v.Text("1,200 is one thousand two hundred")),
			Opt(gloss.Comma, v.Text("1,200 is one and two tenths")))
	case q.Of == gloss.Dates:
		list = append(list, Opt(gloss.Day, v.Text("day first: 3/4 is the 3rd of April")),
			Opt(gloss.Month, v.Text("month first: 3/4 is the 4th of March")))
	case q.Of == gloss.Blanks:
		list = append(list, Opt(gloss.Above, v.Text("a blank cell means what stands above it")))
	case q.Of == gloss.Repeats:
		list = append(list, Opt(gloss.Units, v.Text("each row is one unit: mean, sd and number are worked out")),
			Opt(gloss.Readings, v.Text("each row is one reading of a unit: they are summed, then as for units")))
	case q.Of == gloss.Ranges:
		list = append(list, Opt(gloss.Middle, v.Text("a range means its middle")))
	case q.Of == gloss.Places:
		list = append(list, Opt(gloss.Apart, v.Text("places of one name are apart, each with whose it is")),
			Opt(gloss.One, v.Text("it is one place")))
	case q.Of == gloss.Unknown:
		list = append(list, Opt(gloss.Unknown, v.Text("not known")))
	case q.Of == "season":
		for _, year := range append(sheet.Springs(q.Said), q.Means) {
			if o := Opt(year, year); year != "" && !slices.Contains(list, o) {
				list = append(list, o)
			}
		}
	case kind == column.Practice:
		for _, p := range s.Input.Practices {
			list = append(list, Opt(string(p.Key), s.Practice(p.Key)))
		}
	case kind == column.YesNo:
		list = append(list, s.Terms("yes", "no")...)
	default:
		list = append(list, s.Terms(words...)...)
	}
	return Pick(list, q.Means)
}
