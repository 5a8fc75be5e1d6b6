// Package evidence holds studies as they were reported: what they say, what is wrong with it, and their caveats.
package evidence

import (
	"time"

	"spile/internal/note"
	"spile/internal/trade/gloss"
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

// Study is one controlled comparison: a reference arm and one or more others, one site, one season. As JSON it is what
// a workbook keeps: names there stay as they are.
type Study struct {
	Name    string     `json:"name"`
	Site    string     `json:"site"`
	Season  int        `json:"season"` // the year of the spring
	Kind    Kind       `json:"kind,omitempty"`
	Trial   string     `json:"trial,omitempty"` // one name over the seasons of a trial repeated on the same units
	Unit    UnitKind   `json:"unit,omitempty"`
	Caveats []Caveat   `json:"caveats,omitempty"` // given in the table; func Caveats adds those set by the tool
	Species string     `json:"species,omitempty"`
	Weather string     `json:"weather,omitempty"`
	Funding string     `json:"funding,omitempty"`
	Source  string     `json:"source,omitempty"`
	Arms    []Arm      `json:"arms"`
	Where   note.Where `json:"where,omitzero"`
	Typed   *Typed     `json:"-"` // nil: it came from no table, or stood there as we would write it
}

// Typed is a study as it stood in the table of who typed it.
type Typed struct {
	Headers []string      `json:"headers"`
	Rows    [][]string    `json:"rows"`
	Comma   bool          `json:"comma,omitempty"` // what may be either is a decimal comma
	Words   []gloss.Sense `json:"words,omitempty"` // settled for that table alone
	// where the table was in another shape: what stood above its rows, the header among it, the lines of the study's
	// own rows, and what stood below them all; where no line is of one row alone all stand above, in the first study
	Above [][]string `json:"above,omitempty"`
	Lines [][]string `json:"lines,omitempty"`
	Below [][]string `json:"below,omitempty"`
}

// Arm is one practice in one study: a row of the evidence table. A number that was not given is nil.
type Arm struct {
	Practice  practice.Key    `json:"practice"`
	Reference bool            `json:"reference,omitempty"` // the arm the study's gains are against
	Mean      *float64        `json:"mean,omitempty"`      // sap per tap, in MeanUnit
	MeanUnit  unit.VolumeUnit `json:"mean_unit,omitempty"`
	N         *float64        `json:"n,omitempty"`  // units; whole and at least 1
	SD        *float64        `json:"sd,omitempty"` // between units, same unit as Mean
	SE        *float64        `json:"se,omitempty"`
	Gain      *Reported       `json:"gain,omitempty"`
	Said      string          `json:"said,omitempty"` // of its gain, where that is no number: "> 30", "not significant"
	Taps      *float64        `json:"taps,omitempty"` // per unit

	DropAge  *int              `json:"drop_age,omitempty"` // seasons in use; 0 in the first
	SpoutAge *int              `json:"spout_age,omitempty"`
	Vacuum   *unit.Pressure    `json:"vacuum_kpa,omitempty"`
	TubingIn *float64          `json:"tubing_in,omitempty"` // inside diameter, inches
	LineAge  *float64          `json:"line_age,omitempty"`  // seasons
	Releaser string            `json:"releaser,omitempty"`
	Pump     string            `json:"pump,omitempty"`
	Tapped   Day               `json:"tapped,omitzero"`
	LastRun  Day               `json:"last_run,omitzero"`
	Chemical *Chemical         `json:"chemical,omitempty"`
	Extra    map[string]string `json:"extra,omitempty"` // columns that the tool does not know, kept
	Where    note.Where        `json:"where,omitzero"`
}

// SaysOnly is true of an arm that says something of its gain, and no number.
func (a Arm) SaysOnly() bool { return a.Said != "" && a.Mean == nil && a.Gain == nil }

// Reported is a gain over the study's reference given as a percentage, without the means behind it.
type Reported struct {
	Pct     float64  `json:"pct"`
	SEPct   *float64 `json:"se_pct,omitempty"`
	LowPct  *float64 `json:"low_pct,omitempty"` // 95 %
	HighPct *float64 `json:"high_pct,omitempty"`
}

// Chemical is how a wash was done; without contact time two rinses are not the same thing.
type Chemical struct {
	Product    string   `json:"product,omitempty"`
	Strength   string   `json:"strength,omitempty"`
	ContactMin *float64 `json:"contact_min,omitempty"`
	Applied    string   `json:"applied,omitempty"`
	Rinsed     string   `json:"rinsed,omitempty"`
}

// Day is a day, midnight UTC; in JSON YYYY-MM-DD. The zero Day is not given.
type Day struct{ time.Time }

// MarshalJSON writes it.
func (d Day) MarshalJSON() ([]byte, error) { return []byte(d.Format(`"2006-01-02"`)), nil }

// UnmarshalJSON reads it.
func (d *Day) UnmarshalJSON(text []byte) (err error) {
	d.Time, err = time.Parse(`"2006-01-02"`, string(text))
	return err
}

// Said is the study without where it stood: what it says.
func (s Study) Said() Study {
	s.Where, s.Typed = note.Where{}, nil
	s.Caveats = append([]Caveat(nil), s.Caveats...)
	s.Arms = append([]Arm(nil), s.Arms...)
	for i := range s.Arms {
		a := &s.Arms[i]
		a.Where = note.Where{}
		if len(a.Extra) == 0 {
			a.Extra = nil
		}
	}
	return s
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
