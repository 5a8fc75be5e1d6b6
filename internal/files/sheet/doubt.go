package sheet

import (
	"cmp"
	"slices"
	"time"

	"spile/internal/trade/doubt"
	"spile/internal/trade/input"
	"spile/internal/trade/past"
	"spile/internal/trade/price"
)

// Doubts asks about what is possible and unusual in an input, whether it came from files or a workbook. beside is what
// it is taken in beside, of which nothing is asked: a sugarbush is laid over its prices where the input has none. today
// is the day that the input is read on; the zero time is not known.
func Doubts(in, beside input.Input, today time.Time) doubt.Questions {
	var asked doubt.Questions
	if in.Prices != nil {
		asked = in.Prices.Doubts(today)
	}
	prices := cmp.Or(in.Prices, beside.Prices)
	latest := price.Latest(prices, today)
	for _, s := range in.Studies {
		for _, q := range s.Doubts(latest) {
			ours := q.Where.Column
			if theirs := in.Calls[q.Where.File][ours]; theirs != "" {
				q.Where.Column, q.Args = theirs, slices.Clone(q.Args)
				for i, a := range q.Args {
					if a == any(ours) {
						q.Args[i] = theirs
					}
				}
			}
			asked = append(asked, q)
		}
	}
	asked = append(asked, past.Doubts(in.Past, latest)...)
	for _, t := range in.Trials {
		asked = append(asked, t.Doubts(latest)...)
	}
	known := slices.Concat(in.Practices, beside.Own())
	for _, d := range in.Bushes {
		if b, err := SugarbushFrom(d, prices, known); err == nil {
			asked = append(asked, b.Doubts()...)
		}
	}
	return asked
}
