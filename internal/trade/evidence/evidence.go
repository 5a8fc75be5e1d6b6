// Package evidence holds studies as they were reported: what they say, what is wrong with it, and their caveats.
package evidence

import (
	"time"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// Kind says how far a study can be trusted to measure its own error.
type Kind string

const (
	Replicated     Kind = "replicated"
	Unreplicated   Kind = "unreplicated"
	ProducerReport Kind = "producer-report" // kept, but out unless asked
)

// UnitKind is what was randomised.
type UnitKind string

const (
	Tree     UnitKind = "tree"
	Chamber  UnitKind = "chamber"
	Mainline UnitKind = "mainline"
)

// Caveat is a named reason to read a study with care.
type Caveat string

// The caveats that the tool sets itself. Users give others of their own naming.
const (
	NoReplication  Caveat = "no-replication"
	LowYield       Caveat = "low-yield"
	FreakSeason    Caveat = "freak-season"
	Gravity        Caveat = "gravity"
	Tubing316      Caveat = "tubing-3-16"
	YoungReference Caveat = "young-reference" // the reference's drops are younger than three seasons
	Interest       Caveat = "interest"        // funded by a maker
)

// Study is one controlled comparison: a reference arm and one or more others, one site, one season.
type Study struct {
	Name    string
	Site    string
	Season  int // the year of the spring
	Kind    Kind
	Trial   string // one name over the seasons of a trial repeated on the same units, else ""
	Unit    UnitKind
	Arms    []Arm
	Caveats []Caveat // given in the table; func Caveats adds those set by the tool
	Species string
	Weather string
	Funding string
	Source  string
	Where   note.Where
}

// Arm is one practice in one study: a row of the evidence table. A number that was not given is nil.
type Arm struct {
	Practice  practice.Key
	Reference bool     // the arm the study's gains are against
	Mean      *float64 // sap per tap, in MeanUnit
	MeanUnit  unit.VolumeUnit
	N         *float64 // units; whole and at least 1
	SD, SE    *float64 // between units, same unit as Mean
	Gain      *Reported
	Taps      *float64 // per unit

	DropAge  *int // seasons in use; 0 in the first
	SpoutAge *int
	Vacuum   *unit.Pressure
	TubingIn *float64 // inside diameter, inches
	LineAge  *float64 // seasons
	Releaser string
	Pump     string
	Tapped   time.Time // zero: not given
	LastRun  time.Time
	Chemical *Chemical
	Extra    map[string]string // columns that the tool does not know, kept
	Where    note.Where
}

// Reported is a gain over the study's reference given as a percentage, without the means behind it.
type Reported struct {
	Pct             float64
	SEPct           *float64
	LowPct, HighPct *float64 // 95 %
}

// Chemical is how a wash was done; without contact time two rinses are not the same thing.
type Chemical struct {
	Product    string
	Strength   string
	ContactMin *float64
	Applied    string
	Rinsed     string
}

// Rule is how the sampling variances of measured arms are got (M1).
type Rule string

const (
	// Moderated takes each arm's own CV², drawn toward that of its kind of unit as far as its own few units leave it
	// unsure (Smyth 2004, Statistical Applications in Genetics and Molecular Biology 3, article 3).
	Moderated Rule = "moderated"
	// PooledCV takes one CV² for all arms of a kind of unit.
	PooledCV Rule = "pooled"
	// ReportedSD takes each arm's own, as it stands.
	ReportedSD Rule = "reported"
)

// Rules are all of them.
func Rules() []Rule { return []Rule{Moderated, PooledCV, ReportedSD} }

// DefaultCV stands in where no arm of any study reports an SD and Options.DefaultCV is 0.
const DefaultCV = 0.25

// Options choose what is admitted and how its variance is got.
type Options struct {
	Variance        Rule
	DefaultCV       float64 // used where no arm reports an SD; 0 means 0.25
	ProducerReports bool
	Without         []Caveat // studies carrying one of these are left out
	Exclude         []string // names of studies left out by hand
}
