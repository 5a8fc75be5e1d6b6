package pool

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"spile/internal/trade/practice"
)

// Posterior is what the studies leave known of the log gains of some treatments over unsanitized: one normal for each
// member of the answer, stretched as draws are (M7).
type Posterior struct {
	Treatments []practice.Treatment
	Members    []Normal
	Slopes     int       // rows of each member after those of the treatments
	Best       []float64 // long-run log gains at their best guess: of what is expected of the ratio

	x *whole // nil where it was put together by hand: then it knows no site

	moments struct {
		sync.Once
		mean       []float64
		covariance *mat.SymDense
	}
}

// Moments are the means of the log gains and their covariance, over the members; they are worked out once.
func (p *Posterior) Moments() (mean []float64, covariance *mat.SymDense) {
	p.moments.Do(func() {
		n := len(p.Treatments)
		mean, covariance := make([]float64, n), mat.NewSymDense(n, nil)
		for _, m := range p.Members {
			floats.AddScaled(mean, m.Weight, m.Mean)
		}
		for _, m := range p.Members {
			for s := range n {
				for t := range s + 1 {
					covariance.SetSym(s, t, covariance.At(s, t)+m.Weight*((m.Mean[s]-mean[s])*(m.Mean[t]-mean[t])+
						floats.Dot(m.Root.RawRowView(s), m.Root.RawRowView(t))))
				}
			}
		}
		p.moments.mean, p.moments.covariance = mean, covariance
	})
	return p.moments.mean, p.moments.covariance
}

// Normal is a member: the log gains are Mean + Root z, z independent standard normals, as many as Root has columns.
type Normal struct {
	Weight float64
	Mean   []float64
	Root   *mat.Dense // treatments × width
	Spread Spread     // where it is so
}

// Spread is the variances of M2: τ², σ²_u, σ²_v and σ²_w.
type Spread struct{ Study, Site, Season, Practice float64 }

// Spread is that of the members on average.
func (p *Posterior) Spread() Spread {
	var s Spread
	for _, m := range p.Members {
		s = s.Plus(m.Weight, m.Spread)
	}
	return s
}

// Plus is the variances and some part of others.
func (s Spread) Plus(part float64, t Spread) Spread {
	return Spread{s.Study + part*t.Study, s.Site + part*t.Site, s.Season + part*t.Season,
		s.Practice + part*t.Practice}
}

// LongRun is what the logarithm of the ratio of expected yields over places and seasons is above a log gain.
func (s Spread) LongRun() float64 { return (s.Site + s.Season) / 2 }

// Posterior gives the joint distribution of the treatments' log gains as money uses them, of a result that was
// integrated over the variances. A treatment that the model has no place for is left out; Unsanitized is at 0, and sure
// of it.
func (r *Result) Posterior(treatments []practice.Treatment) *Posterior {
	k := &r.integrated.posteriors
	k.Lock()
	defer k.Unlock()
	key := fmt.Sprint(treatments)
	if k.kept[key] == nil {
		if k.kept == nil || len(k.kept) == 16 {
			k.kept = map[string]*Posterior{}
		}
		k.kept[key] = r.integrated.posterior(treatments, false)
	}
	return k.kept[key]
}

// With is the posterior with a treatment more, of which a long-run gain is stated, a fraction: it is sure.
func (p *Posterior) With(t practice.Treatment, gain float64) *Posterior {
	out := &Posterior{Treatments: append(slices.Clone(p.Treatments), t),
		Best: append(slices.Clone(p.Best), math.Log1p(gain))}
	if p.x != nil {
		out.x = p.x.with(t.Practice, math.Log1p(gain))
	}
	for _, m := range p.Members {
		rows, width := m.Root.Dims()
		root := mat.NewDense(rows+1, width, nil)
		root.Copy(m.Root)
		m.Root, m.Mean = root, append(slices.Clone(m.Mean), math.Log1p(gain)-m.Spread.LongRun())
		out.Members = append(out.Members, m)
	}
	return out
}
