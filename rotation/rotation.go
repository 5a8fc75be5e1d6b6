// Package rotation finds the interval at which replacing drops pays best, from the joint model's ageing curve and
// the budget (M4, M5). Yearly gains are averaged as percents, never as logs.
package rotation

// Interval is drops replaced every N seasons, a 1/N part of them each season.
type Interval struct {
	Every                    int
	GainPct, LowPct, HighPct float64 // mean of the yearly percents over unsanitized
	Studied                  bool    // its oldest drops lie within the ages studied
	Net, NetLow, NetHigh     float64 // money a tap and season against unsanitized; 0 without prices
	Best                     float64 // chance that this interval is the best of all, 0 to 1
	Loss                     float64 // expected loss of choosing it over the one that turns out best
}
