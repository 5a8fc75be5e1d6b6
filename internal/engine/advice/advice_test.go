package advice_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/engine/trust"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// station is four sites that found the same gains with next to no error, so that the answer can be worked out by hand:
// a new spout 31 % and a check valve 63 % (facts of the trade: common practice, no source), and a new drop whose log
// gain over a new spout falls in a straight line from 0.28 to nothing in its fourth season, so that the linear curve
// holds.
func station() []evidence.Study {
	var studies []evidence.Study
	for i := range 4 {
		s := evidence.Study{Name: fmt.Sprint("study ", i), Site: fmt.Sprint("site ", i), Season: 2015 + i,
			Kind: evidence.Replicated, Unit: evidence.Chamber}
		arm := func(k practice.Key, age int, mean float64) {
			s.Arms = append(s.Arms, evidence.Arm{
				Practice: k, DropAge: new(age), Reference: k == practice.Unsanitized,
				Mean: new(mean), N: new(1000.), SD: new(mean / 1000),
			})
		}
		arm(practice.Unsanitized, 6, 10)
		arm(practice.NewSpout, 6, 13.1)
		arm(practice.CheckValve, 6, 16.3)
		for age := range 3 {
			arm(practice.NewDrop, age, 10*(1+drop(age)/100))
		}
		studies = append(studies, s)
	}
	return studies
}

// drop is the gain of a new drop in a season of its life, percent.
func drop(age int) float64 { return 100 * (1.31*math.Exp(0.28*(1-float64(age)/4)) - 1) }

// prices sells sap alone, at 1 a litre, so that money counts litres.
func prices() *price.Prices {
	p := price.Default()
	p.Currency, p.AsOf, p.Place, p.SyrupBrix = "USD", "2026-01-15", "US-VT", 66.9
	p.Baseline = price.Baseline{
		Yield: price.Value{Best: 25}, Done: price.Done{Treatment: practice.Treatment{Practice: practice.NewSpout}},
		Brix: price.Value{Best: 2},
	}
	p.Sells.Sap = &price.Outlet{Share: 1, Price: price.Value{Best: 1}}
	p.Wage = price.Value{Best: 30}
	p.Materials = []price.Material{{Name: "spout", Price: price.Value{Best: 0.5}, Grams: 5},
		{Name: "drop", Price: price.Value{Best: 3}, Grams: 60}}
	spout := []price.MaterialUse{{Material: "spout", Count: 1, Life: price.Value{Best: 1}}}
	p.Uses = []price.Use{
		{Practice: practice.NewSpout, Materials: spout},
		{Practice: practice.CheckValve, Materials: spout},
		{Practice: practice.NewDrop, Materials: spout, Renewal: &price.Renewal{
			Materials: []price.MaterialUse{{Material: "drop", Count: 1}},
			Minutes:   map[price.Window]*price.Value{price.BeforeTapping: {Best: 3}},
		}},
	}
	return &p
}

func asked() advice.Input {
	in := advice.Usual(input.Input{Studies: station(), Practices: practice.Shipped(), Rules: practice.ShippedRules(),
		Prices: prices()})
	in.MaxInterval = 3
	return in
}

// answer is worked out once for all tests: read it, do not change it.
func answer(t *testing.T, in advice.Input) *advice.Advice {
	t.Helper()
	a, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func option(t *testing.T, a *advice.Advice, id string) advice.Option {
	t.Helper()
	for _, o := range a.Ranking {
		if o.ID() == id {
			return o
		}
	}
	t.Fatalf("%s is not ranked", id)
	return advice.Option{}
}

// Worked by hand from the gains of station: 25 on yearly new spouts is 25/1.31 = 19.084 unsanitized; a check valve then
// gives 19.084 × 1.63 = 31.107, and not 25 × 1.63 = 40.75.
func TestChainByHand(t *testing.T) {
	a := answer(t, asked())
	spout := option(t, a, "new-spout").GainPct
	y0 := 25 / (1 + spout/100)
	for _, c := range []struct {
		id    string
		gain  float64 // percent
		costs float64
	}{
		{"unsanitized", 0, 0},
		{"new-spout", 31, 0.5},
		{"check-valve", 63, 0.5},
		{"new-drop/1", drop(0), 0.5 + 3 + 3./60*30},
		{"new-drop/2", (drop(0) + drop(1)) / 2, 0.5 + (3+3./60*30)/2},
		{"new-drop/3", (drop(0) + drop(1) + drop(2)) / 3, 0.5 + (3+3./60*30)/3},
	} {
		o := option(t, a, c.id)
		within := 0.15 // next to no error: next to nothing is shrunk
		if o.Every > 0 {
			within = 0.25 // their half-life lies between two of those looked at
		}
		near(t, c.id+" gain", o.GainPct, c.gain, within)
		near(t, c.id+" against unsanitized", o.Unsanitized.Net, y0*o.GainPct/100-c.costs, 1e-9)
		near(t, c.id+" against today", o.Today.Net, y0*(o.GainPct-spout)/100-(c.costs-0.5), 1e-9)
	}
	if best, _ := a.Best(); best.ID() != "check-valve" {
		t.Errorf("%s is recommended; its net against new spouts is 6.11, every other option's less", best.ID())
	}
	now := option(t, a, "new-spout")
	if !now.IsToday || now.Today.Net != 0 || now.Today.NetLow != 0 || now.Today.NetHigh != 0 {
		t.Errorf("today's practice against itself: %+v", now.Today)
	}
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// The draws that money rests on have the intervals of the table: a rotation of one season is a new drop, whose interval
// the table gives; that of its net, which is linear in the gain where sap is sold as sap, comes from the draws.
func TestDrawsHaveTheTablesInterval(t *testing.T) {
	in := asked()
	for i := range in.Studies {
		for j := range in.Studies[i].Arms {
			in.Studies[i].Arms[j].SD = new(3.)
			in.Studies[i].Arms[j].N = new(6.)
		}
	}
	in.Prices.Baseline.Practice = practice.Unsanitized
	a := answer(t, in)
	for _, id := range []string{"new-spout", "check-valve", "new-drop/1"} {
		o := option(t, a, id)
		costs := 25*o.GainPct/100 - o.Unsanitized.Net
		near(t, id+" low", o.Unsanitized.NetLow, 25*o.LowPct/100-costs,
			0.05*(o.Unsanitized.NetHigh-o.Unsanitized.NetLow))
		near(t, id+" high", o.Unsanitized.NetHigh, 25*o.HighPct/100-costs,
			0.05*(o.Unsanitized.NetHigh-o.Unsanitized.NetLow))
	}
}

// Against another practice every net moves by that practice's own net, and the order stays.
func TestAgainst(t *testing.T) {
	in := asked()
	spout := answer(t, in)
	in.Against = practice.Choice{Practice: practice.NewDrop, Every: 3}
	drop := answer(t, in)
	shift := option(t, spout, "new-drop/3").Today.Net
	for i, o := range spout.Ranking {
		other := drop.Ranking[i]
		if other.ID() != o.ID() {
			t.Fatalf("rank %d is %s, and %s against new drops", i, o.ID(), other.ID())
		}
		near(t, o.ID(), other.Today.Net, o.Today.Net-shift, 1e-9)
		near(t, o.ID()+" against unsanitized", other.Unsanitized.Net, o.Unsanitized.Net, 1e-9)
	}
}

// A bare practice that replaces drops is its rotation of one season, with its costs: no option may look good beside a
// replacement that was never paid.
func TestAgainstPracticeThatAges(t *testing.T) {
	in := asked()
	in.Against = practice.Choice{Practice: practice.NewDrop}
	a := answer(t, in)
	if o := option(t, a, "new-drop/1"); a.Reference.Every != 1 || !o.IsToday || o.Today.Net != 0 {
		t.Errorf("against %+v; new drops every season net %v against themselves", a.Reference, o.Today.Net)
	}
}

// Where studies do not tell how drops age, the user's own table stands in: a mean of percents, without an interval.
// Yearly gains of 72, 61 and 50 % average 61 % over three seasons (common practice, no source).
func TestOwnTableOfAges(t *testing.T) {
	in := asked()
	for i := range in.Studies {
		arms := in.Studies[i].Arms
		in.Studies[i].Arms = arms[:len(arms)-2] // new drops in their first season alone
	}
	if a := answer(t, in); len(a.Rotation.Intervals) != 1 {
		t.Fatalf("%d intervals without a table", len(a.Rotation.Intervals))
	}
	in.Prices.Uses[2].GainPct = []float64{0, 61, 50} // the first is the studies', whatever the table says
	a := answer(t, in)
	o := option(t, a, "new-drop/3")
	near(t, "gain", o.GainPct, (drop(0)+61+50)/3, 0.05)
	if !o.Studied || a.Pool.Ageing.Estimable {
		t.Errorf("studied %v, ageing estimable %v", o.Studied, a.Pool.Ageing.Estimable)
	}
	if !slices.ContainsFunc(a.Notes,
		func(n note.Note) bool { return strings.Contains(n.English(), "drop age 1, 2 ") }) {
		t.Error("nothing says that these gains are the user's own")
	}
}

// Where no study tells of today's practice, unsanitized stands in and is not called today's.
func TestUntold(t *testing.T) {
	in := asked()
	in.Against = practice.Choice{Practice: practice.SilverSpout}
	a := answer(t, in)
	if a.Untold.Practice != practice.SilverSpout || a.Reference.Practice != practice.Unsanitized ||
		option(t, a, "unsanitized").IsToday {
		t.Errorf("untold %+v, reference %+v", a.Untold, a.Reference)
	}
	if o := option(t, a, "check-valve"); o.Today.Net != o.Unsanitized.Net {
		t.Errorf("against the stand-in %v, against unsanitized %v", o.Today.Net, o.Unsanitized.Net)
	}
}

// What no study holds and what is not permitted never comes first, however well it pays.
func TestNeverFirst(t *testing.T) {
	in := asked()
	for i := range in.Studies {
		in.Studies[i].Arms = append(in.Studies[i].Arms,
			evidence.Arm{Practice: practice.AlcoholFlush, Mean: new(30.), N: new(1000.), SD: new(.03)})
	}
	in.Prices.Chemicals = []price.Chemical{{Name: "alcohol", Price: price.Value{Best: 1}}}
	in.Prices.Uses = append(in.Prices.Uses,
		price.Use{Practice: practice.AlcoholFlush, Chemical: "alcohol", ChemicalL: price.Value{Best: 0.01}})
	a := answer(t, in)
	alcohol, both := option(t, a, "alcohol-flush"),
		option(t, a, fmt.Sprintf("new-drop/%d+check-valve", a.Rotation.Best))
	best, _ := a.Best()
	if alcohol.Today.Net < best.Today.Net || both.Today.NetHigh < best.Today.Net {
		t.Fatal("the case does not test what it is to test")
	}
	if best.ID() != "check-valve" || alcohol.Verdict != practice.HeldBack || len(alcohol.Reasons) == 0 ||
		len(alcohol.Cautions) == 0 || both.Studied {
		t.Errorf("best %s; alcohol %s for %v; the combination studied: %v", best.ID(), alcohol.Verdict, alcohol.Reasons,
			both.Studied)
	}
	in.Prices = new(*in.Prices)
	in.Prices.Place = "CA-QC"
	if o := option(t, answer(t, in), "alcohol-flush"); o.Verdict != practice.HeldBack {
		t.Error("a chemical whose label is not known to name tubing must be held back")
	}
	in.Prices = new(*in.Prices)
	in.Prices.Chemicals = []price.Chemical{{Name: "alcohol", Price: price.Value{Best: 1}, LabelNamesTubing: true}}
	if best, _ := answer(t, in).Best(); best.ID() != "alcohol-flush" {
		t.Errorf("where no rule holds alcohol back, %s comes first", best.ID())
	}
	in.Prices = new(*in.Prices)
	in.Prices.Place = ""
	if o := option(t, answer(t, in), "alcohol-flush"); o.Verdict == practice.Permitted {
		t.Error("an unknown place must hold back every chemical")
	}
}

// What has a price and no study is told, not passed over.
func TestPricedAndNotStudied(t *testing.T) {
	in := asked()
	in.Prices.Uses = append(in.Prices.Uses, price.Use{Practice: practice.SilverSpout})
	told := func(n note.Note) bool { return strings.Contains(n.English(), "silver-spout takes, but no study") }
	if !slices.ContainsFunc(answer(t, in).Notes, told) {
		t.Error("a silver-bearing spout has a price and no study, and nothing is said")
	}
	if slices.ContainsFunc(answer(t, asked()).Notes, told) {
		t.Error("no price is given for it")
	}
}

// The range of a combination runs from the better part alone to the sum of the log gains, season by season.
func TestCombinationByHand(t *testing.T) {
	a := answer(t, asked())
	if a.Rotation.Best != 2 { // by TestChainByHand's sums
		t.Fatalf("rotation of %d seasons", a.Rotation.Best)
	}
	o := option(t, a, "new-drop/2+check-valve")
	valve, spout := option(t, a, "check-valve").GainPct, option(t, a, "new-spout").GainPct
	near(t, "low", o.LowPct, (option(t, a, "new-drop/1").GainPct+valve)/2, 1e-9)
	near(t, "high", o.HighPct, // the new spout counts once
		100*((1+valve/100)/(1+spout/100)*(1+option(t, a, "new-drop/2").GainPct/100)-1), 1e-9)
}

func TestMemo(t *testing.T) {
	var m advice.Memo
	in := asked()
	first, err := m.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	dearer, err := in.With("material.spout.price", price.Value{Best: 4})
	if err != nil {
		t.Fatal(err)
	}
	second, err := m.Of(dearer)
	if err != nil {
		t.Fatal(err)
	}
	if second.Pool != first.Pool {
		t.Error("a changed price fitted the studies again")
	}
	if option(t, second, "check-valve").Unsanitized.Net >= option(t, first, "check-valve").Unsanitized.Net {
		t.Error("the changed price did not reach the budget")
	}
	if again, _ := m.Of(in); again != first {
		t.Error("the same input was worked out twice")
	}
	in.Evidence.Exclude = []string{"study 0"}
	if third, err := m.Of(in); err != nil || third.Pool == first.Pool {
		t.Errorf("leaving out a study did not fit again (%v)", err)
	}
}

// Every assumption can be set; setting it to what it is changes nothing, and no setting reaches the input it came from.
func TestAssumptions(t *testing.T) {
	in := asked()
	in.Prices.Sells.Grades = []price.Grade{{Name: "dark", Share: 0.2, Price: price.Value{Best: 5}}}
	in.Prices.Sells.Retail = &price.Outlet{Share: 0.1, Price: price.Value{Best: 20}}
	in.Prices.Sells.Sap.Share = 0.7
	in.Prices.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: 1}, PriceBeyond: price.Value{Best: 0.8},
		DelaySeasons: price.Value{Best: 1}}
	in.Prices.Sells.CapacityL = &price.Value{Best: 100}
	before := answer(t, in)
	untouched := fmt.Sprintf("%+v", in.Prices.Assumptions())
	list := in.Prices.Assumptions()
	if len(list) < 20 {
		t.Errorf("only %d assumptions", len(list))
	}
	for _, x := range list {
		same, err := in.With(x.Key, price.Value{Best: x.Value.Best})
		if err != nil {
			t.Fatal(err)
		}
		if a := answer(t, same); !reflect.DeepEqual(a.Ranking, before.Ranking) {
			t.Errorf("%s set to what it is changes the ranking", x.Key)
		}
		other, err := in.With(x.Key, price.Value{Best: x.Value.Best + 1})
		if err != nil {
			t.Fatal(err)
		}
		got := 0.
		for _, y := range other.Prices.Assumptions() {
			if y.Key == x.Key {
				got = y.Value.Best
			}
		}
		near(t, x.Key, got, x.Value.Best+1, 0)
	}
	if now := fmt.Sprintf("%+v", in.Prices.Assumptions()); now != untouched {
		t.Error("a what-if changed the input it came from")
	}
	if _, err := in.With("wages", price.Value{Best: 1}); err == nil || !strings.Contains(err.Error(), "wages") {
		t.Errorf("a key that is none: %v", err)
	}
}

func TestThorough(t *testing.T) {
	var m advice.Memo
	in := asked()
	in.Studies[3].Caveats = []evidence.Caveat{"muddy-road"}
	a, err := m.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	full, err := m.Thorough(a)
	if err != nil {
		t.Fatal(err)
	}
	if len(full.WithoutStudy) != 4 || len(full.WithoutSite) != 4 {
		t.Errorf("%d studies and %d sites left out in turn", len(full.WithoutStudy), len(full.WithoutSite))
	}
	if len(full.CaveatEffects) != 1 || full.CaveatEffects[0].Without.Studies != 3 ||
		full.CaveatEffects[0].Best != "check-valve" {
		t.Errorf("caveats: %+v", full.CaveatEffects)
	}
	if l, ok := a.Pool.Linear(); !ok || len(full.Splits) != len(trust.Splits(l)) {
		t.Errorf("%d pairs of direct beside indirect evidence", len(full.Splits))
	}
	if len(a.WithoutStudy) != 0 {
		t.Error("the quick answer was changed")
	}
}

func TestFaults(t *testing.T) {
	for name, spoil := range map[string]func(*advice.Input){
		"the longest rotation": func(in *advice.Input) { in.MaxInterval = 51 },
		"is not a practice":    func(in *advice.Input) { in.Against.Practice = "boiling" },
		"discount":             func(in *advice.Input) { in.Prices.Discount.Best = -1 },
	} {
		in := asked()
		spoil(&in)
		if _, err := new(advice.Memo).Of(in); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestGainsOnly(t *testing.T) {
	in := asked()
	in.Prices = nil
	a := answer(t, in)
	if a.Ranking != nil || a.Recommended != -1 || len(a.Pool.Gains) != 3 || a.Rotation.Priced || a.Rotation.Best != 1 {
		t.Errorf("without prices: ranking %v, gains %v, rotation %+v", a.Ranking, a.Pool.Gains, a.Rotation)
	}
}
