package show

import (
	"math"
	"strings"
	"testing"

	"spile/internal/engine/compare"
	"spile/internal/engine/design"
	"spile/internal/engine/power"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/view/say"
)

func invented(t *testing.T) *compare.Analysis {
	var rows []trial.UnitSeason
	for s := range 2 {
		for i := range 9 {
			rows = append(rows, trial.UnitSeason{Unit: string(rune('a' + i)), Block: string(rune('A' + i/3)),
				Season: 2025 + s, Taps: 10, Volume: unit.Volume(700 + 100*(i%3) + 17*(i*5+s*3)%29),
				Practice: []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve}[i%3]})
		}
	}
	a, err := compare.Analyse(rows, practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Where gains are found to differ by season, that is what is said first, with their range over the seasons.
func TestGainsThatDifferBySeason(t *testing.T) {
	gain := func(k practice.Key, season int, pct float64) compare.Gain {
		return compare.Gain{Practice: k, Season: season, Pct: pct}
	}
	a := &compare.Analysis{Reference: practice.Unsanitized, Gains: []compare.Gain{gain(practice.NewSpout, 0, 40)},
		BySeason:    []compare.Gain{gain(practice.NewSpout, 2024, 79), gain(practice.NewSpout, 2025, 13)},
		Interaction: &compare.Joint{F: 9, DF: 1, Residual: 20, P: 0.007}}
	w := TrialView{A: a, V: say.In("en"), Set: practice.Shipped()}
	lead := strings.ReplaceAll(w.Gains().Lead, "\u00a0", " ")
	if !strings.HasPrefix(lead, "Gains differed by season: new spout each season 13 to 79 %. ") {
		t.Errorf("%q", lead)
	}
	a.Interaction.P = 0.2
	if lead := w.Gains().Lead; strings.Contains(lead, "differed") {
		t.Errorf("not found, and said: %q", lead)
	}
}

// Slopes stand in the reader's units: of an inch of mercury, which is 3.386389 kPa (NIST SP 811, table B.8), and of a
// tenth more sap in the season before.
func TestWhatGainsAreAdjustedFor(t *testing.T) {
	slope := func(name string, x float64) compare.Covariate {
		c := compare.Covariate{Name: name, Low: 0, High: 2 * x, P: 0.04}
		c.Value = x
		return c
	}
	w := TrialView{A: &compare.Analysis{Covariates: []compare.Covariate{slope("vacuum", math.Log(1.05)/3.386389),
		slope("season before the trial", 0.5)}}, V: say.In("en")}
	for i, want := range [][]string{{"vacuum", "1.0 inHg", "5 (0 to 10)", "0.040"},
		{"yield of the season before the trial", "10 %", "5 (0 to 10)", "0.040"}} {
		for k, cell := range w.Covariates().Rows[i].Cells {
			if got := strings.ReplaceAll(cell.Text, "\u00a0", " "); got != want[k] {
				t.Errorf("%q, want %q", got, want[k])
			}
		}
	}
	w.V = w.V.With(say.Metric)
	if got := w.Covariates().Rows[0].Cells; got[1].Text != "1\u00a0kPa" && got[1].Text != "1 kPa" ||
		!strings.HasPrefix(got[2].Text, "1") {
		t.Errorf("%+v", got)
	}
	var nan compare.Covariate
	nan.Name, nan.Value, nan.Low, nan.High, nan.P = "vacuum", math.NaN(), math.NaN(), math.NaN(), math.NaN()
	w.A.Covariates = []compare.Covariate{nan}
	if got := w.Covariates().Rows[0].Cells; strings.Contains(got[2].Text+got[3].Text, "NaN") {
		t.Errorf("%+v", got)
	}
}

// Syrup of a tap is a twentieth of its sap and less, and needs its thousandths.
func TestSyrupATap(t *testing.T) {
	a := invented(t)
	a.Response = trial.Syrup
	a.Gains[0].Mean = unit.USGallon.Of(0.2964)
	if got := (TrialView{A: a, V: say.In("en"),
		Set: practice.Shipped()}).Gains().Rows[0].Cells[2].Text; got != "0.296" {
		t.Errorf("%s gal a tap", got)
	}
}

// Every word of the tables of a trial goes through package say.
func TestTrialWords(t *testing.T) {
	v, set := say.In(say.Pseudo), practice.Shipped()
	w := TrialView{A: invented(t), V: v, Set: set, VolumeUnit: unit.USGallon}
	w.A.Covariates = []compare.Covariate{{Name: "vacuum"}, {Name: "season before the trial"}}
	w.A.Carryover = w.A.Gains[1:]
	l, err := design.Draw(trial.Question{Practices: []practice.Key{practice.Unsanitized, practice.NewSpout},
		Design: trial.Blocks, Replicates: 3, Seasons: 2, FirstSeason: 2027, Blind: true}, set)
	if err != nil {
		t.Fatal(err)
	}
	asked := power.Trial{Scheme: design.Scheme{Design: trial.Blocks, Practices: 3}, Spread: power.Spread{Unit: 0.15},
		Level: 0.05, Asked: 0.8}
	rows, err := asked.Table(20)
	if err != nil {
		t.Fatal(err)
	}
	lv := LayoutView{L: l, V: v, Set: set}
	for _, table := range []Table{w.Gains(), w.Covariates(), w.Carryover(), w.Pairs(), w.BySeason(), w.Variances(),
		lv.Layout(), lv.Keep(), PowerView{Trial: asked, Rows: rows, V: v}.Table()} {
		texts := []string{table.Title}
		if table.Lead != "" {
			texts = append(texts, table.Lead)
		}
		for _, c := range table.Columns {
			texts = append(texts, c.Name)
		}
		for _, n := range table.Notes {
			texts = append(texts, n.Text)
		}
		for _, r := range table.Rows {
			if len(r.Cells) != len(table.Columns) {
				t.Errorf("%s: a row of %d cells under %d heads", table.ID, len(r.Cells), len(table.Columns))
			}
			for i, c := range r.Cells {
				if strings.HasPrefix(table.Columns[i].ID, "practice") || table.Columns[i].ID == "against" {
					texts = append(texts, c.Text)
				}
			}
		}
		for _, text := range texts {
			if !strings.HasPrefix(text, "⟦") {
				t.Errorf("%s: %q did not go through say", table.ID, text)
			}
		}
	}
}
