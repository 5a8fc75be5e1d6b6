package pool

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/mixture"
	"spile/internal/trade/practice"
)

// Money rests on gains shrunk toward the mean of their family, each less k = ln E e^β − E β, so that being poorly
// studied never pays: the expectation of e^(β − k) is e^(E β) (M3, M7).

// ForMoney is a treatment's gain as money uses it; where nothing was integrated, the gain itself. LongRunPct is the
// ratio of expected yields over places and seasons. False where the model has no place for the treatment.
func (r *Result) ForMoney(t practice.Treatment) (Gain, bool) { return r.ForMoneyAt(t, nil) }

// ForMoneyAt is ForMoney where the moderators of the model stand at values, as for GainAt.
func (r *Result) ForMoneyAt(t practice.Treatment, at map[string]float64) (Gain, bool) {
	g, ok := r.GainAt(t, at)
	if !ok || r.integrated == nil || t.Practice == practice.Unsanitized {
		return g, ok
	}
	l, ok := r.integrated.layout.line(append(r.shifts(at), of(t, 1))...)
	if !ok {
		return g, true // an age by itself, off the curve
	}
	own := r.integrated.shrunk.Of(l)
	k := less(own)
	g.Log, g.SE = own.Mean(), own.SD()
	g.Pct, g.LowPct, g.HighPct = percent(g.Log), percent(own.Quantile(lowEnd)-k), percent(own.Quantile(highEnd)-k)
	_, common := r.integrated.seasonal()
	g.LongRunPct = percent(g.Log + common/2)
	return g, true
}

// less is k of a log gain.
func less(m mixture.Marginal) float64 { return m.Exp() - m.Mean() }

// seasonal is the expected variances that one season at a new place adds: own to each arm, and common to all that are
// sanitized.
func (x *integrated) seasonal() (own, common float64) {
	v := x.shrunk.Variance
	return v(mixture.StudySD) + v(mixture.PracticeSD), v(mixture.SiteSD) + v(mixture.SeasonSD)
}

// moneyMembers is how many equally likely parts of the mixture stand for it where money is drawn member by member.
const moneyMembers = 512

// posterior is the joint distribution of treatments' log gains as money uses them.
func (x *integrated) posterior(treatments []practice.Treatment) *Posterior {
	p := new(Posterior)
	p.Study, p.Site = x.seasonal()
	var lines []mixture.Line
	var k []float64
	for _, t := range treatments {
		if l, ok := x.layout.line(of(t, 1)); ok {
			p.Treatments, p.Rough = append(p.Treatments, t), append(p.Rough, false)
			lines, k = append(lines, l), append(k, 0)
			if t.Practice != practice.Unsanitized {
				k[len(k)-1] = less(x.shrunk.Of(l))
			}
		}
	}
	s := x.shrunk.Sampler(lines)
	p.x = &whole{sampler: s, less: k}
	for _, t := range p.Treatments {
		p.x.practices = append(p.x.practices, x.layout.practice(t.Practice))
	}
	for i := range moneyMembers {
		part := s.Part((float64(i) + 0.5) / moneyMembers)
		n := Normal{Weight: 1. / moneyMembers, Mean: make([]float64, len(lines)),
			Root: mat.NewDense(len(lines), s.Width(), nil)}
		for j := range lines {
			mean, row := s.Normal(part, j)
			n.Mean[j] = mean - k[j]
			n.Root.SetRow(j, row)
		}
		p.Members = append(p.Members, n)
	}
	return p
}

// draws gives n draws of a combination's log gain as money uses it: the same draw of different combinations belongs
// together.
func (x *integrated) draws(n int, seed uint64, parts ...part) []float64 {
	l, ok := x.layout.line(parts...)
	if !ok {
		return nil
	}
	own := x.shrunk.Of(l)
	drawn, _ := x.shrunk.Draws([]mixture.Line{l}, n, seed)
	if k := less(own); !math.IsNaN(k) {
		for i := range drawn[0] {
			drawn[0][i] -= k
		}
	}
	return drawn[0]
}

// Seasonal is the variances that one season at a new place adds to a log yield or gain: own to each arm, that of its
// site and that of the season, which are common to all that is sanitized; the last is 0 where the model knows of none.
func (r *Result) Seasonal() (own, site, season float64) {
	if r.integrated == nil {
		own, site = r.spread()
		return own, site, 0
	}
	own, _ = r.integrated.seasonal()
	return own, r.integrated.shrunk.Variance(mixture.SiteSD), r.integrated.shrunk.Variance(mixture.SeasonSD)
}
