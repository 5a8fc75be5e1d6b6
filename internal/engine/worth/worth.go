// Package worth says what the next trial is worth before it is run: what is known now is updated by every result the
// trial may bring, and each result by the choice it would lead to (M8; Raiffa & Schlaifer 1961, Applied Statistical
// Decision Theory). What is known is a mixture of normals, each with variances of its own; a result updates the means
// within each, and how likely each is. Money is what is expected over all that prices and work may be.
//
// The files: worth (what is asked and answered), question (the decision, and what it brings as gains are known now),
// learn (what a trial would teach), value (what that is worth), search (which trial is worth most).
package worth

import (
	"math"
	"slices"

	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Use is who uses the answer.
type Use struct {
	Taps     float64 // of all producers concerned
	Adoption float64 // part of them that does what pays best
	Seasons  int     // of use, after the trial
	Discount float64 // a year
}

// Trial is a candidate. Its first treatment is the reference.
type Trial struct {
	Treatments []practice.Treatment
	Blocks     int     // a season and site
	Units      int     // of each treatment in a block
	Taps       int     // a unit
	Seasons    int     // each with readings of its own
	Site       string  // with studies already; "" for new sites
	Sites      int     // how many new ones; 0 means 1
	CV         float64 // of the yield between units of a block
	Cost       Cost
}

// Cost of a trial, money.
type Cost struct {
	Fixed, Season, Unit float64 // once; a season and site; a unit and season
}

// Worth is what a trial is expected to bring.
type Worth struct {
	Trial   Trial
	EVSI    float64 // expected value of sample information, money a tap and season
	Error   float64 // its simulation error
	Changes float64 // chance that its result changes what is best
	Benefit float64 // EVSI × taps × adoption × discounted seasons
	Forgone float64 // by arms that bring less than what is best today, in Cost
	Cost    float64
	Net     float64 // expected net benefit of sampling
	Edge    bool    // it is as large or as small as was looked at
}

// NetError is the simulation error of the net, money.
func (w Worth) NetError() float64 {
	if w.EVSI == 0 {
		return 0
	}
	return w.Error * w.Benefit / w.EVSI
}

// Faults of a use.
func (u Use) Faults() note.Faults {
	var f note.Faults
	if !(u.Taps > 0) {
		f.Add("the taps concerned are %v; allowed: above 0", u.Taps)
	}
	if !(u.Adoption >= 0 && u.Adoption <= 1) {
		f.Add("the adoption is %v; allowed: 0 to 1", u.Adoption)
	}
	if u.Seasons < 1 || u.Seasons > 100 {
		f.Add("the seasons of use are %d; allowed: 1 to 100", u.Seasons)
	}
	if !(u.Discount > -1) {
		f.Add("the discount rate is %v; allowed: above −1", u.Discount)
	}
	return f
}

// Faults of a trial.
func (t Trial) Faults() note.Faults {
	var f note.Faults
	if len(t.Treatments) < 2 {
		f.Add("a trial compares at least two treatments")
	}
	for i, x := range t.Treatments {
		if slices.Contains(t.Treatments[:i], x) {
			f.Add("a trial holds %s twice", note.Term(x.Practice))
		}
	}
	for _, n := range []struct {
		name string
		at   int
	}{{"blocks", t.Blocks}, {"units", t.Units}, {"taps", t.Taps}, {"seasons", t.Seasons}} {
		if n.at < 1 {
			f.Add("a trial has %d %s; allowed: 1 or more", n.at, note.Term(n.name))
		}
	}
	if t.Sites < 0 || t.Site != "" && t.Sites > 1 {
		f.Add("a trial runs at %d sites; allowed: 1 or more new ones, or the one that is named",
			t.Sites)
	}
	if !(t.CV > 0 && t.CV <= 3) {
		f.Add("the CV between units is %v %%; allowed: above 0 and at most 300", math.Round(1e6*t.CV)/1e4)
	}
	if !(t.Cost.Fixed >= 0 && t.Cost.Season >= 0 && t.Cost.Unit >= 0) {
		f.Add("a trial's costs are %v, %v a season and %v a unit; allowed: 0 or more", t.Cost.Fixed,
			t.Cost.Season, t.Cost.Unit)
	}
	return f
}
