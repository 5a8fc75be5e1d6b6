package effect

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-12*max(1, math.Abs(want))) {
		t.Errorf("%s = %.15g, want %.15g", what, got, want)
	}
}

func measured(k practice.Key, mean, sd, n float64) evidence.Arm {
	return evidence.Arm{Practice: k, Mean: &mean, SD: &sd, N: &n}
}

func reported(k practice.Key, pct, low, high float64) evidence.Arm {
	return evidence.Arm{Practice: k, Gain: &evidence.Reported{Pct: pct, LowPct: &low, HighPct: &high}}
}

func bare(k practice.Key, pct float64) evidence.Arm {
	return evidence.Arm{Practice: k, Gain: &evidence.Reported{Pct: pct}}
}

func one(arms ...evidence.Arm) []evidence.Study {
	return []evidence.Study{{Name: "A", Site: "hill", Season: 2020, Unit: evidence.Chamber, Arms: arms}}
}

func mustOf(t *testing.T, studies []evidence.Study, o evidence.Options) Effects {
	t.Helper()
	e, err := Of(studies, practice.Shipped(), o)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// Under the rule `reported`: y = ln(x̄₁/x̄₂), v = s₁²/(n₁x̄₁²) + s₂²/(n₂x̄₂²) (Hedges, Gurevitch & Curtis 1999,
// Ecology 80:1150); two ratios to one control share its part (Lajeunesse 2011, Ecology 92:2049). By hand.
func TestReportedRule(t *testing.T) {
	e := mustOf(t, one(measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 2.6, 5),
		measured(practice.CheckValve, 30, 6, 8)), evidence.Options{Variance: evidence.ReportedSD})
	s := e.Studies[0]
	near(t, "y of the spout", s.Rows[0].Y, math.Log(1.3))
	near(t, "v of the spout", s.V.At(0, 0), 0.01+0.002)
	near(t, "y of the valve", s.Rows[1].Y, math.Log(1.5))
	near(t, "v of the valve", s.V.At(1, 1), 0.01+0.005)
	near(t, "covariance", s.V.At(0, 1), 0.01)
	near(t, "gain of the spout", s.Rows[0].GainPct, 30)
}

// Under the rule `pooled`, the terms of Lajeunesse 2015, Ecology 96:2056 with one CV for all arms of
// a kind of unit (Nakagawa et al. 2023, Ecology Letters 26:232): CV² = (4·0.04 + 5·0.01 + 11·0.09)/20 = 0.06. By hand.
func TestPooledRule(t *testing.T) {
	studies := one(measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 2.6, 5),
		measured(practice.CheckValve, 30, 9, 11))
	studies = append(studies,
		evidence.Study{Name: "trees", Unit: evidence.Tree,
			Arms: []evidence.Arm{measured(practice.Unsanitized, 10, 4, 30), measured(practice.NewSpout, 12, 4.8, 30)}})
	e := mustOf(t, studies, evidence.Options{Variance: evidence.PooledCV})
	near(t, "CV of chambers", e.CV[evidence.Chamber], math.Sqrt(0.06))
	near(t, "CV of trees", e.CV[evidence.Tree], 0.4)
	s := e.Studies[0]
	near(t, "y of the spout", s.Rows[0].Y, math.Log(1.3)+0.06/10-0.06/8)
	near(t, "v of the spout", s.V.At(0, 0), 0.06/4+0.0036/32+0.06/5+0.0036/50)
	near(t, "covariance", s.V.At(0, 1), 0.06/4+0.0036/32)
}

func TestReportedGains(t *testing.T) {
	// (ln 1.5 − ln 1.1)/3.92 and (ln 1.8 − ln 1.2)/3.92, by hand; several such rows share half of the smallest
	// variance.
	e := mustOf(t, one(reported(practice.NewSpout, 30, 10, 50), reported(practice.CheckValve, 48, 20, 80)),
		evidence.Options{})
	s := e.Studies[0]
	a, b := 0.31015492830383945/3.92, 0.4054651081081644/3.92
	near(t, "y", s.Rows[0].Y, math.Log(1.3))
	near(t, "v", s.V.At(0, 0), a*a)
	near(t, "v", s.V.At(1, 1), b*b)
	near(t, "covariance", s.V.At(0, 1), a*a/2)
	if s.Arms[0].Practice != practice.Unsanitized || s.Rows[0].Basis.Imputed() {
		t.Errorf("a table of gains alone is against unsanitized, and its errors are its own: %+v", s)
	}
	if len(e.Notes) != 0 {
		t.Errorf("nothing rests on an assumed CV here: %v", e.Notes)
	}

	// A standard error of 13 percentage points at 30 % is 0.1 on the log scale (delta method).
	e = mustOf(t, one(evidence.Arm{Practice: practice.NewSpout, Gain: &evidence.Reported{Pct: 30, SEPct: new(13.)}}),
		evidence.Options{})
	near(t, "v from the error in percent", e.Studies[0].V.At(0, 0), 0.01)

	// Without any error: one unit in each arm at the pooled CV, here the default.
	e = mustOf(t, one(bare(practice.NewSpout, 30), bare(practice.CheckValve, 60)), evidence.Options{DefaultCV: 0.2})
	s = e.Studies[0]
	near(t, "v of a bare gain", s.V.At(0, 0), 2*(0.04+0.0008))
	near(t, "covariance of bare gains", s.V.At(0, 1), 0.04+0.0008)
	if !s.Rows[0].Basis.Imputed() || !slices.Contains(s.Caveats, evidence.NoReplication) ||
		!said(e.Notes, "coefficient of variation of 0.20") {
		t.Errorf("a bare gain is imputed, unreplicated, and its CV is said to be assumed: %+v %v", s, e.Notes)
	}
}

// A row that says no number of its gain is listed and not pooled; the study's other rows stand.
func TestSaid(t *testing.T) {
	un, spout := measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 5, 5)
	said := func(text string) evidence.Arm { return evidence.Arm{Practice: practice.CheckValve, Said: text} }
	e := mustOf(t, one(un, spout, said("not significant")), evidence.Options{})
	if len(e.Studies) != 1 || len(e.Studies[0].Rows) != 1 || len(e.Out) != 1 ||
		e.Out[0].Practice != practice.CheckValve {
		t.Errorf("%+v", e)
	}
	e = mustOf(t, one(said("> 30 %")), evidence.Options{})
	if len(e.Studies) != 0 || len(e.Out) != 1 || !strings.Contains(e.Out[0].Why.English(), "> 30 %") {
		t.Errorf("%+v", e)
	}
	reference := evidence.Arm{Practice: practice.Unsanitized, Said: "ns"}
	if _, err := Of(one(reference, spout), practice.Shipped(), evidence.Options{}); err == nil {
		t.Error("a reference says something of its own gain, and passes")
	}
	alone := one(un, measured(practice.NewSpout, 26, 5, 1))
	if e := mustOf(t, alone, evidence.Options{}); !slices.ContainsFunc(e.Notes, func(n note.Note) bool {
		return strings.Contains(n.English(), "an error is given with one unit")
	}) {
		t.Errorf("%v", e.Notes)
	}
}

// ψ₁(1) = π²/6, ψ₁(½) = π²/2 and ψ₁(2) = π²/6 − 1 (Abramowitz & Stegun 1964, 6.4.3 and 6.4.4).
func TestTrigamma(t *testing.T) {
	for y, x := range map[float64]float64{1: math.Pi * math.Pi / 6, 0.5: math.Pi * math.Pi / 2,
		2: math.Pi*math.Pi/6 - 1} {
		near(t, "trigamma", trigamma(y), x)
		near(t, "its inverse", inverseTrigamma(x), y)
	}
}

// What a row's variance came of, and that a column of units more or less changes no number of a table of one kind.
func TestBasis(t *testing.T) {
	sd := one(measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 5, 5))
	with := func(kind evidence.UnitKind, arms ...evidence.Arm) []evidence.Study {
		return append(slices.Clone(sd), evidence.Study{Name: "B", Unit: kind, Arms: arms})
	}
	mean := func(k practice.Key, m float64) evidence.Arm { return evidence.Arm{Practice: k, Mean: &m} }
	n := func(a evidence.Arm, n float64) evidence.Arm { a.N = &n; return a }
	se := func(a evidence.Arm, se float64) evidence.Arm { a.SE = &se; return a }
	un, spout := mean(practice.Unsanitized, 20), mean(practice.NewSpout, 26)
	interval := reported(practice.NewSpout, 30, 10, 50)
	unreplicated := with(evidence.Chamber, un, spout)
	unreplicated[1].Kind = evidence.Unreplicated
	for _, c := range []struct {
		name    string
		studies []evidence.Study
		rule    evidence.Rule
		want    Basis
	}{
		{"SD", sd, evidence.Moderated, OwnSD},
		{"SE", with(evidence.Chamber, n(se(un, 2), 4), n(se(spout, 2), 4)), evidence.Moderated, OwnSD},
		{"SE without n", with(evidence.Chamber, se(un, 2), se(spout, 2)), evidence.Moderated, StatedSE},
		{"one arm without an SD", with(evidence.Chamber, n(un, 4), measured(practice.NewSpout, 26, 4, 4)),
			evidence.Moderated, KindCV},
		{"another kind", with(evidence.Tree, n(un, 30), n(spout, 30)), evidence.Moderated, AnyCV},
		{"no n", with(evidence.Chamber, un, spout), evidence.Moderated, OneUnit},
		{"no n where three arms state it", with(evidence.Chamber, un, n(spout, 5)), evidence.Moderated, UsualN},
		{"unreplicated", unreplicated, evidence.Moderated, KindCV},
		{"a gain with n", with(evidence.Chamber, n(bare(practice.NewSpout, 30), 6)), evidence.Moderated, KindCV},
		{"a gain alone", with(evidence.Tree, bare(practice.NewSpout, 30)), evidence.Moderated, OneUnit},
		{"a gain with its interval", with(evidence.Chamber, interval), evidence.Moderated, OwnError},
		{"nothing anywhere", one(n(un, 4), n(spout, 4)), evidence.Moderated, AssumedCV},
		{"pooled", sd, evidence.PooledCV, Pooled},
		{"pooled without an SD", with(evidence.Chamber, n(un, 4), n(spout, 4)), evidence.PooledCV, KindCV},
		{"as reported", sd, evidence.ReportedSD, AsReported},
		{"as reported without an SD", with(evidence.Chamber, n(un, 4), n(spout, 4)), evidence.ReportedSD, KindCV},
	} {
		e := mustOf(t, c.studies, evidence.Options{Variance: c.rule})
		s := e.Studies[len(e.Studies)-1]
		if got := s.Rows[0].Basis; got != c.want || got.Imputed() != (got.Footnote() != "") {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	blank := with("", measured(practice.Unsanitized, 20, 9, 4), measured(practice.CheckValve, 30, 3, 8))
	blank[0].Unit = ""
	chambers := slices.Clone(blank)
	chambers[0].Unit, chambers[1].Unit = evidence.Chamber, evidence.Chamber
	own := evidence.Options{Variance: evidence.Moderated}
	a, b := mustOf(t, blank, own), mustOf(t, chambers, own)
	for i := range a.Studies {
		near(t, "v without the column unit", a.Studies[i].V.At(0, 0), b.Studies[i].V.At(0, 0))
	}
	if a.Notes != nil {
		t.Errorf("a kind of its own needs no other: %v", a.Notes)
	}
}

func said(notes note.List, part string) bool {
	return slices.ContainsFunc(notes, func(n note.Note) bool { return strings.Contains(n.English(), part) })
}

// Measured arms and reported gains in one study share no more than either kind shares among its own.
func TestMixedStudy(t *testing.T) {
	e := mustOf(t, one(measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 5.2, 4),
		reported(practice.CheckValve, 50, 40, 60)), evidence.Options{Variance: evidence.ReportedSD})
	s := e.Studies[0]
	v := math.Pow((math.Log(1.6)-math.Log(1.4))/3.92, 2)
	near(t, "v of the reported gain", s.V.At(1, 1), v)
	near(t, "covariance", s.V.At(0, 1), v/2)
}

func TestNoReplication(t *testing.T) {
	for _, c := range []struct {
		name string
		arms []evidence.Arm
		want bool
	}{
		{"n given", []evidence.Arm{measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 4, 4)},
			false},
		{"n of 1", []evidence.Arm{measured(practice.Unsanitized, 20, 4, 1), measured(practice.NewSpout, 26, 4, 4)},
			true},
		{"no n", []evidence.Arm{{Practice: practice.Unsanitized, Mean: new(20.)},
			{Practice: practice.NewSpout, Mean: new(26.)}}, true},
		{"gain with interval", []evidence.Arm{reported(practice.NewSpout, 30, 10, 50)}, false},
		{"gain without", []evidence.Arm{bare(practice.NewSpout, 30)}, true},
	} {
		e := mustOf(t, one(c.arms...), evidence.Options{})
		if got := slices.Contains(e.Studies[0].Caveats, evidence.NoReplication); got != c.want {
			t.Errorf("%s: no-replication %v", c.name, got)
		}
	}
}

func TestLeftOut(t *testing.T) {
	studies := []evidence.Study{
		{Name: "in", Arms: []evidence.Arm{measured(practice.Unsanitized, 20, 4, 4),
			measured(practice.NewSpout, 26, 4, 4)}},
		{Name: "producer", Kind: evidence.ProducerReport, Arms: []evidence.Arm{bare(practice.NewSpout, 30)}},
		{Name: "freak", Weather: "freak",
			Arms: []evidence.Arm{measured(practice.Unsanitized, 20, 8, 4), measured(practice.NewSpout, 26, 8, 4)}},
		{Name: "hand", Arms: []evidence.Arm{measured(practice.Unsanitized, 20, 8, 4),
			measured(practice.NewSpout, 26, 8, 4)}},
	}
	e := mustOf(t, studies, evidence.Options{Variance: evidence.PooledCV,
		Without: []evidence.Caveat{evidence.FreakSeason}, Exclude: []string{"hand", "nobody"}})
	if len(e.Studies) != 1 || e.Studies[0].Study != "in" || len(e.Out) != 3 ||
		!said(e.Notes, "no study is called nobody") {
		t.Errorf("%d in, out %v, notes %v", len(e.Studies), e.Out, e.Notes)
	}
	near(t, "the pooled CV is of the admitted alone", e.CV[""], math.Sqrt((4*0.04+4*16/676.)/8))
	if e = mustOf(t, studies, evidence.Options{ProducerReports: true}); len(e.Studies) != 4 {
		t.Errorf("asked for, a producer's report is in: %v", e.Out)
	}
}

func TestWarnings(t *testing.T) {
	counted := one(measured(practice.Unsanitized, 20, 4, 40), measured(practice.NewSpout, 26, 4, 40))
	counted[0].Arms[0].Taps = new(40.)
	uneven := one(measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 4, 4))
	uneven[0].Arms[0].Vacuum, uneven[0].Arms[1].Vacuum = new(unit.InchOfMercury.Of(20)), new(unit.InchOfMercury.Of(24))
	twice := append(one(measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 4, 4)),
		one(measured(practice.Unsanitized, 21, 4, 4), measured(practice.NewSpout, 27, 4, 4))...)
	twice[1].Name = "B"
	// 14.9 and 18.3 US gallons of 3.785411784 L are 56.40 and 69.27 L; 2.1 and 2.4 are 7.95 and 9.08
	elsewhere := append(one(measured(practice.Unsanitized, 14.9, 2.1, 4), measured(practice.NewSpout, 18.3, 2.4, 4)),
		one(measured(practice.NewSpout, 69.3, 9.1, 4), measured(practice.Unsanitized, 56.4, 7.9, 4))...)
	elsewhere[1].Name, elsewhere[1].Site = "C", "Far away"
	for i := range elsewhere {
		for k := range elsewhere[i].Arms {
			elsewhere[i].Arms[k].MeanUnit = []unit.VolumeUnit{unit.USGallon, unit.Litre}[i]
		}
	}
	lacking := append(one(measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 4, 4)),
		evidence.Study{Name: "B", Unit: evidence.Tree, Arms: []evidence.Arm{
			{Practice: practice.Unsanitized, Mean: new(20.), N: new(30.)},
			{Practice: practice.NewSpout, Mean: new(26.), N: new(30.)}}})
	for _, c := range []struct {
		studies []evidence.Study
		want    string
	}{
		{counted, "were trees counted as replicates"},
		{uneven, "the vacuum of its arms differs by 4.0 inHg"},
		{twice, "was one trial printed twice"},
		{elsewhere, "in another unit, in every arm; was one trial entered twice"},
		{lacking, "no arm reports an SD between units of the kind tree"},
	} {
		if e := mustOf(t, c.studies, evidence.Options{}); !said(e.Notes, c.want) {
			t.Errorf("%q is not among %v", c.want, e.Notes)
		}
	}
	if e := mustOf(t, one(measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 4, 4)),
		evidence.Options{}); e.Notes != nil {
		t.Errorf("a sound study gives no warning: %v", e.Notes)
	}
}

func TestFaults(t *testing.T) {
	u, s := measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 4, 4)
	change := func(f func(*evidence.Arm)) []evidence.Study {
		a := measured(practice.NewSpout, 26, 4, 4)
		f(&a)
		return one(u, a)
	}
	inf := math.Inf(1)
	for _, c := range []struct {
		name    string
		studies []evidence.Study
		want    string
	}{
		{"no arms", one(), "has no arms"},
		{"duplicate arm", one(u, s, s), "stands twice"},
		{"duplicate study", append(one(u, s), one(u, s)...), "the study A stands twice"},
		{"no reference", one(s, measured(practice.CheckValve, 30, 4, 4)), "has no reference"},
		{"reference alone", one(u), "no other arm"},
		{"two references", one(evidence.Arm{Practice: practice.NewSpout, Reference: true, Mean: new(2.)},
			evidence.Arm{Practice: practice.CheckValve, Reference: true, Mean: new(2.)}), "2 arms of A are marked"},
		{"reference without a mean", one(evidence.Arm{Practice: practice.Unsanitized}, s),
			"the reference has none to hold it against"},
		{"reference with a gain", one(bare(practice.Unsanitized, 3), bare(practice.NewSpout, 30)),
			"a gain is against the reference"},
		{"nothing measured", one(u, evidence.Arm{Practice: practice.NewSpout}), "neither a mean nor a gain"},
		{"unknown practice", one(u, measured("moonlight", 26, 4, 4)), "there is no practice moonlight"},
		{"mean of 0", change(func(a *evidence.Arm) { a.Mean = new(0.) }), "mean is 0; allowed"},
		{"negative mean", change(func(a *evidence.Arm) { a.Mean = new(-1.) }), "mean is -1; allowed"},
		{"mean of NaN", change(func(a *evidence.Arm) { a.Mean = new(math.NaN()) }), "mean is NaN"},
		{"mean of 1e308", change(func(a *evidence.Arm) { a.Mean = new(1e308); a.SD = nil }),
			"allowed is a ratio of up to 100"},
		{"sd of 0", change(func(a *evidence.Arm) { a.SD = new(0.) }), "sd is 0; allowed"},
		{"sd below 0", change(func(a *evidence.Arm) { a.SD = new(-1.) }), "sd is -1"},
		{"sd of 1e308", change(func(a *evidence.Arm) { a.SD = new(1e308) }), "up to ten times the mean"},
		{"infinite se", change(func(a *evidence.Arm) { a.SE = &inf }), "se is +Inf"},
		{"n of 0", change(func(a *evidence.Arm) { a.N = new(0.) }), "n is 0; allowed"},
		{"n of 2.5", change(func(a *evidence.Arm) { a.N = new(2.5) }), "n is 2.5; allowed"},
		{"age below 0", change(func(a *evidence.Arm) { a.DropAge = new(-1) }), "drop_age is -1"},
		{"gain of −100 %", one(bare(practice.NewSpout, -100)), "gain_pct is -100"},
		{"gain of NaN", one(bare(practice.NewSpout, math.NaN())), "gain_pct is NaN"},
		{"interval the wrong way round", one(reported(practice.NewSpout, 30, 50, 10)), "more than gain_low_pct"},
		{"gain outside its interval", one(reported(practice.NewSpout, 60, 10, 50)), "within its own interval"},
		{"half an interval", one(evidence.Arm{Practice: practice.NewSpout,
			Gain: &evidence.Reported{Pct: 3, LowPct: new(1.)}}), "one end of the gain's interval"},
		{"error of 0", one(evidence.Arm{Practice: practice.NewSpout, Gain: &evidence.Reported{Pct: 3, SEPct: new(0.)}}),
			"gain_se_pct is 0"},
	} {
		_, err := Of(c.studies, practice.Shipped(), evidence.Options{})
		var faults note.Faults
		if !errors.As(err, &faults) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	// All at once.
	_, err := Of(one(u, evidence.Arm{Practice: practice.NewSpout, Mean: new(-1.), SD: new(-1.), N: new(0.)}),
		practice.Shipped(), evidence.Options{Variance: "guess", DefaultCV: -1})
	var faults note.Faults
	if errors.As(err, &faults); len(faults) != 5 {
		t.Errorf("%d faults, want 5: %v", len(faults), err)
	}
	if e, err := Of(nil, practice.Shipped(), evidence.Options{}); err != nil || len(e.Studies) != 0 ||
		len(e.Notes) != 0 {
		t.Errorf("no studies: %v %v", e, err)
	}
}

func TestModerators(t *testing.T) {
	s := one(measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 4, 4))
	a := &s[0].Arms[0]
	a.Vacuum, s[0].Arms[1].Vacuum = new(unit.Pressure(60)), new(unit.Pressure(62))
	a.DropAge, a.LineAge, a.TubingIn = new(4), new(7.), new(0.3125)
	a.Tapped, a.LastRun = evidence.Day{Time: time.Date(2020, 2, 10, 0, 0, 0, 0, time.UTC)},
		evidence.Day{Time: time.Date(2020, 4, 10, 0, 0, 0, 0, time.UTC)}
	m := mustOf(t, s, evidence.Options{}).Studies[0].Moderators
	for name, want := range map[string]float64{"vacuum": 61, "line-age": 7, "tubing": 0.3125, "days-open": 60,
		"reference-drop-age": 4, "season-class": 0} {
		near(t, name, m[name], want)
	}
	if len(m) != len(evidence.ModeratorNames()) {
		t.Errorf("%v", m)
	}
}

// table draws a sound study of two to four measured arms.
func table(t *rapid.T) []evidence.Arm {
	keys := []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.ChlorineRinse}
	n := rapid.IntRange(2, 4).Draw(t, "arms")
	var arms []evidence.Arm
	for _, k := range keys[:n] {
		mean := rapid.Float64Range(5, 50).Draw(t, "mean")
		a := measured(k, mean, mean*rapid.Float64Range(0.05, 0.5).Draw(t, "cv"),
			float64(rapid.IntRange(1, 30).Draw(t, "n")))
		if rapid.Bool().Draw(t, "no sd") {
			a.SD = nil
		}
		arms = append(arms, a)
	}
	return arms
}

func same(t *rapid.T, a, b Effects) {
	for i := range a.Studies {
		p, q := a.Studies[i], b.Studies[i]
		if !slices.Equal(p.Arms, q.Arms) || len(p.Rows) != len(q.Rows) {
			t.Fatalf("%v and %v", p, q)
		}
		for j := range p.Rows {
			a, b := p.Rows[j], q.Rows[j]
			if math.Abs(a.Y-b.Y) > 1e-12 || a.Basis != b.Basis || math.Abs(a.GainPct-b.GainPct) > 1e-9 {
				t.Fatalf("%v and %v", p.Rows, q.Rows)
			}
		}
		if !mat.EqualApprox(p.V, q.V, 1e-12) {
			t.Fatalf("%v and %v", mat.Formatted(p.V), mat.Formatted(q.V))
		}
	}
}

func TestPropertyAnotherReference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rule := rapid.SampledFrom(evidence.Rules()).Draw(t, "rule")
		arms := table(t)
		other := slices.Clone(arms)
		other[rapid.IntRange(0, len(arms)-1).Draw(t, "reference")].Reference = true
		a, err := Of(one(arms...), practice.Shipped(), evidence.Options{Variance: rule})
		if err != nil {
			t.Skip()
		}
		b, err := Of(one(other...), practice.Shipped(), evidence.Options{Variance: rule})
		if err != nil {
			t.Fatal(err)
		}
		same(t, a, b)
	})
}

func TestPropertyScaleAndOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		arms := table(t)
		c := rapid.Float64Range(0.1, 10).Draw(t, "scale")
		scaled := make([]evidence.Arm, 0, len(arms))
		for _, a := range slices.Backward(arms) {
			a.Mean = new(*a.Mean * c)
			if a.SD != nil {
				a.SD = new(*a.SD * c)
			}
			scaled = append(scaled, a)
		}
		a, err := Of(one(arms...), practice.Shipped(), evidence.Options{})
		if err != nil {
			t.Skip()
		}
		b, err := Of(one(scaled...), practice.Shipped(), evidence.Options{})
		if err != nil {
			t.Fatal(err)
		}
		same(t, a, b)
	})
}
