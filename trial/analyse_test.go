package trial

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"spile/crosscheck"
	"spile/note"
	"spile/practice"
)

var four = []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.NewDrop}

// stored is one of the trials that R analysed: its rows, and R's results.
func stored(t testing.TB, name string) ([]UnitSeason, crosscheck.Case) {
	c, err := crosscheck.Read("../crosscheck/testdata", name)
	if err != nil {
		t.Fatal(err)
	}
	var rows []UnitSeason
	for i, y := range c.Y {
		k := 0
		for j := 1; j < 4; j++ {
			if c.X[i][j] == 1 {
				k = j
			}
		}
		rows = append(rows, UnitSeason{
			Unit: fmt.Sprint("u", c.Components[1].Group[i]), Block: fmt.Sprint("b", c.Components[0].Group[i]),
			Season: 2024 + int(c.X[i][4]), Practice: four[k], Taps: 10, Volume: 10 * 1, // replaced below
		})
		rows[i].Volume *= volume(y)
	}
	return rows, c
}

// Trials of 48 unit-seasons against lmerTest's Kenward-Roger, stored with the versions of R and its packages; the
// readings lost and blocks without a variance of their own are there too.
func TestAnalyseAgainstR(t *testing.T) {
	for _, name := range []string{"invented-trial", "invented-trial-unbalanced", "invented-trial-boundary", "invented-trial-boundary-unbalanced"} {
		t.Run(name, func(t *testing.T) {
			rows, c := stored(t, name)
			a, err := Analyse(rows, practice.Shipped(), Options{})
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

func table(cells ...cell) []UnitSeason {
	var rows []UnitSeason
	for _, c := range cells {
		r := UnitSeason{Unit: c.unit, Block: c.block, Season: c.season, Practice: c.practice, Taps: 20}
		r.Volume = 20 * volumeOf(c.perTap)
		rows = append(rows, r)
	}
	return rows
}

// What cannot be told is said, and its numbers do not exist; what can be told still is.
func TestAnalyseTooLittle(t *testing.T) {
	u, s, v := practice.Unsanitized, practice.NewSpout, practice.CheckValve
	for _, c := range []struct {
		name      string
		rows      []UnitSeason
		inference bool
		says      string
	}{
		{"one unit a practice, one season", table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}), false, "nothing tells their error"},
		{"one unit a practice, three seasons", table(cell{"1", "a", 2023, u, 60}, cell{"2", "a", 2023, s, 80}, cell{"1", "a", 2024, u, 50}, cell{"2", "a", 2024, s, 70},
			cell{"1", "a", 2025, u, 55}, cell{"2", "a", 2025, s, 72}), false, "each practice has one unit"},
		{"one block", table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}, cell{"3", "a", 2024, u, 62}, cell{"4", "a", 2024, s, 85}), true, "one block"},
		{"pairs", table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}, cell{"3", "b", 2024, u, 52}, cell{"4", "b", 2024, s, 65}, cell{"5", "c", 2024, u, 71}, cell{"6", "c", 2024, s, 85}), true, ""},
		{"a practice never beside the reference", table(cell{"1", "a", 2023, u, 60}, cell{"2", "a", 2023, u, 61}, cell{"3", "a", 2023, v, 80}, cell{"4", "a", 2023, v, 83},
			cell{"5", "a", 2024, s, 70}, cell{"6", "a", 2024, s, 75}), true, "cannot be compared"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, err := Analyse(c.rows, practice.Shipped(), Options{})
			if err != nil {
				t.Fatal(err)
			}
			said := c.says == ""
			for _, n := range a.Notes {
				said = said || contains(n.English(), c.says)
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

// A pair in each of three blocks is the paired t test of the log ratios (R 4.2.2: t.test(log(c(80/60, 65/52, 85/71)))).
func TestPairs(t *testing.T) {
	u, s := practice.Unsanitized, practice.NewSpout
	a, err := Analyse(table(cell{"1", "a", 2024, u, 60}, cell{"2", "a", 2024, s, 80}, cell{"3", "b", 2024, u, 52}, cell{"4", "b", 2024, s, 65}, cell{"5", "c", 2024, u, 71}, cell{"6", "c", 2024, s, 85}),
		practice.Shipped(), Options{})
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
	rows := table(cell{"1", "a", 2024, practice.Unsanitized, 60}, cell{"1", "a", 2024, practice.NewSpout, 80}, cell{"2", "a", 2024, "magic", 80}, cell{"3", "a", 2024, practice.NewSpout, -1})
	rows[2].Taps = 0
	_, err := Analyse(rows, practice.Shipped(), Options{})
	var faults note.Faults
	if !errors.As(err, &faults) || len(faults) != 4 {
		t.Errorf("want four faults at once, got %v", err)
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1), 0, 1e308} {
		rows := table(cell{"1", "a", 2024, practice.Unsanitized, 60}, cell{"2", "a", 2024, practice.NewSpout, bad})
		if _, err := Analyse(rows, practice.Shipped(), Options{}); err == nil {
			t.Errorf("%v litres a tap pass", bad)
		}
	}
}
