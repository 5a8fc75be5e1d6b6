package sheet

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

// TrialTables are the tables of a trial, each in the form in which Trial reads it back: its plan, its layout, and what
// there is of the rest. Volumes are in litres, lengths in metres, vacuum in kPa, temperatures in °C.
func TrialTables(t trial.Trial) []Table {
	var tables []Table
	table := func(name string, rows [][]any, columns ...string) {
		if len(rows) == 0 {
			return
		}
		x := Table{Name: name, Rows: rows}
		for _, c := range columns {
			x.Columns = append(x.Columns, Column{Name: c})
		}
		tables = append(tables, x)
	}
	table(planRole, planRows(t), "key", "value")
	var layout, readings, events, calibrations, tanks, counts [][]any
	for _, r := range t.Records {
		for _, p := range r.Plots {
			layout = append(layout, []any{r.Season, p.Block, p.Unit, string(p.Practice), p.Taps, maybe(p.DropAge), p.Mainline})
		}
		for _, x := range r.Readings {
			readings = append(readings, []any{x.Unit, momentText(x.At), maybe(x.Volume), maybe(x.Counter), maybe(x.Depth), maybe(x.Brix), maybe(x.Vacuum), x.Note})
		}
		for _, e := range r.Events {
			events = append(events, []any{string(e.Kind), momentText(e.From), e.To.Format("2006-01-02T15:04:05"), strings.Join(e.Units, ";"), e.Note})
		}
		for _, c := range r.Calibrations {
			calibrations = append(calibrations, []any{c.Unit, momentText(c.At), string(c.Flow), float64(c.Dump)})
		}
		for _, k := range r.Tanks {
			for i := range k.Depths {
				tanks = append(tanks, []any{k.Unit, r.Season, float64(k.Depths[i]), float64(k.Volumes[i])})
			}
		}
		for _, c := range r.Counts {
			counts = append(counts, []any{c.Unit, momentText(c.At), c.Taps, c.Again, c.Note})
		}
	}
	table(layoutRole, layout, "season", "block", "unit", "practice", "taps", "drop_age", "mainline")
	table(longRole, readings, "unit", "date", "volume_l", "counter", "depth_m", "brix", "vacuum_kpa", "note")
	table(eventsRole, events, "kind", "from", "to", "units", "note")
	table(calibrationRole, calibrations, "unit", "date", "flow", "dump_l")
	table(tanksRole, tanks, "unit", "season", "depth_m", "volume_l")
	table(countsRole, counts, "unit", "date", "taps", "again", "note")
	var sums, days, decisions [][]any
	for _, r := range t.Sums {
		sums = append(sums, []any{r.Unit, r.Block, r.Season, string(r.Practice), r.Taps, float64(r.Volume), yesNo(r.AtLeast), maybe(r.Brix), maybe(r.DropAge), maybe(r.Vacuum)})
	}
	for _, d := range t.Days {
		days = append(days, []any{d.Date.Format(time.DateOnly), maybe(d.Min), maybe(d.Max)})
	}
	for _, d := range t.Decisions {
		row := []any{d.Season, d.Finding, yesNo(d.Out), d.Reason, nil, nil, nil}
		if x := d.Taken; x != nil {
			row[4], row[5], row[6] = x.Block, momentText(x.From), momentText(x.To)
		}
		decisions = append(decisions, row)
	}
	table(sumsRole, sums, "unit", "block", "season", "practice", "taps", "volume_l", "at_least", "brix", "drop_age", "vacuum_kpa")
	table(daysRole, days, "date", "tmin_c", "tmax_c")
	table(decisionsRole, decisions, "season", "finding", "out", "reason", "block", "from", "to")
	return tables
}

// momentText is a time as moment reads it: a day alone where it is midnight.
func momentText(t time.Time) string {
	return strings.TrimSuffix(t.Format("2006-01-02T15:04:05"), "T00:00:00")
}

// maybe is what a pointer points at, or an empty cell.
func maybe[T ~float64 | int](p *T) any {
	if p == nil {
		return nil
	}
	switch x := any(*p).(type) {
	case int:
		return x
	case float64:
		return x
	case unit.Volume:
		return float64(x)
	case unit.Length:
		return float64(x)
	case unit.Pressure:
		return float64(x)
	case unit.Temperature:
		return float64(x)
	}
	panic("sheet: a quantity that no table holds")
}

// planRows are the keys of trial.toml.
func planRows(t trial.Trial) [][]any {
	var rows [][]any
	text := func(key, value string) {
		if value != "" {
			rows = append(rows, []any{key, value})
		}
	}
	whole := func(key string, value int) {
		if value != 0 {
			text(key, strconv.Itoa(value))
		}
	}
	yes := func(key string, value bool) {
		if value {
			text(key, yesNo(true))
		}
	}
	text("name", t.Name)
	text("site", t.Site)
	text("note", t.Note)
	for i, c := range t.Caveats {
		text(fmt.Sprintf("caveats.%d", i+1), string(c))
	}
	o := t.Options
	text("analysis.reference", string(o.Reference))
	text("analysis.response", string(o.Response))
	text("analysis.place", o.Place)
	whole("analysis.before", o.Before)
	yes("analysis.vacuum", o.Vacuum)
	text("analysis.inference", string(o.Inference))
	if q := t.Question; q != nil {
		for i, p := range q.Practices {
			text(fmt.Sprintf("design.practices.%d", i+1), string(p))
		}
		text("design.reference", string(q.Reference))
		text("design.kind", string(q.Design))
		whole("design.replicates", q.Replicates)
		whole("design.taps", q.Taps)
		whole("design.seasons", q.Seasons)
		whole("design.first_season", q.FirstSeason)
		yes("design.more_reference", q.MoreReference)
		yes("design.blind", q.Blind)
		if q.PlasticAge != nil {
			text("design.plastic_age", strconv.Itoa(*q.PlasticAge))
		}
		text("design.seed", strconv.FormatUint(q.Seed, 10))
		for i, u := range q.Units {
			at := fmt.Sprintf("design.unit.%d.", i+1)
			text(at+"name", u.Name)
			text(at+"kind", string(u.Kind))
			text(at+"block", u.Block)
			text(at+"chamber", u.Chamber)
			text(at+"mainline", u.Mainline)
			text(at+"species", u.Species)
			if u.Diameter != 0 {
				rows = append(rows, []any{at + "diameter_cm", u.Diameter})
			}
			whole(at+"taps", u.Taps)
		}
	}
	if r := t.Rules; r != nil {
		day := func(d weather.MonthDay) string { return fmt.Sprintf("%02d-%02d", d.Month, d.Day) }
		text("season_rules.from", day(r.From))
		text("season_rules.to", day(r.To))
		for _, x := range []struct {
			key string
			at  unit.Temperature
		}{{"freeze_c", r.Freeze}, {"thaw_c", r.Thaw}, {"warm_c", r.Warm}, {"hot_c", r.Hot}, {"base_c", r.Base}} {
			rows = append(rows, []any{"season_rules." + x.key, float64(x.at)})
		}
		for _, x := range []struct {
			key string
			n   int
		}{{"hot_days", r.HotDays}, {"last_days", r.LastDays}, {"short_up_to", r.ShortUpTo}, {"long_from", r.LongFrom}, {"max_gap", r.MaxGap}} {
			text("season_rules."+x.key, strconv.Itoa(x.n))
		}
	}
	return rows
}
