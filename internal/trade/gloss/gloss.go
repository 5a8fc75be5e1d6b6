// Package gloss is what headers and words of tables of others stand for: each is settled once, for all rows and for
// every table that comes after.
package gloss

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// What a sense may be of, beside the name of a column whose cells hold the word.
const (
	Columns = "columns" // a header; it means a column of ours, Note, or what Target says
	Unknown = "unknown" // a word for what is not known, in any column
	Numbers = "numbers" // a header, whose numbers may be read two ways; it means the decimal mark, Comma or Point
	Rows    = "rows"    // a column that the table lacks; it means what all its rows have there, in this table
	Dates   = "dates"   // a header, whose dates may be read two ways; it means what comes first, Day or Month
	Blanks  = "blanks"  // a header, whose blank cells mean what stands Above
	Repeats = "repeats" // a header, whose numbers stand for a practice more than once; each is of a unit, or a reading
	Ranges  = "ranges"  // a header, below which numbers stand as ranges; each means its Middle
	Places  = "places"  // a header that says whose a place is, where several have one name: they are Apart, or One
)

// What a sense may mean, beside columns and words of ours.
const (
	Note     = "notes" // of a header: the column is kept as a note
	Remark   = "remark"
	Own      = "own" // of a caveat: one of their own naming
	Comma    = "comma"
	Point    = "point"
	Ask      = "ask" // of numbers that were typed one by one: what others look like says nothing of them
	Above    = "above"
	Middle   = "middle"
	Apart    = "apart"
	One      = "one"
	Units    = "units"
	Readings = "readings" // of units, which are summed over the season
	Day      = "day"
	Month    = "month"
)

// Sense is one header or word, settled.
type Sense struct {
	Of    string `json:"of"`
	Said  string `json:"said"` // as their table has it; capitals and spaces do not count
	Means string `json:"means"`
}

// Glossary is what is settled; of a word that was settled twice the last counts.
type Glossary []Sense

// Index is a glossary to look words up in.
type Index map[[2]string]string

// Index makes it.
func (g Glossary) Index() Index {
	x := make(Index, len(g))
	for _, s := range g {
		x[[2]string{s.Of, Fold(s.Said)}] = s.Means
	}
	return x
}

// Find gives what a word was settled to mean.
func (x Index) Find(of, said string) (means string, ok bool) {
	if len(x) > 0 {
		means, ok = x[[2]string{of, Fold(said)}]
	}
	return means, ok
}

// Fold is a word without capitals and spare spaces.
func Fold(word string) string { return strings.ToLower(strings.Join(strings.Fields(word), " ")) }

// Plain is a word in small letters, without accents and marks: what guesses go by.
func Plain(word string) string {
	var plain strings.Builder
	gap := false
	for _, r := range norm.NFD.String(strings.ToLower(word)) {
		switch {
		case unicode.Is(unicode.Mn, r):
		case unicode.IsLetter(r) || unicode.IsNumber(r):
			if gap && plain.Len() > 0 {
				plain.WriteByte(' ')
			}
			gap = false
			plain.WriteRune(r)
		default:
			gap = true
		}
	}
	return plain.String()
}

// Holds is true of a plain text in which a plain phrase stands as whole words.
func Holds(text, phrase string) bool { return strings.Contains(" "+text+" ", " "+phrase+" ") }

// HoldsOne is true of a plain text that Holds one of some phrases.
func HoldsOne(text string, phrases ...string) bool {
	return slices.ContainsFunc(phrases, func(p string) bool { return Holds(text, p) })
}

// Without are the plain texts that are left of one when a phrase that stands in it as whole words is taken out, at
// each place where it stands.
func Without(text, phrase string) (rests []string) {
	words, out := strings.Fields(text), strings.Fields(phrase)
	for i := 0; len(out) > 0 && i+len(out) <= len(words); i++ {
		if slices.Equal(words[i:i+len(out)], out) {
			rests = append(rests, strings.Join(slices.Concat(words[:i], words[i+len(out):]), " "))
		}
	}
	return rests
}

// unknowns are words for what is not known, in small letters.
var unknowns = []string{"na", "n/a", "n.a.", "n.a", "#n/a", "#div/0!", "#value!", "#ref!",
	"#num!", "#name?", "#null!", "nd", "n.d.", "n.d", "nr", "n.r.", "s/o", "s.o.", "-",
	"--",
	"–", "—", "−", ".", "..", "...", "…", "?", "??", "*", "nan", "null", "nil", "unknown", "not known",
	"not recorded",
	"not reported", "not measured", "not available", "missing", "blank", "tbd", "inconnu", "inconnue", "non connu",
	"non mesuré", "non mesure", "non rapporté", "non rapporte", "non disponible", "non noté", "manquant", "manquante",
	"pas de donnée", "pas de données", "vide", "(blank)", "(vide)"}

// Blank is true of a word that is mostly written where something is not known.
func Blank(word string) bool { return len(word) < 24 && slices.Contains(unknowns, Fold(word)) }

// Target is what a header stands for: a column, perhaps in another unit, and perhaps of one practice where the table
// has a column a practice. It is written column.way@practice.
type Target struct{ Column, Way, Practice string }

// ParseTarget reads one.
func ParseTarget(means string) Target {
	means, practice, _ := strings.Cut(means, "@")
	column, way, _ := strings.Cut(means, ".")
	return Target{column, way, practice}
}

// String writes it.
func (t Target) String() string {
	text := t.Column
	if t.Way != "" {
		text += "." + t.Way
	}
	if t.Practice != "" {
		text += "@" + t.Practice
	}
	return text
}
