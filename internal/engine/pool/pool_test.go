package pool

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/effect"
	"spile/internal/engine/reml"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// read gives the rows of a CSV file of testdata by column.
func read(t testing.TB, name string) []map[string]string {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(data)))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, rec := range all[1:] {
		row := map[string]string{}
		for i, h := range all[0] {
			row[h] = rec[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t testing.TB, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func near(t testing.TB, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Max(math.Abs(want), 1e-12)) {
		t.Errorf("%s = %.8g, want %.8g", what, got, want)
	}
}

func curtis(t testing.TB) []evidence.Study {
	var studies []evidence.Study
	for _, r := range read(t, "curtis1998.csv") {
		x := func(c string) *float64 { return new(number(t, r[c])) }
		studies = append(studies, evidence.Study{Name: r["id"], Site: r["id"], Season: 1998, Arms: []evidence.Arm{
			{Practice: practice.Unsanitized, Mean: x("m2i"), SD: x("sd2i"), N: x("n2i")},
			{Practice: practice.NewSpout, Mean: x("m1i"), SD: x("sd1i"), N: x("n1i")},
		}})
	}
	return studies
}

// Curtis & Wang 1998 (dat.curtis1998), log response ratios: metafor 3.8-1, rma(measure = "ROM", method = "REML",
// control = list(threshold = 1e-12));
// Kenward-Roger by base R, as there is none in metafor.
func TestCurtis1998(t *testing.T) {
	e, err := effect.Of(curtis(t), practice.Shipped(), evidence.Options{Variance: evidence.ReportedSD})
	if err != nil {
		t.Fatal(err)
	}
	wald, err := Fit(e, practice.Shipped(), Options{Inference: reml.Wald, Site: true})
	if err != nil {
		t.Fatal(err)
	}
	g := wald.Gains[0]
	near(t, "log", g.Log, 0.25529695734, 1e-7)
	near(t, "se", g.SE, 0.01980559057, 1e-7)
	near(t, "tau²", wald.Variances[0].Value, 0.02620385914, 1e-6)
	near(t, "Q", wald.Q, 769.018517, 1e-8)
	near(t, "I²", wald.I2Pct, 88.89666268933, 1e-6)
	near(t, "low", g.LowPct, 100*math.Expm1(0.216479), 1e-4)
	if wald.QDF != 101 || g.Comparisons != 102 || g.Studies != 102 || !math.IsInf(g.DF, 1) {
		t.Errorf("df of Q %d, comparisons %d, studies %d, df %v", wald.QDF, g.Comparisons, g.Studies, g.DF)
	}
	if len(wald.Variances) != 1 || !said(wald, "their sum is given") {
		t.Errorf("every site has one contrast, so the two variances cannot be told apart: %v", wald.Variances)
	}
	// weights(rma(...)), percent
	for i, w := range []float64{0.60652197, 0.89847026, 0.66535555} {
		near(t, "weight", wald.Weights[i].WeightPct, w, 1e-4)
	}
	paper, err := Fit(e, practice.Shipped(), kr)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "se after Kenward-Roger", paper.Gains[0].SE, 0.01984, 3e-4)
	near(t, "df after Kenward-Roger", paper.Gains[0].DF, 89.3, 6e-4)
}

func said(r *Result, part string) bool {
	for _, n := range r.Notes {
		if strings.Contains(n.English(), part) {
			return true
		}
	}
	return false
}

// pair is one study with one contrast against unsanitized.
func pair(name, site string, y, v float64, k practice.Key) effect.StudyEffects {
	return effect.StudyEffects{Study: name, Site: site,
		Arms: []practice.Treatment{{Practice: practice.Unsanitized}, {Practice: k}},
		Rows: []effect.Row{{Arm: 1, Ref: 0, Y: y, GainPct: percent(y)}}, V: mat.NewSymDense(1, []float64{v})}
}

// Konstantopoulos 2011 (dat.konstantopoulos2011), three levels: metafor 3.8-1, rma.mv(random = ~ 1 | district/school),
// districts as sites; Kenward-Roger by base R.
func TestKonstantopoulos2011(t *testing.T) {
	var e effect.Effects
	for _, r := range read(t, "konstantopoulos2011.csv") {
		e.Studies = append(e.Studies,
			pair(r["study"], r["district"], number(t, r["yi"]), number(t, r["vi"]), practice.NewSpout))
	}
	r, err := Fit(e, practice.Shipped(), Options{Inference: reml.Wald, Site: true})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "log", r.Gains[0].Log, 0.184713, 1e-5)
	near(t, "se", r.Gains[0].SE, 0.084556, 1e-5)
	near(t, "study", r.Variances[0].Value, 0.032737, 5e-5)
	near(t, "site", r.Variances[1].Value, 0.065062, 5e-5)
	near(t, "Q", r.Q, 578.864018, 1e-8)
	paper, err := Fit(e, practice.Shipped(), kr)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "se after Kenward-Roger", paper.Gains[0].SE, 0.08476, 1e-4)
	near(t, "df after Kenward-Roger", paper.Gains[0].DF, 9.84, 1e-3)
}
