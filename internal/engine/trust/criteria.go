package trust

import (
	"strings"

	"spile/internal/note"
)

// Told is what a meta-analysis tells of itself, as far as its quality is judged by it.
type Told struct {
	Search       string   // how studies were looked for, when, and what was left out and why, in the user's words
	Studies      int      // admitted
	Unsourced    []string // those that name no source
	OwnErrors    int      // those whose weight rests on an error that they state
	Spare        int      // comparisons beyond the effects, from which it is told how gains differ
	Sensitivity  bool     // the answer was asked for without each study
	SmallStudies bool     // a test of small studies could be made
	Selections   bool     // the answer under selections could be given
	Data         bool     // every comparison is printed with its gain and variance
}

// tellsSpread is from how many comparisons beyond the effects on the studies tell how gains differ; below, what is
// assumed of it decides. A variance of two degrees of freedom is told within a factor of some 150.
const tellsSpread = 3

// Criterion is one of eight by which the quality of a meta-analysis in agronomy is judged (after Philibert, Loyce &
// Makowski 2012, Agriculture, Ecosystems & Environment 148:72, in words of our own).
type Criterion struct {
	Key  string
	Name string
	Met  bool
	Why  note.Note
}

var criteria = []struct {
	key, name string
	judge     func(Told) (bool, note.Note)
}{
	{"search", "how studies were looked for can be repeated", func(t Told) (bool, note.Note) {
		if strings.TrimSpace(t.Search) == "" {
			return false, note.New("nothing is written down of how studies were looked for, when, " +
				"and what was left out and why")
		}
		return true, note.New("it is written down below")
	}},
	{"references", "every study is referenced", func(t Told) (bool, note.Note) {
		if n := len(t.Unsourced); n > 0 {
			return false, note.New("%d of %d studies name no source: %s", n, t.Studies, note.Some(t.Unsourced))
		}
		return t.Studies > 0, note.New("every study names its source")
	}},
	{"weights", "studies are weighted by how precise they are", func(t Told) (bool, note.Note) {
		why := note.New("studies that state an error, by which they are weighted: %d of %d", t.OwnErrors, t.Studies)
		return t.OwnErrors > 0, why
	}},
	{"heterogeneity", "how results differ between studies is analysed", func(t Told) (bool, note.Note) {
		switch {
		case t.Spare <= 0:
			return false, note.New("there are too few comparisons to estimate how gains differ between studies")
		case t.Spare < tellsSpread:
			return false, note.New("how gains differ between studies is mostly assumed: beyond the effects there are "+
				"%d comparisons to tell it", t.Spare)
		}
		return true, note.New("how gains differ between studies and sites is estimated, and in the range for a season")
	}},
	{"sensitivity", "how far the answer hangs on one study or choice is analysed", func(t Told) (bool, note.Note) {
		if !t.Sensitivity {
			return false, note.New("there are too few studies to leave any out")
		}
		return true, note.New("the answer is given without each study, site, season and caveat, " +
			"and under other choices")
	}},
	{"bias", "publication bias is analysed", func(t Told) (bool, note.Note) {
		switch {
		case t.SmallStudies && t.Selections:
			return true, note.New("small studies are held against large ones, and the answer is given under two " +
				"selections")
		case t.SmallStudies:
			return true, note.New("small studies are held against large ones")
		case t.Selections:
			return true, note.New("the answer is given under two selections; small studies cannot be held against " +
				"large ones, since there are too few, or all are of one precision")
		}
		return false, note.New("there are too few comparisons, or all of about one precision, to look for it")
	}},
	{"data", "the data are given", func(t Told) (bool, note.Note) {
		if !t.Data {
			return false, note.New("the comparisons are not printed here; a data package holds them")
		}
		return true, note.New("every comparison is printed with its gain, variance and weight")
	}},
	{"program", "the program is given", func(Told) (bool, note.Note) {
		return true, note.New("the report names its version, and the same input and version give the same answer")
	}},
}

// Criteria judges each of the eight by what is there.
func Criteria(t Told) []Criterion {
	var list []Criterion
	for _, c := range criteria {
		met, why := c.judge(t)
		list = append(list, Criterion{c.key, c.name, met, why})
	}
	return list
}
