// Package plan is what one sugarbush should do, section by section and season by season: the practices that bring the
// highest discounted profit within the hours of the crew and the cash of a season, what they need, and how sure that is.
package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"spile/internal/engine/budget"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// MaxSeasons is the longest plan.
const MaxSeasons = 15

// Sugarbush is a producer's operation.
type Sugarbush struct {
	Name       string
	Prices     budget.Prices // those of the station with the sugarbush's own laid over them: place, certificate, wage and all
	First      int           // first season planned: the year of its spring
	Seasons    int           // 1 to MaxSeasons
	Crews      map[budget.Window]Crew
	Cash       *float64    // most that a season may take in money before its sap is sold; nil: no limit
	Spare      float64     // bought over what is needed, as a fraction
	DropLength unit.Length // tubing in one drop; 0: DefaultDrop
	Sections   []Section
	Where      note.Where
}

// DefaultDrop is the length of a drop where none is stated: 30 inches (common practice, no source).
var DefaultDrop = unit.Inch.Of(30)

// Crew is who has time in a window for work over and above what tapping and pulling themselves take. A window without a
// crew has no limit.
type Crew struct{ People, Days, HoursADay float64 }

// Hours is the hours of all in the window.
func (c Crew) Hours() float64 { return c.People * c.Days * c.HoursADay }

// Section is a part of a sugarbush that is managed alike. What is not stated is the zero value or nil.
type Section struct {
	Name          string
	Taps          int
	Buckets       bool
	TubingIn      float64        // inside diameter, inches
	Vacuum        *unit.Pressure // 0: gravity
	Releaser      string
	Species       string
	LineAge       *float64 // seasons
	DropsReplaced int      // season in which the drops were last replaced; 0: long ago
	Practice      practice.Key
	Every         int      // under Practice drops are replaced every N seasons; 0: they are not
	YieldL        *float64 // usual sap a tap and season under Practice, litres; nil: as the baseline of the prices
	Brix          *float64
	ReachMin      float64 // minutes to reach it, one way
	Unwanted      []practice.Key
	Where         note.Where
}

// Scope is where the studies were made.
type Scope struct {
	VacuumLow, VacuumHigh   unit.Pressure // both 0: no study states its vacuum
	LineAgeLow, LineAgeHigh float64       // seasons; both 0: no study states it
	TubingIn                []float64     // inside diameters
	Species                 []string
}

// outside tells why the studies say nothing of a section; nothing where they do. What too few of them state is taken to
// be usual: sugar maple, 5/16 tubing, vacuum (common practice, no source).
func (s Scope) outside(x Section) []note.Note {
	var why []note.Note
	add := func(key string, args ...any) { why = append(why, note.New(key, args...)) }
	const slack = 1.7 // kPa, half an inch of mercury: a gauge is no better
	switch {
	case x.Buckets:
		add("no evidence here: buckets, and the studies were made on tubing")
		return why
	case x.Vacuum == nil:
	case *x.Vacuum == 0:
		add("no evidence here: gravity, and the studies were made under vacuum")
	case s.VacuumHigh > 0 && (*x.Vacuum < s.VacuumLow-slack || *x.Vacuum > s.VacuumHigh+slack):
		add("no evidence here: a vacuum of %.1f inHg, and the studies were made at %.0f to %.0f inHg", x.Vacuum.In(unit.InchOfMercury),
			s.VacuumLow.In(unit.InchOfMercury), s.VacuumHigh.In(unit.InchOfMercury))
	}
	sizes, trees := s.TubingIn, s.Species
	if len(sizes) == 0 {
		sizes = []float64{5. / 16}
	}
	if len(trees) == 0 {
		trees = []string{"sugar maple"}
	}
	if x.TubingIn > 0 && !slices.ContainsFunc(sizes, func(d float64) bool { return math.Abs(d-x.TubingIn) < 0.02 }) {
		add("no evidence here: tubing of %s inch inside, a size on which no practice was studied enough", fraction(x.TubingIn))
	}
	if x.Species != "" && !slices.Contains(trees, x.Species) {
		add("no evidence here: %s, and too few studies say that they were made on it", tree(x.Species))
	}
	return why
}

// tree is a species as it is named in every language; one that is not listed stands as it was typed.
func tree(species string) note.Term {
	switch species {
	case "red maple":
		return note.Term("red maple")
	case "silver maple":
		return note.Term("silver maple")
	case "black maple":
		return note.Term("black maple")
	case "sugar maple":
		return note.Term("sugar maple")
	}
	return note.Term(species)
}

// fraction writes inches of tubing as the trade does: 3/16; what is no number of sixteenths as it is.
func fraction(inches float64) string {
	n, of := math.Round(16*inches), 16.
	if math.Abs(16*inches-n) > 0.1 {
		return fmt.Sprintf("%.2f", inches)
	}
	for math.Mod(n, 2) == 0 && of > 1 {
		n, of = n/2, of/2
	}
	if of == 1 {
		return fmt.Sprint(n)
	}
	return fmt.Sprintf("%.0f/%.0f", n, of)
}

// moderators are a section's own values, by the names of evidence.ModeratorNames, each no farther out than the studies
// went: what a gain does beyond them nobody knows.
func (s Scope) moderators(x Section) map[string]float64 {
	m := map[string]float64{}
	if x.Vacuum != nil {
		m["vacuum"] = float64(*x.Vacuum)
		if s.VacuumHigh > 0 {
			m["vacuum"] = float64(min(max(*x.Vacuum, s.VacuumLow), s.VacuumHigh))
		}
	}
	if x.LineAge != nil {
		m["line-age"] = *x.LineAge
		if s.LineAgeHigh > 0 {
			m["line-age"] = min(max(*x.LineAge, s.LineAgeLow), s.LineAgeHigh)
		}
	}
	if x.TubingIn > 0 {
		m["tubing"] = x.TubingIn
	}
	return m
}

// prices are those of the sugarbush with the section's own yield and sugar.
func (b *Sugarbush) prices(x Section, set practice.Set) *budget.Prices {
	p := b.Prices
	if x.YieldL != nil {
		p.Baseline.Yield = budget.Value{Best: *x.YieldL}
		c := b.usual(x, set)
		p.Baseline.Practice, p.Baseline.Every = practice.Treatment{Practice: c.Practice}, c.Every
	}
	if x.Brix != nil {
		if g := p.Baseline.GainBrix; g != nil { // as far from the baseline's as before
			p.Baseline.GainBrix = &budget.Value{Best: max(0.1, g.Best+*x.Brix-p.Baseline.Brix.Best)}
		}
		p.Baseline.Brix = budget.Value{Best: *x.Brix}
	}
	return &p
}

// usual is what was done in a section until now.
func (b *Sugarbush) usual(x Section, set practice.Set) budget.Choice {
	if x.Practice == "" {
		return b.Prices.TodayChoice(set)
	}
	p, _ := set.Find(x.Practice)
	if !p.Ages() {
		return budget.Choice{Practice: x.Practice}
	}
	return budget.Choice{Practice: x.Practice, Every: x.Every}
}

// Faults is everything that stands in the way of a plan: numbers outside what is allowed and names that stand for
// nothing. The column of each is the dotted key of a sugarbush's file.
func (b *Sugarbush) Faults(set practice.Set) note.Faults {
	var f note.Faults
	add := func(w note.Where, column, key string, args ...any) {
		w.Column = cmp.Or(w.Column, column)
		f = append(f, note.New(key, args...).At(w))
	}
	if b.Seasons < 1 || b.Seasons > MaxSeasons {
		add(b.Where, "seasons", "a plan over %d seasons; allowed: 1 to %d", b.Seasons, MaxSeasons)
	}
	if b.Cash != nil && !(*b.Cash >= 0) {
		add(b.Where, "cash", "cash of %v; allowed: 0 or more", *b.Cash)
	}
	if !(b.Spare >= 0 && b.Spare <= 1) {
		add(b.Where, "spare", "a spare allowance of %v; allowed: 0 to 1", b.Spare)
	}
	if len(b.Sections) == 0 {
		add(b.Where, "section", "a sugarbush without sections; allowed: one or more")
	}
	seen := map[string]bool{}
	for _, x := range b.Sections {
		if seen[x.Name] {
			add(x.Where, "section."+x.Name, "the section %s stands here twice; allowed: once", x.Name)
		}
		seen[x.Name] = true
		if x.Taps < 1 {
			add(x.Where, "section."+x.Name+".taps", "%d taps; allowed: 1 or more", x.Taps)
		}
		if x.DropsReplaced > b.First {
			add(x.Where, "section."+x.Name+".drops_replaced", "the drops were replaced in %d, after the first season planned, %d; allowed: until then", x.DropsReplaced, b.First)
		}
		for _, k := range append(slices.Clone(x.Unwanted), x.Practice) {
			if _, ok := set.Find(k); !ok && k != "" {
				add(x.Where, "section."+x.Name, "the practice %s is not known; allowed: %s", string(k), set.Names())
			}
		}
		if slices.Contains(x.Unwanted, practice.Unsanitized) {
			add(x.Where, "section."+x.Name+".unwanted", "unsanitized cannot be unwanted: it is what is left where hours and cash do not reach; allowed: any other practice")
		}
	}
	return f
}
