package advice_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// Small tables as somebody types them, each of which a pool by estimated variances answers badly.

// typed is the input that a table typed in makes.
func typed(t *testing.T, head string, rows ...string) advice.Input {
	t.Helper()
	path := filepath.Join(t.TempDir(), "evidence.csv")
	text := head + "\n" + strings.Join(rows, "\n") + "\n"
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	in, err := sheet.Read(path)
	if err != nil {
		t.Fatal(err)
	}
	return advice.Usual(in)
}

const (
	reported = "study,site,season,practice,unit,n,gain_pct,gain_low_pct,gain_high_pct"
	measured = "study,site,season,practice,kind,unit,mean,n,sd"
)

// arms are two rows of a study: unsanitized at 10, a practice at its gain.
func arms(name, site string, season int, key practice.Key, log, n, cv float64) []string {
	row := func(key practice.Key, mean float64) string {
		return fmt.Sprintf("%s,%s,%d,%s,replicated,chamber,%.12g,%g,%.12g", name, site, season, key, mean, n, cv*mean)
	}
	return []string{row(practice.Unsanitized, 10), row(key, 10*math.Exp(log))}
}

// One study of 48 % (24 to 76): y = ln 1.48, v = .008, whose limits three programs that share no code, one of them
// JAGS, give as −.3347 to 1.1188. Kenward-Roger, beside it, has one degree of freedom.
func TestCaseOneStudy(t *testing.T) {
	a := answer(t, typed(t, reported, "Fen,Fen,2021,new-spout,chamber,,48,24,76"))
	g := a.Pool.Gains[0]
	near(t, "low", g.LowPct, 100*math.Expm1(-.3347), .3)
	near(t, "high", g.HighPct, 100*math.Expm1(1.1188), 1)
	if half, double := a.Pool.Halved()[0], a.Pool.Doubled()[0]; !(half.HighPct < g.HighPct-50 &&
		double.HighPct > g.HighPct+50) {
		t.Errorf("halved %v, doubled %v: most of the interval is assumed", half, double)
	}
	if kr := a.Pool.KR[0]; kr.DF != 1 {
		t.Errorf("degrees of freedom beside it: %v", kr.DF)
	}
}

// One more good trial beside twelve studies blanks no chance.
func TestCaseOneMoreTrial(t *testing.T) {
	var rows []string
	random := rand.New(rand.NewPCG(4, 4))
	for i := range 12 {
		key, log := practice.NewSpout, .25
		if i%2 == 1 {
			key, log = practice.CheckValve, .4
		}
		rows = append(rows, arms(fmt.Sprint("s", i), fmt.Sprint("site ", i%5), 2012+i, key,
			log+.1*random.NormFloat64(), 4, .3)...)
	}
	in := typed(t, measured, append(rows, arms("good", "site 9", 2025, practice.CheckValve, .02, 60, .08)...)...)
	in.Prices = prices()
	a := answer(t, in)
	sum := 0.0
	for _, o := range a.Ranking {
		if o.Verdict != practice.Permitted || !o.Studied {
			continue
		}
		if o.ChanceBest == nil {
			t.Fatalf("%s has no chance of being best", o.ID())
		}
		sum += *o.ChanceBest
	}
	near(t, "all chances", sum, 1, 1e-9)
}

// Studies that agree so well that their spread is estimated at 0 still leave a season wider than the gain.
func TestCaseNoSpread(t *testing.T) {
	var rows []string
	for i := range 8 {
		rows = append(rows, arms(fmt.Sprint("s", i), fmt.Sprint("site ", i%4), 2014+i, practice.NewSpout, .3, 4, .3)...)
	}
	in := typed(t, measured, rows...)
	g := answer(t, in).Pool.Gains[0]
	width := func(low, high float64) float64 { return math.Log1p(high/100) - math.Log1p(low/100) }
	if season, gain := width(g.SeasonLowPct, g.SeasonHighPct), width(g.LowPct, g.HighPct); !(season > 1.2*gain) {
		t.Errorf("one new season spans %v on the log scale, the gain %v", season, gain)
	}
	in.Pool.Inference = pool.KenwardRoger
	if g := answer(t, in).Pool.Gains[0]; g.SeasonLowPct != g.LowPct {
		t.Errorf("%+v: the case does not test what it is to test", g)
	}
}

// A gain with twelve chambers behind it weighs as twelve do: CV²/n an arm (M1).
func TestCaseChambersBehindAPercentage(t *testing.T) {
	a := answer(t, typed(t, reported, "one,A,2021,new-spout,chamber,1,48,,", "twelve,B,2022,new-spout,chamber,12,48,,"))
	v := map[string]float64{}
	for _, x := range a.Pool.Weights {
		v[x.Study] = x.V
	}
	near(t, "variance of one chamber over that of twelve", v["one"]/v["twelve"], 12, .5) // small-sample terms
}

// In one spring of four every gain is lower by 0.3: that is the season's, and it is known of.
func TestCaseWarmMarch(t *testing.T) {
	table := func(lower float64) *pool.Result {
		var rows []string
		random := rand.New(rand.NewPCG(5, 5))
		for i := range 16 {
			log := .4 + .05*random.NormFloat64()
			if i%4 == 3 {
				log -= lower
			}
			rows = append(rows, arms(fmt.Sprint("s", i), fmt.Sprint("site ", i), 2020+i%4, practice.CheckValve, log, 12,
				.15)...)
		}
		return answer(t, typed(t, measured, rows...)).Pool
	}
	season := func(r *pool.Result) float64 {
		i := slices.IndexFunc(r.Variances, func(v pool.Variance) bool { return v.Name == "season" })
		return r.Variances[i].Value
	}
	usual, warm := table(0), table(.3)
	if x, y := season(usual), season(warm); !(y > .01 && y > 2*x) {
		t.Errorf("the variance between seasons is %v, without the warm one %v", y, x)
	}
	if x, y := usual.Gains[0].SE, warm.Gains[0].SE; !(y > 1.3*x) {
		t.Errorf("four seasons of which one is another tell the gain to %v, four alike to %v", y, x)
	}
}

// A study of +395 % among eleven near 42 %: its chance of standing apart, and the gain beside it, by three programs
// that share no code. 1.6 is ln 4.95.
func TestCaseStandsApart(t *testing.T) {
	const q = .00796825 // q + q²/2 = .008 an arm (Hedges, Gurevitch & Curtis 1999)
	var rows []string
	for i, y := range []float64{.35, .30, .41, .33, .38, .29, .36, .44, .31, .35, .37, 1.6} {
		rows = append(rows, arms(fmt.Sprint("s", i+1), fmt.Sprint("site ", i%8), 2010+i%6, practice.NewSpout, y, 4,
			math.Sqrt(4*q))...)
	}
	in := typed(t, measured, rows...)
	in.Evidence.Variance = evidence.ReportedSD
	a := answer(t, in)
	near(t, "chance that it stands apart", a.Pool.Apart[11].Chance, .999, .001)
	g := a.Pool.Gains[0]
	near(t, "gain", g.Log, .361, .002)
	near(t, "low", math.Log1p(g.LowPct/100), .245, .002)
	near(t, "high", math.Log1p(g.HighPct/100), .479, .002)
	if !slices.ContainsFunc(a.Notes, func(n note.Note) bool {
		return strings.HasPrefix(n.English(), "s12 stands apart")
	}) {
		t.Errorf("nothing says so: %v", a.Notes)
	}
}

// Four practices that gain the same, each studied three times: what is stated of the one that leads by luck is nearer
// to the truth where gains are shrunk, over tables and in nearly each.
func TestCaseNetNotOverstated(t *testing.T) {
	const truth = .35
	keys := []practice.Key{practice.NewSpout, practice.CheckValve, practice.SilverSpout, practice.ChlorineRinse}
	var shrunk, raw float64
	const tables = 4
	for k := range tables {
		random := rand.New(rand.NewPCG(6, uint64(k)))
		var rows []string
		for i := range 12 {
			rows = append(rows, arms(fmt.Sprint("s", i), fmt.Sprint("site ", i), 2010+i, keys[i%4],
				truth+.2*random.NormFloat64(), 6, .15)...)
		}
		in := typed(t, measured, rows...)
		in.Prices = prices()
		in.Prices.Baseline.Practice = practice.Unsanitized
		for _, p := range keys {
			in.Prices.Uses = append(in.Prices.Uses, prices().Uses[0])
			in.Prices.Uses[len(in.Prices.Uses)-1].Practice = p
		}
		in.Prices.Uses = in.Prices.Uses[3:]
		stated := func() float64 {
			a := answer(t, in)
			best, ok := a.Best()
			if !ok {
				t.Fatal("nothing is recommended")
			}
			return best.Unsanitized.Net - (25*math.Expm1(truth) - .5)
		}
		shrunk += stated() / tables
		in.Pool.Unshrunk = true
		raw += stated() / tables
	}
	if !(math.Abs(shrunk) < raw && raw > 0) {
		t.Errorf("the net is overstated by %v shrunk, %v raw", shrunk, raw)
	}
}

// Drops whose gain over a new spout is gone in their fourth season, studied at that age too: a kink at an age studied
// does not hide the half-life, 2 seasons on the straight line.
func TestCaseHalfLife(t *testing.T) {
	var rows []string
	random := rand.New(rand.NewPCG(7, 7))
	for i := range 24 {
		age := i % 6
		rows = append(rows, arms(fmt.Sprint("spout ", i), fmt.Sprint("site ", i%5), 2000+i, practice.NewSpout,
			.27+.02*random.NormFloat64(), 12, .08)...)
		d := arms(fmt.Sprint("drop ", i), fmt.Sprint("site ", i%5), 2000+i, practice.NewDrop,
			.27+.3*max(0, 1-float64(age)/4)+.02*random.NormFloat64(), 12, .08)
		for k := range d {
			d[k] += fmt.Sprintf(",%d", [2]int{6, age}[k])
		}
		for k := range 2 {
			rows[len(rows)-1-k] += ",6"
		}
		rows = append(rows, d...)
	}
	a := answer(t, typed(t, measured+",drop_age", rows...))
	if !a.Pool.Ageing.Estimable {
		t.Fatal(a.Pool.Ageing.Why)
	}
	for _, c := range a.Pool.Ageing.Curves {
		if c.Kind == "linear" && (!(c.HalfLifeLow < 2 && 2 < c.HalfLifeHigh) || c.AtBound || c.HalfLifeHigh > 2.6) {
			t.Errorf("half-life %v, from %v to %v", c.HalfLife, c.HalfLifeLow, c.HalfLifeHigh)
		}
	}
}
