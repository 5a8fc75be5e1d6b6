// Package bush is one producer's sugarbush, section by section.
package bush

import (
	"cmp"
	"math"
	"slices"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
)

// MaxSeasons is the longest plan.
const MaxSeasons = 15

// Sugarbush is a producer's operation.
type Sugarbush struct {
	Name       string
	Prices     price.Prices // those of the station with the sugarbush's own laid over them
	First      int          // first season planned: the year of its spring
	Seasons    int          // 1 to MaxSeasons
	Crews      map[price.Window]Crew
	Cash       *float64      // most that a season may take in money before its sap is sold; nil: no limit
	Spare      float64       // bought over what is needed, as a fraction
	Attainable unit.Pressure // vacuum at the end of the laterals of a tight system here; 0: Tight
	Elevation  *unit.Length  // above the sea, which the air's own pressure hangs on
	DropLength unit.Length   // tubing in one drop; 0: DefaultDrop
	Sections   []Section
	// an exchange that is said beside the same currency and turns nothing; 0: none
	IdleExchange float64
	Where        note.Where
}

// DefaultDrop is the length of a drop where none is stated: 30 inches (common practice, no source).
var DefaultDrop = unit.Inch.Of(30)

// Tight is the vacuum that a tight system attains at the end of its laterals: 26 inches of mercury (common practice, no
// source).
var Tight = unit.InchOfMercury.Of(26)

// Reach is the vacuum that a tight system attains in the sugarbush: what is stated, no more than the pressure of the
// air there, which is that of the standard atmosphere (ISO 2533:1975); where nothing is stated, Tight, and no more than
// 3 inches of mercury below that pressure (common practice, no source).
func (b *Sugarbush) Reach() unit.Pressure {
	reach := cmp.Or(b.Attainable, Tight)
	if b.Elevation != nil && b.Attainable > 0 {
		reach = min(reach, air(*b.Elevation))
	} else if b.Elevation != nil {
		reach = min(reach, air(*b.Elevation)-unit.InchOfMercury.Of(3))
	}
	return max(0, reach)
}

// air is the pressure of the air at a height above the sea.
func air(height unit.Length) unit.Pressure {
	return unit.Pressure(101.325 * math.Pow(1-2.25577e-5*height.In(unit.Metre), 5.25588))
}

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

// PricesOf are those of the sugarbush with the section's own yield and sugar.
func (b *Sugarbush) PricesOf(x Section, set practice.Set) *price.Prices {
	p := b.Prices
	if x.YieldL != nil {
		p.Baseline.Yield = price.Value{Best: *x.YieldL}
		c := b.Usual(x, set)
		p.Baseline.Done = price.Done{Treatment: practice.Treatment{Practice: c.Practice}, Every: c.Every}
		if q, _ := set.Find(c.Practice); q.Ages() && c.Every == 0 && x.DropsReplaced > 0 { // replaced once
			p.Baseline.Done.DropAge = max(0, b.First-1-x.DropsReplaced)
		}
	}
	if x.Brix != nil {
		if g := p.Baseline.GainBrix; g != nil { // as far from the baseline's as before
			p.Baseline.GainBrix = &price.Value{Best: max(0.1, g.Best+*x.Brix-p.Baseline.Brix.Best)}
		}
		p.Baseline.Brix = price.Value{Best: *x.Brix}
	}
	return &p
}

// Usual is what was done in a section until now.
func (b *Sugarbush) Usual(x Section, set practice.Set) practice.Choice {
	if x.Practice == "" {
		return b.Prices.Today.Choice(set)
	}
	p, _ := set.Find(x.Practice)
	if !p.Ages() {
		return practice.Choice{Practice: x.Practice}
	}
	return practice.Choice{Practice: x.Practice, Every: x.Every}
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
			add(x.Where, "section."+x.Name+".drops_replaced",
				"the drops were replaced in %d, after the first season planned, %d; allowed: until then",
				x.DropsReplaced, b.First)
		}
		if x.Vacuum != nil && b.Elevation != nil && *x.Vacuum > air(*b.Elevation) {
			add(x.Where, "section."+x.Name+".vacuum_inhg", "a vacuum of %s, and the air at this elevation presses "+
				"with %s; allowed: at most that", *x.Vacuum, air(*b.Elevation))
		}
		for _, k := range append(slices.Clone(x.Unwanted), x.Practice) {
			if _, ok := set.Find(k); !ok && k != "" {
				add(x.Where, "section."+x.Name, "the practice %s is not known; allowed: %s", string(k), set.Names())
			}
		}
		if slices.Contains(x.Unwanted, practice.Unsanitized) {
			add(x.Where, "section."+x.Name+".unwanted",
				"unsanitized cannot be unwanted: it is what is left where hours and cash do not reach; "+
					"allowed: any other practice")
		}
	}
	return f
}
