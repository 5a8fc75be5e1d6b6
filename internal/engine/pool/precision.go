package pool

import (
	"maps"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// precision gives X'V⁻¹X at θ, and a function that gives it without one study. Studies tied by a trial form a block.
// What the effects u of sites tie besides is a low-rank addition to the blocks of a group, V = B + σ² ZZ' (Woodbury
// 1950), so that a site of thousands of studies costs no more than as many sites:
//
//	X'V⁻¹X = A − C'(I/σ² + D)⁻¹C,  A = ΣX'B⁻¹X, C = ΣZ'B⁻¹X, D = ΣZ'B⁻¹Z over the blocks
func (t *table) precision(x *mat.Dense,
	theta map[string]float64) (whole *mat.SymDense, without func(int) *mat.SymDense) {
	own := maps.Clone(theta)
	delete(own, siteComponent)
	blocks, blockOf := t.dependent(own)
	groups, groupOf := t.dependent(theta)
	info := information{t, x, t.covariance(own), theta[siteComponent]}
	sites := make([][]string, len(groups))
	for g, studies := range groups {
		for _, i := range studies {
			if name := t.studies[i].site; !slices.Contains(sites[g], name) {
				sites[g] = append(sites[g], name)
			}
		}
	}
	each := make([]*mat.SymDense, len(blocks)) // over effects, then sites
	sums := make([]*mat.SymDense, len(groups))
	_, p := x.Dims()
	whole = mat.NewSymDense(p, nil)
	for b, studies := range blocks {
		g := groupOf[studies[0]]
		each[b] = info.block(studies, sites[g])
		if sums[g] == nil {
			sums[g] = mat.NewSymDense(each[b].SymmetricDim(), nil)
		}
		sums[g].AddSym(sums[g], each[b])
	}
	parts := make([]*mat.SymDense, len(groups))
	for g, s := range sums {
		parts[g] = info.effects(s)
		whole.AddSym(whole, parts[g])
	}
	return whole, func(i int) *mat.SymDense {
		g, b := groupOf[i], blockOf[i]
		rest := slices.DeleteFunc(slices.Clone(blocks[b]), func(k int) bool { return k == i })
		left := info.block(rest, sites[g])
		left.AddSym(left, difference(sums[g], each[b]))
		out := info.effects(left)
		out.AddSym(out, difference(whole, parts[g]))
		return out
	}
}

// information works out what blocks of studies tell.
type information struct {
	t     *table
	x     *mat.Dense
	cover func(rows []int) *mat.SymDense // without sites
	site  float64                        // σ²
}

// block is [X Z]'B⁻¹[X Z] of some studies, Z the effects of some sites; without a variance of sites they are all 0.
func (f information) block(studies []int, sites []string) *mat.SymDense {
	_, p := f.x.Dims()
	if f.site == 0 {
		sites = nil
	}
	n := p + len(sites)
	a := mat.NewSymDense(n, nil)
	var rows []int
	for _, i := range studies {
		for k := f.t.studies[i].first; k < f.t.studies[i].end; k++ {
			rows = append(rows, k)
		}
	}
	if len(rows) == 0 {
		return a
	}
	inv, ok := inverse(f.cover(rows))
	if !ok {
		return a
	}
	d := mat.NewDense(len(rows), n, nil)
	for i, k := range rows {
		copy(d.RawRowView(i), f.x.RawRowView(k))
		row := f.t.rows[k]
		if s := slices.Index(sites, f.t.studies[row.study].site); s >= 0 {
			d.Set(i, p+s, sanitized(row.arm)-sanitized(row.ref))
		}
	}
	var left, both mat.Dense
	left.Mul(inv, d)
	both.Mul(d.T(), &left)
	for i := range n {
		for j := range i + 1 {
			a.SetSym(i, j, (both.At(i, j)+both.At(j, i))/2)
		}
	}
	return a
}

// effects takes the sites out of the sum of a group's blocks, one after the other.
func (f information) effects(sum *mat.SymDense) *mat.SymDense {
	_, p := f.x.Dims()
	s := mat.NewSymDense(sum.SymmetricDim(), nil)
	s.CopySym(sum)
	for k := s.SymmetricDim() - 1; k >= p; k-- {
		scale := f.site / (1 + f.site*s.At(k, k))
		for i := range k {
			for j := range i + 1 {
				s.SetSym(i, j, s.At(i, j)-scale*s.At(i, k)*s.At(j, k))
			}
		}
	}
	out := mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i + 1 {
			out.SetSym(i, j, s.At(i, j))
		}
	}
	return out
}

// difference is a − b.
func difference(a, b *mat.SymDense) *mat.SymDense {
	d := mat.NewSymDense(a.SymmetricDim(), nil)
	d.ScaleSym(-1, b)
	d.AddSym(d, a)
	return d
}
