package advice

import (
	"math"
	"slices"
	"strings"

	"spile/internal/engine/sure"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// Sure is how sure a recommendation is, over the joint draws of gains, prices and work.
type Sure struct {
	Draws int
	Error float64 // largest standard error of the simulation of any chance
	// what would change the recommendation soonest: the nearest gain and the nearest assumption, where there are any
	Turns []Turn
}

// Turn is a number at which another option comes first, all else at its best guess.
type Turn struct {
	Gain       *practice.Treatment // whose gain it is, as a fraction over unsanitized; nil: it is an assumption
	Assumption price.Assumption
	Now, At    float64
	Below      bool   // the recommendation changes below At; else above
	Takes      string // ID of the option that comes first there
}

// sure is the answer with what would change it.
func (a *Advice) sure() *Advice {
	t := *a
	t.Sure = &Sure{Draws: usualDraws, Error: a.chanceError}
	m, assumptions, err := SureModel(a, DrawOptions{})
	if err != nil {
		return &t
	}
	first, _ := a.Best()
	best := slices.IndexFunc(m.Options, func(x sure.Option) bool { return x.Choice == first.Choice() })
	if breaks, err := m.BreakEvens(best, ranges(assumptions)); err == nil {
		t.Sure.Turns = turns(m, assumptions, breaks)
	}
	return &t
}

// sure is what Advice.sure says, from what was drawn and worked out already.
func (r *Prospect) sure(h Hangs) *Sure {
	s := &Sure{Draws: r.Summary.Draws}
	for _, row := range r.Summary.Rows {
		s.Error = max(s.Error, row.Long.BestError, row.Long.LoseError)
	}
	s.Turns = turns(r.Model, r.Assumptions, h.Breaks)
	return s
}

// turns are the nearest gain and the nearest assumption at which another option comes first.
func turns(m *sure.Model, assumptions []price.Assumption, breaks []sure.BreakEven) []Turn {
	var list []Turn
	for _, gain := range []bool{true, false} {
		if turn, ok := nearest(m, assumptions, breaks, gain); ok {
			list = append(list, turn)
		}
	}
	return list
}

// nearest is the break-even that lies nearest to its best guess, measured by how far the number may well stray to that
// side. A number without low and high is named only where nothing unsure turns: it may stray by itself.
func nearest(m *sure.Model, assumptions []price.Assumption, breaks []sure.BreakEven,
	gain bool) (turn Turn, found bool) {
	least, unsure := math.Inf(1), false
	for i, b := range breaks {
		if gain != (b.Treatment >= 0) {
			continue
		}
		consider := func(at *float64, end float64, below bool, takes string) {
			if at == nil {
				return
			}
			stray, strays := math.Abs(end-b.Best), b.Low < b.High
			if stray == 0 {
				stray = math.Abs(b.Best)
			}
			far := math.Abs(*at-b.Best) / stray
			if unsure && !strays || unsure == strays && !(far < least) || !(far < math.Inf(1)) {
				return
			}
			least, found, unsure = far, true, strays
			turn = Turn{Now: b.Best, At: *at, Below: below, Takes: takes}
			if gain {
				turn.Gain = &m.Gains.Treatments[b.Treatment]
			} else {
				turn.Assumption = assumptions[i]
			}
		}
		consider(b.Below, b.Low, true, b.BelowTakes)
		consider(b.Above, b.High, false, b.AboveTakes)
	}
	return turn, found
}

// Prospect is Advice.Prospect, kept by a digest of everything that it rests on.
func (m *Memo) Prospect(a *Advice, o DrawOptions) (*Prospect, error) {
	return m.prospects.get(keyOf(asked[DrawOptions]{a.rests, o}), func() (*Prospect, error) { return a.Prospect(o) })
}

// Hangs is what the choice under these options hangs on, kept.
func (m *Memo) Hangs(a *Advice, o DrawOptions) (Hangs, error) {
	return m.hangs.get(keyOf(asked[DrawOptions]{a.rests, o}), func() (Hangs, error) {
		r, err := m.Prospect(a, o)
		if err != nil {
			return Hangs{}, err
		}
		return r.Hangs()
	})
}

// Next is Advice.Next; what trials are expected to find is kept, so that other taps, costs or seasons of use take no
// time.
func (m *Memo) Next(a *Advice, o TrialOptions) (*Next, error) {
	if f := o.Faults(a.Input.Sites()); len(f) > 0 {
		return nil, f
	}
	t, err := m.findings.get(keyOf(asked[int]{a.rests, o.Design.Points}),
		func() (*finding, error) { return a.finding(o.Design.Points) })
	if err != nil {
		return nil, err
	}
	return t.next(o)
}

// Knowing is what it would be worth to know more, kept.
func (m *Memo) Knowing(a *Advice, o DrawOptions) (Knowing, error) {
	return m.knowings.get(keyOf(asked[DrawOptions]{a.rests, o}), func() (Knowing, error) {
		r, err := m.Prospect(a, o)
		if err != nil {
			return Knowing{}, err
		}
		return r.Knowing()
	})
}

// WeighOptions say what is asked of an answer under uncertainty. The zero value asks nothing.
type WeighOptions struct {
	Outlook      bool // what each option is likely to net, what the choice hangs on, and the map
	Knowing      bool // what it would be worth to know more; with Outlook
	Draw         DrawOptions
	Across, Down string        // assumptions of the map, by key; "": those that the choice hangs on most
	Trials       *TrialOptions // which trial is worth running next; nil: not asked
}

// Everything asks all of it, as long as nobody knows better.
func (a *Advice) Everything() WeighOptions {
	return WeighOptions{Outlook: true, Knowing: true, Trials: new(a.TrialDefaults())}
}

// Weighed is what is said of an answer under uncertainty, as far as it was asked.
type Weighed struct {
	Prospect *Prospect
	Hangs    Hangs
	Contest  *Contest // nil where fewer than two assumptions are unsure
	Knowing  *Knowing
	Next     *Next
}

// Weigh is the answer with what is said of it under uncertainty. Where nothing is recommended it is the answer as it
// was. The error is note.Faults.
func (m *Memo) Weigh(a *Advice, o WeighOptions) (*Advice, error) {
	if a.Recommended < 0 {
		return a, nil
	}
	t := *a
	var w Weighed
	var err error
	if o.Outlook {
		if w.Prospect, err = m.Prospect(a, o.Draw); err != nil {
			return nil, err
		}
		if w.Hangs, err = m.Hangs(a, o.Draw); err != nil {
			return nil, err
		}
		if t.Sure == nil {
			t.Sure = w.Prospect.sure(w.Hangs)
		}
		if idle := w.Prospect.idle(); len(idle) > 0 {
			t.Notes = append(slices.Clone(t.Notes),
				note.New("no practice uses %s: low and high there change nothing", strings.Join(idle, ", ")))
		}
		if x, y, ok := w.Prospect.Pair(w.Hangs, o.Across, o.Down); ok {
			c, err := w.Prospect.Contest(x, y)
			if err != nil {
				return nil, err
			}
			w.Contest = &c
		}
		if o.Knowing {
			k, err := m.Knowing(a, o.Draw)
			if err != nil {
				return nil, err
			}
			w.Knowing = &k
		}
	}
	if o.Trials != nil {
		if w.Next, err = m.Next(a, *o.Trials); err != nil {
			return nil, err
		}
	}
	t.Weighed = &w
	return &t, nil
}

// asked is a question about what rests on something.
type asked[T any] struct {
	Of      key
	Options T
}
