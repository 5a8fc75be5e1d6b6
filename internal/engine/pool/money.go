package pool

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/floats"
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

// ForMoneyAt is ForMoney where the moderators of the model stand at the values given, in the units of
// evidence.Moderators; one that is not given, or not in the model, stands at its mean over the studies.
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

// spreadOf is the variances of some standard deviations.
func spreadOf(at mixture.SD) Spread {
	for k := range at {
		at[k] *= at[k]
	}
	return Spread{at[mixture.StudySD], at[mixture.SiteSD], at[mixture.SeasonSD], at[mixture.PracticeSD]}
}

// moneyMembers is how many equally likely parts of the mixture stand for it where money is drawn member by member.
const moneyMembers = 512

// posterior is the joint distribution of treatments' log gains as money uses them, and with it, where asked for, that
// of the slopes of the moderators.
func (x *integrated) posterior(treatments []practice.Treatment, slopes bool) *Posterior {
	p := new(Posterior)
	var lines []mixture.Line
	var k []float64
	for _, t := range treatments {
		if l, ok := x.layout.line(of(t, 1)); ok {
			p.Treatments = append(p.Treatments, t)
			m := Used{}
			if t.Practice != practice.Unsanitized {
				m, _ = x.used(t)
			}
			lines, k, p.Best = append(lines, l), append(k, m.Less), append(p.Best, m.Mean)
		}
	}
	if slopes {
		p.Slopes = len(x.layout.moderators)
		for i := range p.Slopes {
			l, _ := x.layout.line(part{moderator: i + 1, c: 1})
			lines, k = append(lines, l), append(k, 0)
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

// Moderated is the joint distribution of the log gains of every treatment, as Posterior has it, and of the slopes of
// the model's moderators: a log gain where these stand elsewhere than at their means is the treatment's, with each
// slope times how far it stands from its mean, less More. It knows no site.
type Moderated struct {
	*Posterior
	r *Result
	// by part of the mixture and treatment, its part of E e^λ, and how λ, so weighed, moves with each slope; by part,
	// the covariance of the slopes; and their means
	parts func() sloped
}

type sloped struct {
	weight, lean [][]float64 // by treatment; lean by part and slope
	spread       []float64   // by part, slopes × slopes
	mean         []float64
}

// Moderated is that of all treatments that the model has a place for, of a result that was integrated.
func (r *Result) Moderated() *Moderated {
	treatments := []practice.Treatment{{Practice: practice.Unsanitized}}
	for _, p := range r.set {
		for age := 0; age == 0 || p.Ages() && age <= r.Ageing.Oldest; age++ {
			if t := (practice.Treatment{Practice: p.Key, DropAge: age}); p.Key != practice.Unsanitized {
				treatments = append(treatments, t)
			}
		}
	}
	s := &Moderated{Posterior: r.integrated.posterior(treatments, true), r: r}
	x := s.x.sampler
	s.x = nil
	s.parts = sync.OnceValue(func() sloped { return r.integrated.sloped(x, len(s.Treatments)) })
	return s
}

// sloped reads the parts from a sampler of treatments and slopes.
func (x *integrated) sloped(s *mixture.Sampler, treatments int) sloped {
	m, n := len(x.layout.moderators), s.Parts()
	out := sloped{weight: make([][]float64, treatments), lean: make([][]float64, treatments),
		spread: make([]float64, n*m*m), mean: make([]float64, m)}
	rows, means := make([][]float64, treatments+m), make([]float64, treatments+m)
	var normals []func(int, []float64) float64
	for j := range rows {
		rows[j], normals = make([]float64, s.Width()), append(normals, s.Normals(j))
	}
	for t := range treatments {
		out.weight[t], out.lean[t] = make([]float64, n), make([]float64, n*m)
	}
	for i := range n {
		for j, normal := range normals {
			means[j] = normal(i, rows[j])
		}
		w := s.Weight(i)
		for a := range m {
			out.mean[a] += w * means[treatments+a]
			for b := range m {
				out.spread[(i*m+a)*m+b] = floats.Dot(rows[treatments+a], rows[treatments+b])
			}
		}
		shift := spreadOf(s.SD(i)).LongRun()
		for t := range treatments {
			out.weight[t][i] = w * math.Exp(means[t]+floats.Dot(rows[t], rows[t])/2+shift)
			for a := range m {
				out.lean[t][i*m+a] = means[treatments+a] + floats.Dot(rows[t], rows[treatments+a])
			}
		}
	}
	return out
}

// Shift is how far the moderators stand from their means where they stand at values, as for ForMoneyAt.
func (s *Moderated) Shift(at map[string]float64) []float64 {
	by := make([]float64, s.Slopes)
	for _, p := range s.r.shifts(at) {
		by[p.moderator-1] = p.c
	}
	return by
}

// More is how much more k of a treatment, by its index, is where the moderators are shifted so.
func (s *Moderated) More(treatment int, by []float64) float64 {
	x, m := s.parts(), len(by)
	weight, lean := x.weight[treatment], x.lean[treatment]
	sum, whole := 0., 0.
	for i, w := range weight {
		e := 0.
		for a, c := range by {
			half := 0.
			for b, d := range by {
				half += d * x.spread[(i*m+a)*m+b] / 2
			}
			e += c * (lean[i*m+a] + half)
		}
		sum, whole = sum+w*math.Exp(e), whole+w
	}
	return math.Log(sum/whole) - floats.Dot(by, x.mean)
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
