package advice

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/effect"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// liveTrial is four blocks of two units, read by volume every day of a week; what unit u of block b gave is even but
// for a wave, so that the trial tells its own error.
func liveTrial() trial.Trial {
	t := trial.Trial{Name: "Own trial 2026", Site: "Upper lot"}
	r := trial.Record{Season: 2026}
	for b := range 4 {
		for i, p := range []practice.Key{practice.Unsanitized, practice.CheckValve} {
			u := fmt.Sprint("u", b, i)
			r.Plots = append(r.Plots, trial.Plot{Unit: u, Block: fmt.Sprint("b", b), Practice: p, Taps: 10})
			for d := range 7 {
				v := unit.Volume(100 + 8*b + 40*i + (7*b+5*i+3*d)%11)
				r.Readings = append(r.Readings,
					trial.Reading{Unit: u, At: time.Date(2026, 3, 1+d, 9, 0, 0, 0, time.UTC), Volume: &v})
			}
		}
	}
	t.Records = []trial.Record{r}
	return t
}

// A study that is left out is known by name, and why.
func TestLeftOut(t *testing.T) {
	in := Usual(input.Input{Notes: note.List{note.New("read with care")},
		Excluded: []input.Exclusion{{Study: "A", Reason: "the pump failed"}}})
	if !slices.Equal(in.Evidence.Exclude, []string{"A"}) || len(in.Notes) != 2 ||
		!strings.Contains(in.Notes[1].English(), "the pump failed") {
		t.Errorf("%v %v", in.Evidence.Exclude, in.Notes)
	}
}

// A trial is pooled beside the studies, follows each reading that is corrected, and can be left out as a study can. It
// never stops what the others say.
func TestLiveTrial(t *testing.T) {
	in := Input{Input: input.Input{Studies: []evidence.Study{}, Practices: practice.Shipped(),
		Trials: []trial.Trial{liveTrial()}}}
	in.Studies = append(in.Studies, reported("Old lot 2020", "Old lot", 2020, 25),
		reported("Old lot 2021", "Old lot", 2021, 35))
	var memo Memo
	gain := func(in Input) float64 {
		t.Helper()
		a, err := memo.Of(in)
		if err != nil {
			t.Fatal(err)
		}
		for _, g := range a.Pool.Gains {
			if g.Treatment.Practice == practice.CheckValve {
				return g.Pct
			}
		}
		t.Fatal("no gain of the check valve")
		return 0
	}
	with := gain(in)
	corrected := liveTrial()
	more := *corrected.Records[0].Readings[7].Volume * 3
	corrected.Records[0].Readings[7].Volume = &more
	in.Trials = []trial.Trial{corrected}
	if moved := gain(in); !(moved > with) {
		t.Errorf("a reading three times as large moves the gain from %v to %v", with, moved)
	}
	in.Evidence.Exclude = []string{"Own trial 2026"}
	without := gain(in)
	in.Trials = nil
	in.Evidence.Exclude = nil
	if bare := gain(in); bare != without {
		t.Errorf("left out by hand %v, not there %v", without, bare)
	}
	broken := liveTrial()
	broken.Records[0].Readings[0].Unit = "nobody"
	in.Trials = []trial.Trial{broken}
	if bare := gain(in); bare != without {
		t.Errorf("a trial at fault changes the gain from %v to %v", without, bare)
	}
	a, _ := memo.Of(in)
	if len(a.Effects.Out) != 1 || a.Effects.Out[0].Study != "Own trial 2026" {
		t.Errorf("a trial at fault is not named as out: %v", a.Effects.Out)
	}
}

func reported(name, site string, season int, pct float64) evidence.Study {
	se := 8.0
	return evidence.Study{Name: name, Site: site, Season: season, Kind: evidence.Replicated,
		Where: note.Where{Row: season}, Arms: []evidence.Arm{
			{Practice: practice.CheckValve, Gain: &evidence.Reported{Pct: pct, SEPct: &se}},
		}}
}

// What a trial says is asked for: a remark changes nothing of it, so nothing is fitted or drawn anew, and the answer
// is of the input that has the remark; a litre more is another study.
func TestWhatATrialSaysIsAsked(t *testing.T) {
	in := Input{Input: input.Input{Practices: practice.Shipped(), Trials: []trial.Trial{liveTrial()},
		Studies: []evidence.Study{reported("Old lot 2020", "Old lot", 2020, 25)}}}
	var memo Memo
	ask := func(in Input) *Advice {
		t.Helper()
		a, err := memo.Of(in)
		if err == nil {
			a, err = memo.Thorough(a)
		}
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	was := ask(in)
	remarked, more := liveTrial(), liveTrial()
	remarked.Records[0].Readings[3].Note = "squirrels"
	*more.Records[0].Readings[3].Volume++
	in.Trials, in.Sources = []trial.Trial{remarked}, []input.Source{{Digest: "another"}}
	if now := ask(in); now.Pool != was.Pool || now.Money != was.Money || &now.Influence[0] != &was.Influence[0] {
		t.Error("a remark fits the studies anew")
	} else if now.Input.Sources[0].Digest != "another" || &now.Input.Trials[0] != &in.Trials[0] {
		t.Error("the answer is of the input before")
	}
	in.Trials = []trial.Trial{more}
	if now := ask(in); now.Pool == was.Pool {
		t.Error("a litre more does not fit the studies anew")
	}
}

// A study shows one gain or one loss, however many seasons it ran: a trial of three good ones is one study, and a trial
// with a good and a bad season contradicts no other, nor itself. Drops in their second season are another treatment.
func TestAStudyCountsOnce(t *testing.T) {
	const p = practice.NewDrop
	none := practice.Treatment{Practice: practice.Unsanitized}
	first, second := practice.Treatment{Practice: p}, practice.Treatment{Practice: p, DropAge: 1}
	study := func(of practice.Treatment, gains ...float64) effect.StudyEffects { // 0.02 is the error of each
		s := effect.StudyEffects{V: mat.NewSymDense(len(gains), nil)}
		for i, y := range gains {
			s.Arms = append(s.Arms, none, of)
			s.Seasons = append(s.Seasons, []int{2020 + i}, []int{2020 + i})
			s.Rows = append(s.Rows, effect.Row{Ref: 2 * i, Arm: 2*i + 1, Y: y})
			s.V.SetSym(i, i, 0.02*0.02)
		}
		return s
	}
	for name, x := range map[string]struct {
		studies       []effect.StudyEffects
		gains, losses int
	}{
		"three good seasons":        {[]effect.StudyEffects{study(first, 0.3, 0.2, 0.4), study(first, -0.3)}, 1, 1},
		"a good and a bad one":      {[]effect.StudyEffects{study(first, 0.3, -0.3), study(first, 0.01)}, 0, 0},
		"a loss in the second":      {[]effect.StudyEffects{study(first, 0.3), study(second, -0.3)}, 1, 0},
		"a good and an unsure one":  {[]effect.StudyEffects{study(first, 0.3, 0.03), study(first, -0.2, -0.4)}, 1, 1},
		"nothing beyond its errors": {[]effect.StudyEffects{study(first, 0.05), study(first, -0.05)}, 0, 0},
	} {
		a := &Advice{Effects: effect.Effects{Studies: x.studies}}
		if got := a.Narrow(p); got.Gains != x.gains || got.Losses != x.losses || got.Studies != 2 {
			t.Errorf("%s: %d gains and %d losses of %d studies, want %d and %d of 2", name, got.Gains, got.Losses,
				got.Studies, x.gains, x.losses)
		}
	}
}
