// Package input is everything that an answer rests on, whether it came from files or a workbook.
package input

import (
	"slices"

	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/doubt"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/past"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/trial"
)

// Input is what is known. How it is looked at, whoever asks says.
type Input struct {
	Studies   []evidence.Study
	Excluded  []Exclusion
	Trials    []trial.Trial   // each pooled as a live study beside the others
	Released  []string        `json:"-"` // trials that their stations have released to everybody
	Practices practice.Set    // the shipped and the user's own
	Rules     []practice.Rule // of the user; the shipped rules stand where they say nothing
	Prices    *price.Prices   // nil: gains only
	Past      []past.Season   // seasons that the producer looks back on
	Answers   []doubt.Answer  `json:"-"` // to what was asked about what is unusual
	Words     gloss.Glossary  `json:"-"` // what headers and words of tables of others stand for
	Bushes    []bush.Draft    `json:"-"` // sugarbushes of producers; no answer but a plan asks for one
	Search    Search          // how studies were looked for, when, and what was left out and why, as typed
	Sources   []Source
	// what tables of others call our columns, by file and column; what is asked of a cell says it
	Calls map[string]map[string]string
	Notes note.List // warnings of reading, which the answer carries on
}

// Search is the text in which somebody wrote down how studies were looked for, when, and what was left out and why:
// what a reader needs to look for them again.
type Search string

// Source is where input came from, and a digest of its canonical content.
type Source struct {
	Name   string
	Digest string // SHA-256, hex
}

// Exclusion is the decision to leave a study out of every answer, and why.
type Exclusion struct{ Study, Reason string }

// Own is the practices that are not shipped.
func (in Input) Own() practice.Set {
	return slices.DeleteFunc(slices.Clone(in.Practices), func(p practice.Practice) bool {
		_, shipped := practice.Shipped().Find(p.Key)
		return shipped
	})
}

// Sites are those of all studies and trials, by name.
func (in Input) Sites() []string {
	var list []string
	for _, s := range in.Studies {
		list = append(list, s.Site)
	}
	for _, t := range in.Trials {
		list = append(list, t.Site)
	}
	slices.Sort(list)
	return slices.DeleteFunc(slices.Compact(list), func(s string) bool { return s == "" })
}
