package evidence

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// Setting is what is known of how a study, or a trial of one's own, was done. The rules of caveats read nothing else,
// so that both get the same caveat by the same rule.
type Setting struct {
	Site         string
	Seasons      []int
	Given        []Caveat // by who wrote it down
	Unreplicated bool     // some arm has no measure of its own error and cannot have one
	Yield        float64  // of the reference, litres a tap; 0: not stated
	Weather      string   // in words
	Odd          bool     // temperatures show that a season was short, or ended hot
	Arms         []ArmSetting
	DropAge      *float64 // seasons that the reference's drops had been in use
	Funding      string   // in words
}

// ArmSetting is how an arm was run. What is not stated is nil or "".
type ArmSetting struct {
	Vacuum   *unit.Pressure
	Pump     string
	TubingIn *float64 // inside diameter
}

// CaveatInfo is what is to be known of a caveat that the tool sets itself. Rule says in words what Sets works out.
type CaveatInfo struct {
	Key      Caveat
	Name     string // English, the id of its translation
	Footnote string // English, the id of its translation
	Rule     string // for docs/data.md
	Sets     func(Setting, *Others) bool
}

const (
	lowYieldPart    = 0.5 // of the usual yield of references
	lowYieldStudies = 5   // as many must state theirs before "usual" means anything
	oldDrops        = 3   // seasons
)

// noVacuum is the vacuum below which sap runs by gravity alone: what a gauge shows for none.
var noVacuum = unit.InchOfMercury.Of(1)

// CaveatList is the caveats that the tool sets itself, in the order in which a study carries them.
var CaveatList = []CaveatInfo{
	{
		Key: NoReplication, Name: "not replicated",
		Footnote: "not replicated, or it does not say: its own error is unknown",
		Rule: "it says that it is unreplicated, an arm has one unit or does not say how many, or a gain stands " +
			"without any error",
		Sets: func(s Setting, _ *Others) bool { return s.Unreplicated },
	},
	{
		Key: LowYield, Name: "low yield",
		Footnote: "low yield: the reference gave less than half of what references usually give, and a percentage of " +
			"little sap says little",
		Rule: fmt.Sprintf("its reference gave less than half of the median yield of the references of all studies "+
			"that state theirs (asked where %d or more do)", lowYieldStudies),
		Sets: func(s Setting, o *Others) bool { return s.Yield > 0 && s.Yield < lowYieldPart*o.usual },
	},
	{
		Key: FreakSeason, Name: "freak season",
		Footnote: "a freak season",
		Rule: "words of `weather` say so, temperatures show a short season or one that ended hot, or another study " +
			"of that site and season carries it",
		Sets: func(s Setting, o *Others) bool { return s.freak() || o.sameSpring(s) },
	},
	{
		Key: Gravity, Name: "gravity",
		Footnote: "gravity: no vacuum",
		Rule:     "an arm ran without a pump, or at a vacuum below 1 inHg",
		Sets: someArm(func(a ArmSetting) bool {
			return strings.EqualFold(a.Pump, noPump) || a.Vacuum != nil && *a.Vacuum < noVacuum
		}),
	},
	{
		Key: Tubing316, Name: "3/16 inch tubing",
		Footnote: "3/16 inch tubing",
		Rule:     "an arm ran on tubing of 0.17 to 0.20 inch inside",
		Sets: someArm(func(a ArmSetting) bool {
			return a.TubingIn != nil && *a.TubingIn >= 0.17 && *a.TubingIn <= 0.20
		}),
	},
	{
		Key: YoungReference, Name: "young reference",
		Footnote: "the drops of the reference were younger than three seasons: the gain looks smaller than over old " +
			"ones",
		Rule: "the drops of its reference were younger than three seasons",
		Sets: func(s Setting, _ *Others) bool { return s.DropAge != nil && *s.DropAge < oldDrops },
	},
	{
		Key: Interest, Name: "maker's interest",
		Footnote: "funded by a maker of what was tested",
		Rule:     "words of `funding` name a maker",
		Sets:     func(s Setting, _ *Others) bool { return MakerWords.In(s.Funding) },
	},
}

func someArm(is func(ArmSetting) bool) func(Setting, *Others) bool {
	return func(s Setting, _ *Others) bool { return slices.ContainsFunc(s.Arms, is) }
}

// CaveatKeys are the keys of CaveatList.
func CaveatKeys() []string {
	keys := make([]string, len(CaveatList))
	for i, c := range CaveatList {
		keys[i] = string(c.Key)
	}
	return keys
}

// Info is what is to be known of a caveat, and whether it is one of the list.
func (c Caveat) Info() (CaveatInfo, bool) {
	for _, x := range CaveatList {
		if x.Key == c {
			return x, true
		}
	}
	return CaveatInfo{}, false
}

// Words are those of a caveat of the user's own naming.
func (c Caveat) Words() string { return strings.ReplaceAll(string(c), "-", " ") }

// Said is the caveat's name as an argument of a note.
func (c Caveat) Said() any {
	if x, ours := c.Info(); ours {
		return note.Term(x.Name)
	}
	return c.Words()
}

// Caveats gives the caveats of each setting: first those given, in their order, then those that the tool sets itself.
func Caveats(all []Setting) [][]Caveat {
	o := others(all)
	list := make([][]Caveat, len(all))
	for i, s := range all {
		add := func(c Caveat) {
			if !slices.Contains(list[i], c) {
				list[i] = append(list[i], c)
			}
		}
		for _, c := range s.Given {
			add(c)
		}
		for _, c := range CaveatList {
			if c.Sets(s, &o) {
				add(c.Key)
			}
		}
	}
	return list
}

// Others is what the caveats of one setting take from all.
type Others struct {
	usual float64 // median yield of the references, litres a tap; 0 where too few state theirs
	freak map[spring]bool
}

// spring is one season at one site.
type spring struct {
	site   string
	season int
}

func others(all []Setting) Others {
	o := Others{freak: map[spring]bool{}}
	var yields []float64
	for _, s := range all {
		if s.Yield > 0 {
			yields = append(yields, s.Yield)
		}
		if s.freak() {
			for _, year := range s.Seasons {
				o.freak[spring{s.Site, year}] = true
			}
		}
	}
	if len(yields) >= lowYieldStudies {
		slices.Sort(yields)
		n := len(yields)
		o.usual = (yields[(n-1)/2] + yields[n/2]) / 2
	}
	return o
}

func (o *Others) sameSpring(s Setting) bool {
	return s.Site != "" && slices.ContainsFunc(s.Seasons, func(year int) bool { return o.freak[spring{s.Site, year}] })
}

func (s Setting) freak() bool {
	return s.Odd || slices.Contains(s.Given, FreakSeason) || FreakWords.In(s.Weather)
}

// Settings are those of studies.
func Settings(studies []Study) []Setting {
	list := make([]Setting, len(studies))
	for i, s := range studies {
		list[i] = s.Setting()
	}
	return list
}

// Setting is how a study was done. Its reference is unsanitized where it has that arm, else the one that is marked.
func (s Study) Setting() Setting {
	x := Setting{
		Site: s.Site, Seasons: []int{s.Season}, Given: s.Caveats, Unreplicated: unreplicated(s),
		Yield:   referenceYield(s),
		Weather: s.Weather, Funding: s.Funding,
	}
	for _, a := range s.Arms {
		x.Arms = append(x.Arms, ArmSetting{a.Vacuum, a.Pump, a.TubingIn})
	}
	r := slices.IndexFunc(s.Arms, func(a Arm) bool { return a.Practice == practice.Unsanitized })
	if r < 0 {
		r = s.Reference()
	}
	if r >= 0 && s.Arms[r].DropAge != nil {
		x.DropAge = new(float64(*s.Arms[r].DropAge))
	}
	return x
}

// unreplicated is true where some arm has no measure of its own error and cannot have one.
func unreplicated(s Study) bool {
	if s.Kind == Unreplicated {
		return true
	}
	for i, a := range s.Arms {
		switch {
		case a.Gain != nil && a.Gain.HasError():
		case a.Mean != nil && (a.N == nil && a.SE == nil || a.N != nil && *a.N == 1):
			return true
		case a.Mean == nil && a.Gain != nil && i != s.Reference():
			return true
		}
	}
	return false
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

// Reference gives the index of the arm that the study's gains are against: the one marked, else unsanitized; −1 where
// there is neither.
func (s Study) Reference() int {
	if i := slices.IndexFunc(s.Arms, func(a Arm) bool { return a.Reference }); i >= 0 {
		return i
	}
	return slices.IndexFunc(s.Arms, func(a Arm) bool { return a.Practice == practice.Unsanitized })
}
