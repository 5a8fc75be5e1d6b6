package year

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"spile/internal/trade/past"
)

// Simulated histories of many seasons give back the spread and the correlations that they were drawn with.
func TestHistoriesAreRecovered(t *testing.T) {
	for _, want := range []struct{ yield, sugar, price, together float64 }{
		{0.25, 0.08, 0.15, -0.6}, {0.1, 0.02, 0.3, 0}, {0.4, 0.1, 0.05, 0.5},
	} {
		truth := Assumed(want.yield, want.sugar, want.price, want.together)
		random := rand.New(rand.NewPCG(1, 2))
		var seasons []past.Season
		for i := range 4000 {
			z := [parts]float64{random.NormFloat64(), random.NormFloat64(), random.NormFloat64()}
			f := truth.Draw(z)
			seasons = append(seasons, past.Season{Year: i, YieldL: new(90 * f[Yield]), Brix: new(2 * f[Sugar]),
				Prices: map[string]float64{"amber": 6 * f[Price], "dark": 5 * f[Price]}})
		}
		got, told := Of(seasons, Assumed(0.2, 0.2, 0.2, 0.2))
		// 4,000 seasons: the standard error of a standard deviation is σ/√(2n), of a correlation below 1/√n
		for i, cv := range [parts]float64{want.yield, want.sugar, want.price} {
			sd := math.Sqrt(math.Log1p(cv * cv))
			if math.Abs(got.SD[i]-sd) > 4*sd/math.Sqrt(8000) || told[i] != 4000 {
				t.Errorf("part %d strays by %v, want %v", i, got.SD[i], sd)
			}
		}
		if r := got.Together[Yield][Price]; math.Abs(r-want.together) > 4/math.Sqrt(4000) {
			t.Errorf("correlation %v, want %v", r, want.together)
		}
	}
}

// The factors of a season have mean 1, and the quantiles of a lognormal: exp(σ z_p − σ²/2).
func TestQuantilesOfALognormal(t *testing.T) {
	y := Assumed(0.2, 0.1, 0.3, -0.4)
	random := rand.New(rand.NewPCG(3, 4))
	var drawn [parts][]float64
	for range 200_000 {
		f := y.Draw([parts]float64{random.NormFloat64(), random.NormFloat64(), random.NormFloat64()})
		for i, x := range f {
			drawn[i] = append(drawn[i], x)
		}
	}
	const z10 = 1.2815515655446004 // the 90 % point of the standard normal
	for i, cv := range []float64{0.2, 0.1, 0.3} {
		sd := math.Sqrt(math.Log(1 + cv*cv))
		if m, s := stat.MeanStdDev(drawn[i], nil); math.Abs(m-1) > 0.004 || math.Abs(s/cv-1) > 0.02 {
			t.Errorf("part %d: mean %v and spread %v", i, m, s)
		}
		slices.Sort(drawn[i])
		for p, z := range map[float64]float64{0.1: -z10, 0.5: 0, 0.9: z10} {
			if got := stat.Quantile(p, stat.LinInterp, drawn[i], nil); math.Abs(got/math.Exp(sd*z-sd*sd/2)-1) > 0.01 {
				t.Errorf("part %d: the %v point is %v", i, p, got)
			}
		}
	}
}

// Few seasons, and seasons with gaps, give a year that can be drawn; what they do not tell stays as assumed.
func TestFewSeasons(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := func(name string) *float64 {
			if rapid.Bool().Draw(t, name+"?") {
				return nil
			}
			return new(rapid.Float64Range(0.5, 200).Draw(t, name))
		}
		var seasons []past.Season
		counts := [parts]int{}
		for i := range rapid.IntRange(0, 12).Draw(t, "seasons") {
			s := past.Season{Year: 2000 + i, YieldL: number("yield"), Brix: number("sugar")}
			if p := number("price"); p != nil {
				s.Prices = map[string]float64{"amber": *p}
				counts[Price]++
			}
			if s.YieldL != nil {
				counts[Yield]++
			}
			if s.Brix != nil {
				counts[Sugar]++
			}
			seasons = append(seasons, s)
		}
		assumed := Assumed(0.2, 0.08, 0.1, 0)
		y, told := Of(seasons, assumed)
		for i := range parts {
			if told[i] != counts[i] {
				t.Fatalf("part %d is told of %d seasons, not %d", i, told[i], counts[i])
			}
			if counts[i] < least && y.SD[i] != assumed.SD[i] {
				t.Fatalf("part %d is of %d seasons and not as assumed", i, counts[i])
			}
		}
		for _, f := range y.Draw([parts]float64{1, -1, 2}) {
			if !(f > 0) || math.IsInf(f, 0) {
				t.Fatalf("a factor of %v", f)
			}
		}
	})
}
