package compare

import (
	"math"
	"slices"
	"strings"
	"testing"

	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

// A study is one row a practice and season, each season's arms their own; averaged over the seasons it holds the same
// gains as the analysis, and R's standard errors on the diagonal of its covariance. With no ages told apart (a trial
// without practices that age) that is the analysis itself. Crosscheck holds the rows by season against R.
func TestStudy(t *testing.T) {
	rows, c := stored(t, "invented-trial-unbalanced")
	for i := range rows {
		if rows[i].Practice == practice.NewDrop {
			rows[i].Practice = practice.SilverSpout
		}
	}
	about := About{Name: "t", Site: "hill", Seasons: []weather.Season{{Year: 2025, Class: weather.Short}}}
	s, err := Study(rows, practice.Shipped(), trial.Options{}, about)
	if err != nil {
		t.Fatal(err)
	}
	if !s.Live || len(s.Rows) != 6 || len(s.Arms) != 8 || s.Season != 2025 ||
		!slices.Equal(s.AllSeasons(), []int{2024, 2025}) {
		t.Fatalf("%+v", s)
	}
	for i, r := range s.Rows {
		season := []int{2024 + i/3}
		if !slices.Equal(s.SeasonsOf(r.Arm), season) || !slices.Equal(s.SeasonsOf(r.Ref), season) {
			t.Errorf("row %d compares %v with %v", i, s.SeasonsOf(r.Arm), s.SeasonsOf(r.Ref))
		}
	}
	m, err := buildModel(rows, practice.Shipped(), trial.Options{}, true, false)
	if err != nil {
		t.Fatal(err)
	}
	if s, _, err = m.study(about, m.overall()); err != nil || len(s.Rows) != 3 || len(s.SeasonsOf(s.Rows[0].Arm)) != 2 {
		t.Fatalf("%+v %v", s, err)
	}
	for i, r := range s.Rows {
		want := c.Expect.Contrasts[i+1]
		if math.Abs(r.Y-want.Value) > 1e-4*want.SE || math.Abs(math.Sqrt(s.V.At(i, i))-want.SE) > 1e-4*want.SE {
			t.Errorf("row %d: %v ± %v, R %v ± %v", i, r.Y, math.Sqrt(s.V.At(i, i)), want.Value, want.SE)
		}
	}
	if c := evidence.Caveats([]evidence.Setting{s.Setting})[0]; len(c) != 1 || c[0] != evidence.FreakSeason {
		t.Errorf("caveats %v", c)
	}
}

// A trial and a reported study of the same vacuum are both of gravity, or neither is.
func TestATrialHasTheCaveatsOfAStudy(t *testing.T) {
	for _, c := range []struct {
		inHg float64
		want []evidence.Caveat
	}{{0, []evidence.Caveat{evidence.Gravity}}, {0.5, []evidence.Caveat{evidence.Gravity}}, {1, nil}, {22, nil}} {
		vacuum := unit.InchOfMercury.Of(c.inHg)
		rows, _ := stored(t, "invented-trial-unbalanced")
		for i := range rows {
			rows[i].Vacuum = &vacuum
		}
		own, err := Study(rows, practice.Shipped(), trial.Options{}, About{Name: "t", Site: "hill"})
		if err != nil {
			t.Fatal(err)
		}
		arm := func(k practice.Key) evidence.Arm {
			return evidence.Arm{Practice: k, Mean: new(60.), N: new(6.), SD: new(6.), Vacuum: &vacuum}
		}
		study := evidence.Study{Name: "s", Site: "dale", Season: 2020,
			Arms: []evidence.Arm{arm(practice.Unsanitized), arm(practice.NewSpout)}}
		for i, got := range evidence.Caveats([]evidence.Setting{own.Setting, study.Setting()}) {
			if !slices.Equal(got, c.want) {
				t.Errorf("%v inHg, setting %d: %v, want %v", c.inHg, i, got, c.want)
			}
		}
	}
}

// The row of a trial in the pool has the interval that the trial itself has, and not that of an error known for sure.
func TestStudyKeepsTheTrialsInterval(t *testing.T) {
	rows := table(
		cell{"1", "a", 2024, practice.Unsanitized, 60}, cell{"2", "a", 2024, practice.NewSpout, 78},
		cell{"3", "b", 2024, practice.Unsanitized, 66}, cell{"4", "b", 2024, practice.NewSpout, 80},
		cell{"5", "c", 2024, practice.Unsanitized, 58}, cell{"6", "c", 2024, practice.NewSpout, 79},
		cell{"7", "d", 2024, practice.Unsanitized, 63}, cell{"8", "d", 2024, practice.NewSpout, 74})
	a, err := Analyse(rows, practice.Shipped(), trial.Options{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := Study(rows, practice.Shipped(), trial.Options{}, About{Name: "x", Site: "y"})
	if err != nil {
		t.Fatal(err)
	}
	g := a.Gains[1]
	if half := s.Half(0); math.Abs(s.Rows[0].Y-half-g.Low) > 1e-12 || math.Abs(s.Rows[0].Y+half-g.High) > 1e-12 ||
		g.DF > 3.1 {
		t.Errorf("%v ± %v, the trial says %v to %v with %v", s.Rows[0].Y, half, g.Low, g.High, g.DF)
	}
	s, err = Study(rows, practice.Shipped(), trial.Options{Inference: trial.Wald}, About{Name: "x", Site: "y"})
	if err != nil || s.Rows[0].DF != 0 || math.Abs(s.Half(0)-1.96*math.Sqrt(s.V.At(0, 0))) > 1e-12 {
		t.Errorf("%v %+v", err, s.Rows)
	}
}

func TestStudyAges(t *testing.T) {
	rows, _ := stored(t, "invented-trial")
	s, err := Study(rows, practice.Shipped(), trial.Options{}, About{Name: "t", Site: "hill"})
	if err != nil {
		t.Fatal(err)
	}
	var want []practice.Treatment
	for age := range 2 {
		want = append(want, practice.Treatment{Practice: practice.Unsanitized},
			practice.Treatment{Practice: practice.NewSpout}, practice.Treatment{Practice: practice.CheckValve},
			practice.Treatment{Practice: practice.NewDrop, DropAge: age})
	}
	if len(s.Arms) != len(want) {
		t.Fatalf("%v", s.Arms)
	}
	for i, a := range want {
		if s.Arms[i] != a {
			t.Errorf("arm %d is %v, want %v", i, s.Arms[i], a)
		}
	}
	one := table(cell{"1", "a", 2024, practice.Unsanitized, 60}, cell{"2", "a", 2024, practice.NewSpout, 80})
	for _, rows := range [][]trial.UnitSeason{one, exact()} {
		for _, o := range []trial.Options{{}, {Inference: trial.Wald}} {
			if _, err := Study(rows, practice.Shipped(), o, About{Name: "t"}); err == nil ||
				!strings.Contains(err.Error(), "its own error") {
				t.Errorf("a trial that cannot tell its error is pooled, or nothing says why: %v", err)
			}
		}
	}
}
