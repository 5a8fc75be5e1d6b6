package pool

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"sync"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/effect"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// draw draws a table as a user would have it: means and SDs between units of every arm.
func (w truth) draw(r *rand.Rand) []evidence.Study {
	var list []evidence.Study
	u := 0.0
	for i := range w.studies {
		if i%w.perSite == 0 {
			u = math.Sqrt(w.site) * r.NormFloat64()
		}
		s := evidence.Study{Name: fmt.Sprintf("study %d", i+1), Site: fmt.Sprintf("site %d", i/w.perSite),
			Season: 2010 + i%12, Unit: evidence.Chamber}
		n := float64(w.units)
		for a, t := range w.arms[i%len(w.arms)] {
			level := math.Exp(3 + w.log(t) + sanitized(t)*u + math.Sqrt(w.study/2)*r.NormFloat64())
			mean, squares := 0.0, 0.0
			unit := make([]float64, w.units)
			for j := range unit {
				unit[j] = level * (1 + w.cv*r.NormFloat64())
				mean += unit[j] / n
			}
			for _, x := range unit {
				squares += (x - mean) * (x - mean)
			}
			s.Arms = append(s.Arms, evidence.Arm{Practice: t.Practice, Reference: a == 0, DropAge: new(t.DropAge),
				Mean: &mean, SD: new(math.Sqrt(squares / (n - 1))), N: &n})
		}
		list = append(list, s)
	}
	return list
}

// covered is how often 95 % intervals held the truth.
type covered struct {
	gains, season float64 // sums
	n             int
}

// coverage draws tables and counts. The range for a season is scored by the chance that it holds the next one.
func coverage(t *testing.T, w truth, tables int, seed uint64) (gain, season, gainError, seasonError float64) {
	t.Helper()
	each := make([]covered, tables)
	var group sync.WaitGroup
	next := make(chan int)
	for range 2 {
		group.Go(func() {
			for k := range next {
				studies := w.draw(rand.New(rand.NewPCG(seed, uint64(k))))
				e, err := effect.Of(studies, practice.Shipped(), evidence.Options{})
				if err != nil {
					t.Error(err)
					continue
				}
				r, err := Fit(e, practice.Shipped(), Default())
				if err != nil {
					t.Error(err)
					continue
				}
				for _, g := range r.Gains {
					mu := w.log(g.Treatment)
					low, high := math.Log1p(g.LowPct/100), math.Log1p(g.HighPct/100)
					if low <= mu && mu <= high {
						each[k].gains++
					}
					new := distuv.Normal{Mu: mu, Sigma: math.Sqrt(w.study + w.site)}
					each[k].season += new.CDF(math.Log1p(g.SeasonHighPct/100)) - new.CDF(math.Log1p(g.SeasonLowPct/100))
					each[k].n++
				}
			}
		})
	}
	for k := range tables {
		next <- k
	}
	close(next)
	group.Wait()
	// Gains of one table are dependent: the Monte Carlo error is that of the tables' means.
	var s, s2, q, q2 float64
	for _, c := range each {
		a, b := c.gains/float64(c.n), c.season/float64(c.n)
		s, s2, q, q2 = s+a, s2+a*a, q+b, q2+b*b
	}
	n := float64(tables)
	spread := func(sum, squares float64) float64 { return 100 * math.Sqrt((squares/n-sum/n*sum/n)/n) }
	return 100 * s / n, 100 * q / n, spread(s, s2), spread(q, q2)
}

// TestCoverage holds the 95 % intervals against what they promise, with a fixed seed: forty tables, and with
// SPILE_COVERAGE set a thousand each, at three sizes of the spread between studies and with 8 and 35 studies.
func TestCoverage(t *testing.T) {
	tables := 40
	if os.Getenv("SPILE_COVERAGE") != "" {
		tables = 1000
	}
	if testing.Short() {
		t.Skip("the race detector looks at shorter tests; the coverage is held without it")
	}
	var out strings.Builder
	for _, studies := range []int{8, 35} {
		for _, tau2 := range []float64{0.005, 0.02, 0.06} {
			gain, season, ge, se := coverage(t, trade(studies, tau2, tau2/2), tables, 7)
			fmt.Fprintf(&out, "\n%d studies, τ² %.3f: gains %.1f %% (± %.1f), one new season %.1f %% (± %.1f)", studies,
				tau2, gain, ge, season, se)
			low, high := 93., 98.5
			if studies == 35 {
				low, high = 92.5, 96.5
			}
			// Two Monte Carlo errors beyond the bands before it counts.
			if gain < low-2*ge || gain > high+2*ge {
				t.Errorf("%d studies, τ² %.3f: gains covered %.1f %% (± %.1f), want %.1f to %.1f", studies, tau2, gain,
					ge, low, high)
			}
			if season < 91-2*se || season > 98+2*se {
				t.Errorf("%d studies, τ² %.3f: one new season covered %.1f %% (± %.1f), want 91 to 98", studies, tau2,
					season, se)
			}
		}
	}
	t.Logf("%d tables each%s", tables, out.String())
}
