// Package plan is what one sugarbush should do, section by section and season by season: the practices that bring the
// highest discounted profit within the hours of the crew and the cash of a season, what they need, and how sure that
// is.
package plan

import (
	"fmt"
	"math"
	"slices"

	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/unit"
)

// Scope is where the studies were made.
type Scope struct {
	VacuumLow, VacuumHigh   unit.Pressure // both 0: no study states its vacuum
	LineAgeLow, LineAgeHigh float64       // seasons; both 0: no study states it
	TubingIn                []float64     // inside diameters
	Species                 []string
}

// outside tells why the studies say nothing of a section; nothing where they do. What too few of them state is taken to
// be usual: sugar maple, 5/16 tubing, vacuum (common practice, no source).
func (s Scope) outside(x bush.Section) []note.Note {
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
		add("no evidence here: a vacuum of %.1f inHg, and the studies were made at %.0f to %.0f inHg",
			x.Vacuum.In(unit.InchOfMercury),
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
		add("no evidence here: tubing of %s inch inside, a size on which no practice was studied enough",
			fraction(x.TubingIn))
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

// moderators are a section's own values, by the keys of evidence.Moderators, each no farther out than the studies
// went: what a gain does beyond them nobody knows.
func (s Scope) moderators(x bush.Section) map[string]float64 {
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
