package evidence

import (
	"fmt"
	"math"
	"slices"

	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Limits on what can be a yield or a gain at all. Beyond them a number is a slip, and its logarithm would swamp every
// other study's.
const (
	maxRatio = 100  // of an arm's mean to its reference's, either way round
	MaxCV    = 10.0 // of units within an arm
	MinCV    = 1e-4
	maxAge   = 100 // seasons
)

// Faults is everything that keeps a study from becoming effect sizes, all of it at once.
func (s Study) Faults(set practice.Set) note.Faults {
	var faults note.Faults
	checkStudy(s, set, func(n note.Note) { faults = append(faults, n) })
	return faults
}

// checkStudy finds everything in a study that could not become a number or would not mean one.
func checkStudy(s Study, set practice.Set, fault func(note.Note)) {
	marked := 0
	seen := map[practice.Treatment]bool{}
	for _, a := range s.Arms {
		if _, ok := set.Find(a.Practice); !ok {
			fault(set.Unknown(a.Practice).At(a.Where))
		}
		if a.Reference {
			marked++
		}
		t := a.Treatment(set)
		if seen[t] {
			fault(note.New("the arm %s stands twice in %s", note.Term(a.Practice), s.Name).At(a.Where))
		}
		seen[t] = true
		checkArm(a, fault)
	}
	if len(s.Arms) == 0 {
		fault(note.New("the study %s has no arms", s.Name).At(s.Where))
		return
	}
	if marked > 1 {
		fault(note.New("%d arms of %s are marked as its reference; one is allowed", marked, s.Name).At(s.Where))
		return
	}
	r := s.Reference()
	if r < 0 && slices.ContainsFunc(s.Arms, func(a Arm) bool { return a.Mean != nil && a.Gain == nil }) {
		fault(note.New("%s has no reference: no arm is unsanitized and none is marked as the reference", s.Name).
			At(s.Where))
		return
	}
	for i, a := range s.Arms {
		if i == r {
			if a.SaysOnly() {
				fault(note.New("the reference of %s says %s of its gain; a gain is against the reference", s.Name,
					a.Said).At(a.Where))
			}
			if a.Gain != nil && a.Mean == nil && a.Gain.Pct != 0 {
				fault(note.New("the reference of %s states a gain of %v %%; a gain is against the reference", s.Name,
					a.Gain.Pct).At(a.Where))
			}
			continue
		}
		measured := a.Mean != nil && r >= 0 && s.Arms[r].Mean != nil
		switch {
		case measured || a.Gain != nil || a.SaysOnly():
		case a.Mean == nil:
			fault(note.New("the arm %s of %s has neither a mean nor a gain", note.Term(a.Practice), s.Name).At(a.Where))
		default:
			fault(note.New("the arm %s of %s has a mean, but the reference has none to hold it against",
				note.Term(a.Practice), s.Name).At(a.Where))
		}
		if measured && !(*a.Mean / *s.Arms[r].Mean <= maxRatio && *s.Arms[r].Mean / *a.Mean <= maxRatio) {
			fault(note.New("the arm %s of %s has a mean of %v where the reference has %v; allowed is a ratio of up "+
				"to %d",
				note.Term(a.Practice), s.Name, *a.Mean, *s.Arms[r].Mean, maxRatio).At(a.Where))
		}
	}
	if r >= 0 && len(s.Arms) == 1 {
		fault(note.New("%s has its reference and no other arm", s.Name).At(s.Where))
	}
}

// checkArm finds what is wrong with an arm whatever stands beside it.
func checkArm(a Arm, fault func(note.Note)) {
	bad := func(column string, got float64, allowed string) {
		w := a.Where
		w.Column = column
		fault(note.New("%s is %v; allowed is %s", column, got, allowed).At(w))
	}
	finite := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	if a.Mean != nil && !(*a.Mean > 0 && finite(*a.Mean)) {
		bad("mean", *a.Mean, "a number above 0")
	}
	if a.N != nil && !(*a.N >= 1 && *a.N == math.Trunc(*a.N) && *a.N <= 1e9) {
		bad("n", *a.N, "a whole number of units, 1 or more")
	}
	for _, c := range []struct {
		name string
		x    *float64
	}{{"sd", a.SD}, {"se", a.SE}} {
		if c.x == nil {
			continue
		}
		if !(*c.x > 0 && finite(*c.x)) {
			bad(c.name, *c.x, "a number above 0, or nothing where it is not known")
		} else if a.Mean != nil && *a.Mean > 0 && !(*c.x / *a.Mean >= MinCV/100 && *c.x / *a.Mean <= MaxCV) {
			bad(c.name, *c.x, "up to ten times the mean, and not a vanishing part of it")
		}
	}
	if a.DropAge != nil && (*a.DropAge < 0 || *a.DropAge > maxAge) {
		bad("drop_age", float64(*a.DropAge), fmt.Sprintf("0 to %d seasons", maxAge))
	}
	if g := a.Gain; g != nil {
		inRange := func(x float64) bool { return x > -100+100./maxRatio && x < 100*(maxRatio-1) }
		what := fmt.Sprintf("more than %d and less than %d %%", -100+100/maxRatio, 100*(maxRatio-1))
		if !inRange(g.Pct) {
			bad("gain_pct", g.Pct, what)
		}
		if g.SEPct != nil && !(*g.SEPct > 0 && finite(*g.SEPct)) {
			bad("gain_se_pct", *g.SEPct, "a number above 0, or nothing where it is not known")
		}
		if (g.LowPct == nil) != (g.HighPct == nil) {
			w := a.Where
			w.Column = "gain_low_pct"
			fault(note.New("one end of the gain's interval is missing; allowed are both or none").At(w))
		}
		if g.LowPct != nil && g.HighPct != nil {
			low, high := *g.LowPct, *g.HighPct
			switch {
			case !(low > -100) || !finite(low):
				bad("gain_low_pct", low, "more than -100 %")
			case !(high > low) || !finite(high):
				bad("gain_high_pct", high, "more than gain_low_pct")
			case !(g.Pct >= low && g.Pct <= high):
				bad("gain_pct", g.Pct, "a number within its own interval")
			}
		}
	}
}

// HasError is true of a gain that carries its own standard error or interval.
func (g *Reported) HasError() bool {
	return g != nil && (g.SEPct != nil || g.LowPct != nil && g.HighPct != nil)
}

// Treatment is what an arm did. A blank age of a practice that ages is 0.
func (a Arm) Treatment(set practice.Set) practice.Treatment {
	t := practice.Treatment{Practice: a.Practice}
	if p, ok := set.Find(a.Practice); ok && p.Ages() && a.DropAge != nil {
		t.DropAge = *a.DropAge
	}
	return t
}
