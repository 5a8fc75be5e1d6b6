package pool

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/mixture"
	"spile/internal/trade/practice"
)

// Money rests on gains over the long run shrunk toward the mean of their family, λ = β + (σ²_u + σ²_v)/2, each less
// k = ln E e^λ − E λ, so that being poorly studied never pays: the expectation of e^(λ − k) is e^(E λ) (M3, M7). All of
// it is of a result that was integrated.

// ForMoney is a treatment's gain as money uses it. LongRunPct is the ratio of expected yields over places and seasons.
// False where the model has no place for the treatment.
func (r *Result) ForMoney(t practice.Treatment) (Gain, bool) { return r.ForMoneyAt(t, nil) }

// ForMoneyAt is ForMoney where the moderators of the model stand at values, as for GainAt.
func (r *Result) ForMoneyAt(t practice.Treatment, at map[string]float64) (Gain, bool) {
	m, ok := Used{}, false
	if shifts := r.shifts(at); len(shifts) > 0 {
		m, ok = r.integrated.use(t, append(shifts, of(t, 1))...)
	} else {
		m, ok = r.integrated.used(t)
	}
	if ok && t.Practice != practice.Unsanitized {
		m.Comparisons, m.Studies = r.counts.rows[t], r.counts.studies[t]
	}
	return m.Gain, ok
}

// Used is a gain as money uses it, with the mean of λ and k.
type Used struct {
	Gain
	Mean float64 `json:"mean"`
	Less float64 `json:"less"`
}

// used is what money uses of a treatment, worked out once.
func (x *integrated) used(t practice.Treatment) (Used, bool) {
	work, have := x.money.Load(t)
	if !have {
		work, _ = x.money.LoadOrStore(t, sync.OnceValues(func() (Used, bool) { return x.use(t, of(t, 1)) }))
	}
	return work.(func() (Used, bool))()
}

func (x *integrated) use(t practice.Treatment, parts ...part) (Used, bool) {
	g, long, ok := x.gainLong(x.shrunk, t, parts...)
	if !ok || t.Practice == practice.Unsanitized {
		return Used{Gain: g}, ok
	}
	m := Used{g, long.Mean(), less(long)}
	down := math.Exp(-m.Less)
	for _, end := range []*float64{&m.LowPct, &m.HighPct, &m.SeasonLowPct, &m.SeasonHighPct} {
		*end = 100 * (down*(1+*end/100) - 1)
	}
	m.LongRunPct = percent(m.Mean)
	return m, true
}

// Holds is true of a treatment that the model has a place for.
func (r *Result) Holds(t practice.Treatment) bool {
	_, ok := r.integrated.layout.line(of(t, 1))
	return ok
}

// less is k of a long-run log gain.
func less(long mixture.Marginal) float64 { return long.Exp() - long.Mean() }

// longRun is k and the mean of a long-run log gain, worked out once for a line: sugarbushes that are alike ask for the
// same again.
func (x *integrated) longRun(l mixture.Line) (k, mean float64) {
	type long struct{ k, mean float64 }
	work, _ := x.longs.LoadOrStore(fmt.Sprint(l), sync.OnceValue(func() long {
		m := x.shrunk.LongRun(l)
		return long{less(m), m.Mean()}
	}))
	of := work.(func() long)()
	return of.k, of.mean
}

// spreadOf is the variances of some standard deviations.
func spreadOf(at mixture.SD) Spread {
	for k := range at {
		at[k] *= at[k]
	}
	return Spread{at[mixture.StudySD], at[mixture.SiteSD], at[mixture.SeasonSD], at[mixture.PracticeSD]}
}

// moneyMembers is how many equally likely parts of the mixture stand for it where money is drawn member by member.
const moneyMembers = 512

// posterior is the joint distribution of treatments' log gains as money uses them, each with its shifts; nil: none.
func (x *integrated) posterior(treatments []practice.Treatment, shifts [][]part) *Posterior {
	p := new(Posterior)
	var lines []mixture.Line
	var k []float64
	for i, t := range treatments {
		parts := []part{of(t, 1)}
		if shifts != nil {
			parts = append(parts, shifts[i]...)
		}
		if l, ok := x.layout.line(parts...); ok {
			p.Treatments = append(p.Treatments, t)
			m := Used{}
			switch {
			case t.Practice == practice.Unsanitized:
			case len(parts) == 1:
				m, _ = x.used(t)
			default:
				m.Less, m.Mean = x.longRun(l)
			}
			lines, k, p.Best = append(lines, l), append(k, m.Less), append(p.Best, m.Mean)
		}
	}
	s := x.shrunk.Sampler(lines)
	p.x = &whole{layout: x.layout, sampler: s, less: k}
	for _, t := range p.Treatments {
		p.x.practices = append(p.x.practices, x.layout.practice(t.Practice))
	}
	parts := make([]int, moneyMembers)
	for i := range parts {
		parts[i] = s.Part((float64(i) + 0.5) / moneyMembers)
		p.Members = append(p.Members, Normal{Weight: 1. / moneyMembers, Mean: make([]float64, len(lines)),
			Root: mat.NewDense(len(lines), s.Width(), nil), Spread: spreadOf(s.SD(parts[i]))})
	}
	for j := range lines {
		normal := s.Normals(j)
		for i := range parts {
			p.Members[i].Mean[j] = normal(parts[i], p.Members[i].Root.RawRowView(j)) - k[j]
		}
	}
	return p
}

// Draw gives n draws of treatments' log gains over unsanitized as money uses them, by treatment, nil where the model
// has no place for it; and the variances of each draw. Draws of one number and seed belong together.
func (r *Result) Draw(n int, seed uint64, treatments ...practice.Treatment) (logs [][]float64, spreads []Spread) {
	x := r.integrated
	logs = make([][]float64, len(treatments))
	var lines []mixture.Line
	var where []int
	for i, t := range treatments {
		if t.Practice == practice.Unsanitized {
			logs[i] = make([]float64, n)
		} else if l, ok := x.layout.line(of(t, 1)); ok {
			lines, where = append(lines, l), append(where, i)
		}
	}
	drawn, sds := x.shrunk.Draws(lines, n, seed)
	for i, to := range where {
		m, _ := x.used(treatments[to])
		for j := range drawn[i] {
			drawn[i][j] -= m.Less
		}
		logs[to] = drawn[i]
	}
	for _, at := range sds {
		spreads = append(spreads, spreadOf(at))
	}
	return logs, spreads
}

// Seasonal is the variances, as expected, that one season at a new place adds to a log yield or gain: own to each arm,
// that of its site and that of the season, which are common to all that is sanitized.
func (r *Result) Seasonal() (own, site, season float64) {
	v := r.integrated.shrunk.Variance
	return v(mixture.StudySD) + v(mixture.PracticeSD), v(mixture.SiteSD), v(mixture.SeasonSD)
}
