package pool

import (
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/mixture"
	"spile/internal/trade/practice"
)

// Component is one of the normals that a posterior is a mixture of, seen with a site: of the log gains, of u, the
// effect of the site on all its sanitized arms, and of w, that of each treatment's practice there, in this order; and
// the variances by which a new study, site, season, and practice at a new place differ.
type Component struct {
	Weight float64
	Mean   []float64
	Cov    *mat.SymDense
	Spread // of an arm half of τ² and of σ²_w
}

// Components is the posterior seen with a site, as n equally likely normals; one put together by hand as one for each
// member. A site without studies has u ~ N(0, σ²_u) and w ~ N(0, σ²_w/2), whatever the gains.
func (p *Posterior) Components(site string, n int) []Component {
	if p.x != nil {
		return p.x.components(site, n)
	}
	gains := len(p.Treatments)
	var list []Component
	for _, m := range p.Members {
		c := Component{Weight: m.Weight, Mean: make([]float64, 2*gains+1), Cov: mat.NewSymDense(2*gains+1, nil),
			Spread: m.Spread}
		copy(c.Mean, m.Mean)
		for i := range gains {
			for j := range i + 1 {
				c.Cov.SetSym(i, j, mat.Dot(m.Root.RowView(i), m.Root.RowView(j)))
			}
		}
		c.Cov.SetSym(gains, gains, m.Spread.Site)
		for i, t := range p.Treatments {
			for j := range i + 1 {
				if t.Practice == p.Treatments[j].Practice { // which share their w
					c.Cov.SetSym(gains+1+i, gains+1+j, m.Spread.Practice/2)
				}
			}
		}
		list = append(list, c)
	}
	return list
}

// whole is an integrated posterior, of which components are drawn.
type whole struct {
	layout    *layout
	sampler   *mixture.Sampler
	less      []float64 // k of each line
	sure      []float64 // after the lines, log gains over the long run that are stated
	practices []int     // of each line and then of each stated gain, as mixture.Arm has them
}

// with is the posterior with a stated gain more.
func (w *whole) with(k practice.Key, long float64) *whole {
	return &whole{w.layout, w.sampler, w.less, append(slices.Clone(w.sure), long),
		append(slices.Clone(w.practices), w.layout.practice(k))}
}

func (w *whole) components(site string, n int) []Component {
	var practices, at []int
	for _, k := range w.practices {
		i := slices.Index(practices, k)
		if i < 0 {
			i = len(practices)
			practices = append(practices, k)
		}
		at = append(at, i)
	}
	lines, gains := len(w.less), len(w.practices)
	from := func(i int) int { // where a mean of the component stands among those of the place; −1 for what is stated
		switch {
		case i < lines:
			return i
		case i < gains:
			return -1
		case i == gains:
			return lines
		}
		return lines + 1 + at[i-gains-1]
	}
	place := w.sampler.Place(site, practices)
	list := make([]Component, n)
	for k := range list {
		part := w.sampler.Part((float64(k) + 0.5) / float64(n))
		mean, cov := place.Normal(part)
		c := Component{Weight: 1 / float64(n), Mean: make([]float64, 2*gains+1), Cov: mat.NewSymDense(2*gains+1, nil),
			Spread: spreadOf(w.sampler.SD(part))}
		for i := range c.Mean {
			if from(i) < 0 {
				c.Mean[i] = w.sure[i-lines] - c.LongRun()
				continue
			}
			c.Mean[i] = mean[from(i)]
			if i < lines {
				c.Mean[i] -= w.less[i]
			}
			for j := range i + 1 {
				if from(j) >= 0 {
					c.Cov.SetSym(i, j, cov.At(from(i), from(j)))
				}
			}
		}
		list[k] = c
	}
	return list
}
