// Package advice runs the whole chain on values: studies, prices and a place in; gains, rotation, budgets, a ranking
// and a recommendation out.
package advice

import (
	"spile/budget"
	"spile/evidence"
	"spile/pool"
	"spile/practice"
)

// Input is everything that an answer rests on, whether it came from files or a workbook.
type Input struct {
	Studies   []evidence.Study
	Practices practice.Set
	Rules     []practice.Rule
	Prices    *budget.Prices // nil: gains only
	Sources   []Source

	Evidence    evidence.Options
	Pool        pool.Options
	Against     practice.Treatment // today's practice where it is not that of the prices; zero value: as the prices say
	MaxInterval int                // longest rotation looked at; 0 means 10
}

// Source is where input came from, and a digest of its canonical content.
type Source struct {
	Name   string
	Digest string // SHA-256, hex
}
