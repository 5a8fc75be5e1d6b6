// Package rotation finds the interval at which replacing drops pays best, from the joint model's ageing curve and
// the budget (M4, M5). Yearly gains are averaged as percents, never as logs.
package rotation

import "spile/note"

// Interval is drops replaced every N seasons, a 1/N part of them each season.
type Interval struct {
	Every                    int
	GainPct, LowPct, HighPct float64 // mean of the yearly percents over unsanitized
	Studied                  bool    // its oldest drops lie within the ages studied
	Net, NetLow, NetHigh     float64 // money a tap and season against unsanitized; 0 without prices
	Best                     float64 // chance that this interval is the best of all, 0 to 1
	Loss                     float64 // expected loss of choosing it over the one that turns out best
}

// Result is every interval from 1 to the longest asked, and the best.
type Result struct {
	Intervals  []Interval
	Best       int // the interval with the highest net (without prices: the highest gain); 0 where ageing is not estimable
	FlatFrom   int // the intervals from FlatFrom to FlatTo lie within FlatWithin of the best
	FlatTo     int
	FlatWithin float64 // money a tap and season
	Priced     bool
	Notes      []note.Note
}
