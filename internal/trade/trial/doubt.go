package trial

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/doubt"
	"spile/internal/trade/weather"
)

// What is usual of a trial beyond single numbers: common practice, no source.
const (
	usualYield = 400.0 // litres a tap and season, far above what the best taps give
	unitsApart = 4.0   // times the middle of a season's units, or less than one part in so many
	sdsApart   = 5.0   // and standard deviations of the logarithms of that season's units
	countedOff = 0.2   // of the taps laid out
	longEvent  = 60 * 24 * time.Hour
	firstMonth = time.December // of what is read and happens
	lastMonth  = time.May
)

// Doubts asks about what is possible and unusual: numbers beyond what their columns say is usual, one question a column
// and season, and what does not go together. latest is the last season that there may be anything of; 0 is not known.
func (t Trial) Doubts(latest int) doubt.Questions {
	t = t.Read()
	a := asker{trial: t.Name}
	byDate := func(at time.Time) int { return SeasonOf(at) }
	beyond(&a, t, Layouts, func(r *Placed) (int, note.Where) { return r.Season, note.Where{} })
	beyond(&a, t, Readings, func(r *Reading) (int, note.Where) { return byDate(r.At), r.Where })
	beyond(&a, t, Counts, func(c *Count) (int, note.Where) { return byDate(c.At), c.Where })
	beyond(&a, t, Sums, func(r *UnitSeason) (int, note.Where) { return r.Season, r.Where })
	beyond(&a, t, Days, func(d *weather.Day) (int, note.Where) { return byDate(d.Date), note.Where{} })
	for _, year := range t.Seasons() {
		if year < doubt.FirstYear || latest > 0 && year > latest {
			a.ask(note.New("the trial has the season %s; is that meant?", strconv.Itoa(year)), "season",
				strconv.Itoa(year))
		}
	}
	a.yields(t.Sums)
	a.apart(t.Sums)
	for _, r := range t.Records {
		a.counts(r)
		a.times(r)
	}
	if r := t.Rules; r != nil && cmp.Or(cmp.Compare(r.From.Month, r.To.Month), cmp.Compare(r.From.Day, r.To.Day)) > 0 {
		a.ask(note.New("the days of a season are looked at from %s to %s; is that meant?", r.From.String(),
			r.To.String()),
			"season_rules", r.From.String(), r.To.String())
	}
	return a.questions
}

// asker gathers the questions of a trial.
type asker struct {
	trial     string
	questions doubt.Questions
}

func (a *asker) ask(n note.Note, thing ...string) {
	a.questions = append(a.questions, doubt.About(n, append([]string{"trial", a.trial}, thing...)...))
}

// beyond asks about the numbers of a table that lie beyond what is usual, one question a column and season.
func beyond[T any](a *asker, t Trial, table Table[T], of func(*T) (season int, at note.Where)) {
	rows := table.Rows(t)
	for _, c := range table.Columns {
		if c.Get == nil || c.Instead != "" || c.Usual == (column.Range{}) {
			continue
		}
		type found struct {
			rows  int
			first note.Where
			worst float64
		}
		seasons := map[int]*found{}
		for i := range rows {
			x, given := number(c.Get(&rows[i]))
			far := c.Usual.Beyond(x)
			if !given || far == 0 {
				continue
			}
			year, at := of(&rows[i])
			f := seasons[year]
			if f == nil {
				at.Column = c.Name
				f = &found{first: at, worst: x}
				seasons[year] = f
			}
			if f.rows++; far > c.Usual.Beyond(f.worst) {
				f.worst = x
			}
		}
		for _, year := range slices.Sorted(maps.Keys(seasons)) {
			f := seasons[year]
			n := note.New("in %s, %s: beyond the usual %v to %v, such as %v (rows: %d); is that meant?",
				strconv.Itoa(year), note.Term(cmp.Or(c.Label, c.Name)), c.Usual.Low, c.Usual.High, f.worst, f.rows)
			if strings.HasPrefix(c.Unit, "°") || c.Unit == "kPa" {
				n = note.New("in %s, %s: beyond the usual %v to %v %s, such as %v (rows: %d); is that meant?",
					strconv.Itoa(year), note.Term(cmp.Or(c.Label, c.Name)), c.Usual.Low, c.Usual.High, c.Unit, f.worst,
					f.rows)
			}
			a.ask(n.At(f.first), table.Name, c.Name, fmt.Sprint(year, f.rows, f.worst))
		}
	}
}

func number(v any) (float64, bool) {
	switch v := v.(type) {
	case float64:
		return v, true
	case int:
		return float64(v), true
	}
	return 0, false
}

// yields asks about sums that no tap gives.
func (a *asker) yields(rows []UnitSeason) {
	for _, r := range rows {
		if r.PerTap() > usualYield {
			a.ask(note.New("the unit %s gave %.0f litres a tap in %s, more than any tap is known to: are volume and "+
				"taps so?",
				note.Quote(r.Unit), r.PerTap(), strconv.Itoa(r.Season)).
				At(r.Where), "yield", r.Unit, fmt.Sprint(r.Season, r.Volume, r.Taps))
		}
	}
}

// apart asks about the unit of a season that gave far more or less a tap than the others, as a slipped decimal does.
// How far units stray is 1.4826 times the median of the logarithms' distances from their median: the standard deviation
// of a normal (Rousseeuw & Croux 1993, J. Am. Stat. Assoc. 88:1273), which one wild unit does not move.
func (a *asker) apart(rows []UnitSeason) {
	seasons := map[int][]UnitSeason{}
	for _, r := range rows {
		if r.Volume > 0 && r.Taps > 0 && r.PerTap() <= usualYield { // else it is asked about already
			seasons[r.Season] = append(seasons[r.Season], r)
		}
	}
	for _, year := range slices.Sorted(maps.Keys(seasons)) {
		units := seasons[year]
		logs := make([]float64, len(units))
		for i, r := range units {
			logs[i] = math.Log(r.PerTap())
		}
		middle := median(logs)
		far := make([]float64, len(units))
		for i, y := range logs {
			far[i] = math.Abs(y - middle)
		}
		most := slices.Max(far)
		worst := units[slices.Index(far, most)]
		if len(units) > 3 && most > max(math.Log(unitsApart), sdsApart*1.4826*median(far)) {
			a.ask(note.New("the unit %s gave %.1f litres a tap in %s, where the middle of that season's units "+
				"is %.1f: are volume and taps so?",
				note.Quote(worst.Unit), worst.PerTap(), strconv.Itoa(year), math.Exp(middle)).
				At(worst.Where), "apart", worst.Unit, fmt.Sprint(year, worst.Volume, worst.Taps))
		}
	}
}

// median of numbers, at least one.
func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}

// counts asks about taps counted that are far from those laid out: yields are divided by them.
func (a *asker) counts(r Record) {
	for _, c := range r.Counts {
		for _, p := range r.Plots {
			n := c.Taps - c.Again
			if p.Unit == c.Unit && float64(max(n-p.Taps, p.Taps-n)) > max(1, countedOff*float64(p.Taps)) {
				a.ask(note.New("%d taps were counted at the unit %s, which was laid out with %d; yields are divided "+
					"by what is counted: is that meant?",
					n, note.Quote(c.Unit), p.Taps).At(c.Where), "count", c.Unit, column.MomentText(c.At),
					fmt.Sprint(n, p.Taps))
			}
		}
	}
}

// times asks about what was read or happened out of season, and events that last long.
func (a *asker) times(r Record) {
	out, first := 0, Reading{}
	for _, x := range r.Readings {
		if m := x.At.Month(); m > lastMonth && m < firstMonth {
			if out++; out == 1 {
				first = x
			}
		}
	}
	if out > 0 {
		a.ask(note.New("%d readings are of no month from December to May, such as that of %s; is that meant?", out,
			first.At.Format(time.DateOnly)).
			At(first.Where), "month", strconv.Itoa(r.Season), strconv.Itoa(out), column.MomentText(first.At))
	}
	for _, e := range r.Events {
		if d := e.To.Sub(e.From); d > longEvent {
			a.ask(note.New("the event %s lasts %d days; is that meant?", note.Term(e.Kind), int(d.Hours()/24)).
				At(e.Where),
				"event", string(e.Kind), column.MomentText(e.From), column.MomentText(e.To))
		}
	}
}
