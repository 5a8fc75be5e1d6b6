package sheet

import (
	"strconv"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

// layout reads which unit got which practice in which season. A season that is laid out anew takes the place of what was.
func (g *trialGather) layout(records []*record) {
	keys := make([]string, len(g.set))
	for i, k := range g.set.Keys() {
		keys[i] = string(k)
	}
	fresh := map[int]bool{}
	seen := map[unitSeason]int{}
	for _, r := range records {
		r.need("season")
		y := r.whole("season", spring)
		r.need("unit")
		p := trial.Plot{Unit: r.text("unit"), Block: r.text("block"), Code: strings.ToUpper(r.text("code")), Mainline: r.text("mainline"), DropAge: r.whole("drop_age", seasons)}
		r.need("practice")
		p.Practice = practice.Key(r.choice("practice", keys...))
		p.Taps = 1
		if r.need("taps") {
			if n := r.whole("taps", count); n != nil {
				p.Taps = *n
			}
		}
		if y == nil || p.Unit == "" {
			continue
		}
		if row, twice := seen[unitSeason{*y, p.Unit}]; twice {
			r.fault("unit", note.New("the unit %s stands twice in this season, here and in row %d; allowed: one row a unit and season", quote(p.Unit), row))
		}
		seen[unitSeason{*y, p.Unit}] = r.row
		rec := g.record(*y)
		if rec == nil {
			g.t.Records = append(g.t.Records, trial.Record{Season: *y})
			rec = &g.t.Records[len(g.t.Records)-1]
		} else if !fresh[*y] {
			rec.Plots = nil
		}
		fresh[*y] = true
		rec.Plots = append(rec.Plots, p)
	}
}

// sums takes the rows of a season table.
func (g *trialGather) sums(t trialTable) {
	s := seasonRows(t.head, t.records, g.set, g.faults)
	g.notes = append(g.notes, s.Notes...)
	g.t.Sums = append(g.t.Sums, s.Rows...)
}

func (g *trialGather) decisions(records []*record) {
	for _, r := range records {
		for _, key := range []string{"season", "finding", "reason"} {
			r.need(key)
		}
		d := trial.Decision{Finding: r.text("finding"), Out: r.yes("out"), Reason: r.text("reason")}
		if y := r.whole("season", spring); y != nil {
			d.Season = *y
		}
		if r.has("from") || r.has("block") {
			x := trial.Exclusion{Block: r.text("block")}
			from, a := r.moment("from")
			to, b := r.moment("to")
			if x.From, x.To = from, to; !a || !b {
				r.need("from")
				r.need("to")
				continue
			}
			d.Taken = &x
		}
		g.t.Decisions = append(g.t.Decisions, d)
	}
}

// trialKeys are the keys of trial.toml; docs/data.md says what each means.
var trialKeys = grow(
	"name", "site", "note", "caveats.*",
	"analysis.reference", "analysis.response", "analysis.place", "analysis.before", "analysis.vacuum", "analysis.inference",
	"design.practices.*", "design.reference", "design.kind", "design.replicates", "design.taps", "design.seasons", "design.first_season",
	"design.more_reference", "design.blind", "design.plastic_age", "design.seed",
	"design.unit.*.name", "design.unit.*.kind", "design.unit.*.block", "design.unit.*.chamber", "design.unit.*.mainline", "design.unit.*.species",
	"design.unit.*.diameter_cm", "design.unit.*.taps",
	"season_rules.from", "season_rules.to", "season_rules.freeze_c", "season_rules.thaw_c", "season_rules.warm_c", "season_rules.hot_c",
	"season_rules.hot_days", "season_rules.last_days", "season_rules.base_c", "season_rules.short_up_to", "season_rules.long_from", "season_rules.max_gap",
)

// plan takes trial.toml, or a table of its keys.
func (g *trialGather) plan(t trialTable) {
	r := t.toml
	if r == nil {
		r = keyedRecord(t.head.file, t.records, g.faults)
		trialKeys.check(r)
	}
	x := &g.t
	x.Where = note.Where{File: r.file}
	if r.has("name") {
		name := r.text("name")
		if x.Name != "" && name != x.Name {
			r.fault("name", note.New("this is of the trial %s, and %s was asked for", quote(name), quote(x.Name)))
		}
		x.Name = name
	}
	if r.has("site") {
		x.Site = r.text("site")
	}
	if r.has("note") {
		x.Note = r.text("note")
	}
	if list := r.below("caveats"); list != nil {
		x.Caveats = nil
		for _, i := range list {
			x.Caveats = append(x.Caveats, evidence.Caveat(r.text("caveats."+i)))
		}
	}
	if r.below("analysis") != nil {
		keys := g.set.Keys()
		words := make([]string, len(keys))
		for i, k := range keys {
			words[i] = string(k)
		}
		x.Options = trial.Options{
			Reference: practice.Key(r.choice("analysis.reference", words...)),
			Response:  trial.Response(r.choice("analysis.response", string(trial.Sap), string(trial.Syrup))),
			Place:     r.text("analysis.place"), Vacuum: r.yes("analysis.vacuum"),
		}
		if p := x.Options.Place; p != "" && !place.Exists(p) {
			r.fault("analysis.place", place.Fault(p))
		}
		x.Options.Inference = trial.Inference(r.choice("analysis.inference", string(trial.KenwardRoger), string(trial.Wald)))
		if y := r.whole("analysis.before", spring); y != nil {
			x.Options.Before = *y
		}
	}
	if r.below("design") != nil {
		x.Question = g.question(r)
	}
	if r.below("season_rules") != nil {
		x.Rules = seasonRules(r)
	}
}

func (g *trialGather) question(r *record) *trial.Question {
	q := &trial.Question{
		Reference: practice.Key(r.text("design.reference")),
		Design:    trial.Kind(r.choice("design.kind", string(trial.Randomised), string(trial.Blocks), string(trial.Pairs), string(trial.Latin))),
		Blind:     r.yes("design.blind"), MoreReference: r.yes("design.more_reference"), PlasticAge: r.whole("design.plastic_age", seasons),
	}
	for _, i := range r.below("design.practices") {
		q.Practices = append(q.Practices, practice.Key(r.text("design.practices."+i)))
	}
	whole := func(key string, b bounds) int {
		if x := r.whole("design."+key, b); x != nil {
			return *x
		}
		return 0
	}
	q.Replicates, q.Taps, q.Seasons = whole("replicates", count), whole("taps", count), whole("seasons", count)
	q.FirstSeason = whole("first_season", spring)
	if c, ok := r.get("design.seed"); ok {
		seed, err := strconv.ParseUint(strings.TrimSpace(c.text), 10, 64)
		if err != nil {
			r.fault("design.seed", note.New("%s is not a seed; allowed: a whole number from 0", quote(c.text)))
		}
		q.Seed = seed
	}
	for _, i := range r.below("design.unit") {
		at := "design.unit." + i + "."
		u := trial.Unit{Name: r.text(at + "name"), Kind: evidence.UnitKind(r.choice(at+"kind", string(evidence.Tree), string(evidence.Chamber), string(evidence.Mainline))),
			Block: r.text(at + "block"), Chamber: r.text(at + "chamber"), Mainline: r.text(at + "mainline"), Species: r.text(at + "species")}
		if x := r.number(at+"diameter_cm", bounds{Low: 0, High: 500}); x != nil {
			u.Diameter = *x
		}
		if x := r.whole(at+"taps", bounds{Low: 0, High: most}); x != nil {
			u.Taps = *x
		}
		q.Units = append(q.Units, u)
	}
	return q
}

// seasonRules reads rules for a season's class; those not given are the usual ones.
func seasonRules(r *record) *weather.Rules {
	w := weather.Usual()
	day := func(key string, to *weather.MonthDay) {
		if !r.has("season_rules." + key) {
			return
		}
		text := r.text("season_rules." + key)
		t, err := time.Parse("01-02", text)
		if err != nil {
			r.fault("season_rules."+key, note.New("%s is not a day of a year; allowed: month-day, such as 02-15", quote(text)))
			return
		}
		*to = weather.MonthDay{Month: t.Month(), Day: t.Day()}
	}
	day("from", &w.From)
	day("to", &w.To)
	for key, to := range map[string]*unit.Temperature{"freeze_c": &w.Freeze, "thaw_c": &w.Thaw, "warm_c": &w.Warm, "hot_c": &w.Hot, "base_c": &w.Base} {
		if x := r.number("season_rules."+key, bounds{Low: -90, High: 57}); x != nil {
			*to = unit.Celsius.Of(*x)
		}
	}
	for key, to := range map[string]*int{"hot_days": &w.HotDays, "last_days": &w.LastDays, "short_up_to": &w.ShortUpTo, "long_from": &w.LongFrom, "max_gap": &w.MaxGap} {
		if x := r.whole("season_rules."+key, bounds{Low: 0, High: 366}); x != nil {
			*to = *x
		}
	}
	return &w
}
