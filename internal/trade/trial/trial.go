// Package trial is what is planned, written down and decided of a scientist's own experiment: its question and layout,
// the readings of its seasons, and what was decided about what spoils them. Values as given, and what is wrong with
// them; what they say is worked out above.
//
// The files: trial (the whole), question and layout (before the season), reading and log (in it), yield (after it).
package trial

import (
	"slices"
	"strings"
	"sync"
	"time"
	"weak"

	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/weather"
)

// Trial is a whole trial: what was asked, which unit got which practice, what was read in each season, and what was
// decided about what spoils it. Everything that it says is worked out again from these. As JSON its plan is what a
// workbook keeps: names there stay as they are.
type Trial struct {
	Name    string            `json:"name"` // also of the study that it is in the evidence
	Site    string            `json:"site"`
	Caveats []evidence.Caveat `json:"caveats,omitempty"`
	Note    string            `json:"note,omitempty"`
	// that its layout was drawn from, and can be drawn from again; nil: not designed here
	Question  *Question      `json:"question,omitempty"`
	Records   []Record       `json:"seasons,omitempty"` // one a season
	Apart     *Apart         `json:"-"`                 // readings that are not in them; nil: all are
	Sums      []UnitSeason   `json:"sums,omitempty"`
	Days      []weather.Day  `json:"days,omitempty"`         // temperatures of its place, of all its seasons
	Rules     *weather.Rules `json:"season_rules,omitempty"` // nil: the usual ones
	Decisions []Decision     `json:"decisions,omitempty"`
	Options   Options        `json:"analysis,omitzero"`
	Where     note.Where     `json:"where,omitzero"`
}

// Decision is what the user decided about a finding, and why. A run is taken out of the sums for its whole block.
type Decision struct {
	Season  int
	Finding string // Finding.ID
	Out     bool   // taken out; false: kept as it is
	Reason  string
	Taken   *Exclusion // what was taken out; nil where the finding names no run, or it was kept
}

// Plan is the trial without what was read and decided, and without codes that are drawn again from its question.
func (t Trial) Plan() Trial {
	t.Caveats = append([]evidence.Caveat(nil), t.Caveats...)
	if q := t.Question; q != nil {
		t.Question = new(*q)
		t.Question.Practices = append([]practice.Key(nil), q.Practices...)
		t.Question.Units = append([]Unit(nil), q.Units...)
	}
	var records []Record
	for _, r := range t.Records {
		plots := append([]Plot(nil), r.Plots...)
		for i := range plots {
			if t.Question != nil && t.Question.Blind {
				plots[i].Code = ""
			}
		}
		records = append(records, Record{Season: r.Season, Plots: plots})
	}
	t.Records, t.Apart, t.Sums, t.Days, t.Decisions = records, nil, nil, nil, nil
	return t
}

// Read is the trial with all its readings in its records.
func (t Trial) Read() Trial {
	if t.Apart == nil {
		return t
	}
	of := t.Apart.readings()
	t.Records = slices.Clone(t.Records)
	for i, r := range t.Records {
		t.Records[i].Readings = of[r.Season]
	}
	t.Apart = nil
	return t
}

// Count is how many readings there are.
func (t Trial) Count() (n int) {
	if t.Apart != nil {
		n = t.Apart.Size
	}
	for _, r := range t.Records {
		n += len(r.Readings)
	}
	return n
}

// Apart is the readings of a trial, read where they are asked for: they are many, and few trials are looked at at a
// time.
type Apart struct {
	Digest string // of what they say
	Size   int    // how many they are
	read   func() map[int][]Reading

	mu   sync.Mutex
	held weak.Pointer[map[int][]Reading] // until the room is needed
}

// NewApart is of so many readings, which read gives by their season.
func NewApart(digest string, size int, read func() map[int][]Reading) *Apart {
	return &Apart{Digest: digest, Size: size, read: read}
}

// Equal is true of what says the same.
func (l *Apart) Equal(o *Apart) bool {
	if l == nil || o == nil {
		return l == o
	}
	return l.Digest == o.Digest
}

func (l *Apart) readings() map[int][]Reading {
	l.mu.Lock()
	defer l.mu.Unlock()
	if of := l.held.Value(); of != nil {
		return *of
	}
	of := l.read()
	l.held = weak.Make(&of)
	return of
}

// Faults is everything that is wrong with a trial before anything is worked out from it.
func (t Trial) Faults(set practice.Set) note.Faults {
	var faults note.Faults
	fault := func(key string, args ...any) { faults = append(faults, note.New(key, args...).At(t.Where)) }
	if strings.TrimSpace(t.Name) == "" {
		fault("a trial has no name")
	}
	if strings.TrimSpace(t.Site) == "" {
		fault("the trial %s has no site; allowed: the name of a place (--site, or site in trial.toml)", t.Name)
	}
	known := func(k practice.Key) {
		if _, ok := set.Find(k); !ok {
			faults = append(faults, set.Unknown(k).At(t.Where))
		}
	}
	season := func(year int) {
		if year < 1900 || year > 2100 {
			fault("the trial %s has the season %d; allowed: the year of the spring, four digits, such as 2019", t.Name,
				year)
		}
	}
	if t.Options.Reference != "" {
		known(t.Options.Reference)
	}
	seen := map[int]bool{}
	for _, r := range t.Records {
		if seen[r.Season] {
			fault("the season %d of the trial %s stands twice", r.Season, t.Name)
		}
		seen[r.Season] = true
		season(r.Season)
		for _, p := range r.Plots {
			known(p.Practice)
		}
		faults = append(faults, r.Check()...)
	}
	if len(t.Sums) > 0 {
		faults = append(faults, Check(t.Sums, set)...)
	}
	for _, r := range t.Sums {
		season(r.Season)
		if i := slices.IndexFunc(t.Records, func(x Record) bool {
			return x.Season == r.Season &&
				len(x.Readings) > 0
		}); i >= 0 {
			fault("the season %d of the trial %s has both readings and sums; allowed: one of them", r.Season, t.Name)
			break
		}
	}
	return append(faults, note.FaultsOf(weather.Check(t.Days))...)
}

// Decided is what was decided about a finding of a season; false where nothing was yet.
func (t Trial) Decided(season int, finding string) (Decision, bool) {
	i := slices.IndexFunc(t.Decisions, func(d Decision) bool { return d.Season == season && d.Finding == finding })
	if i < 0 {
		return Decision{}, false
	}
	return t.Decisions[i], true
}

// Seasons are those that the trial holds anything of, in order.
func (t Trial) Seasons() []int {
	var years []int
	for _, r := range t.Records {
		years = append(years, r.Season)
	}
	for _, r := range t.Sums {
		years = append(years, r.Season)
	}
	slices.Sort(years)
	return slices.Compact(years)
}

// Practices are those of the units that the trial has, in their order.
func (t Trial) Practices() []practice.Key {
	var keys []practice.Key
	add := func(k practice.Key) {
		if !slices.Contains(keys, k) {
			keys = append(keys, k)
		}
	}
	for _, r := range t.Records {
		for _, p := range r.Plots {
			add(p.Practice)
		}
	}
	for _, r := range t.Sums {
		add(r.Practice)
	}
	return keys
}

// SeasonOf is the season that a time belongs to: that of its year, and from October on that of the spring to come.
func SeasonOf(t time.Time) int {
	if t.Month() >= time.October {
		return t.Year() + 1
	}
	return t.Year()
}

// Record is that of a season; false where there is none.
func (t Trial) Record(season int) (Record, bool) {
	i := slices.IndexFunc(t.Records, func(r Record) bool { return r.Season == season })
	if i < 0 {
		return Record{}, false
	}
	return t.Records[i], true
}
