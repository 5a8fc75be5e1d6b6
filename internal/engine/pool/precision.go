package pool

import (
	"maps"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// precision gives V⁻¹X and X'V⁻¹X at θ. Studies tied by a trial form a block. What the effects u of sites tie besides
// is a low-rank addition to the blocks of a group, V = B + σ² ZZ' (Woodbury 1950), so that a site of thousands of
// studies costs no more than as many sites:
//
//	V⁻¹X = B⁻¹X − B⁻¹Z(I/σ² + Z'B⁻¹Z)⁻¹Z'B⁻¹X
//
// False where a block is not positive definite.
func (t *table) precision(x *mat.Dense, theta map[string]float64) (vx *mat.Dense, whole *mat.SymDense, ok bool) {
	own := maps.Clone(theta)
	delete(own, siteComponent)
	blocks, _ := t.dependent(own)
	groups, groupOf := t.dependent(theta)
	sites := make([][]string, len(groups))
	for g, studies := range groups {
		for _, i := range studies {
			if name := t.studies[i].site; theta[siteComponent] > 0 && !slices.Contains(sites[g], name) {
				sites[g] = append(sites[g], name)
			}
		}
	}
	n, p := x.Dims()
	cover := t.covariance(own)
	bz := make([][]*mat.Dense, len(groups)) // B⁻¹Z of each block, by group
	rows := make([][][]int, len(groups))
	zbx, zbz := make([]*mat.Dense, len(groups)), make([]*mat.Dense, len(groups))
	vx = mat.NewDense(n, p, nil)
	for _, studies := range blocks {
		var at []int
		for _, i := range studies {
			for k := t.studies[i].first; k < t.studies[i].end; k++ {
				at = append(at, k)
			}
		}
		inv, ok := inverse(cover(at))
		if !ok {
			return nil, nil, false
		}
		var left mat.Dense
		left.Mul(inv, pickRows(x, at))
		for i, k := range at {
			vx.SetRow(k, left.RawRowView(i))
		}
		g := groupOf[studies[0]]
		if sites[g] == nil {
			continue
		}
		z := mat.NewDense(len(at), len(sites[g]), nil)
		for i, k := range at {
			row := t.rows[k]
			z.Set(i, slices.Index(sites[g], t.studies[row.study].site), sanitized(row.arm)-sanitized(row.ref))
		}
		var a, b, c mat.Dense
		a.Mul(inv, z)
		b.Mul(z.T(), &left)
		c.Mul(z.T(), &a)
		if bz[g] == nil {
			zbx[g], zbz[g] = mat.NewDense(len(sites[g]), p, nil), mat.NewDense(len(sites[g]), len(sites[g]), nil)
		}
		bz[g], rows[g] = append(bz[g], &a), append(rows[g], at)
		zbx[g].Add(zbx[g], &b)
		zbz[g].Add(zbz[g], &c)
	}
	for g := range groups {
		if sites[g] == nil {
			continue
		}
		for k := range sites[g] {
			zbz[g].Set(k, k, zbz[g].At(k, k)+1/theta[siteComponent])
		}
		var k mat.Dense
		if k.Solve(zbz[g], zbx[g]) != nil {
			return nil, nil, false
		}
		for b, at := range rows[g] {
			var less mat.Dense
			less.Mul(bz[g][b], &k)
			for i, r := range at {
				for j := range p {
					vx.Set(r, j, vx.At(r, j)-less.At(i, j))
				}
			}
		}
	}
	var both mat.Dense
	both.Mul(x.T(), vx)
	whole = mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i + 1 {
			whole.SetSym(i, j, (both.At(i, j)+both.At(j, i))/2)
		}
	}
	return vx, whole, true
}

func pickRows(x *mat.Dense, rows []int) *mat.Dense {
	_, p := x.Dims()
	out := mat.NewDense(len(rows), p, nil)
	for i, k := range rows {
		out.SetRow(i, x.RawRowView(k))
	}
	return out
}
