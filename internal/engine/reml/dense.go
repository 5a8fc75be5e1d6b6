package reml

import "math"

// Small dense kernels on row-major slices. A fit calls them thousands of times on matrices of one to ten rows, where
// a general library's call costs more than its work.

// cholesky replaces the lower triangle of the n × n matrix a by L with LL' = a; false where a is not positive definite
// beyond rounding: a pivot of less than 1e-12 of its diagonal is none.
func cholesky(a []float64, n int) bool {
	for j := range n {
		aj := a[j*n : j*n+j+1]
		whole := aj[j]
		d := whole
		for _, v := range aj[:j] {
			d -= v * v
		}
		if !(d > 1e-12*whole && d <= math.MaxFloat64) {
			return false
		}
		d = math.Sqrt(d)
		aj[j] = d
		for i := j + 1; i < n; i++ {
			ai := a[i*n : i*n+j+1]
			s := ai[j]
			for k, v := range aj[:j] {
				s -= v * ai[k]
			}
			ai[j] = s / d
		}
	}
	return true
}

// logDiagonal is Σ log of the diagonal, half the log determinant when a holds a Cholesky factor.
func logDiagonal(a []float64, n int) float64 {
	s := 0.0
	for i := range n {
		s += math.Log(a[i*n+i])
	}
	return s
}

func diagonal(a []float64, n int) []float64 {
	d := make([]float64, n)
	for i := range n {
		d[i] = a[i*n+i]
	}
	return d
}

// invert replaces the Cholesky factor in the lower triangle of a by the whole of (LL')⁻¹; work has n² room.
func invert(a, work []float64, n int) {
	inv := work[:n*n] // L⁻¹, transposed, so that the products below run along rows
	for j := range n {
		row := inv[j*n : (j+1)*n]
		row[j] = 1 / a[j*n+j]
		for i := j + 1; i < n; i++ {
			ai := a[i*n : i*n+i+1]
			s := 0.0
			for k := j; k < i; k++ {
				s -= ai[k] * row[k]
			}
			row[i] = s / ai[i]
		}
	}
	for i := range n {
		for j := range i + 1 {
			s := dot(inv[i*n+i:(i+1)*n], inv[j*n+i:(j+1)*n])
			a[i*n+j], a[j*n+i] = s, s
		}
	}
}

func dot(a, b []float64) float64 {
	b = b[:len(a)]
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

func axpy(c float64, x, y []float64) {
	y = y[:len(x)]
	for i, v := range x {
		y[i] += c * v
	}
}

func norm(a []float64) float64 {
	big := 0.0
	for _, v := range a {
		big = max(big, math.Abs(v))
	}
	if big == 0 {
		return 0
	}
	s := 0.0
	for _, v := range a {
		s += v / big * (v / big)
	}
	return big * math.Sqrt(s)
}

// solve replaces x by (LL')⁻¹x, L the Cholesky factor in the lower triangle of a.
func solve(a, x []float64, n int) {
	for i := range n {
		x[i] = (x[i] - dot(a[i*n:i*n+i], x[:i])) / a[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for j := i + 1; j < n; j++ {
			x[i] -= a[j*n+i] * x[j]
		}
		x[i] /= a[i*n+i]
	}
}
