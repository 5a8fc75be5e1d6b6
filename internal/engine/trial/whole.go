package trial

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"time"

	"spile/internal/engine/effect"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/weather"
)

// Trial is a whole trial: what was asked, which unit got which practice, what was read in each season, and what was
// decided about what spoils it. Everything that it says is worked out again from these.
type Trial struct {
	Name      string // also of the study that it is in the evidence
	Site      string
	Caveats   []evidence.Caveat
	Note      string
	Question  *Question // that its layout was drawn from, and can be drawn from again; nil: not designed here
	Records   []Record  // one a season
	Sums      []UnitSeason
	Days      []weather.Day  // temperatures of its place, of all its seasons
	Rules     *weather.Rules // nil: the usual ones
	Decisions []Decision
	Options   Options
	Where     note.Where
}

// Decision is what the user decided about a finding, and why. A run is taken out of the sums for its whole block.
type Decision struct {
	Season  int
	Finding string // Finding.ID
	Out     bool   // taken out; false: kept as it is
	Reason  string
	Taken   *Exclusion // what was taken out; nil where the finding names no run, or it was kept
}

// ID names a finding within its season, the same as long as the finding is the same.
func (f Finding) ID() string {
	parts := []string{string(f.Kind), f.Block, strings.Join(f.Units, "+")}
	for _, p := range f.Practices {
		parts = append(parts, string(p))
	}
	if !f.To.IsZero() {
		parts = append(parts, f.To.UTC().Format("2006-01-02T15:04"))
	}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), "/")
}

// Summed is a trial with its seasons' sums.
type Summed struct {
	Rows    []UnitSeason // of all seasons
	Records []Record     // with the exclusions that were decided, by season
	Totals  []*Total     // of Records, in their order
	Weather []weather.Season
	Notes   []note.Note
}

// Faults is everything that is wrong with a trial before anything is worked out from it.
func (t Trial) Faults(set practice.Set) note.Faults {
	var faults note.Faults
	fault := func(key string, args ...any) { faults = append(faults, note.New(key, args...).At(t.Where)) }
	if strings.TrimSpace(t.Name) == "" {
		fault("a trial has no name")
	}
	if strings.TrimSpace(t.Site) == "" {
		fault("the trial %s has no site", t.Name)
	}
	known := func(k practice.Key) {
		if _, ok := set.Find(k); !ok {
			fault("the practice %s is not known; known are %s", string(k), set.Names())
		}
	}
	season := func(year int) {
		if year < 1900 || year > 2100 {
			fault("the trial %s has the season %d; allowed: the year of the spring, four digits, such as 2019", t.Name, year)
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
		faults = append(faults, faultsOf(r.check())...)
	}
	if len(t.Sums) > 0 {
		faults = append(faults, faultsOf(check(t.Sums, set))...)
	}
	for _, r := range t.Sums {
		season(r.Season)
		if i := slices.IndexFunc(t.Records, func(x Record) bool { return x.Season == r.Season && len(x.Readings) > 0 }); i >= 0 {
			fault("the season %d of the trial %s has both readings and sums; allowed: one of them", r.Season, t.Name)
			break
		}
	}
	return append(faults, faultsOf(weather.Check(t.Days))...)
}

// Decided is what was decided about a finding of a season; false where nothing was yet.
func (t Trial) Decided(season int, finding string) (Decision, bool) {
	i := slices.IndexFunc(t.Decisions, func(d Decision) bool { return d.Season == season && d.Finding == finding })
	if i < 0 {
		return Decision{}, false
	}
	return t.Decisions[i], true
}

// Decide is the decision about a finding of a season that was found, or was decided about before. The error is
// note.Faults: it is no longer found, no reason is given, or there is no run to take out.
func (t Trial) Decide(season int, finding string, out bool, reason string) (Decision, error) {
	d := Decision{Season: season, Finding: finding, Out: out, Reason: strings.TrimSpace(reason)}
	before, known := t.Decided(season, finding)
	d.Taken = before.Taken
	s, err := t.Sum()
	if err != nil {
		return d, err
	}
	for i, r := range s.Records {
		if r.Season != season {
			continue
		}
		for _, f := range s.Totals[i].Findings {
			if f.ID() == finding {
				known, d.Taken = true, cmp.Or(f.Exclusion, d.Taken)
			}
		}
	}
	switch {
	case !known:
		return d, note.Faults{note.New("this is no longer found: a reading has been corrected, or a run taken out")}
	case d.Reason == "":
		return d, note.Faults{note.New("say why: the reason is kept with the decision")}
	case !out:
		d.Taken = nil
	case d.Taken == nil:
		return d, note.Faults{note.New("there is no run to take out here; allowed: to keep it, with a reason")}
	}
	return d, nil
}

// Sum adds up every season, without the runs that were decided to be taken out, and classes its weather. The error is
// note.Faults of all seasons.
func (t Trial) Sum() (*Summed, error) {
	var faults note.Faults
	s := &Summed{Rows: slices.Clone(t.Sums)}
	summed := map[int]bool{}
	for _, r := range t.Sums {
		if summed[r.Season] {
			continue
		}
		summed[r.Season] = true
		if !t.Options.Vacuum { // all that sums tell of what spoils a comparison
			for _, f := range Unequal(slices.DeleteFunc(slices.Clone(t.Sums), func(x UnitSeason) bool { return x.Season != r.Season })) {
				s.Notes = append(s.Notes, f.Evidence, f.Remedy)
			}
		}
	}
	records := slices.SortedStableFunc(slices.Values(t.Records), func(a, b Record) int { return cmp.Compare(a.Season, b.Season) })
	for i, r := range records {
		if i > 0 && records[i-1].Season == r.Season {
			faults = append(faults, note.New("the season %d of the trial %s stands twice", r.Season, t.Name).At(t.Where))
			continue
		}
		if len(r.Readings) == 0 {
			continue // laid out, not yet read
		}
		if summed[r.Season] {
			faults = append(faults, note.New("the season %d of the trial %s has both readings and sums; allowed: one of them", r.Season, t.Name).At(t.Where))
			continue
		}
		for _, d := range t.Decisions {
			if d.Season == r.Season && d.Out && d.Taken != nil {
				r.Exclusions = append(slices.Clone(r.Exclusions), *d.Taken)
			}
		}
		total, err := r.Sum()
		if err != nil {
			faults = append(faults, faultsOf(err)...)
			continue
		}
		s.Rows = append(s.Rows, total.Rows...)
		s.Records, s.Totals = append(s.Records, r), append(s.Totals, total)
		s.Notes = append(s.Notes, total.Notes...)
	}
	rules := weather.Usual()
	if t.Rules != nil {
		rules = *t.Rules
	}
	if len(t.Days) > 0 {
		for _, year := range t.Seasons() {
			w, err := weather.Of(year, t.Days, rules)
			if err != nil {
				faults = append(faults, faultsOf(err)...)
				break // the days or the rules: the same for every season
			}
			s.Weather = append(s.Weather, w)
			s.Notes = append(s.Notes, w.Notes...)
		}
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

// faultsOf are those of an error of this package.
func faultsOf(err error) note.Faults {
	var f note.Faults
	errors.As(err, &f)
	return f
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

// gathered are the sums of a trial in which something was gathered.
func (t Trial) gathered() (*Summed, error) {
	s, err := t.Sum()
	if err == nil && len(s.Rows) == 0 && len(t.Records) > 0 {
		err = note.Faults{note.New("the trial %s is laid out, and nothing was gathered in it yet", t.Name).At(t.Where)}
	}
	return s, err
}

// Analyse sums the trial and compares its practices.
func (t Trial) Analyse(set practice.Set) (*Analysis, *Summed, error) {
	s, err := t.gathered()
	if err != nil {
		return nil, nil, err
	}
	a, err := Analyse(s.Rows, set, t.Options)
	return a, s, err
}

// Study is the trial as a live study of the evidence: summed anew, so it follows every reading that is corrected.
func (t Trial) Study(set practice.Set) (effect.StudyEffects, error) {
	s, err := t.gathered()
	if err != nil {
		return effect.StudyEffects{}, err
	}
	return Study(s.Rows, set, t.Options, About{Name: t.Name, Site: t.Site, Caveats: t.Caveats, Seasons: s.Weather})
}

// Records are the seasons of a layout, ready for readings: each unit with its practice, and in later seasons with the
// age that its drops have by then where they were new in the first.
func (l *Layout) Records() []Record {
	var list []Record
	at := map[int]int{}
	for _, p := range l.Places {
		i, have := at[p.Season]
		if !have {
			i = len(list)
			at[p.Season] = i
			list = append(list, Record{Season: p.Season})
		}
		list[i].Plots = append(list[i].Plots, Plot{Unit: p.Unit.Name, Block: p.Unit.Block, Mainline: p.Unit.Mainline, Practice: p.Practice, Taps: p.Unit.Taps})
	}
	return list
}
