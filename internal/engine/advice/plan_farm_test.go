package advice_test

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/engine/plan"
	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
)

// farm is the organic sugarbush of the demo without its limits, certificate and wishes, with two sections alike; then
// changed.
func farm(t testing.TB, change func(*bush.Sugarbush), evidence ...func(*advice.Input)) *plan.Plan {
	t.Helper()
	if testing.Short() {
		t.Skip("no goroutine starts here that other tests do not start")
	}
	return changed(t, func(b *bush.Sugarbush) {
		b.Prices.Organic, b.Cash, b.Crews = false, nil, map[price.Window]bush.Crew{}
		b.Sections = b.Sections[:2]
		for i := range b.Sections {
			x := &b.Sections[i]
			x.Taps, x.Practice, x.Every, x.DropsReplaced, x.Unwanted, x.Brix = 1000, "new-spout", 0, 0, nil, nil
		}
		change(b)
	}, evidence...)
}

// steady is true of a section that does one practice in all seasons.
func steady(s plan.SectionPlan, k practice.Key) bool {
	return !slices.ContainsFunc(s.Steps, func(x plan.Step) bool { return x.Practice != k })
}

// A quota is the enterprise's: one section may use what another leaves. 9,500 lb for two sections of 1,000 taps, of
// which one makes far more than half of it, hold what last season made; so nothing is gained by making less sap.
func TestAQuotaBindsTheSumOfTheSections(t *testing.T) {
	rich, poor := 100., 40.
	p := farm(t, func(b *bush.Sugarbush) {
		b.Sections[0].Practice, b.Sections[0].YieldL = "check-valve", &rich
		b.Sections[1].Practice, b.Sections[1].YieldL = "check-valve", &poor
		b.Prices.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: unit.Pound.Of(9500).In(unit.Kilogram) / 2000},
			PriceBeyond: price.Value{Best: 0.3}}
	})
	for _, s := range p.Sections {
		for _, x := range s.Steps {
			if x.Practice == practice.Unsanitized || x.GainPct < 20 {
				t.Errorf("%s: %s", s.Section.Name, x.Practice)
			}
		}
	}
	if p.OverLast == nil || p.OverLast.Expected < -1e-6 {
		t.Errorf("%+v", p.OverLast)
	}
}

// What can be boiled in a day is the enterprise's too: at 5.5 litres a tap on six days that give a third of a season's
// sap 100 litres a tap can be boiled, and one section of two may run beyond them where both together stay within.
func TestADayBindsTheSumOfTheSections(t *testing.T) {
	profit := func(flow float64, rich, poor float64) float64 {
		return farm(t, func(b *bush.Sugarbush) {
			b.Sections[0].YieldL, b.Sections[1].YieldL = &rich, &poor
			if flow > 0 {
				b.Prices.Sells.Peak = &price.Peak{FlowL: price.Value{Best: flow}}
			}
		}).Profit.Expected
	}
	if with, without := profit(5.5, 115, 10), profit(0, 115, 10); math.Abs(with-without) > 1e-6*without {
		t.Errorf("both together stay within what can be boiled: %v, without a limit %v", with, without)
	}
	if with, without := profit(5.5, 115, 90), profit(0, 115, 90); with > 0.9*without {
		t.Errorf("both together run beyond what can be boiled: %v, without a limit %v", with, without)
	}
}

// Of one section the quota of the sugarbush is the quota of its taps: the plan's season is that of the ledger.
func TestMoreQuotaNeverBringsLess(t *testing.T) {
	before := math.Inf(-1)
	for _, kg := range []float64{0, 1, 2, 10} {
		p := farm(t, func(b *bush.Sugarbush) {
			b.Prices.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: kg}, PriceBeyond: price.Value{Best: 0.3}}
		})
		if p.Profit.Expected < before-plan.Near*math.Abs(before) {
			t.Errorf("a quota of %v kg a tap brings %v, a smaller one %v", kg, p.Profit.Expected, before)
		}
		before = p.Profit.Expected
	}
}

// What was done last season can be done again: whatever the hours and the cash, no section falls below it, and the plan
// brings no less.
func TestLastSeasonIsAlwaysPossible(t *testing.T) {
	none := 0.
	hour := bush.Crew{People: 1, Days: 1, HoursADay: 6}
	for name, limits := range map[string]func(*bush.Sugarbush){
		"no cash":           func(b *bush.Sugarbush) { b.Cash = &none },
		"no hours":          func(b *bush.Sugarbush) { b.Crews[price.Tapping] = bush.Crew{} },
		"six hours":         func(b *bush.Sugarbush) { b.Crews[price.Tapping] = hour },
		"nothing of either": func(b *bush.Sugarbush) { b.Cash = &none; b.Crews[price.Tapping] = bush.Crew{} },
	} {
		practices := []practice.Key{"new-spout", "check-valve", "silver-spout"}
		if name != "nothing of either" {
			practices = practices[:1]
		}
		for _, was := range practices {
			p := farm(t, func(b *bush.Sugarbush) {
				limits(b)
				for i := range b.Sections {
					b.Sections[i].Practice = was
				}
			})
			for _, s := range p.Sections {
				for _, x := range s.Steps {
					if x.Practice == practice.Unsanitized {
						t.Errorf("%s after %s: %s is unsanitized", name, was, s.Section.Name)
					}
				}
			}
			if p.OverLast == nil || p.OverLast.Expected < -1e-6 {
				t.Errorf("%s after %s: %+v", name, was, p.OverLast)
			}
			if len(p.Raised) == 0 && name != "six hours" { // spouts take fewer
				t.Errorf("%s after %s: no limit is said to be raised", name, was)
			}
			if p.Lift != nil && p.Lift.Brings <= 0 {
				t.Errorf("%s after %s: without the limits %+v", name, was, p.Lift)
			}
		}
	}
}

// No section pays with its sanitation for another's: with cash for new spouts on all taps but not for check valves as
// well, the section that had check valves keeps them, however much new spouts everywhere would bring together.
func TestCashTakesNoSectionBelowLastSeason(t *testing.T) {
	for _, cash := range []float64{700, 800, 900, 1000, 1200} {
		p := farm(t, func(b *bush.Sugarbush) {
			b.Cash = &cash
			b.Sections[0].Taps, b.Sections[0].Practice = 1600, practice.Unsanitized
			b.Sections[1].Taps, b.Sections[1].Practice = 700, "check-valve"
		})
		for _, x := range p.Sections[1].Steps {
			if x.Practice != "check-valve" {
				t.Fatalf("with %v of cash: %+v", cash, p.Sections[1].Steps)
			}
		}
		if p.OverLast.Expected < -1e-6 {
			t.Errorf("with %v of cash: %+v", cash, p.OverLast)
		}
	}
}

// Nobody gives up for a season what pays, so that another section can have it sooner: a sugarbush whose cash just did
// not suffice was told to fit check valves and plain spouts by turns, to rinse once, and then to do nothing for a
// season.
func TestNoSectionGoesBackForWantOfCash(t *testing.T) {
	whole := func(name string, p *plan.Plan) {
		for _, s := range p.Sections {
			var done []practice.Key
			for _, x := range s.Steps {
				is := x.Practice
				if x.Renew {
					is = "new-spout" // on drops replaced
				}
				if n := len(done); n == 0 || done[n-1] != is {
					done = append(done, is)
				}
			}
			if len(slices.Compact(slices.Sorted(slices.Values(done)))) < len(done) {
				t.Errorf("%s: %s goes back: %v", name, s.Section.Name, done)
			}
		}
	}
	for _, cash := range []float64{5500, 5800, 6200} {
		for _, seasons := range []int{6, 12} {
			whole(fmt.Sprintf("%v of cash, %d seasons", cash, seasons), changed(t, func(b *bush.Sugarbush) {
				b.Cash, b.Seasons = &cash, seasons
			}))
		}
	}
}

// Limits that never bind change nothing, however near a plan comes to giving up what pays.
func TestLimitsThatDoNotBindChangeNothing(t *testing.T) {
	plenty := 50000.
	for _, seasons := range []int{1, 2, 3, 9} {
		for _, was := range []practice.Key{"silver-spout", "new-spout", "check-valve", practice.Unsanitized} {
			change := func(cash *float64) func(b *bush.Sugarbush) {
				return func(b *bush.Sugarbush) {
					b.Seasons, b.Cash = seasons, cash
					for i := range b.Sections {
						b.Sections[i].Practice, b.Sections[i].DropsReplaced = was, 2025
						b.Sections[i].Unwanted = []practice.Key{"check-valve"}
					}
				}
			}
			free, held := farm(t, change(nil)), farm(t, change(&plenty))
			for i := range free.Sections {
				for k, x := range free.Sections[i].Steps {
					if y := held.Sections[i].Steps[k]; x.Practice != y.Practice {
						t.Fatalf("%d seasons after %s: %s in season %d, %s with cash that suffices", seasons, was,
							x.Practice, k, y.Practice)
					}
				}
			}
			if d := free.Profit.Expected - held.Profit.Expected; math.Abs(d) > 1e-6 || held.Lift != nil || held.Keeps {
				t.Errorf("%d seasons after %s: %v more without a limit, %+v", seasons, was, d, held.Lift)
			}
		}
	}
}

// A rule that fits only by taking from a section what it has is none that can be followed, whatever it brings.
func TestARuleThatTakesFromASectionDoesNotFit(t *testing.T) {
	cash := 1100.
	p := farm(t, func(b *bush.Sugarbush) {
		b.Cash = &cash
		b.Sections[0].Taps, b.Sections[0].Practice = 1600, practice.Unsanitized
		b.Sections[1].Taps, b.Sections[1].Practice = 700, "check-valve"
	})
	if !p.Keeps {
		t.Error("nothing is said of what each section keeps")
	}
	for _, r := range p.Rules {
		if r.Fits && r.Permitted && r.Profit > p.Profit.Expected+1e-6 {
			t.Errorf("%s fits and brings %v, the plan %v", r.Practice, r.Profit, p.Profit.Expected)
		}
		if r.Practice == practice.Unsanitized && !r.Fits { // which takes neither, and brings less
			t.Error("doing nothing takes more than the hours and the cash")
		}
	}
}

// What a little more or less brings is told where it is more than what a better plan than the one found may bring.
func TestNoWorthBelowTheGap(t *testing.T) {
	cash := 9000.
	p := farm(t, func(b *bush.Sugarbush) {
		b.Cash, b.Seasons = &cash, 6
		one := b.Sections[0]
		b.Sections = nil
		for i := range 24 {
			x := one
			x.Name, x.Taps, x.YieldL = fmt.Sprint("Section ", i), 400+37*i, new(60+float64(i))
			if i%3 == 0 {
				x.Practice = practice.Unsanitized
			}
			b.Sections = append(b.Sections, x)
		}
	})
	if p.Missed() <= 0 {
		t.Skip("the plan is proved the best there is")
	}
	for _, x := range p.Worth {
		for _, y := range []*float64{x.OneMore, x.OneLess} {
			if y != nil && *y > 0 && *y <= p.Missed() {
				t.Errorf("%v of %v is told, and a better plan may bring %v more", *y, x.Step, p.Missed())
			}
		}
	}
}

// A plan that does as last season says so, and its chance of a loss is none.
func TestCarryOn(t *testing.T) {
	none := 0.
	p := farm(t, func(b *bush.Sugarbush) { b.Cash = &none })
	for _, s := range p.Sections {
		if !s.AsLast || !steady(s, "new-spout") {
			t.Errorf("%s: %v", s.Section.Name, s.Steps[0].Practice)
		}
	}
	if p.OverLast.Loss != 0 || p.OverLast.Expected != 0 {
		t.Errorf("%+v", *p.OverLast)
	}
}

// Where last season's practice is not permitted, or not wanted, the plan buys nothing for it, and says from what it
// starts instead.
func TestWhatIsNotPermittedStops(t *testing.T) {
	p := farm(t, func(b *bush.Sugarbush) {
		b.Prices.Organic = true
		b.Sections[0].Practice = "silver-spout"
		b.Sections[1].Practice, b.Sections[1].Unwanted = "check-valve", []practice.Key{"check-valve"}
	})
	if len(p.Stops) != 2 || !p.Stops[0].Held || p.Stops[1].Held {
		t.Fatalf("%+v", p.Stops)
	}
	for i, s := range p.Sections {
		if slices.ContainsFunc(s.Steps, func(x plan.Step) bool { return x.Practice == p.Stops[i].Practice }) {
			t.Errorf("%s goes on", s.Section.Name)
		}
	}
	for _, s := range p.Seasons {
		for _, b := range s.Buy {
			if b.Material == "silver-bearing spout" || b.Material == "check-valve spout" {
				t.Errorf("%d: %v × %s", s.Season, b.Count, b.Material)
			}
		}
	}
}

// Every tap is on the sheet: a section of which the studies say nothing goes on as last season, and its pieces, hours
// and cash are in the list.
func TestSectionsWithoutEvidenceGoOn(t *testing.T) {
	with := func(species string) *plan.Plan {
		return farm(t, func(b *bush.Sugarbush) {
			b.Spare = 0
			for i := range b.Sections {
				b.Sections[i].Unwanted = []practice.Key{"check-valve", "silver-spout", "new-drop", "new-lateral",
					"chlorine-rinse", "peroxide-rinse", "alcohol-flush"}
			}
			b.Sections[1].Species = species
		})
	}
	all, red := with("sugar maple"), with("red maple")
	if len(red.Unplanned) != 1 || len(red.Unplanned[0].Steps) != len(red.Seasons) ||
		red.Unplanned[0].Steps[0].Practice != "new-spout" {
		t.Fatalf("%+v", red.Unplanned)
	}
	for i, s := range red.Seasons {
		count := 0.
		for _, b := range s.Buy {
			count += b.Count
		}
		if count != 2000 || math.Abs(s.Cash-all.Seasons[i].Cash) > 1e-6 {
			t.Errorf("%d: %v pieces of 2000 taps, cash %v, where all is planned %v", s.Season, count, s.Cash,
				all.Seasons[i].Cash)
		}
	}
}

// A practice that changes from year to year for pennies is not advised.
func TestPlainWhereItCostsNothing(t *testing.T) {
	for _, p := range []*plan.Plan{planned(t, "gravity"), planned(t, "organic"), planned(t, "quebec")} {
		net := p.PerTap(p.Profit.Expected + p.Plainer)
		changes := slices.ContainsFunc(p.Sections, func(s plan.SectionPlan) bool { return !s.AsLast })
		less := p.PerTap(p.Plainer)
		if less < 0 || less > 0.05+1e-9 || changes && less > max(0.01, 0.02*net)+1e-9 {
			t.Errorf("%s is %v below the best", p.Sugarbush.Name, p.Plainer)
		}
	}
}

// Who does already what brings all but pennies of the best carries on, and is told of no chance of a loss; a change
// that is advised brings more than that.
func TestPenniesAreNotWorthAChange(t *testing.T) {
	carried := 0
	for _, cost := range []float64{0.9, 0.7, 0.5, 0.46, 0.44, 0.4, 0.3} {
		p := farm(t, func(b *bush.Sugarbush) {
			for i := range b.Sections {
				b.Sections[i].Practice, b.Sections[i].DropsReplaced = "check-valve", 2022
			}
			for i, m := range b.Prices.Materials {
				if m.Name == "silver-spout" {
					b.Prices.Materials[i].Price = price.Value{Best: cost}
				}
			}
		})
		if slices.ContainsFunc(p.Sections, func(s plan.SectionPlan) bool { return !s.AsLast }) {
			if more := p.PerTap(p.OverLast.Expected); more <= plan.NearTap {
				t.Errorf("at %v a change for %.4f a tap and season", cost, more)
			}
			continue
		}
		if p.Plainer > 0 {
			carried++
		}
		if o := p.OverLast; math.Abs(o.Expected) > 1e-6 || o.Loss != 0 || math.Abs(o.Low) > 1e-6 {
			t.Errorf("at %v: %+v", cost, *o)
		}
	}
	if carried == 0 {
		t.Error("at no price is a change worth pennies: nothing was tried")
	}
}

// Vacuum a little outside what was studied takes the gain of the nearest, with a wider range, and says so; farther out,
// and on buckets, without vacuum, on narrow tubing or other trees, what is common practice is said, and what would
// tell.
func TestALittleOutsideIsPlanned(t *testing.T) {
	at := func(inhg float64) *plan.Plan {
		return farm(t, func(b *bush.Sugarbush) {
			b.Sections = b.Sections[:1]
			b.Sections[0].Vacuum = new(unit.InchOfMercury.Of(inhg))
		})
	}
	inside, near, far := at(27), at(29.5), at(8)
	if len(near.Sections) != 1 || len(far.Unplanned) != 1 {
		t.Fatalf("29.5 inHg: %+v; 8 inHg: %+v", near.Unplanned, far.Unplanned)
	}
	a, b := inside.Sections[0], near.Sections[0]
	if x, y := a.Profit, b.Profit; a.Steps[0].Practice == b.Steps[0].Practice && y.High-y.Low <= x.High-x.Low {
		t.Errorf("inside %v to %v, outside %v to %v", x.Low, x.High, y.Low, y.High)
	}
	if !slices.ContainsFunc(near.Notes, func(n note.Note) bool {
		return strings.Contains(n.English(), "a little outside")
	}) {
		t.Error("nothing says that it lies outside")
	}
	for name, change := range map[string]func(*bush.Section){
		"buckets":   func(x *bush.Section) { x.Buckets = true },
		"gravity":   func(x *bush.Section) { x.Vacuum = new(unit.Pressure(0)) },
		"3/16":      func(x *bush.Section) { x.TubingIn = 3. / 16 },
		"red maple": func(x *bush.Section) { x.Species = "Acer rubrum" },
	} {
		p := farm(t, func(b *bush.Sugarbush) { change(&b.Sections[0]) })
		said := ""
		for _, n := range p.Unplanned[0].Reasons {
			said += n.English() + "; "
		}
		if !strings.Contains(said, "common practice, no source") || !strings.Contains(said, "would tell") {
			t.Errorf("%s: %s", name, said)
		}
	}
}

// A tree has many names: all sugar maples are planned for.
func TestASpeciesByAnyName(t *testing.T) {
	for _, name := range []string{"érable à sucre", "Hard maple", "Acer saccharum", "Sugar Maples", ""} {
		if p := farm(t, func(b *bush.Sugarbush) { b.Sections[0].Species = name }); len(p.Unplanned) > 0 {
			t.Errorf("%q: %+v", name, p.Unplanned)
		}
	}
}

// Leaks are counted up to what is attainable, the weakest section first; where the air presses less, up to less.
func TestLeaksUpToWhatIsAttainable(t *testing.T) {
	leaks := func(change func(*bush.Sugarbush)) []plan.Leak {
		return farm(t, func(b *bush.Sugarbush) {
			b.Sections[0].Vacuum, b.Sections[1].Vacuum = new(unit.InchOfMercury.Of(26)), new(unit.InchOfMercury.Of(20))
			change(b)
		}).Leaks
	}
	low := leaks(func(*bush.Sugarbush) {})
	if low[0].Vacuum > low[1].Vacuum || math.Abs(low[0].Inches-6) > 1e-9 || low[1].Inches != 0 || low[1].All != 0 {
		t.Errorf("%+v", low)
	}
	if math.Abs(low[0].All-6*low[0].Money) > 1e-6*low[0].All {
		t.Errorf("six inches bring %v, one %v", low[0].All, low[0].Money)
	}
	high := leaks(func(b *bush.Sugarbush) {
		b.Elevation, b.Sections[0].Vacuum = new(unit.Metre.Of(1500)), new(unit.InchOfMercury.Of(24)) // no more can be
	})
	if high[0].Inches >= low[0].Inches || high[0].Inches <= 0 {
		t.Errorf("at 1,500 m %v inches", high[0].Inches)
	}
}

// Laterals that are replaced every tenth season give in the nine others what the studies say of a new spout on old
// plastic, as far as none followed them: the usual yield that was measured so holds the mean of the ten. They had been
// reckoned with as new, so that the sap of an unsanitized tap came out too low.
func TestUsualYieldUnderRarePlastic(t *testing.T) {
	none := func(was practice.Key, every int) float64 { // syrup of an unsanitized tap
		y := 80.
		p := farm(t, func(b *bush.Sugarbush) {
			b.Sections[0].Practice, b.Sections[0].Every, b.Sections[0].YieldL = was, every, &y
			b.Sections[0].DropsReplaced = 2020
		})
		return p.Sections[0].Steps[0].NoneKg
	}
	// yield over what a gain takes from it: 1 + gain
	got, new, old := 1/none("new-lateral", 10), 1/none("new-lateral", 1), 1/none("new-spout", 0)
	if want := (new + 9*old) / 10; math.Abs(got-want) > 1e-9*want {
		t.Errorf("%v, want %v of %v and %v", got, want, new, old)
	}
}

// just leaves one practice to a section.
func just(x *bush.Section, k practice.Key) {
	x.Unwanted = nil
	for _, p := range practice.Shipped() {
		if p.Sanitized() && p.Key != k {
			x.Unwanted = append(x.Unwanted, p.Key)
		}
	}
}

// Tubing gets older by a season each season: what a plan counts with in its third is what one counts with in its first
// whose tubing is two seasons older now.
func TestTubingGetsOlder(t *testing.T) {
	gains := func(age float64) (list []float64) {
		p := farm(t, func(b *bush.Sugarbush) {
			b.Sections = b.Sections[:1]
			b.Sections[0].LineAge = &age
			just(&b.Sections[0], "new-spout")
		}, ageTells)
		for _, x := range p.Sections[0].Steps {
			list = append(list, x.GainPct)
		}
		return list
	}
	young := gains(5)
	if young[0] == young[1] {
		t.Fatalf("the age of the tubing does not tell: %v", young)
	}
	for older := range 7 {
		if now := gains(5 + float64(older))[0]; math.Abs(now-young[older]) > 1e-9 {
			t.Errorf("in season %d tubing of 5 seasons gives %.3f %%, tubing of %d now gives %.3f %%", older+1,
				young[older], 5+older, now)
		}
	}
	if last := young[len(young)-1]; last != young[5] { // 10 seasons are the most that was studied
		t.Errorf("beyond what was studied: %v", young)
	}
}

// A wash that is done once the sap has run counts in the spring after: not in the first, unless it was done last season
// too; and where it is no longer done the first spring still has it.
func TestAWashCountsTheSpringAfter(t *testing.T) {
	const wash = "peroxide-rinse"
	steps := func(before, allowed practice.Key) ([]plan.Step, *plan.Plan) {
		p := farm(t, func(b *bush.Sugarbush) {
			b.Prices.Wage.Best = 1
			b.Sections = b.Sections[:1]
			x := &b.Sections[0]
			x.Practice, x.LineAge, x.YieldL = before, nil, nil
			just(x, allowed)
		})
		return p.Sections[0].Steps, p
	}
	begun, one := steps("new-spout", wash)
	went, two := steps(wash, wash)
	if begun[0].Practice != wash || went[0].Practice != wash {
		t.Fatalf("%s, %s", begun[0].Practice, went[0].Practice)
	}
	if begun[0].GainPct != 0 || begun[0].Net >= 0 || begun[0].SyrupKg != begun[0].NoneKg {
		t.Errorf("before the first wash: %+v", begun[0])
	}
	if begun[1].GainPct <= 0 || begun[1].GainPct != went[0].GainPct || math.Abs(begun[1].Net-went[1].Net) > 1e-9 {
		t.Errorf("after it %.2f %%, %.2f; where it was done before %.2f %%, %.2f", begun[1].GainPct, begun[1].Net,
			went[0].GainPct, went[1].Net)
	}
	if got, want := two.Profit.Expected-one.Profit.Expected, went[0].Net-begun[0].Net; math.Abs(got-want) > 1e-6 {
		t.Errorf("the wash of last season is worth %.4f, want the sap of one spring, %.4f", got, want)
	}
	if two.Profit.Low >= two.Profit.Expected || one.Profit.High <= one.Profit.Low {
		t.Errorf("%+v, %+v", one.Profit, two.Profit)
	}
	left, _ := steps(wash, "new-spout")
	for i, x := range left {
		if x.Practice == wash {
			t.Errorf("%d: %s", i, x.Practice)
		}
	}
	stopped, _ := steps(wash, practice.Unsanitized)
	if stopped[0].GainPct != went[0].GainPct || stopped[0].Net <= 0 || stopped[1].GainPct != 0 || stopped[1].Net != 0 {
		t.Errorf("no longer washed: %+v", stopped[:2])
	}
}

// The wash of a plan's last season is for the spring after it, as every wash is: where hours or cash leave a section
// nothing better than washing, it is not given up because the plan ends.
func TestAWashIsForTheSpringAfterThePlan(t *testing.T) {
	nought := 0.
	limits := map[string]func(*bush.Sugarbush){
		"cash": func(b *bush.Sugarbush) { b.Cash = &nought },
		"hours": func(b *bush.Sugarbush) {
			for _, w := range []price.Window{price.Shop, price.BeforeTapping, price.Tapping} {
				b.Crews[w] = bush.Crew{}
			}
		},
		"cash and quota": func(b *bush.Sugarbush) {
			b.Cash = &nought
			b.Prices.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: 6000}, PriceBeyond: price.Value{Best: 0.5}}
		},
	}
	for name, limit := range limits {
		for _, seasons := range []int{3, 10} {
			p := farm(t, func(b *bush.Sugarbush) {
				b.Seasons, b.Prices.Wage.Best = seasons, 1
				for i := range b.Sections {
					b.Sections[i].Practice = practice.Unsanitized
				}
				limit(b)
			})
			for _, s := range p.Sections {
				if !steady(s, "peroxide-rinse") {
					t.Errorf("%s, %d seasons: %s %+v", name, seasons, s.Section.Name, s.Steps)
				}
			}
		}
	}
}

// Who washed last season may change as soon as there is cash: the spring that the last wash still counts in needs no
// new one. Cash buys the spouts of one section of two in a season, 1,000 × 0.85 and the spare, and they last two: the
// other fits them in the second season, as one does that did nothing before, and no wash is for nothing.
func TestWhoWashedMayChange(t *testing.T) {
	const wash, silver = "peroxide-rinse", "silver-spout"
	cash := 1000.
	for _, last := range []practice.Key{wash, practice.Unsanitized} {
		for _, seasons := range []int{2, 3, 6} {
			p := farm(t, func(b *bush.Sugarbush) {
				b.Cash, b.Seasons = &cash, seasons
				for i := range b.Prices.Uses {
					if u := &b.Prices.Uses[i]; u.Practice == wash {
						u.Minutes = maps.Clone(u.Minutes)
						u.Minutes[price.AfterSeason], u.LostSapL = &price.Value{Best: 0.3}, price.Value{}
					}
				}
				for i := range b.Sections {
					x := &b.Sections[i]
					just(x, wash)
					x.Unwanted = slices.DeleteFunc(x.Unwanted, func(k practice.Key) bool { return k == silver })
					x.Practice = last
				}
			})
			first := 0
			for _, s := range p.Sections {
				if s.Steps[0].Practice == silver {
					first++
				} else if s.Steps[0].Practice != practice.Unsanitized || (s.Steps[0].GainPct > 0) != (last == wash) {
					t.Errorf("%s, %d seasons: %s begins with %+v", last, seasons, s.Section.Name, s.Steps[0])
				}
				for _, x := range s.Steps[1:] {
					if x.Practice != silver {
						t.Errorf("%s, %d seasons: %s: %s in %d", last, seasons, s.Section.Name, x.Practice, x.Season)
					}
				}
			}
			if first != 1 {
				t.Errorf("%s, %d seasons: %d sections begin with new spouts", last, seasons, first)
			}
		}
	}
}

// Of a dear thing of which a tap holds a small part, cash is charged by that part and its life, not a whole one a
// section and season: pumps at 2,000, one for 1,000 taps, for ten seasons without discount are 200 a season and
// section, and a twentieth of it for the spare.
func TestAPartOfADearThingIsNoWholeOne(t *testing.T) {
	cash := func(pump bool, taps int) float64 {
		return farm(t, func(b *bush.Sugarbush) {
			b.Prices.Discount, b.Spare = price.Value{}, 0.05
			for i := range b.Sections {
				just(&b.Sections[i], "new-spout")
				b.Sections[i].Taps = taps
			}
			if !pump {
				return
			}
			b.Prices.Materials = append(slices.Clone(b.Prices.Materials),
				price.Material{Name: "pump", Price: price.Value{Best: 2000}})
			for i := range b.Prices.Uses {
				if u := &b.Prices.Uses[i]; u.Practice == "new-spout" {
					u.Materials = append(slices.Clone(u.Materials),
						price.MaterialUse{Material: "pump", Count: 0.001, Life: price.Value{Best: 10}})
				}
			}
		}).Seasons[0].Cash
	}
	if got, want := cash(true, 1000)-cash(false, 1000), 2*200*1.05; math.Abs(got-want) > 1e-6 {
		t.Errorf("pumps take %v a season, want %v", got, want)
	}
	if got, want := cash(true, 1)-cash(false, 1), 2*0.2*1.05; math.Abs(got-want) > 1e-6 {
		t.Errorf("for a tap in each section pumps take %v a season, want %v", got, want)
	}
}

// What limits stand in the way of brings more than the plan and takes more than they give; else nothing is told of it.
// A handful of taps that could have check valves like a thousand others pays next to nothing, and the plainest plan
// without limits pays less than that.
func TestLimitsInTheWayOfNothing(t *testing.T) {
	none, told := 0., 0
	for _, less := range []float64{0.3, 0.35, 0.4, 0.45, 0.5, 1} {
		for _, taps := range []int{12, 600} {
			p := farm(t, func(b *bush.Sugarbush) {
				b.Cash, b.Seasons = &none, 5
				b.Sections = []bush.Section{b.Sections[1], b.Sections[1]}
				for i := range b.Sections {
					just(&b.Sections[i], "check-valve")
				}
				b.Sections[0].Practice = "check-valve"
				x := &b.Sections[1]
				x.Name, x.Taps, x.Practice = "Copy", taps, practice.Unsanitized
				sells := &b.Prices.Sells
				sells.Grades = slices.Clone(sells.Grades)
				for i := range sells.Grades {
					sells.Grades[i].Price.Best *= less
				}
				sells.Retail = &price.Outlet{Share: sells.Retail.Share,
					Price: price.Value{Best: less * sells.Retail.Price.Best}}
			})
			if p.Lift == nil {
				continue
			}
			told++
			found := p.Profit.Expected + p.Plainer
			if p.Lift.Brings <= plan.Near*math.Abs(found) {
				t.Errorf("prices × %v, %d taps: without the limits %v more than %v", less, taps, p.Lift.Brings, found)
			}
			if p.Lift.Cash <= 0 {
				t.Errorf("prices × %v, %d taps: the limits are no limits: %+v", less, taps, p.Lift)
			}
		}
	}
	if told == 0 {
		t.Error("no limit stands in the way of anything")
	}
}

// Plastic whose weight is not known is no plastic of nought: no sum is told of it.
func TestPlasticThatIsNotKnown(t *testing.T) {
	for _, known := range []bool{true, false} {
		p := farm(t, func(b *bush.Sugarbush) {
			for i := range b.Prices.Materials {
				if !known {
					b.Prices.Materials[i].Grams = 0
				}
			}
		})
		for _, s := range p.Seasons {
			if math.IsNaN(s.PlasticKg) == known && len(s.Buy) > 0 {
				t.Errorf("%d: %v kg of plastic, known %v", s.Season, s.PlasticKg, known)
			}
		}
	}
}

// Where a plan does another thing on most taps than what the ranking has first, it says so, and why; else it is silent.
func TestAPlanSaysWhyItPartsFromTheRanking(t *testing.T) {
	says := func(p *plan.Plan) string {
		for _, n := range p.Notes {
			if text := n.English(); strings.HasPrefix(text, "the ranking has ") {
				return text
			}
		}
		return ""
	}
	var first practice.Key
	p := farm(t, func(*bush.Sugarbush) {})
	for _, s := range p.Sections {
		first = s.Steps[0].Practice
	}
	if text := says(p); text != "" {
		t.Errorf("%s: %s", first, text)
	}
	text := says(farm(t, func(b *bush.Sugarbush) {
		for i := range b.Sections {
			b.Sections[i].Unwanted = []practice.Key{first}
		}
	}))
	if !strings.Contains(text, "do not want it") {
		t.Errorf("unwanted: %q", text)
	}
	none := 0.
	if text = says(farm(t, func(b *bush.Sugarbush) { b.Cash = &none })); !strings.Contains(text, "hours or cash") {
		t.Errorf("without cash: %q", text)
	}
}

// A sugarbush at the edge of what may be asked gets advice all the same: money is a number, no plan nets less than
// going on as last season by more than pennies, nor more than is proved possible, and what it buys is whole pieces.
func TestHostileSugarbushes(t *testing.T) {
	everything := []practice.Key{"new-spout", "check-valve", "silver-spout", "new-drop", "new-lateral",
		"chlorine-rinse", "peroxide-rinse", "alcohol-flush"}
	bare := func(b *bush.Sugarbush) { b.Prices.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: 0.0002}} }
	for name, c := range map[string]struct {
		change func(*bush.Sugarbush)
		bare   bool // nothing can pay
	}{
		"discount of 0.3": {func(b *bush.Sugarbush) { b.Prices.Discount = price.Value{Best: 0.3} }, false},
		"no discount":     {func(b *bush.Sugarbush) { b.Prices.Discount = price.Value{} }, false},
		"spouts at 0.01": {func(b *bush.Sugarbush) {
			for i := range b.Prices.Materials {
				if b.Prices.Materials[i].Name == "spout" {
					b.Prices.Materials[i].Price = price.Value{Best: 0.01}
				}
			}
		}, false},
		"three taps": {func(b *bush.Sugarbush) { b.Sections[0].Taps, b.Sections[1].Taps = 2, 1 }, false},
		"400,000 taps": {func(b *bush.Sugarbush) {
			b.Sections[0].Taps, b.Sections[1].Taps = 200000, 200000
		}, false},
		"syrup for nothing": {func(b *bush.Sugarbush) {
			for i := range b.Prices.Sells.Grades {
				b.Prices.Sells.Grades[i].Price = price.Value{}
			}
			b.Prices.Sells.Retail.Price = price.Value{}
		}, true},
		"work for nothing": {func(b *bush.Sugarbush) { b.Prices.Wage = price.Value{} }, false},
		"one season":       {func(b *bush.Sugarbush) { b.Seasons = 1 }, false},
		"all seasons":      {func(b *bush.Sugarbush) { b.Seasons = bush.MaxSeasons }, false},
		"nothing wanted": {func(b *bush.Sugarbush) {
			for i := range b.Sections {
				b.Sections[i].Unwanted = everything
			}
		}, true},
		"a quota of next to nothing": {bare, true},
	} {
		p := farm(t, c.change)
		for what, x := range map[string]float64{"expected": p.Profit.Expected, "low": p.Profit.Low,
			"high": p.Profit.High, "bound": p.Bound, "left": p.Left, "uncapped": p.Uncapped} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Errorf("%s: %s is %v", name, what, x)
			}
		}
		if p.OverLast == nil || p.PerTap(p.OverLast.Expected) < -plan.NearTap || p.Gap < 0 {
			t.Errorf("%s: over last season %+v, gap %v", name, p.OverLast, p.Gap)
		}
		if (p.Profit.Low == 0 && p.Profit.High == 0) != c.bare {
			t.Errorf("%s: %s", name, p.Sections[0].Steps[0].Practice)
		}
		for _, s := range p.Seasons {
			for _, b := range s.Buy {
				if b.Count != math.Trunc(b.Count) || b.Count < b.Need || b.Need < 0 {
					t.Errorf("%s: %v of %v %s", name, b.Count, b.Need, b.Material)
				}
			}
		}
	}
}
