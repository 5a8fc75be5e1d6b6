package mixture

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"
	"gonum.org/v1/gonum/stat/distuv"
	"gonum.org/v1/gonum/stat/samplemv"
)

// drawn is one choice of everything that is integrated over by brute force: its part of the whole weight and what the
// dense model says there.
type drawn struct {
	weight float64
	at     SD
	bend   func(float64) float64
	mean   *mat.VecDense
	cov    *mat.SymDense
}

// brute draws n choices from the prior as scrambled Halton points (Owen 2017, arXiv:1706.02808), standard deviations by
// the half-normal's quantiles, half-lives evenly on the log scale, both kinds of curve at each, and weighs them by the
// dense likelihood.
func brute(table Table, p Prior, n int) []drawn {
	points := mat.NewDense(n, 5, nil)
	samplemv.Halton{Kind: samplemv.Owen, Q: distmv.NewUnitUniform(5, nil), Src: rand.NewPCG(1, 2)}.Sample(points)
	var list []drawn
	var logs []float64
	for i := range n {
		u := points.RawRowView(i)
		var at SD
		for k := range ShrinkSD {
			at[k] = p.Scale[k] * distuv.UnitNormal.Quantile((1+u[k])/2)
		}
		h := ShortestHalfLife * math.Pow(LongestHalfLife/ShortestHalfLife, u[4])
		kinds := []func(float64) float64{
			func(a float64) float64 { return math.Pow(.5, a/h) },
			func(a float64) float64 { return max(0, 1-a/(2*h)) },
		}
		if table.Drops == 0 {
			kinds = kinds[:1]
		}
		for _, f := range kinds {
			log, mean, cov := newDense(table, at, f, func(int) bool { return false }, 0).solve(p.Delta)
			list, logs = append(list, drawn{at: at, bend: f, mean: mean, cov: cov}), append(logs, log)
		}
	}
	top, whole := slices.Max(logs), 0.0
	for _, l := range logs {
		whole += math.Exp(l - top)
	}
	for i, l := range logs {
		list[i].weight = math.Exp(l-top) / whole
	}
	return slices.DeleteFunc(list, func(d drawn) bool { return d.weight < 1e-9 })
}

// combination is a line, and the same over the columns of the dense model.
type combination struct {
	name string
	own  Line
	c    func(drawn) []float64
}

// combinations of a table: every effect, and the gain of old drops at some ages.
func combinationsOf(table Table) []combination {
	n := len(table.Families) + len(table.Moderators) + table.Drops
	var all []combination
	for i := range table.Families {
		c := make([]float64, n)
		c[i] = 1
		all = append(all, combination{"effect", lineOf(i), func(drawn) []float64 { return c }})
	}
	if table.Drops == 0 {
		return all
	}
	for _, age := range []float64{0, 1, 3} {
		own := Line{Fixed: []float64{1}, Drops: []Bend{{1, age, 1}}}
		all = append(all, combination{"old drops", own, func(d drawn) []float64 {
			c := make([]float64, n)
			c[0], c[n-1] = 1, d.bend(age)
			return c
		}})
	}
	return all
}

// of is the distribution of a combination by brute force, in one season or not.
func (x combination) of(list []drawn, season bool) Marginal {
	var m Marginal
	for _, d := range list {
		c := x.c(d)
		v := mat.NewVecDense(len(c), c)
		variance := mat.Inner(v, d.cov, v)
		if season {
			variance += square(d.at[0]) + square(d.at[1]) + square(d.at[2]) + square(d.at[3])
		}
		m = append(m, Normal{d.weight, mat.Dot(v, d.mean), math.Sqrt(variance)})
	}
	return m
}

// Limits lie within 0.002 of what integration by brute force over everything gives.
func TestAgainstBruteForce(t *testing.T) {
	tables := map[string]Table{"one": lone(), "six": six(), "mixed": mixed(), "ageing": trade(8, 3, 3, true, 5)}
	for name, table := range tables {
		t.Run(name, func(t *testing.T) {
			a := integrated(t, table, calm())
			points := 1 << 14
			if table.Drops > 0 {
				points = 1 << 12
			}
			list := brute(table, calm(), points)
			for i, x := range combinationsOf(table) {
				for what, pair := range map[string][2]Marginal{
					"":             {a.Studies.Of(x.own), x.of(list, false)},
					" in a season": {a.Studies.Season(x.own), x.of(list, true)},
				} {
					for _, p := range []float64{.025, .5, .975} {
						q := pair[0].Quantile(p)
						low, high := pair[1].CDF(q-.002), pair[1].CDF(q+.002)
						if low > p || high < p {
							t.Errorf("%s %d%s: quantile %v at %.5f; brute force gives %.5f, %.5f",
								x.name, i, what, p, q, low, high)
						}
					}
				}
			}
			for k := range ShrinkSD {
				sum := 0.0
				for _, d := range list {
					sum += d.weight * square(d.at[k])
				}
				near(t, "expected variance", a.Studies.Variance(k), sum, .02*sum)
			}
		})
	}
}

// mixed is a trial of two seasons with reported contrasts beside four studies, with a moderator.
func mixed() Table {
	t := trade(6, 2, 3, false, 3)
	t.Families, t.Moderators = t.Families[:3], []float64{1.7}
	for i := range t.Studies {
		s := &t.Studies[i]
		for k := range s.Arms {
			s.Arms[k].Practice = min(s.Arms[k].Practice, 3)
			s.Arms[k].Effect = s.Arms[k].Practice - 1
		}
		s.Moderators = []float64{float64(i) - 2.5}
		if i < 2 {
			s.Trial = "trial"
			*s = reported(*s)
		}
	}
	return t
}
