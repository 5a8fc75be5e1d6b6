package mvt

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// equal is p contrasts with correlation rho.
func equal(p int, rho float64) *mat.SymDense {
	r := mat.NewSymDense(p, nil)
	for i := range p {
		for j := range i {
			r.SetSym(i, j, rho)
		}
		r.SetSym(i, i, 1)
	}
	return r
}

func TestWithin(t *testing.T) {
	for _, c := range []struct {
		source string
		p      int
		t, df  float64
		want   float64
		digits float64
	}{
		// docs/method.md: three contrasts with one reference, equal replication.
		// Nested quadrature in R, by crosscheck/values.R.
		{"R", 3, 2.5, 12, 0.930965, 1e-6},
		{"R", 3, 2.5, 12.4, 0.932169, 1e-6},
		{"R", 2, 2.50, 12, 0.949788, 1e-6},
		{"R", 3, 2.54, 20, 0.949964, 1e-6},
	} {
		got, err := Within(c.t, equal(c.p, 0.5), c.df)
		if !(math.Abs(got-c.want) <= c.digits) {
			t.Errorf("%s: P(max|T| ≤ %v; ν = %v) = %.7f, want %v", c.source, c.t, c.df, got, c.want)
		}
		if err > 1e-6 {
			t.Errorf("%s: error bound %v", c.source, err)
		}
		lattice, bound := withinLattice(c.t, equal(c.p, 0.5), c.df)
		if math.Abs(lattice-got) > max(bound, 1e-6) || bound > 1e-4 {
			t.Errorf("%s: the lattice gives %.7f ± %.1e, the double integral %.7f", c.source, lattice, bound, got)
		}
	}
}

// Two-sided 5 % points of comparisons with one reference (Dunnett 1964, Biometrics 20:482), as crosscheck/values.R has
// them.
func TestDunnett1964(t *testing.T) {
	for _, c := range []struct {
		p    int
		df   float64
		want float64
	}{{2, 12, 2.502367}, {3, 20, 2.540350}} {
		if got := Critical(0.95, equal(c.p, 0.5), c.df); math.Abs(got-c.want) > 1e-5 {
			t.Errorf("p = %d, ν = %v: %.6f, want %.6f", c.p, c.df, got, c.want)
		}
	}
}

// Independent contrasts with known scale: the probability is that of one to the power p.
func TestWithinIndependent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, x := rapid.IntRange(1, 6).Draw(t, "p"), rapid.Float64Range(0.1, 4).Draw(t, "t")
		want := math.Pow(math.Erf(x/math.Sqrt2), float64(p))
		if got, _ := Within(x, equal(p, 0), math.Inf(1)); math.Abs(got-want) > 1e-8 {
			t.Fatalf("got %v, want %v", got, want)
		}
	})
}

// The double integral and the lattice, which share no code, agree; and signs of contrasts change nothing.
func TestWithinTwoWays(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.IntRange(2, 5).Draw(t, "p")
		lambda := make([]float64, p)
		for i := range lambda {
			lambda[i] = rapid.Float64Range(-0.97, 0.97).Draw(t, "lambda")
		}
		r := mat.NewSymDense(p, nil)
		for i := range p {
			for j := range i {
				r.SetSym(i, j, lambda[i]*lambda[j])
			}
			r.SetSym(i, i, 1)
		}
		x, df := rapid.Float64Range(0.5, 4).Draw(t, "t"), rapid.Float64Range(1.5, 60).Draw(t, "df")
		got, bound := withinProduct(x, lambda, df)
		other, err := withinLattice(x, r, df)
		if math.Abs(got-other) > 2*err+bound+1e-6 {
			t.Fatalf("double integral %v, lattice %v ± %v", got, other, err)
		}
		if err > 1e-4 {
			t.Fatalf("the lattice's error is %v", err)
		}
	})
}

// Noncentral t against R's pt(ncp), stored with its version by crosscheck/trials.R.
func TestNoncentral(t *testing.T) {
	raw, err := os.ReadFile("../../crosscheck/testdata/trial/power.json")
	if err != nil {
		t.Fatal(err)
	}
	var stored struct {
		Noncentral []struct{ T, DF, NCP, P float64 }
	}
	if err := json.Unmarshal(raw, &stored); err != nil || len(stored.Noncentral) == 0 {
		t.Fatal(err)
	}
	for _, c := range stored.Noncentral {
		if got := Noncentral(c.T, c.DF, c.NCP); math.Abs(got-c.P) > 1e-8 {
			t.Errorf("P(T ≤ %v; %v, %v) = %.10f, R %.10f", c.T, c.DF, c.NCP, got, c.P)
		}
	}
}
