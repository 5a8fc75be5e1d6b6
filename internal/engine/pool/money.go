package pool

import (
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
	x := r.integrated
	shifts := r.shifts(at)
	if len(shifts) > 0 {
		return r.forMoney(t, append(shifts, of(t, 1))...)
	}
	work, _ := x.money.LoadOrStore(t, sync.OnceValues(func() (Gain, bool) { return r.forMoney(t, of(t, 1)) }))
	return work.(func() (Gain, bool))()
}

func (r *Result) forMoney(t practice.Treatment, parts ...part) (Gain, bool) {
	g, long, ok := r.integrated.gainLong(r.integrated.shrunk, t, parts...)
	if !ok || t.Practice == practice.Unsanitized {
		return g, ok
	}
	down := math.Exp(-less(long))
	for _, end := range []*float64{&g.LowPct, &g.HighPct, &g.SeasonLowPct, &g.SeasonHighPct} {
		*end = 100 * (down*(1+*end/100) - 1)
	}
	g.LongRunPct = percent(long.Mean())
	g.Comparisons, g.Studies = r.counts.rows[t], r.counts.studies[t]
	return g, true
}

// Holds is true of a treatment that the model has a place for.
func (r *Result) Holds(t practice.Treatment) bool {
	_, ok := r.integrated.layout.line(of(t, 1))
	return ok
}

// less is k of a long-run log gain.
func less(long mixture.Marginal) float64 { return long.Exp() - long.Mean() }

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
			lines, k, p.Best = append(lines, l), append(k, 0), append(p.Best, 0)
			if t.Practice != practice.Unsanitized {
				long := x.shrunk.LongRun(l)
				k[len(k)-1], p.Best[len(k)-1] = less(long), long.Mean()
			}
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

// Draw gives n draws of treatments' log gains over unsanitized as money uses them, where the moderators of the model
// stand at values, as for GainAt: by treatment, nil where the model has no place for it. Draws of one number and seed
// belong together.
func (r *Result) Draw(n int, seed uint64, at map[string]float64, treatments ...practice.Treatment) [][]float64 {
	x := r.integrated
	out := make([][]float64, len(treatments))
	var lines []mixture.Line
	var where []int
	for i, t := range treatments {
		if t.Practice == practice.Unsanitized {
			out[i] = make([]float64, n)
		} else if l, ok := x.layout.line(append(r.shifts(at), of(t, 1))...); ok {
			lines, where = append(lines, l), append(where, i)
		}
	}
	drawn, _ := x.shrunk.Draws(lines, n, seed)
	for i, l := range lines {
		k := less(x.shrunk.LongRun(l))
		for j := range drawn[i] {
			drawn[i][j] -= k
		}
		out[where[i]] = drawn[i]
	}
	return out
}

// Spreads is the variances of the draws of one number and seed.
func (r *Result) Spreads(n int, seed uint64) []Spread {
	_, drawn := r.integrated.shrunk.Draws(nil, n, seed)
	list := make([]Spread, n)
	for i, at := range drawn {
		list[i] = spreadOf(at)
	}
	return list
}

// Seasonal is the variances, as expected, that one season at a new place adds to a log yield or gain: own to each arm,
// that of its site and that of the season, which are common to all that is sanitized.
func (r *Result) Seasonal() (own, site, season float64) {
	v := r.integrated.shrunk.Variance
	return v(mixture.StudySD) + v(mixture.PracticeSD), v(mixture.SiteSD), v(mixture.SeasonSD)
}
