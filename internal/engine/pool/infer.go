package pool

import (
	"math"

	"spile/internal/engine/mvt"
	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
)

// part is c times the log gain of a practice whose drops have some age, or c units of a moderator.
type part struct {
	key       practice.Key
	age       float64
	c         float64
	moderator int // numbered from 1 as the layout has them; 0: it is a practice
}

func of(t practice.Treatment, c float64) part {
	return part{key: t.Practice, age: float64(t.DropAge), c: c}
}

// estimate gives a linear combination of log gains, averaged over the members: the variance is the mean variance and
// the spread of the members' values. False where a treatment has no place in the model.
func (r *Result) estimate(members []member, parts ...part) (reml.Estimate, bool) {
	each := make([]reml.Estimate, len(members))
	var e reml.Estimate
	for i, m := range members {
		c, ok := m.coefficients(parts...)
		if !ok {
			return reml.Estimate{}, false
		}
		each[i] = m.contrast(c, r.options.Inference)
		e.Value += m.weight * each[i].Value
		e.DF += m.weight * each[i].DF
	}
	v := 0.0
	for i, m := range members {
		d := each[i].Value - e.Value
		v += m.weight * (each[i].SE*each[i].SE + d*d)
	}
	e.SE = math.Sqrt(v)
	return e, true
}

// coefficients is the contrast of β that a combination of log gains is.
func (m member) coefficients(parts ...part) ([]float64, bool) {
	c := make([]float64, m.layout.columns)
	for _, p := range parts {
		if p.moderator > 0 {
			c[m.layout.moderator+p.moderator-1] += p.c
		} else if !m.layout.term(c, p.key, p.age, p.c) {
			return nil, false
		}
	}
	return c, true
}

func percent(log float64) float64 { return 100 * math.Expm1(log) }

// best is the member that carries most weight.
func best(members []member) member {
	top := 0
	for i := range members {
		if members[i].weight > members[top].weight {
			top = i
		}
	}
	return members[top]
}

// spread gives the variance between studies, that of their units with it, and between sites: what one new season at a
// new site adds.
func (r *Result) spread() (study, site float64) {
	theta := best(r.members).theta
	return theta[studyComponent] + theta[trialComponent], theta[siteComponent]
}

// gain makes a treatment's Gain without what is counted over rows.
func (r *Result) gain(members []member, t practice.Treatment) (Gain, bool) {
	return r.gainOf(members, t, of(t, 1))
}

// asGain puts an estimate of a treatment's log gain into percents.
func (r *Result) asGain(t practice.Treatment, e reml.Estimate) Gain {
	study, site := r.spread()
	half := mvt.Half(e.DF)
	season := half * math.Sqrt(e.SE*e.SE+study+site)
	if t.Practice == practice.Unsanitized {
		season, site = 0, 0
	}
	return Gain{
		Treatment: t,
		Log:       e.Value, SE: e.SE, DF: e.DF,
		Pct: percent(e.Value), LowPct: percent(e.Value - half*e.SE), HighPct: percent(e.Value + half*e.SE),
		LongRunPct:   percent(e.Value + site/2),
		SeasonLowPct: percent(e.Value - season), SeasonHighPct: percent(e.Value + season),
	}
}

// Gain gives the pooled gain of any treatment over unsanitized, a replaced drop of any age included (averaged over the
// ageing curves by their weights); false where the model has no place for it. Counts and plain means are those of the
// very treatment.
func (r *Result) Gain(t practice.Treatment) (Gain, bool) {
	if r.stated != nil {
		g, ok := r.stated[t]
		return g, ok
	}
	g, ok := r.gain(r.members, t)
	if ok {
		g.Comparisons, g.Studies = r.counts.rows[t], r.counts.studies[t]
		g.PlainMeanPct, g.PlainStudies = r.counts.plainMean(t)
	}
	return g, ok
}

// Difference compares two treatments on the log scale, a − b; false where the model has no place for one of them.
func (r *Result) Difference(a, b practice.Treatment) (Difference, bool) {
	e, ok := r.estimate(r.members, of(a, 1), of(b, -1))
	if !ok {
		return Difference{}, false
	}
	half := mvt.Half(e.DF) * e.SE
	d := Difference{Practice: a, Against: b, Log: e.Value, SE: e.SE, DF: e.DF,
		Low: e.Value - half, High: e.Value + half, P: 1}
	switch {
	case best(r.members).fit == nil: // no row is left over from the effects to tell a spread from
		d.P = math.NaN()
	case e.SE > 0:
		d.P = mvt.TwoSided(e.Value/e.SE, e.DF)
	}
	if r.integrated != nil {
		r.integrated.difference(&d)
	}
	return d, true
}

// share is a practice's part in another's gain, on percents, with the interval that the test of
//
//	ln(1 + gain of p) = ln(1 + s·gain of q)
//
// does not reject: Fieller's idea on the log scale, where it stays bounded as long as q's own interval lies above 0.
func (r *Result) share(p, q practice.Key) (Share, bool) {
	s := Share{Practice: p, Of: q}
	a, ok1 := r.estimate(r.members, part{key: p, c: 1})
	b, ok2 := r.estimate(r.members, part{key: q, c: 1})
	if !ok1 || !ok2 {
		return s, false
	}
	if b.Value-mvt.Half(b.DF)*b.SE <= 0 {
		return s, true
	}
	gain := math.Expm1(b.Value)
	point := math.Expm1(a.Value) / gain
	beyond := func(x float64) float64 {
		inside := 1 + x*gain
		e, _ := r.estimate(r.members, part{key: p, c: 1}, part{key: q, c: -x * math.Exp(b.Value) / inside})
		return math.Abs(a.Value-math.Log(inside)) - mvt.Half(e.DF)*e.SE
	}
	s.Share = new(point)
	s.Low = new(edge(point, -1/gain, beyond))
	high := point + 1
	for i := 0; i < 60 && beyond(high) <= 0; i++ {
		high = point + 2*(high-point)
	}
	s.High = new(edge(point, high, beyond))
	return s, true
}

// edge is the end of an interval, between a point inside, where beyond is below 0, and one outside, where it is above
// and may be infinite: false position with the weight of an end that stays halved (the Illinois method; Dowell &
// Jarratt 1971), and bisection as long as that has no finite ends.
func edge(in, out float64, beyond func(float64) float64) float64 {
	low, high := beyond(in), beyond(out)
	end, stayed := in, 0
	for range 100 {
		mid := (in + out) / 2
		if !math.IsInf(high, 0) && high > low {
			mid = in + (out-in)*low/(low-high)
		}
		step := math.Abs(mid - end)
		end = mid
		b := beyond(mid)
		switch {
		case b == 0 || math.IsNaN(b) || step <= 1e-15*math.Abs(mid):
			return mid
		case b > 0:
			out, high = mid, b
			if stayed == -1 {
				low /= 2
			}
			stayed = -1
		default:
			in, low = mid, b
			if stayed == 1 {
				high /= 2
			}
			stayed = 1
		}
	}
	return end
}
