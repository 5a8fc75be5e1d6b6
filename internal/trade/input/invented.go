package input

import (
	"regexp"

	"spile/internal/note"
)

// invention begins the source of a study or a price that exists nowhere, in English or French: that mark goes with it
// into every table, workbook and package.
var invention = regexp.MustCompile(`(?i)^\s*invent(ed|é)`)

const (
	inventedStudies = "%d of %d studies are invented, as their sources say: nothing that rests on them is a finding"
	inventedPrices  = "%d numbers of the price list are invented, as their sources say: no money told here is anybody's"
)

// InventedStudies counts those that are invented.
func (in Input) InventedStudies() (n int) {
	for _, s := range in.Studies {
		if invention.MatchString(s.Source) {
			n++
		}
	}
	return n
}

// SayInvented says that so many of so many studies are invented; nil where none is.
func SayInvented(n, of int) (list note.List) {
	if n > 0 {
		list.Add(inventedStudies, n, of)
	}
	return list
}

// Invented says what of the input is invented, which no answer may pass on without saying so; nil where nothing is.
func (in Input) Invented() note.List {
	list := SayInvented(in.InventedStudies(), len(in.Studies)) // a trial of one's own has no source
	n := 0
	for _, a := range in.Prices.Assumptions() {
		if invention.MatchString(a.Value.Source) {
			n++
		}
	}
	if n > 0 {
		list.Add(inventedPrices, n)
	}
	return list
}

// SaysInvented is true of a note of Invented.
func SaysInvented(n note.Note) bool { return n.Key == inventedStudies || n.Key == inventedPrices }
