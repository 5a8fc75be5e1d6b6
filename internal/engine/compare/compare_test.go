package compare

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/crosscheck"
	"spile/internal/engine/design"
	"spile/internal/engine/stream"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

var four = crosscheck.Practices

// stored is one of the trials that R analysed: its rows, and R's results.
func stored(t testing.TB, name string) ([]trial.UnitSeason, crosscheck.Case) {
	c, err := crosscheck.Read("../../crosscheck/testdata", name)
	if err != nil {
		t.Fatal(err)
	}
	return c.Rows(), c
}

// Trials of 48 unit-seasons against lmerTest's Kenward-Roger, stored with the versions of R and its packages; the
// readings lost and blocks without a variance of their own are there too.
func TestAnalyseAgainstR(t *testing.T) {
	for _, name := range []string{"invented-trial", "invented-trial-unbalanced", "invented-trial-boundary",
		"invented-trial-boundary-unbalanced"} {
		t.Run(name, func(t *testing.T) {
			rows, c := stored(t, name)
			a, err := Analyse(rows, practice.Shipped(), trial.Options{})
			if err != nil {
				t.Fatal(err)
			}
			near := func(what string, got, want, floor float64) {
				if !(math.Abs(got-want) <= 1e-4*max(math.Abs(want), floor)) {
					t.Errorf("%s: %.8g, R %.8g", what, got, want)
				}
			}
			for j := 1; j < 4; j++ {
				g, want := a.Gains[j], c.Expect.Contrasts[j]
				near(string(g.Practice)+" log", g.Log, want.Value, want.SE)
				near(string(g.Practice)+" se", g.SE, want.SE, 0)
				near(string(g.Practice)+" df", g.DF, want.DF, 0)
			}
			top := max(c.Expect.Theta[0], c.Expect.Theta[1], c.Expect.Theta[2]) / 100
			near("block", *a.Variances.Block, c.Expect.Theta[0], top)
			near("unit", *a.Variances.Unit, c.Expect.Theta[1], top)
			near("residual", *a.Variances.Residual, c.Expect.Theta[2], top)
		})
	}
}

// tiny is a table written as unit, block, season, practice, litres a tap.
type cell struct {
	unit, block string
	season      int
	practice    practice.Key
	perTap      float64
}

func table(cells ...cell) []trial.UnitSeason {
	var rows []trial.UnitSeason
	for _, c := range cells {
		r := trial.UnitSeason{Unit: c.unit, Block: c.block, Season: c.season, Practice: c.practice, Taps: 20}
		r.Volume = unit.Volume(20 * c.perTap)
		rows = append(rows, r)
	}
	return rows
}

// exact is a trial of which the blocks leave nothing but rounding to tell an error from.
func exact() []trial.UnitSeason {
	u, s := practice.Unsanitized, practice.NewSpout
	return table(cell{"1", "a", 2024, u, math.Exp(5)}, cell{"2", "b", 2024, s, math.Exp(4)},
		cell{"3", "c", 2024, u, math.Exp(3)}, cell{"4", "c", 2024, s, math.Exp(3)})
}

// What cannot be told is said, and its numbers do not exist; what can be told still is.
func TestAnalyseTooLittle(t *testing.T) {
	u, s, v := practice.Unsanitized, practice.NewSpout, practice.CheckValve
	for _, c := range []struct {
		name      string
		rows      []trial.UnitSeason
		inference bool
		says      string
	}{
		{"one unit a practice, one season", table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}), false,
			"nothing tells their error"},
		{"one unit a practice, three seasons", table(cell{"1", "a", 2023, u, 60}, cell{"2", "a", 2023, s, 80},
			cell{"1", "a", 2024, u, 50}, cell{"2", "a", 2024, s, 70},
			cell{"1", "a", 2025, u, 55}, cell{"2", "a", 2025, s, 72}), false, "each practice has one unit"},
		{"one block", table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}, cell{"3", "a", 2024, u, 62},
			cell{"4", "a", 2024, s, 85}), true, "one block"},
		{"pairs", table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}, cell{"3", "b", 2024, u, 52},
			cell{"4", "b", 2024, s, 65}, cell{"5", "c", 2024, u, 71}, cell{"6", "c", 2024, s, 85}), true, ""},
		{"a practice never beside the reference", table(cell{"1", "a", 2023, u, 60}, cell{"2", "a", 2023, u, 61},
			cell{"3", "a", 2023, v, 80}, cell{"4", "a", 2023, v, 83},
			cell{"5", "a", 2024, s, 70}, cell{"6", "a", 2024, s, 75}), true, "cannot be compared"},
		{"blocks that fit all but exactly", exact(), false, "nothing is left to tell its error"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, err := Analyse(c.rows, practice.Shipped(), trial.Options{})
			if err != nil {
				t.Fatal(err)
			}
			said := c.says == ""
			for _, n := range a.Notes {
				said = said || strings.Contains(n.English(), c.says)
			}
			if !said {
				t.Errorf("nothing says %q: %v", c.says, a.Notes)
			}
			g := a.Gains[len(a.Gains)-1]
			if (g.SE > 0) != c.inference {
				t.Errorf("standard error %v", g.SE)
			}
			if !c.inference && math.IsNaN(g.Pct) {
				t.Error("the gain itself is missing")
			}
		})
	}
}

// Where every unit of a practice ran under the same vacuum, and those of the reference under another, an adjustment for
// vacuum takes the gain with it, and says so.
func TestVacuumHidesAPractice(t *testing.T) {
	u, s, v := practice.Unsanitized, practice.NewSpout, practice.CheckValve
	rows := table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}, cell{"3", "b", 2024, u, 52},
		cell{"4", "b", 2024, s, 65}, cell{"5", "a", 2024, v, 90}, cell{"6", "b", 2024, v, 81})
	for i := range rows {
		rows[i].Vacuum = new(unit.InchOfMercury.Of(map[practice.Key]float64{u: 20, s: 24, v: 20}[rows[i].Practice]))
	}
	a, err := Analyse(rows, practice.Shipped(), trial.Options{Vacuum: true})
	if err != nil {
		t.Fatal(err)
	}
	if s, v := a.Gains[1], a.Gains[2]; !math.IsNaN(s.Pct) || !(v.SE > 0) {
		t.Errorf("new spout %v, check valve %v ± %v", s.Pct, v.Log, v.SE)
	}
	if !slices.ContainsFunc(a.Notes, func(n note.Note) bool {
		return strings.Contains(n.English(), "cannot be told from what the covariate (vacuum) does")
	}) {
		t.Errorf("nothing says why: %v", a.Notes)
	}
}

// A pair in each of three blocks is the paired t test of the log ratios.
func TestPairs(t *testing.T) {
	u, s := practice.Unsanitized, practice.NewSpout
	a, err := Analyse(table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}, cell{"3", "b", 2024, u, 52},
		cell{"4", "b", 2024, s, 65}, cell{"5", "c", 2024, u, 71}, cell{"6", "c", 2024, s, 85}),
		practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	g := a.Gains[1]
	d := []float64{math.Log(80. / 60), math.Log(65. / 52), math.Log(85. / 71)}
	mean := (d[0] + d[1] + d[2]) / 3
	ss := 0.0
	for _, x := range d {
		ss += (x - mean) * (x - mean)
	}
	se := math.Sqrt(ss / 2 / 3) // s/√3: the paired t test of any textbook
	if math.Abs(g.Log-mean) > 1e-9 || math.Abs(g.SE-se) > 1e-6*se || math.Abs(g.DF-2) > 1e-4 {
		t.Errorf("%v ± %v (%v), want %v ± %v (2)", g.Log, g.SE, g.DF, mean, se)
	}
}

func TestAnalyseFaults(t *testing.T) {
	rows := table(cell{"1", "a", 2024, practice.Unsanitized, 60}, cell{"1", "a", 2024, practice.NewSpout, 80},
		cell{"2", "a", 2024, "magic", 80}, cell{"3", "a", 2024, practice.NewSpout, -1})
	rows[2].Taps = 0
	_, err := Analyse(rows, practice.Shipped(), trial.Options{})
	var faults note.Faults
	if !errors.As(err, &faults) || len(faults) != 4 {
		t.Errorf("want four faults at once, got %v", err)
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1), 0, 1e308} {
		rows := table(cell{"1", "a", 2024, practice.Unsanitized, 60}, cell{"2", "a", 2024, practice.NewSpout, bad})
		if _, err := Analyse(rows, practice.Shipped(), trial.Options{}); err == nil {
			t.Errorf("%v litres a tap pass", bad)
		}
	}
}

// Adjusted for vacuum, against lm(log(y) ~ practice + I(vacuum - mean(vacuum))) and confint of R 4.2.2.
func TestVacuumAgainstR(t *testing.T) {
	var rows []trial.UnitSeason
	vacuum := []float64{78.1, 80.2, 77.4, 79.0, 81.3, 82.6, 80.4, 79.9}
	for i, y := range []float64{60, 66, 58, 63, 78, 80, 79, 74} {
		rows = append(rows, trial.UnitSeason{Unit: fmt.Sprint(i), Season: 2024, Practice: four[i/4], Taps: 10,
			Volume: unit.Volume(10 * y), Vacuum: new(unit.Pressure(vacuum[i]))})
	}
	a, err := Analyse(rows, practice.Shipped(), trial.Options{Vacuum: true})
	if err != nil {
		t.Fatal(err)
	}
	g, c := a.Gains[1], a.Covariates[0]
	for _, x := range []struct {
		what      string
		got, want float64
	}{
		{"gain", g.Log, 0.14941871575}, {"its error", g.SE, 0.025953130161}, {"its df", g.DF, 5},
		{"its low end", g.Low, 0.08270407078}, {"its p", g.P, 2.219119239e-03},
		{"slope", c.Value, 0.03442068451}, {"its error", c.SE, 0.008232091836}, {"its low end", c.Low, 0.01325941877},
		{"its high end", c.High, 0.05558195025}, {"its p", c.P, 8.644254072e-03},
	} {
		if math.Abs(x.got-x.want) > 1e-6*math.Abs(x.want) {
			t.Errorf("%s: %v, R %v", x.what, x.got, x.want)
		}
	}
}

// Syrup is sap weighted by its sugar: by the Rule of 86 (Jones 1946) 100 L of 2.0 °Bx make 100·2/86 L, and the same sap
// of 2.4 °Bx a fifth more. The mass balance holds to that within what the rule leaves out.
func TestSyrupByTheRuleOf86(t *testing.T) {
	rows := table(cell{"1", "", 2024, practice.Unsanitized, 100}, cell{"2", "", 2024, practice.Unsanitized, 104},
		cell{"3", "", 2024, practice.NewSpout, 100}, cell{"4", "", 2024, practice.NewSpout, 104})
	for i := range rows {
		rows[i].Brix = new([]float64{2.0, 2.0, 2.4, 2.4}[i])
	}
	sap, err := Analyse(rows, practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	syrup, err := Analyse(rows, practice.Shipped(), trial.Options{Response: trial.Syrup})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(sap.Gains[1].Pct) > 1e-9 || math.Abs(syrup.Gains[1].Pct-20) > 0.3 {
		t.Errorf("%v %% more sap and %v %% more syrup, want 0 and 20", sap.Gains[1].Pct, syrup.Gains[1].Pct)
	}
	if got, want := float64(syrup.Gains[0].Mean), 102*2.0/86; math.Abs(got/want-1) > 0.02 {
		t.Errorf("%v L of syrup a tap, the Rule of 86 says %v", got, want)
	}
}

// What leaves no row to compare is named with it.
func TestNothingLeftToCompare(t *testing.T) {
	rows := table(cell{"1", "a", 2024, practice.Unsanitized, 60}, cell{"2", "a", 2024, practice.NewSpout, 80})
	for want, o := range map[string]trial.Options{
		"no sugar content is given for 1 (2024), 2 (2024)": {Response: trial.Syrup},
		"no vacuum is given for 1 (2024), 2 (2024)":        {Vacuum: true}} {
		if _, err := Analyse(rows, practice.Shipped(), o); err == nil ||
			!strings.Contains(err.Error(), "no row of the trial is left") || !strings.Contains(err.Error(), want) {
			t.Errorf("%v", err)
		}
	}
	laid := trial.Trial{Name: "Fen", Site: "Fen",
		Records: []trial.Record{{Season: 2026,
			Plots: []trial.Plot{{Unit: "1", Practice: practice.Unsanitized, Taps: 10}}}}}
	_, _, err := Trial(laid, practice.Shipped())
	_, err2 := StudyOf(laid, practice.Shipped())
	for _, err := range []error{err, err2} {
		if err == nil ||
			!strings.Contains(err.Error(), "the trial Fen is laid out, and nothing was gathered in it yet") {
			t.Errorf("%v", err)
		}
	}
}

// random is a trial of any shape, some rows missing.
func random(t *rapid.T) []trial.UnitSeason {
	var rows []trial.UnitSeason
	blocks, each, seasons := rapid.IntRange(1, 5).Draw(t, "blocks"), rapid.IntRange(1, 2).Draw(t, "each"),
		rapid.IntRange(1, 3).Draw(t, "seasons")
	n := rapid.IntRange(2, 4).Draw(t, "practices")
	for s := range seasons {
		for b := range blocks {
			for u := range n * each {
				if rapid.IntRange(0, 7).Draw(t, "missing") == 0 {
					continue
				}
				rows = append(rows, trial.UnitSeason{Unit: fmt.Sprint(b, "-", u), Block: fmt.Sprint("b", b),
					Season: 2024 + s, Practice: four[u%n], Taps: float64(rapid.IntRange(1, 40).Draw(t, "taps")),
					Volume: volume(rapid.Float64Range(3, 6).Draw(t, "log"))})
			}
		}
	}
	return rows
}

func same(a, b float64) bool {
	return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) <= 1e-5*max(1, math.Abs(a), math.Abs(b))
}

// Another unit of volume and another order of rows change no gain, and nothing panics or comes out silent.
func TestAnalyseProperties(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	rapid.Check(t, func(t *rapid.T) {
		rows := random(t)
		a, err := Analyse(rows, practice.Shipped(), trial.Options{})
		if err != nil {
			return
		}
		other := slices.Clone(rows)
		slices.Reverse(other)
		for i := range other {
			other[i].Volume *= 3.785
		}
		b, err := Analyse(other, practice.Shipped(), trial.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i, g := range a.Gains {
			h := b.Gains[i]
			if exact := func(g Gain) bool { return math.IsNaN(g.DF) || g.DF > 200 || g.SE < 1e-3 }; exact(g) ||
				exact(h) {
				continue // nearly an exact fit: rounding decides what error is left
			}
			if g.Practice != h.Practice || !same(g.Log, h.Log) || !same(g.SE, h.SE) ||
				!(same(g.DF, h.DF) || math.Abs(g.DF/h.DF-1) < 1e-3) {
				t.Fatalf("%+v\n%+v", g, h)
			}
			if g.withInference && (!(g.PAdjusted >= g.P-1e-9) || !(g.PAdjusted <= 1) ||
				!(g.AllLowPct <= g.LowPct+1e-6)) {
				t.Fatalf("adjusted p %v of p %v, intervals %v and %v", g.PAdjusted, g.P, g.AllLowPct, g.LowPct)
			}
			if i > 0 && math.IsNaN(g.SE) && len(a.Notes) == 0 {
				t.Fatal("an interval is missing and nothing says why")
			}
		}
	})
}

// Naming another practice as the reference turns gains about and changes no comparison.
func TestAnotherReference(t *testing.T) {
	rows, _ := stored(t, "invented-trial-unbalanced")
	a, err := Analyse(rows, practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := Analyse(rows, practice.Shipped(), trial.Options{Reference: practice.NewDrop})
	if err != nil {
		t.Fatal(err)
	}
	x, y := a.Gains[3], b.Gains[0]
	if !same(x.Log, -y.Log) || !same(x.SE, y.SE) || !same(x.DF, y.DF) {
		t.Errorf("%v ± %v, turned about %v ± %v", x.Log, x.SE, y.Log, y.SE)
	}
	for i := range a.Pairs {
		if math.Abs(a.Pairs[i].PAdjusted-b.Pairs[i].PAdjusted) > 2e-4 {
			t.Errorf("pair %d: adjusted p %v and %v", i, a.Pairs[i].PAdjusted, b.Pairs[i].PAdjusted)
		}
	}
}

// A season before the trial takes out what units differ by, so that the same gains get shorter intervals.
func TestBefore(t *testing.T) {
	r := stream.New(5, "before")
	var rows []trial.UnitSeason
	for b := range 5 {
		for u := range 4 {
			own := 0.3 * r.Normal()
			name, block := fmt.Sprint(b, "-", u), fmt.Sprint(b)
			rows = append(rows, trial.UnitSeason{Unit: name, Block: block, Season: 2023, Practice: practice.Unsanitized,
				Taps: 10, Volume: volume(5 + own + 0.03*r.Normal())},
				trial.UnitSeason{Unit: name, Block: block, Season: 2024, Practice: four[u], Taps: 10,
					Volume: volume(5 + own + 0.1*float64(u) + 0.03*r.Normal())})
		}
	}
	with, err := Analyse(rows, practice.Shipped(), trial.Options{Before: 2023})
	if err != nil {
		t.Fatal(err)
	}
	var after []trial.UnitSeason
	for _, r := range rows {
		if r.Season == 2024 {
			after = append(after, r)
		}
	}
	without, err := Analyse(after, practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if with.Gains[1].SE > without.Gains[1].SE/3 || math.Abs(with.Covariates[0].Value-1) > 0.3 || with.Rows != 20 {
		t.Errorf("standard error %v with the season before, %v without; slope %v", with.Gains[1].SE,
			without.Gains[1].SE, with.Covariates[0].Value)
	}
}

// Practices rotated over units in Williams orders: the gains and what each leaves behind are those put in.
func TestCarryover(t *testing.T) {
	q := trial.Question{Practices: []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve,
		practice.SilverSpout}, Design: trial.Latin, Replicates: 10, Seasons: 4, FirstSeason: 2023, Seed: 4}
	l, err := design.Draw(q, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	gain := map[practice.Key]float64{practice.NewSpout: 0.2, practice.CheckValve: 0.4, practice.SilverSpout: 0.3}
	left := map[practice.Key]float64{practice.NewSpout: 0.05, practice.CheckValve: -0.05, practice.SilverSpout: 0.15}
	r := stream.New(9, "carryover")
	own := map[string]float64{}
	before := map[string]practice.Key{}
	var rows []trial.UnitSeason
	for _, p := range l.Places { // by season
		if _, ok := own[p.Unit.Name]; !ok {
			own[p.Unit.Name] = 0.1 * r.Normal()
		}
		y := 4 + own[p.Unit.Name] + gain[p.Practice] + left[before[p.Unit.Name]] + 0.02*r.Normal()
		before[p.Unit.Name] = p.Practice
		rows = append(rows, trial.UnitSeason{Unit: p.Unit.Name, Block: p.Unit.Block, Season: p.Season,
			Practice: p.Practice, Taps: 1, Volume: volume(y)})
	}
	a, err := Analyse(rows, practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range a.Gains[1:] {
		if math.Abs(g.Log-gain[g.Practice]) > 4*g.SE || !(g.SE < 0.02) {
			t.Errorf("%s: %v ± %v, put in %v", g.Practice, g.Log, g.SE, gain[g.Practice])
		}
	}
	if len(a.Carryover) != 3 {
		t.Fatal(a.Carryover)
	}
	for _, g := range a.Carryover {
		if math.Abs(g.Log-left[g.Practice]) > 4*g.SE || !(g.SE < 0.02) {
			t.Errorf("after %s: %v ± %v, put in %v", g.Practice, g.Log, g.SE, left[g.Practice])
		}
	}
}

// Units numbered within their block are told apart; a unit that moves to another block is a fault.
func TestIdentify(t *testing.T) {
	u, s := practice.Unsanitized, practice.NewSpout
	within := table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}, cell{"1", "b", 2024, u, 52},
		cell{"2", "b", 2024, s, 65}, cell{"1", "c", 2024, u, 71}, cell{"2", "c", 2024, s, 85})
	a, err := Analyse(within, practice.Shipped(), trial.Options{})
	if err != nil || a.Units != 6 || a.Gains[0].Units != 3 {
		t.Errorf("%d units, %v", a.Units, err)
	}
	moved := table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}, cell{"1", "b", 2025, u, 52},
		cell{"2", "a", 2025, s, 65})
	if _, err := Analyse(moved, practice.Shipped(), trial.Options{}); err == nil {
		t.Error("a unit that moves to another block passes")
	}
}

// An overflow counts at what it gave at least, and is named.
func TestAtLeast(t *testing.T) {
	rows, _ := stored(t, "invented-trial")
	rows[3].AtLeast = true
	a, err := Analyse(rows, practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if a.Rows != len(rows) ||
		!slices.ContainsFunc(a.Notes,
			func(n note.Note) bool { return strings.Contains(n.English(), rows[3].Unit+" (2024) gave at least") }) {
		t.Errorf("%d rows, %v", a.Rows, a.Notes)
	}
}

// How much an overflow matters. One-way, so that a unit is foretold by the mean of the others of its practice, with the
// variance σ²(1 + 1/3); the range by R's lm, pnorm and qnorm.
func TestOverflow(t *testing.T) {
	u, s := practice.Unsanitized, practice.NewSpout
	rows := table(cell{"1", "", 2024, u, 60}, cell{"2", "", 2024, u, 66}, cell{"3", "", 2024, u, 57},
		cell{"4", "", 2024, u, 75},
		cell{"5", "", 2024, s, 78}, cell{"6", "", 2024, s, 93}, cell{"7", "", 2024, s, 72}, cell{"8", "", 2024, s, 87})
	ends := func() (low, high float64, notes note.List) {
		a, err := Analyse(rows, practice.Shipped(), trial.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return a.Gains[1].OverflowLowPct, a.Gains[1].OverflowHighPct, a.Notes
	}
	near := func(what string, got, want float64) {
		if !(math.Abs(got-want) < 1e-6) {
			t.Errorf("%s: %.8g, R %.8g", what, got, want)
		}
	}
	if low, high, _ := ends(); !math.IsNaN(low) || !math.IsNaN(high) {
		t.Errorf("nothing overflowed, and the gain may be %v to %v", low, high)
	}
	rows[6].AtLeast = true
	low, high, _ := ends()
	near("low, one overflow", low, 27.9969139626)
	near("high, one overflow", high, 43.1033378144)
	rows[3].AtLeast = true
	low, high, _ = ends()
	near("low, one on either side", low, 21.9985848724)
	near("high, one on either side", high, 43.1033378144)
	rows[4].AtLeast, rows[5].AtLeast, rows[7].AtLeast = true, true, true
	said := func(n note.Note) bool { return strings.Contains(n.English(), "nothing tells how much more") }
	if low, _, notes := ends(); !math.IsNaN(low) || !slices.ContainsFunc(notes, said) {
		t.Errorf("every unit of a practice overflowed, and it is foretold: %v, %v", low, notes)
	}
}

func volume(log float64) unit.Volume { return unit.Volume(math.Exp(log)) }
