package show

import (
	"math"
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/engine/trust"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/view/say"
)

// checkedFixture is the fixture with what checks say of it.
func checkedFixture() *advice.Advice {
	a := fixture()
	under := func(first string, log float64) *trust.Answer {
		gains := append([]pool.Gain(nil), a.Pool.Gains...)
		for i := range gains {
			gains[i].Log, gains[i].Pct = gains[i].Log+log, pct(gains[i].Log+log)
		}
		return &trust.Answer{Gains: gains, Left: 2, First: first}
	}
	first := a.First()
	a.Influence = []trust.Influence{
		{Kind: trust.Study, What: "Quarry Road 2021", Answer: under(first, -0.02)},
		{Kind: trust.Study, What: "Otter Hill 2019", Answer: under("new-spout", 0.03), Turns: true},
		{Kind: trust.Season, Season: 2021},
	}
	a.Trust = &advice.Trust{
		Checks: []advice.Check{
			{Key: "study", Name: "each study left out in turn", Asked: []advice.Asked{
				{What: "Quarry Road 2021", Answer: under(first, -0.02)},
				{What: "Otter Hill 2019", Answer: under("new-spout", 0.1)}, {What: "Fen 2020"}}},
			{Key: "severe", Name: "a severe selection of what was published",
				Asked: []advice.Asked{{Answer: under(first, -0.1)}}},
			{Key: "season", Name: "each season left out in turn", Asked: []advice.Asked{{What: "2021"}}},
		},
		Criteria: []trust.Criterion{{Key: "data", Name: "the data are given", Met: true, Why: note.New("yes")}},
	}
	return a
}

// A check that no answer can be given to counts neither way.
func TestStanding(t *testing.T) {
	a := checkedFixture()
	got := Of(a, say.In("en")).Standing()
	if len(got) != 2 || !strings.HasPrefix(got[0], "1 of 2 overlapping checks name ") ||
		!strings.HasSuffix(got[0], "These do not: each study left out in turn (1 of 2 do).") {
		t.Errorf("%q", got)
	}
	a.Ranking[1].ChanceOver = 0.4
	if got := Of(a, say.In("en")).Standing(); len(got) != 3 ||
		!strings.HasPrefix(got[1], "By what it nets it cannot be told apart from ") {
		t.Errorf("%q", got)
	}
	a.Trust.Checks = a.Trust.Checks[1:]
	if got := Of(a, say.In("en")).Standing()[0]; !strings.HasPrefix(got, "The one check that could be made names ") {
		t.Error(got)
	}
	one := *a.Pool
	one.Studies, a.Pool = 1, &one
	if got := Of(a, say.In("en")).Standing()[0]; !strings.Contains(got, "one study") {
		t.Error(got)
	}
}

// What speaks against a pool stands in its lead: a study without which nothing could be said, and what tests find; what
// they do not find does not, nor the least p of many.
func TestLeadTellsWhatSpeaksAgainst(t *testing.T) {
	a := checkedFixture()
	a.Trust.Small = &trust.Egger{Slope: 1.6, P: 0.003}
	a.Trust.Designs = &trust.Inconsistency{Designs: 3, DF: 1, P: 0.0004}
	a.Splits = []trust.Split{{Practice: practice.NewSpout, Against: practice.Unsanitized,
		DirectLog: math.Log(1.51), IndirectLog: math.Log(0.86), P: 0.01}, {P: 0.4}}
	all := a.Trust.Checks
	a.Trust.Checks = []advice.Check{{Key: "study", Asked: []advice.Asked{{What: "Link"}}},
		{Key: "season", Asked: []advice.Asked{{What: "2012"}}}}
	a.Pool.Studies = 3
	got := strings.Join(Of(a, say.In("en")).Standing(), "\n")
	for _, want := range []string{"No check can leave out what all gains rest on: Link.",
		"Small studies find larger gains than large ones (p\u00a0=\u00a00.003)",
		"Studies that compare other sets of practices disagree (p\u00a0<\u00a00.001)",
		"compare the two find 51\u00a0%, the others −14\u00a0% (p\u00a0=\u00a00.020)"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not said in\n%s", want, got)
		}
	}
	a.Trust.Small.P, a.Trust.Designs.P, a.Splits[0].P = 0.06, 0.06, 0.03
	a.Trust.Checks = []advice.Check{{Key: "season", Asked: []advice.Asked{{What: "2012"}}},
		{Key: "caveat", Asked: []advice.Asked{{What: string(evidence.FreakSeason)}}}}
	if got := Of(a, say.In("en")).Standing(); len(got) != 2 ||
		got[1] != "No check can leave out what all gains rest on: 2012 and freak season." {
		t.Errorf("%q", got)
	}
	a.Trust.Checks = all[1:2]
	if got := Of(a, say.In("en")).Standing(); len(got) != 1 {
		t.Errorf("%q", got)
	}
	w := Of(a, say.In("en"))
	gains := slices.Clone(a.Pool.Gains)
	a.Pool.Gains = gains
	g := &gains[slices.IndexFunc(gains, func(g pool.Gain) bool { return g.Treatment == w.subject() })]
	g.LowPct = -3
	if got := w.Standing(); len(got) != 2 || !strings.Contains(got[1],
		" gives more than unsanitized is not settled: ") {
		t.Errorf("%q", got)
	}
}

// What moves the gain by more than a quarter of its interval's width when it is left out leads the page.
func TestLeadTellsWhatMuchHangsOn(t *testing.T) {
	a := checkedFixture()
	w := Of(a, say.In("en"))
	s := w.subject()
	gains := append([]pool.Gain(nil), a.Pool.Gains...)
	g := &gains[slices.IndexFunc(gains, func(g pool.Gain) bool { return g.Treatment == s })]
	width := math.Log1p(g.HighPct/100) - math.Log1p(g.LowPct/100)
	a.Influence[2].Answer = &trust.Answer{Gains: gains}
	for _, c := range []struct {
		part float64
		said bool
	}{{-0.3, true}, {0.3, true}, {0.2, false}} {
		was := *g
		g.Log += c.part * width
		said := strings.Join(w.Standing(), " ")
		want := "Much hangs on one part of the studies (season 2021): without it"
		if strings.Contains(said, want) != c.said {
			t.Errorf("moved by %v of the width: %q", c.part, said)
		}
		*g = was
	}
}

func TestChecksTable(t *testing.T) {
	w := Of(checkedFixture(), say.In("en"))
	c := w.Checks()
	if len(c.Rows) != 4 || c.Rows[1].Cells[2].Text != "1" || c.Rows[1].Cells[3].Text != "2" ||
		!strings.Contains(c.Rows[1].Cells[4].Text, "new spout each season without Otter Hill 2019") {
		t.Errorf("%+v", c.Rows)
	}
	if low, high := c.Rows[1].Cells[1].Low, c.Rows[1].Cells[1].High; low == nil || !(*low < *high) {
		t.Errorf("from the lowest to the highest: %+v", c.Rows[1].Cells[1])
	}
	if c.Rows[3].Cells[3].Text != "0" {
		t.Errorf("a season that nothing can be said without: %+v", c.Rows[3])
	}
	i := w.Influence()
	if len(i.Rows) != 3 || !i.Rows[1].Strong || i.Rows[1].ID != "study Otter Hill 2019" {
		t.Errorf("what moves it most comes first, what nothing is said without before it: %+v", i.Rows)
	}
	if n := len(w.Tests().Rows); n != 6 {
		t.Errorf("%d questions", n)
	}
}

// A criterion names the text that is kept, as it was typed.
func TestCriteriaSayTheSearch(t *testing.T) {
	a := checkedFixture()
	if got := text(t, Of(a, say.In("en")).Criteria()); strings.Contains(got, "looked for") {
		t.Error(got)
	}
	a.Input.Search = "Three stations' reports, 100 % of them"
	if got := text(t, Of(a, say.In("en")).Criteria()); !strings.Contains(got, string(a.Input.Search)) {
		t.Error(got)
	}
}

// The footnote on a plain mean is the largest part between it and the pooled gain on the way that it goes; without
// parts it gives no reason. It once blamed unreplicated studies where there were none, and small ones where there was
// one.
func TestPlainMean(t *testing.T) {
	parts := func(log ...float64) []trust.Part {
		keys := []trust.Part{{Key: "percents"},
			{Key: "logs", Why: "a mean of percentages leans toward the largest of them"},
			{Key: "precision", Why: "it gives every study the same weight, however precise"},
			{Key: "indirect", Why: "the pooled gain also learns from studies of other practices"}, {Key: "shrinkage"}}
		for i := range keys {
			keys[i].Log = log[i]
			if i > 0 {
				keys[i].Change = log[i] - log[i-1]
			}
		}
		return keys
	}
	for _, c := range []struct {
		parts []trust.Part
		want  string
	}{
		{nil, "above the pooled gain; which step"},
		{parts(0.5, 0.40, 0.38, 0.37, 0.0), "above the pooled gain, most of all because a mean of percentages"},
		{parts(0.5, 0.49, 0.35, 0.37, 0.3), "above the pooled gain, most of all because it gives every study"},
		{parts(0.5, 0.49, 0.60, 0.37, 0.3), "above the pooled gain, most of all because the pooled gain also learns"},
		{parts(0.2, 0.19, 0.18, 0.37, 0.3), "below the pooled gain, most of all because the pooled gain also learns"},
		{parts(0.37, 0.37, 0.37, 0.37, 0.1), "agree"},
	} {
		plain := 0.5
		if c.parts != nil {
			plain = c.parts[0].Log
		}
		a := fixture()
		spout := practice.Treatment{Practice: practice.NewSpout}
		if c.parts != nil {
			a.Why = []advice.Why{{Treatment: spout, Parts: c.parts}}
		}
		g := pool.Gain{Treatment: spout, Log: 0.37, Pct: pct(0.37), PlainMeanPct: new(pct(plain)), Studies: 1,
			PlainStudies: 1}
		if got := Of(a, say.In("en")).PlainMean(g); !strings.Contains(got, c.want) {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
	if got := Of(fixture(), say.In("en")).PlainMean(pool.Gain{}); got != "" {
		t.Errorf("without a plain mean: %q", got)
	}
}

// A gain taken apart ends with the pooled gain and with that of money, and its changes add up as they are written.
func TestPartsTable(t *testing.T) {
	a := fixture()
	spout := practice.Treatment{Practice: practice.NewSpout}
	a.Why = []advice.Why{{Treatment: spout, Parts: []trust.Part{{Key: "percents", Name: "the plain mean",
		Log: 0.30}, {Key: "logs", Name: "the same on logarithms", Log: 0.25, Change: -0.05},
		{Key: "shrinkage", Name: "drawing practices toward their family, as for money", Log: 0.27, Change: 0.02}},
		Movers: []trust.Mover{{Study: "Fen 2020", Without: 0.2}}}}
	w := Of(a, say.In("en"))
	p := w.Parts(practice.NewSpout)
	if len(p.Rows) != 5 || !p.Rows[2].Strong || p.Rows[3].Cells[2].Text != "+0.020" || !p.Rows[4].Strong {
		t.Errorf("%+v", p.Rows)
	}
	got := text(t, p)
	for _, want := range []string{"another order splits otherwise", "Fen 2020 (22 % without it)"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is lacking in\n%s", want, got)
		}
	}
	if x := w.Parts(practice.CheckValve); x.ID != "" {
		t.Errorf("one that was not asked for: %+v", x)
	}
	got = w.Explanation(practice.NewSpout)[0]
	if !strings.Contains(got, "The largest step is this: the same on logarithms.") {
		t.Error(got)
	}
	p.Rows = slices.Concat(p.Rows, p.Rows, p.Rows)
	for _, r := range w.Folded(p).Rows {
		if r.Later {
			t.Errorf("the parts of a gain are told whole: %+v", r)
		}
	}
	parts := a.Why[0].Parts
	parts[0].Log, parts[1].Log, parts[1].Change = 0.266, 0.260, -0.006 // both are 30 %
	if got := w.Explanation(practice.NewSpout)[0]; !strings.Contains(got, "the plain mean and the pooled gain agree") {
		t.Error(got)
	}
}

// By Kenward-Roger nothing told hangs on a prior: such checks do not apply, and are counted only where money is told,
// which rests on priors however gains are inferred.
func TestChecksThatDoNotApply(t *testing.T) {
	for _, money := range []bool{true, false} {
		a := checkedFixture() // which is not integrated
		x := advice.Check{Key: "prior-half", Name: "what is assumed of the spread halved"}
		counted := 2
		if money {
			x.Asked, counted = a.Trust.Checks[1].Asked, 3
		}
		a.Trust.Checks = append(a.Trust.Checks, x)
		w := Of(a, say.In("en"))
		got := text(t, w.Checks())
		if !strings.Contains(got, "does not apply here") || strings.Contains(got, "Does not apply here: ") != money {
			t.Error(got)
		}
		if of := w.TrustJSON().Of; of != counted || w.TrustJSON().Checks[3].Applies != money ||
			w.TrustJSON().Checks[3].LowPct != nil {
			t.Errorf("%d counted; %+v", of, w.TrustJSON().Checks[3])
		}
		a.Pool.KR = a.Pool.Gains
		if got := text(t, w.Checks()); money && strings.Contains(got, "does not apply here") {
			t.Error(got)
		}
	}
}

// Where what nets most rests on one study, what is said of the recommended is true of it: it once was told to stay
// since nothing netted more, with what did close behind by −$0.60.
func TestWhatLeadsOnOneStudy(t *testing.T) {
	a := fixture()
	a.Ranking[0].Promising, a.Ranking[1].Promising, a.Recommended = "one study", "one study", 2
	got := strings.Join(Of(a, say.In("en")).Recommendation(), " ")
	for _, want := range []string{"Stay with today's practice, new spout each season: nothing that is permitted and " +
		"studied twice nets more", "Check-valve spout each season nets $0.84 more, and rests on one study: promising"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is lacking in %s", want, got)
		}
	}
	if strings.Contains(got, "(−") || strings.Contains(got, "permitted and studied nets") {
		t.Error(got)
	}
}
