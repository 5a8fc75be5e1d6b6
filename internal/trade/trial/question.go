package trial

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// Kind is a design.
type Kind string

const (
	Randomised Kind = "randomised"   // completely: any unit may get any practice
	Blocks     Kind = "blocks"       // every practice in every block
	Pairs      Kind = "pairs"        // blocks of two units
	Latin      Kind = "latin-square" // practices change over the seasons on the same units
)

// Designs are all kinds.
var Designs = []Kind{Randomised, Blocks, Pairs, Latin}

// Unit is what may be randomised. Only the name is needed.
type Unit struct {
	Name     string            `json:"name"`
	Kind     evidence.UnitKind `json:"kind,omitempty"`
	Block    string            `json:"block,omitempty"`    // "": the design makes blocks of units that are alike
	Chamber  string            `json:"chamber,omitempty"`  // chamber or mainline that its sap is measured in, if shared
	Mainline string            `json:"mainline,omitempty"` // that it draws its vacuum from
	Species  string            `json:"species,omitempty"`
	Diameter float64           `json:"diameter_cm,omitempty"` // of the stem; 0: not given
	Taps     int               `json:"taps,omitempty"`
}

// Question is what a trial is to answer, and with what.
type Question struct {
	Practices   []practice.Key `json:"practices"`           // the reference among them
	Reference   practice.Key   `json:"reference,omitempty"` // "": unsanitized, else the first
	Design      Kind           `json:"design"`
	Units       []Unit         `json:"units,omitempty"`      // "": Replicates units of each practice are numbered
	Replicates  int            `json:"replicates,omitempty"` // where no units are given
	Taps        int            `json:"taps,omitempty"`       // of each unit that is given without, or where none are given
	Seasons     int            `json:"seasons,omitempty"`    // 0 is 1
	FirstSeason int            `json:"first_season,omitempty"`
	// √k as many units of the reference for k other practices (Dunnett 1955, JASA 50:1096)
	MoreReference bool   `json:"more_reference,omitempty"`
	Blind         bool   `json:"blind,omitempty"`       // a code for each unit, so that who reads does not know the practice
	PlasticAge    *int   `json:"plastic_age,omitempty"` // the drops of all come from one pool, so many seasons old
	Seed          uint64 `json:"seed"`
}

// Check is every fault of a question.
func (q Question) Check(set practice.Set) (faults note.Faults) {
	fault := faults.Add
	for i, k := range q.Practices {
		if _, ok := set.Find(k); !ok {
			faults = append(faults, set.Unknown(k))
		}
		if slices.Contains(q.Practices[:i], k) {
			fault("the practice %s stands twice; allowed: each practice once", string(k))
		}
	}
	if q.FirstSeason != 0 && !column.Spring.Has(float64(q.FirstSeason)) {
		faults = append(faults, column.Spring.Fault(strconv.Itoa(q.FirstSeason)))
	}
	if len(q.Practices) < 2 {
		fault("%d practices; allowed: two or more, to compare", len(q.Practices))
	}
	if q.Reference != "" && !slices.Contains(q.Practices, q.Reference) {
		var among []string
		for _, k := range q.Practices {
			among = append(among, string(k))
		}
		fault("the reference %s is none of the practices; allowed: %s", string(q.Reference), strings.Join(among, ", "))
	}
	if q.PlasticAge != nil && (*q.PlasticAge < 0 || *q.PlasticAge > 100) {
		fault("the pool's drops are %d seasons old; allowed: 0 to 100", *q.PlasticAge)
	}
	if len(q.Units) == 0 && (q.Replicates < 1 || q.Replicates > 10000) {
		fault("%d replicates; allowed: 1 to 10000, or a list of units", q.Replicates)
	}
	return slices.Concat(faults, q.checkDesign(set), q.checkUnits())
}

// checkDesign is what does not go with the design.
func (q Question) checkDesign(set practice.Set) (faults note.Faults) {
	fault := faults.Add
	switch q.Design {
	case Randomised, Blocks:
	case Pairs:
		if len(q.Practices) != 2 {
			fault("pairs compare two practices, not %d; allowed: two practices, or another design", len(q.Practices))
		}
		if q.MoreReference {
			fault("pairs have one unit of each practice: more of the reference needs another design")
		}
	case Latin:
		if q.Seasons != len(q.Practices) {
			fault("a Latin square over seasons needs as many seasons as practices, %d, not %d", len(q.Practices),
				q.Seasons)
		}
		if q.MoreReference {
			fault("a Latin square has each practice as often as any other: more of the reference needs another design")
		}
		if q.PlasticAge == nil {
			for _, k := range q.Practices {
				if p, _ := set.Find(k); p.Ages() {
					fault("%s cannot be rotated over units: the season after, its unit's plastic is one season old "+
						"and is no %s reference. Keep practices on their units (blocks), or take all drops each "+
						"season from one pool of a stated age",
						note.Term(k), note.Term(cmp.Or(q.Reference, practice.Unsanitized)))
				}
			}
		}
	default:
		fault("there is no design %s; allowed: randomised, blocks, pairs, latin-square", string(q.Design))
	}
	return faults
}

// checkUnits is what is wrong with the list of units.
func (q Question) checkUnits() (faults note.Faults) {
	fault := faults.Add
	names := map[string]bool{}
	for _, u := range q.Units {
		if u.Name == "" {
			fault("a unit has no name")
		} else if names[u.Name] {
			fault("the unit %s stands twice; allowed: one row a unit", u.Name)
		}
		names[u.Name] = true
		if u.Taps < 0 || u.Diameter < 0 || math.IsNaN(u.Diameter) || math.IsInf(u.Diameter, 0) {
			fault("the unit %s has %d taps and a stem of %v cm; allowed: 0 or more", u.Name, u.Taps, u.Diameter)
		}
	}
	return faults
}

// Response is what is compared.
type Response string

const (
	Sap   Response = "sap"   // volume a tap
	Syrup Response = "syrup" // the syrup that a tap's sap makes: weighted by its sugar
)

// Responses are both.
var Responses = []Response{Sap, Syrup}

// Inference is how intervals are worked out.
type Inference string

const (
	KenwardRoger Inference = "kr" // Kenward & Roger 1997; the zero Inference is this
	Wald         Inference = "wald"
)

// Inferences are all ways.
var Inferences = []Inference{KenwardRoger, Wald}

// Options choose the analysis. The zero Options are those of M6.
type Options struct {
	Reference practice.Key `json:"reference,omitempty"` // "": unsanitized, else the first in the set
	Response  Response     `json:"response,omitempty"`  // "": sap
	Place     string       `json:"place,omitempty"`     // for the density of syrup: 66.0 °Bx, or what the law asks there
	Before    int          `json:"before,omitempty"`    // a season before the trial, whose yields become a covariate; 0: none
	Vacuum    bool         `json:"vacuum,omitempty"`    // adjust for each unit-season's vacuum
	Inference Inference    `json:"inference,omitempty"`
}
