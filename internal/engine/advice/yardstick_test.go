package advice_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/engine/advice"
	"spile/internal/engine/plan"
	"spile/internal/engine/worth"
	"spile/internal/files/sheet"
	"spile/internal/trade/bush"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// tried is the demo's input under prices drawn at random: what is sold, a quota, what can be boiled, what is unsure.
func tried(t *rapid.T, in advice.Input) advice.Input {
	p := in.Prices.Clone()
	number := func(name string, v *price.Value, low, high float64) {
		x := rapid.Float64Range(low, high).Draw(t, name) * v.Best
		*v = price.Value{Best: x}
		if rapid.Bool().Draw(t, name+" is unsure") {
			v.Low, v.High = new(x*rapid.Float64Range(.4, 1).Draw(t, name+" low")),
				new(x*rapid.Float64Range(1, 2).Draw(t, name+" high"))
		}
	}
	number("wage", &p.Wage, .3, 3)
	number("processing", &p.Processing, .2, 6)
	number("yield", &p.Baseline.Yield, .5, 1.5)
	for i := range p.Materials {
		number(p.Materials[i].Name, &p.Materials[i].Price, .3, 3)
	}
	if rapid.Bool().Draw(t, "quota") {
		p.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: rapid.Float64Range(.5, 4).Draw(t, "kg")},
			PriceBeyond:  price.Value{Best: rapid.Float64Range(0, 1).Draw(t, "beyond")},
			DelaySeasons: price.Value{Best: rapid.Float64Range(0, 3).Draw(t, "delay")}}
	}
	if rapid.Bool().Draw(t, "capacity") {
		p.Sells.CapacityL = new(price.Value{Best: rapid.Float64Range(40, 150).Draw(t, "litres")})
	}
	in.Prices = p
	return in
}

// One yardstick: the ranking's net on average is that of How sure, what is first has the highest of all that may be,
// and the chances are those of the same draws. The next trial starts from the same choice at the same net.
func TestOneYardstick(t *testing.T) {
	a := scenario(t)
	cases := 0
	rapid.Check(t, func(t *rapid.T) {
		if cases++; testing.Short() && cases > 5 || cases > 10 {
			return // each takes a tenth of a second
		}
		in := tried(t, a.Input)
		b, err := memo.Of(in)
		if err != nil {
			t.Fatal(err)
		}
		r, err := b.Prospect(advice.DrawOptions{})
		if err != nil {
			t.Fatal(err)
		}
		best, _ := b.Best()
		for k, row := range r.Summary.Rows {
			o, _ := b.Find(row.Choice)
			if math.Abs(row.Long.Mean-*o.Today.Expected) > 1e-9*(1+math.Abs(row.Long.Mean)) {
				t.Fatalf("%s nets %v in the ranking, and %v where it is told how sure that is", o.ID(),
					*o.Today.Expected, row.Long.Mean)
			}
			if row.Open && (o.ChanceBest == nil || *o.ChanceBest != row.Long.Best) {
				t.Fatalf("%s: chances %v and %v", o.ID(), o.ChanceBest, row.Long.Best)
			}
			if row.Open && !row.Awaits && row.Long.Mean > r.Summary.Rows[r.Best].Long.Mean {
				t.Fatalf("%s nets more than %s, which is recommended", o.ID(), best.ID())
			}
			if row.Choice == best.Choice() != (k == r.Best) {
				t.Fatalf("%s is recommended, and %s is", best.ID(), r.Model.Options[r.Best].ID)
			}
		}
		var average []float64
		for _, o := range r.Model.Options {
			x, _ := b.Find(o.Choice)
			average = append(average, x.Unsanitized.Average())
		}
		q, err := worth.Of(r.Model, worth.Use{Taps: 1, Adoption: 1, Seasons: 1}, 16, average)
		if err != nil {
			t.Fatal(err)
		}
		if k := q.Best(); k != r.Best {
			t.Fatalf("the next trial starts from %s, and %s is recommended", r.Model.Options[k].ID, best.ID())
		}
	})
}

// With 20 gallons of sap that can be boiled, a little less than a tap gives, best guesses and averages part: the
// ranking goes by the average, which draws of other seeds confirm.
func TestOneYardstickWhereCapacityBinds(t *testing.T) {
	in := scenario(t).Input
	in.Prices = in.Prices.Clone()
	in.Prices.Sells.CapacityL = new(price.Value{Best: 20 * 3.785411784})
	a, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	r, err := a.Prospect(advice.DrawOptions{})
	if err != nil {
		t.Fatal(err)
	}
	best, _ := a.Best()
	if got := r.Model.Options[r.Best]; got.Choice != best.Choice() || best.Practice != practice.SilverSpout {
		t.Errorf("%s is recommended, %s where it is told how sure that is", best.ID(), got.ID)
	}
	random, sum, n := rand.New(rand.NewPCG(1, 2)), 0., 0.
	for range 8 {
		d, err := r.Model.Draw(20_000, random.Uint64(), false)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range d.Nets(d.Long, r.Best) {
			sum, n = sum+x, n+1
		}
	}
	near(t, "net", *best.Today.Expected, sum/n, 0.02)
}

// Being poorly studied never raises a practice: where nothing bends what sap brings, the net on average is the net at
// the average gain, however wide the draws of that are.
func TestPoorlyStudiedNeverPays(t *testing.T) {
	in := scenario(t).Input
	in.Prices = in.Prices.Clone()
	for _, s := range in.Prices.Tried() {
		if v := s.Value(); v != nil {
			s.Put(price.Value{Best: v.Best})
		}
	}
	in.Prices.Baseline.Done = price.Done{Treatment: practice.Treatment{Practice: practice.Unsanitized}}
	a, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range a.Ranking {
		if o.With == "" { // 10,000 draws of a net whose 95 % interval is four standard deviations
			near(t, o.ID(), *o.Unsanitized.Expected, o.Unsanitized.Net,
				4*(o.Unsanitized.NetHigh-o.Unsanitized.NetLow)/4/100+1e-9)
		}
	}
	in.Prices = in.Prices.Clone()
	in.Prices.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: 2}, PriceBeyond: price.Value{Best: .3}}
	if a, err = memo.Of(in); err != nil {
		t.Fatal(err)
	}
	for _, o := range a.Ranking { // spread costs under a quota
		if o.With == "" && *o.Unsanitized.Expected > o.Unsanitized.Net+
			(o.Unsanitized.NetHigh-o.Unsanitized.NetLow)/100 {
			t.Errorf("%s nets %v on average, and %v at its best guess", o.ID(), *o.Unsanitized.Expected,
				o.Unsanitized.Net)
		}
	}
}

// A plan is on the same yardstick: of one section without limits on hours and cash each simple rule nets what the
// ranking expects of its practice, quota and what can be boiled among it, and the plan no less than the best of them,
// but for what plainness may cost. Properties of the section, which the ranking does not know, are left out.
func TestAPlanIsOnTheSameYardstick(t *testing.T) {
	scenario(t)
	read, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	base := advice.Usual(read)
	for i := range base.Studies {
		for j := range base.Studies[i].Arms {
			base.Studies[i].Arms[j].LineAge = nil
		}
	}
	own, err := sheet.Sugarbush("../../demo/sugarbush-organic.toml", base.Prices, base.Practices)
	if err != nil {
		t.Fatal(err)
	}
	cases, same := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		if cases++; cases > 10 {
			return // each takes a tenth of a second
		}
		in, b := tried(t, base), own
		in.Prices.Place, in.Prices.Organic = b.Prices.Place, false
		if rapid.Bool().Draw(t, "a day's peak") {
			in.Prices.Sells.Peak = &price.Peak{FlowL: price.Value{Best: rapid.Float64Range(1, 8).Draw(t, "a day")}}
		}
		b.Prices, b.Cash, b.Crews = *in.Prices, nil, nil
		b.Sections = []bush.Section{{Name: "all", Taps: 1000, Practice: rapid.SampledFrom([]practice.Key{
			practice.Unsanitized, practice.NewSpout, practice.CheckValve}).Draw(t, "last season")}}
		a, err := memo.Ranked(in)
		if err != nil {
			t.Fatal(err)
		}
		p, err := memo.Plan(in, b)
		if err != nil {
			t.Fatal(err)
		}
		best, _ := a.Best()
		for _, r := range p.Rules {
			o, ok := a.Find(practice.Choice{Practice: r.Practice})
			if x, _ := base.Practices.Find(r.Practice); r.Last || r.Every > 0 || !ok ||
				o.Verdict != practice.Permitted || x.Wash != practice.WashNone { // counts from the second spring
				continue
			}
			got, want := p.PerTap(r.Profit), *o.Unsanitized.Expected
			lasts := r.Practice == practice.SilverSpout // bought whole, at the end of a plan too
			within := 1e-6
			if in.Prices.Sells.Quota != nil || in.Prices.Sells.CapacityL != nil || in.Prices.Sells.Peak != nil {
				within = plan.NearTap // what is sold is averaged over parts of the states
			}
			if !lasts && math.Abs(got-want) > within*(1+math.Abs(want)) {
				t.Fatalf("%s nets %v in the plan, and %v in the ranking", r.Practice, got, want)
			}
			net := p.PerTap(p.Profit.Expected)
			if least := plan.Slight(got) + within; !lasts && net < got-least-1e-9 {
				t.Fatalf("the plan nets %v, %s alone %v", net, r.Practice, got)
			}
		}
		if p.Sections[0].Steps[1].Treatment.Practice == best.Practice {
			same++
		}
	})
	if same == 0 {
		t.Error("no plan has what pays best")
	}
}
