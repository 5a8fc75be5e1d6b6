package compare

import (
	"math"
	"slices"
)

// independent keeps the columns that those before do not determine; for each other one it keeps the combination of
// columns that is 0, which tells what can be estimated.
func (m *model) independent(cols [][]float64) {
	n, p := len(m.rows), len(cols)
	var q [][]float64      // orthonormal
	var inCols [][]float64 // each q as a combination of the columns
	for j, c := range cols {
		v, comb := slices.Clone(c), make([]float64, p)
		comb[j] = 1
		size := math.Sqrt(inner(c, c))
		for range 2 {
			for k := range q {
				d := inner(q[k], v)
				for i := range n {
					v[i] -= d * q[k][i]
				}
				for i := range p {
					comb[i] -= d * inCols[k][i]
				}
			}
		}
		left := math.Sqrt(inner(v, v))
		if left <= 1e-8*size || size == 0 {
			m.null = append(m.null, comb)
			continue
		}
		for i := range v {
			v[i] /= left
		}
		for i := range comb {
			comb[i] /= left
		}
		q, inCols = append(q, v), append(inCols, comb)
		m.kept = append(m.kept, j)
	}
}

func inner(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// contrast is a combination of all columns.
func (m *model) contrast(at map[int]float64) []float64 {
	_, p := m.full.Dims()
	c := make([]float64, p)
	for j, v := range at {
		c[j] = v
	}
	return c
}

// estimable is true of a combination of all columns that the rows tell: one that is 0 on every combination of columns
// that is 0.
func (m *model) estimable(c []float64) bool {
	for _, v := range m.null {
		if math.Abs(inner(c, v)) > 1e-7 {
			return false
		}
	}
	return true
}

// hiddenBy is the covariate without which the rows would tell a combination of columns; "" where none hides it.
func (m *model) hiddenBy(c []float64) string {
	for _, v := range m.null {
		for _, x := range m.covariates {
			if math.Abs(inner(c, v)) > 1e-7 && math.Abs(v[x.column]) > 1e-7 {
				return x.name
			}
		}
	}
	return ""
}

// own is a contrast in terms of the columns kept.
func (m *model) own(c []float64) []float64 {
	k := make([]float64, len(m.kept))
	for i, j := range m.kept {
		k[i] = c[j]
	}
	return k
}

// levelContrast is level a against level b.
func (m *model) levelContrast(a, b int) []float64 {
	c := m.contrast(nil)
	if a > 0 {
		c[a]++
	}
	if b > 0 {
		c[b]--
	}
	return c
}
