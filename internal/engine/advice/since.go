package advice

import (
	"cmp"
	"slices"
	"time"

	"spile/internal/note"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
)

// Since is how an answer came to be what it is: the answer then, and after each of what came since, always by the
// method of today.
type Since struct{ Steps []Step }

// Step is the answer on what there was at one time.
type Step struct {
	Change int64 // of the workbook, the last in it
	At     time.Time
	Who    []string
	Came   []note.Note // since the step before; none of the first
	Why    []string    // the reasons that were given for it

	Ranked []Standing  // permitted and studied, the first first; by gain where there are no prices
	Faults note.Faults // why there is no answer
}

// Standing is an option of a step.
type Standing struct {
	practice.Choice
	GainPct, LowPct, HighPct float64
	Net                      *Compared // against today's practice of then; nil without prices
	Promising                note.Term // what it rests on, where that is too little to be first
}

// Find is how an option stands in a step; nil where it is not ranked.
func (s Step) Find(c practice.Choice) *Standing {
	if i := slices.IndexFunc(s.Ranked, func(x Standing) bool { return x.Choice == c }); i >= 0 {
		return &s.Ranked[i]
	}
	return nil
}

// Place is that of an option among those that may be first, the first 1; 0 where it has none.
func (s Step) Place(c practice.Choice) int {
	n := 0
	for _, x := range s.Ranked {
		if x.Promising != "" {
			continue
		}
		if n++; x.Choice == c {
			return n
		}
	}
	return 0
}

// First is the option that comes first; false where none does.
func (s Step) First() (practice.Choice, bool) {
	for _, x := range s.Ranked {
		if x.Promising == "" {
			return x.Choice, true
		}
	}
	return practice.Choice{}, false
}

// First is the option that comes first now, else that came first last.
func (s Since) First() (c practice.Choice, ok bool) {
	for _, x := range slices.Backward(s.Steps) {
		if c, ok = x.First(); ok {
			break
		}
	}
	return c, ok
}

// Answer fills in what a step's answer is.
func (m *Memo) Answer(s Step, in input.Input) Step {
	a, err := m.Ranked(Usual(in))
	if err != nil {
		s.Faults = note.FaultsOf(err)
		return s
	}
	for _, o := range a.Ranking {
		if o.Studied && o.Verdict == practice.Permitted {
			s.Ranked = append(s.Ranked, Standing{o.Choice(), o.GainPct, o.LowPct, o.HighPct, new(o.Today),
				o.Promising})
		}
	}
	if in.Prices == nil {
		for _, g := range a.Pool.Gains {
			if g.Treatment.DropAge == 0 {
				s.Ranked = append(s.Ranked, Standing{practice.Choice{Practice: g.Treatment.Practice}, g.Pct, g.LowPct,
					g.HighPct, nil, g.Alone()})
			}
		}
		slices.SortStableFunc(s.Ranked, func(a, b Standing) int { return cmp.Compare(b.GainPct, a.GainPct) })
	}
	return s
}
