package mixture

import (
	"math"
	"reflect"
	"slices"
	"sync"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// contrasted is trade by its contrasts.
func contrasted(studies, sites, seasons int, ages bool, seed uint64) Table {
	t := trade(studies, sites, seasons, ages, seed)
	for i, s := range t.Studies {
		t.Studies[i] = reported(s)
	}
	return t
}

// What the others foretell of a study of one row has, where the study lies, the density by which it raises the
// evidence: p(y | others) = p(y, others)/p(others), each side by a fit of its own.
func TestForetoldIsWhatTheEvidenceSays(t *testing.T) {
	for _, ages := range []bool{false, true} {
		table := contrasted(12, 5, 4, ages, 3)
		whole := integrated(t, table, calm())
		tried := 0
		for i, s := range table.Studies {
			rows, err := whole.Foretell(i)
			if err != nil || len(s.Rows) > 1 {
				continue
			}
			tried++
			rest := table
			rest.Studies = slices.Delete(slices.Clone(table.Studies), i, i+1)
			less := integrated(t, rest, calm())
			_, density := rows[0].Near.at(s.Rows[0].Y)
			later, err := Of(table, calm(), i)
			if err != nil {
				t.Fatal(err)
			}
			from, err := later.Foretell(i)
			if err != nil {
				t.Fatal(err)
			}
			for _, x := range []struct {
				what string
				a, b float64
			}{
				{"log density", math.Log(density), whole.Evidence - less.Evidence - math.Log(2*math.Pi)/2},
				{"by the effects", rows[0].Effects, from[0].Effects},
				{"effect, left out from the start", later.Studies.Of(lineOf(0)).Mean(),
					less.Studies.Of(lineOf(0)).Mean()},
				{"evidence", later.Evidence, less.Evidence},
				{"low end", rows[0].Near.Quantile(.025), from[0].Near.Quantile(.025)},
				{"high end", rows[0].Near.Quantile(.975), from[0].Near.Quantile(.975)},
			} {
				if math.Abs(x.a-x.b) > .02 {
					t.Errorf("study %d, %s: %.4f and %.4f", i, x.what, x.a, x.b)
				}
			}
		}
		if tried < 2 {
			t.Errorf("%d studies tried", tried)
		}
	}
}

// Where nothing is known of a row's place it lies as one season at a new place does, with its sampling error; one of
// two practices at one place has neither site nor season in it, and drops of two ages have no w.
func TestForetoldFar(t *testing.T) {
	table := contrasted(12, 5, 4, true, 3)
	drop := Arm{Practice: 6, Effect: 0, Drop: 1}
	older := drop
	older.Age = 3
	s := Study{Site: "site 1", Season: 2, Arms: []Arm{{Effect: -1}, {Practice: 1, Effect: 0}, {Practice: 2, Effect: 1},
		drop, older}, Rows: []Row{{Arm: 1}, {Arm: 2, Ref: 1}, {Arm: 4, Ref: 3}}, V: mat.NewSymDense(3, nil)}
	for i, v := range []float64{.01, .02, .03} {
		s.V.SetSym(i, i, v)
	}
	table.Studies = append(table.Studies, s)
	a, err := Of(table, calm(), len(table.Studies)-1)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := a.Foretell(len(table.Studies) - 1)
	if err != nil {
		t.Fatal(err)
	}
	p := a.Studies.thinner()
	two := Line{Fixed: []float64{-1, 1}}
	faded := Line{Drops: []Bend{{1, 3, 1}, {1, 0, -1}}}
	for i, l := range []Line{lineOf(0), two, faded} {
		own, all := p.Of(l), p.Season(l)
		added := square(all.SD()) - square(own.SD())
		if i > 0 {
			added = p.Variance(StudySD)
		}
		if i == 1 {
			added += p.Variance(PracticeSD)
		}
		want := square(own.SD()) + added + s.V.At(i, i)
		if got := square(rows[i].Far.SD()); math.Abs(got-want) > 1e-6 || math.Abs(rows[i].Effects-own.Mean()) > 1e-6 {
			t.Errorf("row %d: variance %.6f, want %.6f; %.6f by the effects, want %.6f", i, got, want, rows[i].Effects,
				own.Mean())
		}
	}
}

func TestNormalOfAMarginal(t *testing.T) {
	one := Marginal{{Weight: 2, Mean: 1, SD: 3}}
	two := Marginal{{Weight: 1, Mean: -1, SD: 1}, {Weight: 1, Mean: 1, SD: 1}}
	for _, x := range []float64{-40, -2, 1, 5, 40} {
		if got := one.Normal(x); math.Abs(got-(x-1)/3) > 1e-9 {
			t.Errorf("%v lies %v out", x, got)
		}
	}
	if got, want := two.Normal(.5), distuv.UnitNormal.Quantile(two.CDF(.5)); math.Abs(got-want) > 1e-9 {
		t.Errorf("%v, want %v", got, want)
	}
	if x := one.Normal(1e9); !(x > 30) || math.IsInf(x, 0) {
		t.Errorf("beyond all doubt lies %v", x)
	}
}

func BenchmarkForetell(b *testing.B) {
	a := integrated(b, contrasted(35, 12, 12, true, 1), Default())
	for b.Loop() {
		if _, err := a.Foretell(3); err != nil {
			b.Fatal(err)
		}
	}
}

// What is asked at once is answered as if asked one after the other.
func TestForetellAtOnce(t *testing.T) {
	table := contrasted(12, 5, 4, true, 3)
	a := integrated(t, table, calm())
	var group sync.WaitGroup
	together := make([][]Foretold, len(table.Studies))
	for i := range together {
		group.Go(func() { together[i], _ = a.Foretell(i) })
	}
	group.Wait()
	for i, x := range together {
		if alone, _ := a.Foretell(i); !reflect.DeepEqual(alone, x) {
			t.Errorf("study %d: %v alone, %v at once", i, alone, x)
		}
	}
}
