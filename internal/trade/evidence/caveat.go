package evidence

import (
	"math"
	"slices"
	"strings"

	"spile/internal/trade/practice"
)

// LowYieldPart is the part of the usual reference yield below which a study carries the caveat low-yield.
const LowYieldPart = 0.5

// lowYieldStudies is how many studies must state the yield of their reference before "usual" means anything.
const lowYieldStudies = 5

// freakWords and makerWords are what the columns weather and funding are searched for, in English and French.
var (
	freakWords = []string{"freak", "extreme", "abnormal", "unusual", "anormal", "exceptionnel", "extrême"}
	makerWords = []string{"maker", "manufactur", "vendor", "supplier", "fabricant", "fournisseur"}
)

// Caveats gives the caveats of each study of a table: first those given there, in their order, then those that the tool
// sets itself. Two of the rules look at the other studies:
//
//   - no-replication: the study says that it is unreplicated, or an arm has one unit or does not say how many, or a
//     gain is reported without any error.
//   - low-yield: the reference gave less than half (LowYieldPart) of the median yield of the references of all studies
//     that state theirs; asked only where five or more do.
//   - freak-season: the column weather calls the season freak, extreme, abnormal or unusual, or another study
//     at the same site in the same season says so or carries the caveat.
//   - gravity: an arm ran without a pump, or at a vacuum of 0.
//   - tubing-3-16: an arm ran on tubing of 3/16 inch inside diameter (0.17 to 0.20 inch).
//   - young-reference: the drops of an unsanitized arm were younger than three seasons.
//   - interest: the column funding names a maker, manufacturer, vendor or supplier.
func Caveats(all []Study) [][]Caveat {
	c := newContext(all)
	list := make([][]Caveat, len(all))
	for i, s := range all {
		list[i] = c.caveats(s)
	}
	return list
}

// context is what the caveats of one study take from the other studies.
type context struct {
	usual float64 // median yield of the references, litres a tap; 0 where too few state theirs
	freak map[siteSeason]bool
}

type siteSeason struct {
	site   string
	season int
}

func newContext(all []Study) context {
	c := context{freak: map[siteSeason]bool{}}
	var yields []float64
	for _, s := range all {
		if y := referenceYield(s); y > 0 {
			yields = append(yields, y)
		}
		if saysFreak(s) {
			c.freak[siteSeason{s.Site, s.Season}] = true
		}
	}
	if len(yields) >= lowYieldStudies {
		slices.Sort(yields)
		n := len(yields)
		c.usual = (yields[(n-1)/2] + yields[n/2]) / 2
	}
	return c
}

func (c context) caveats(s Study) []Caveat {
	var list []Caveat
	add := func(k Caveat) {
		if !slices.Contains(list, k) {
			list = append(list, k)
		}
	}
	for _, k := range s.Caveats {
		add(k)
	}
	if unreplicated(s) {
		add(NoReplication)
	}
	if y := referenceYield(s); y > 0 && y < LowYieldPart*c.usual {
		add(LowYield)
	}
	if saysFreak(s) || s.Site != "" && c.freak[siteSeason{s.Site, s.Season}] {
		add(FreakSeason)
	}
	if slices.ContainsFunc(s.Arms, func(a Arm) bool {
		return strings.EqualFold(a.Pump, "none") || a.Vacuum != nil && *a.Vacuum <= 0
	}) {
		add(Gravity)
	}
	if slices.ContainsFunc(s.Arms, func(a Arm) bool {
		return a.TubingIn != nil && *a.TubingIn >= 0.17 && *a.TubingIn <= 0.20
	}) {
		add(Tubing316)
	}
	if slices.ContainsFunc(s.Arms, func(a Arm) bool {
		return a.Practice == practice.Unsanitized && a.DropAge != nil && *a.DropAge < 3
	}) {
		add(YoungReference)
	}
	if mentions(s.Funding, makerWords) {
		add(Interest)
	}
	return list
}

// unreplicated is true where some arm has no measure of its own error and cannot have one.
func unreplicated(s Study) bool {
	if s.Kind == Unreplicated {
		return true
	}
	for i, a := range s.Arms {
		switch {
		case a.Gain != nil && a.Gain.HasError():
		case a.Mean != nil && (a.N == nil || *a.N == 1):
			return true
		case a.Mean == nil && a.Gain != nil && i != s.Reference():
			return true
		}
	}
	return false
}

func saysFreak(s Study) bool {
	return slices.Contains(s.Caveats, FreakSeason) || mentions(s.Weather, freakWords)
}

func mentions(text string, words []string) bool {
	text = strings.ToLower(text)
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(text, w) })
}

// referenceYield is litres a tap of the study's reference, 0 where it is not stated.
func referenceYield(s Study) float64 {
	r := s.Reference()
	if r < 0 || s.Arms[r].Mean == nil || s.Arms[r].MeanUnit == "" {
		return 0
	}
	y := float64(s.Arms[r].MeanUnit.Of(*s.Arms[r].Mean))
	if math.IsNaN(y) || math.IsInf(y, 0) {
		return 0
	}
	return y
}

// Reference gives the index of the arm that the study's gains are against: the one marked, else unsanitized; −1 where there is
// neither.
func (s Study) Reference() int {
	if i := slices.IndexFunc(s.Arms, func(a Arm) bool { return a.Reference }); i >= 0 {
		return i
	}
	return slices.IndexFunc(s.Arms, func(a Arm) bool { return a.Practice == practice.Unsanitized })
}
