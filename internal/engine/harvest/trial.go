package harvest

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/trial"
	"spile/internal/trade/weather"
)

// Summed is a trial with its seasons' sums.
type Summed struct {
	Rows    []trial.UnitSeason // of all seasons
	Records []trial.Record     // with the exclusions that were decided, by season
	Totals  []*Total           // of Records, in their order
	Weather []weather.Season
	Notes   note.List
}

// Decide is the decision about a finding of a season that was found, or was decided about before. The error is
// note.Faults: it is no longer found, no reason is given, or there is no run to take out.
func Decide(t trial.Trial, season int, finding string, out bool, reason string) (trial.Decision, error) {
	t = t.Read()
	d := trial.Decision{Season: season, Finding: finding, Out: out, Reason: strings.TrimSpace(reason)}
	before, known := t.Decided(season, finding)
	d.Taken = before.Taken
	s, err := Of(t)
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

// Of sums every season, without the runs that were decided to be taken out, and classes its weather. The error is
// note.Faults of all seasons.
func Of(t trial.Trial) (*Summed, error) {
	t = t.Read()
	s := &Summed{Rows: slices.Clone(t.Sums)}
	faults := append(s.read(t), s.weather(t)...)
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return s, nil
}

// read adds the seasons that were read to those known by their sums.
func (s *Summed) read(t trial.Trial) (faults note.Faults) {
	fault := func(key string, args ...any) { faults = append(faults, note.New(key, args...).At(t.Where)) }
	summed := map[int][]trial.UnitSeason{}
	for _, r := range t.Sums {
		summed[r.Season] = append(summed[r.Season], r)
	}
	for _, year := range slices.Sorted(maps.Keys(summed)) {
		if !t.Options.Vacuum { // all that sums tell of what spoils a comparison
			for _, f := range Unequal(summed[year]) {
				s.Notes = append(s.Notes, f.Evidence, f.Remedy)
			}
		}
	}
	records := slices.SortedStableFunc(slices.Values(t.Records),
		func(a, b trial.Record) int { return cmp.Compare(a.Season, b.Season) })
	for i, r := range records {
		switch {
		case i > 0 && records[i-1].Season == r.Season:
			fault("the season %d of the trial %s stands twice", r.Season, t.Name)
			continue
		case len(r.Readings) == 0:
			continue // laid out, not yet read
		case summed[r.Season] != nil:
			fault("the season %d of the trial %s has both readings and sums; allowed: one of them", r.Season, t.Name)
			continue
		}
		r.Exclusions = append(slices.Clone(r.Exclusions), decided(t, r.Season)...)
		total, err := Sum(r)
		if err != nil {
			faults = append(faults, note.FaultsOf(err)...)
			continue
		}
		s.Rows = append(s.Rows, total.Rows...)
		s.Records, s.Totals = append(s.Records, r), append(s.Totals, total)
		s.Notes = append(s.Notes, total.Notes...)
	}
	return faults
}

// decided is what was decided to be taken out of a season.
func decided(t trial.Trial, season int) (list []trial.Exclusion) {
	for _, d := range t.Decisions {
		if d.Season == season && d.Out && d.Taken != nil {
			list = append(list, *d.Taken)
		}
	}
	return list
}

// weather classes the seasons, where temperatures are known.
func (s *Summed) weather(t trial.Trial) note.Faults {
	if len(t.Days) == 0 {
		return nil
	}
	rules := weather.Usual()
	if t.Rules != nil {
		rules = *t.Rules
	}
	for _, year := range t.Seasons() {
		w, err := weather.Of(year, t.Days, rules)
		if err != nil {
			return note.FaultsOf(err) // the days or the rules: the same for every season
		}
		s.Weather = append(s.Weather, w)
		s.Notes = append(s.Notes, w.Notes...)
	}
	return nil
}

// gathered are the sums of a trial in which something was gathered.
func Gathered(t trial.Trial) (*Summed, error) {
	s, err := Of(t)
	if err == nil && len(s.Rows) == 0 && len(t.Records) > 0 {
		err = note.Faults{note.New("the trial %s is laid out, and nothing was gathered in it yet", t.Name).At(t.Where)}
	}
	return s, err
}
