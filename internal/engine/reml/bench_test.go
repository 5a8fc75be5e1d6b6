package reml_test

import (
	"math/rand/v2"
	"runtime"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/internal/crosscheck"
	"spile/internal/engine/reml"
)

// The data of the first two are those that crosscheck/bench.R gives to rma.mv and to lmer.

func inferAll(b *testing.B, m reml.Model) {
	f, err := reml.Fit(m)
	if err != nil {
		b.Fatal(err)
	}
	for j := range f.Beta {
		f.Effect(j, reml.KenwardRoger)
	}
}

func benchmarkCase(b *testing.B, name string) {
	c, err := crosscheck.Read("../../crosscheck/testdata", name)
	if err != nil {
		b.Fatal(err)
	}
	m := c.Model()
	b.ReportAllocs()
	for b.Loop() {
		inferAll(b, m)
	}
}

// BenchmarkPool is 35 studies on 14 sites with two components and Kenward-Roger inference for each practice.
func BenchmarkPool(b *testing.B) { benchmarkCase(b, "invented-pool") }

// BenchmarkTrial is 48 unit-seasons with block, unit and residual and Kenward-Roger inference for each effect.
func BenchmarkTrial(b *testing.B) { benchmarkCase(b, "invented-trial") }

// manyStudies is 10,000 studies of one to three contrasts on 500 sites, eight practices.
func manyStudies() reml.Model {
	const studies, sites, practices = 10000, 500, 8
	r := rand.New(rand.NewPCG(2014, 3))
	var m reml.Model
	var x []float64
	between, site := reml.Component{Name: "study"}, make([]reml.Column, sites)
	truth := make([]float64, sites)
	for i := range truth {
		truth[i] = 0.1 * r.NormFloat64()
	}
	for range studies {
		s, rows := r.IntN(sites), 1+r.IntN(3)
		shared := 0.001 + 0.01*r.Float64()
		block := reml.Block{V: mat.NewSymDense(rows, nil)}
		reference, together := r.NormFloat64(), reml.Column{}
		for i := range rows {
			row := len(m.Y)
			own := 0.001 + 0.01*r.Float64()
			p := r.IntN(practices)
			x = append(x, make([]float64, practices)...)
			x[row*practices+p] = 1
			m.Y = append(m.Y, 0.1*float64(p)+truth[s]+0.1*(reference+r.NormFloat64())+own*r.NormFloat64())
			block.Rows = append(block.Rows, row)
			for j := range i {
				block.V.SetSym(i, j, shared)
			}
			block.V.SetSym(i, i, shared+own)
			between.Z = append(between.Z, reml.Column{Rows: []int{row}, Values: []float64{0.7071067811865476}})
			together.Rows = append(together.Rows, row)
			together.Values = append(together.Values, 0.7071067811865476)
			site[s].Rows = append(site[s].Rows, row)
			site[s].Values = append(site[s].Values, 1)
		}
		between.Z = append(between.Z, together)
		m.V0 = append(m.V0, block)
	}
	m.X = mat.NewDense(len(m.Y), practices, x)
	m.Components = []reml.Component{between, {Name: "site", Z: site}}
	m.AtZero = reml.Drop
	return m
}

// BenchmarkManyStudies also reports the memory that the system gave to the process at its height.
func BenchmarkManyStudies(b *testing.B) {
	m := manyStudies()
	b.ReportAllocs()
	for b.Loop() {
		inferAll(b, m)
	}
	var s runtime.MemStats
	runtime.ReadMemStats(&s)
	b.ReportMetric(float64(len(m.Y)), "rows")
	b.ReportMetric(float64(s.Sys)/(1<<20), "MiB-of-system")
}

// BenchmarkLeaveOut is one of ten thousand studies left out, variances held.
func BenchmarkLeaveOut(b *testing.B) {
	m := manyStudies()
	f, err := reml.Fit(m)
	if err != nil {
		b.Fatal(err)
	}
	i := 0
	for b.Loop() {
		if _, err := f.Without(m.V0[i%len(m.V0)].Rows); err != nil {
			b.Fatal(err)
		}
		i++
	}
}
