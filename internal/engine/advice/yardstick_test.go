package advice_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/engine/advice"
	"spile/internal/engine/plan"
	"spile/internal/engine/worth"
	"spile/internal/note"
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

// A plan that has something else on most taps and seasons than what pays best over the long run says so, and one that
// has that says nothing.
func TestPlanSaysWhereItPartsFromTheRanking(t *testing.T) {
	parted := 0
	for _, p := range []*plan.Plan{planned(t, "organic"), planned(t, "gravity"), changed(t, func(b *bush.Sugarbush) {
		b.Cash = new(0.) // nothing can be bought that was not bought last season
		for i := range b.Sections {
			b.Sections[i].Every, b.Sections[i].Practice = 0, practice.NewSpout
		}
	})} {
		in := scenario(t).Input
		in.Trials, in.Prices = nil, &p.Sugarbush.Prices
		a, err := memo.Of(in)
		if err != nil {
			t.Fatal(err)
		}
		best, _ := a.Best()
		taps, most := map[practice.Key]int{}, 0
		for _, s := range p.Sections {
			for _, step := range s.Steps {
				taps[step.Treatment.Practice] += s.Section.Taps
			}
		}
		for _, n := range taps {
			most = max(most, n)
		}
		said := slices.ContainsFunc(p.Notes,
			func(n note.Note) bool {
				return strings.HasPrefix(n.English(), "over the long run "+string(best.Practice))
			})
		if parts := taps[best.Practice] < most; said != parts {
			t.Errorf("%s is best, the plan has %v taps and seasons; said: %v", best.Practice, taps, said)
		} else if parts {
			parted++
		}
	}
	if parted == 0 {
		t.Error("no plan parts from its ranking, so that nothing is tried here")
	}
}
