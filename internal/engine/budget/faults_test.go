package budget

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

func TestFaults(t *testing.T) {
	tests := []struct {
		name  string
		spoil func(*price.Prices)
		want  []string // each in a fault, one a fault
	}{
		{"none", func(p *price.Prices) {}, nil},
		{"shares", func(p *price.Prices) { p.Sells.Grades[0].Share = 0.4 },
			[]string{"column sells: the shares of what is sold sum to 1.1"}},
		{"a share of 2 is one fault", func(p *price.Prices) { p.Sells.Grades[0].Share = 2 },
			[]string{"column sells.bulk.golden.share: 2 stands here"}},
		{"nothing sold", func(p *price.Prices) { p.Sells = price.Sells{} }, []string{"nothing is sold"}},
		{"negative price", func(p *price.Prices) { p.Materials[1].Price.Best = -1 },
			[]string{"material.check-valve spout.price: -1"}},
		{"discount", func(p *price.Prices) { p.Discount.Best = -1 }, []string{"discount: -1 stands here"}},
		{"discount of 5 %, typed as 5", func(p *price.Prices) { p.Discount.Best = 5 },
			[]string{"discount: 5 stands here"}},
		{"every thousand seasons", func(p *price.Prices) { p.Today.Every = 1000 }, []string{"today.every: 1000"}},
		{"not a number", func(p *price.Prices) { p.Wage.Best = math.NaN() }, []string{"wage: NaN"}},
		{"huge", func(p *price.Prices) { p.Hauling.Best = 1e308 }, []string{"hauling: 1e+308"}},
		{"low above best", func(p *price.Prices) { p.Wage.Low = new(30.0) }, []string{"wage.low: low is 30"}},
		{"high below best", func(p *price.Prices) { p.Wage.High = new(3.0) }, []string{"wage.high: high is 3"}},
		{"low not a number", func(p *price.Prices) { p.Wage.Low = new(math.Inf(-1)) }, []string{"wage.low: -Inf"}},
		{"yield", func(p *price.Prices) { p.Baseline.Yield.Best = 0 }, []string{"baseline.yield: 0"}},
		{"syrup for sap", func(p *price.Prices) { p.Baseline.Brix.Best = 66 }, []string{"baseline.brix: 66"}},
		{"currency and date", func(p *price.Prices) { p.Currency, p.AsOf = "dollars", "last spring" },
			[]string{"currency: \"dollars\"", "as_of: \"last spring\""}},
		{"place", func(p *price.Prices) { p.Place = "Vermont" }, []string{"place: \"Vermont\""}},
		{"today", func(p *price.Prices) { p.Today.Practice = "hope" },
			[]string{"today.practice: there is no practice named \"hope\""}},
		{"baseline's practice", func(p *price.Prices) { p.Baseline.Practice = "" },
			[]string{"baseline.practice"}},
		{"unknown material", func(p *price.Prices) { p.Uses[0].Materials[0].Material = "gold" },
			[]string{"use.new-spout.material.gold: there is no material"}},
		{"unknown chemical", func(p *price.Prices) { p.Uses[3].Chemical = "gin" },
			[]string{"use.chlorine-rinse.chemical: there is no chemical"}},
		{"life", func(p *price.Prices) { p.Uses[0].Materials[0].Life.Best = 0 },
			[]string{"use.new-spout.material.spout.life: 0"}},
		{"unknown practice", func(p *price.Prices) { p.Uses[0].Practice = "hope" },
			[]string{"use.hope: there is no practice"}},
		{"twice", func(p *price.Prices) { p.Uses[1].Practice = practice.NewSpout },
			[]string{"use.new-spout: \"new-spout\" stands here twice"}},
		{"no renewal", func(p *price.Prices) { p.Uses[2].Renewal = nil }, []string{"use.new-drop.renewal"}},
		{"renewal of nothing", func(p *price.Prices) { p.Uses[0].Renewal = &price.Renewal{} },
			[]string{"use.new-spout.renewal: \"new-spout\" replaces no drops"}},
		{"window", func(p *price.Prices) { p.Uses[3].Minutes["midnight"] = &price.Value{Best: 3} },
			[]string{"minutes.midnight: there is no window"}},
		{"all at once", func(p *price.Prices) {
			p.Wage.Best, p.Hauling.Best, p.Sells.Quota = -1, -2, &price.Quota{PriceBeyond: price.Value{Best: 3}}
		}, []string{"sells.quota.price_beyond: 3", "hauling: -2", "wage: -1"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := example()
			tt.spoil(&p)
			faults := p.Faults(practice.Shipped())
			if len(faults) != len(tt.want) {
				t.Fatalf("want %d faults, got:\n%v", len(tt.want), faults.Error())
			}
			for i, f := range faults {
				if !strings.Contains(f.English(), tt.want[i]) {
					t.Errorf("fault %q, want %q in it", f.English(), tt.want[i])
				}
			}
		})
	}
}

func TestFaultPlace(t *testing.T) {
	p := example()
	p.Wage.Best = -1
	p.Where.File, p.Lines = "prices.toml", map[string]int{"wage": 12}
	if got := p.Faults(practice.Shipped()).Error(); !strings.HasPrefix(got, "prices.toml, row 12, column wage: -1") {
		t.Error(got)
	}
}

func TestNotes(t *testing.T) {
	p := example()
	if n := p.Notes(); len(n) != 0 {
		t.Errorf("notes of sound prices: %v", n)
	}
	p.Baseline.Yield.Best, p.Baseline.GainBrix, p.Sells.GainPrice = 152, nil, nil // 40.2 US gallons
	if n := p.Notes(); len(n) != 3 {
		t.Errorf("want three notes, got %v", n)
	}
}

// Whatever numbers stand in the prices, they are a fault or they give a budget in numbers.
func TestFaultOrNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := draw(t)
		p.Uses[2].Renewal = new(*p.Uses[2].Renewal)
		at := []*float64{
			&p.Baseline.Yield.Best, &p.Baseline.Brix.Best, &p.Baseline.GainBrix.Best, &p.Sells.Grades[0].Price.Best,
			&p.Sells.GainPrice.Best, &p.Processing.Best, &p.Hauling.Best, &p.Wage.Best, &p.Discount.Best,
			&p.FarmAdjust.Best,
			&p.Materials[0].Price.Best, &p.Materials[0].Grams, &p.Chemicals[0].Price.Best,
			&p.Uses[0].Materials[0].Life.Best,
			&p.Uses[0].Materials[0].Count, &p.Uses[3].ChemicalL.Best, &p.Uses[3].LostSapL.Best, &p.Uses[3].Repairs.Best,
			&p.Uses[2].Renewal.Disposal.Best, &p.SyrupBrix,
		}
		if q := p.Sells.Quota; q != nil {
			at = append(at, &q.SyrupKg.Best, &q.PriceBeyond.Best, &q.DelaySeasons.Best)
		}
		odd := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{
			0, -1, 1, 2, 5, 60, 66, 70, 99, 1e12, 1e308, -1e308, 1e-308, math.NaN(), math.Inf(1), math.Inf(-1),
		}))
		for range rapid.IntRange(1, 4).Draw(t, "spoilt") {
			*rapid.SampledFrom(at).Draw(t, "number") = odd.Draw(t, "value")
		}
		if p.Faults(practice.Shipped()).Err() != nil {
			return
		}
		l := Of(&p)
		y0 := l.Unsanitized(0.31)
		for _, c := range choices() {
			b := Compare(l.Account(c, y0, gains[c]),
				l.Account(practice.Choice{Practice: practice.Unsanitized}, y0, []float64{0}))
			if math.IsNaN(b.Net) || math.IsInf(b.Net, 0) || math.IsNaN(b.PlasticG) || math.IsInf(b.PlasticG, 0) {
				t.Fatalf("%+v: net %v, plastic %v", c, b.Net, b.PlasticG)
			}
		}
	})
}
