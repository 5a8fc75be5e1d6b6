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
	"spile/internal/trade/evidence"
	"spile/internal/trade/species"
	"spile/internal/trade/unit"
)

// Scope is where the studies were made.
type Scope struct {
	VacuumLow, VacuumHigh   unit.Pressure // both 0: no study states its vacuum
	LineAgeLow, LineAgeHigh float64       // seasons; both 0: no study states it
	TubingIn                []float64     // inside diameters
	Species                 []string
}

// Beyond is how far outside the vacuums studied a section may lie and still be planned, under the gain of the nearest
// that was studied: about 3 inches of mercury (a choice of ours).
var Beyond = unit.InchOfMercury.Of(3)

// outside tells why the studies say nothing of a section, what is common practice there, and which trial would tell;
// nothing where they do. What too few of them state is taken to be usual: sugar maple, 5/16 tubing, vacuum (common
// practice, no source).
func (s Scope) outside(x bush.Section) note.List {
	var why note.List
	add := why.Add
	if x.Buckets {
		add("no evidence here: buckets, and the studies were made on tubing")
		add("common practice, no source: a clean spout each season and buckets washed and rinsed before it; a " +
			"trial of new spouts on buckets would tell")
		return why
	}
	if x.Vacuum != nil && *x.Vacuum == 0 {
		add("no evidence here: gravity, and the studies were made under vacuum")
		add("common practice, no source: a new or clean spout each season; a trial of new spouts without vacuum " +
			"would tell")
	} else if s.off(x) > Beyond {
		add("no evidence here: a vacuum of %s, and the studies were made at %s to %s", *x.Vacuum, s.VacuumLow,
			s.VacuumHigh)
		add("a trial of new spouts at such a vacuum would tell")
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
		if x.TubingIn < 0.25 {
			add("common practice, no source: a new spout each season, and narrow tubing cleaned after it, since it " +
				"plugs easily; a trial of new spouts on it would tell")
		}
	}
	if kind := species.Of(x.Species); kind != "" && !slices.Contains(trees, kind) {
		add("no evidence here: %s, and too few studies say that they were made on it", note.Term(kind))
		if species.Maple(kind) {
			add("common practice, no source: as on sugar maple; a trial of new spouts on these trees would tell")
		} else {
			add("common practice, no source: a clean spout each season, and its own calendar, since it is no maple; " +
				"a trial of new spouts on these trees would tell")
		}
	}
	return why
}

// off is how far the vacuum of a section lies outside those studied, beyond what a gauge may be wrong by, half an inch
// of mercury (common practice, no source); 0 inside, and where either is not stated.
func (s Scope) off(x bush.Section) unit.Pressure {
	if x.Vacuum == nil || *x.Vacuum <= 0 || s.VacuumHigh <= 0 {
		return 0
	}
	if by := max(s.VacuumLow-*x.Vacuum, *x.Vacuum-s.VacuumHigh); by > unit.InchOfMercury.Of(0.5) {
		return by
	}
	return 0
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

// ofSections are the moderators that a section has values of.
var ofSections = []string{evidence.Vacuum, evidence.LineAge, evidence.Tubing}

// moderators are a section's own values, by those keys, each no farther out than the studies
// went: what a gain does beyond them nobody knows. Tubing is so many seasons older than it is now.
func (s Scope) moderators(x bush.Section, older int) map[string]float64 {
	m := map[string]float64{}
	if x.Vacuum != nil {
		m[evidence.Vacuum] = float64(*x.Vacuum)
		if s.VacuumHigh > 0 {
			m[evidence.Vacuum] = float64(min(max(*x.Vacuum, s.VacuumLow), s.VacuumHigh))
		}
	}
	if x.LineAge != nil {
		m[evidence.LineAge] = *x.LineAge + float64(older)
		if s.LineAgeHigh > 0 {
			m[evidence.LineAge] = min(max(m[evidence.LineAge], s.LineAgeLow), s.LineAgeHigh)
		}
	}
	if x.TubingIn > 0 {
		m[evidence.Tubing] = x.TubingIn
	}
	return m
}
