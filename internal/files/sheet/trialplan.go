package sheet

import (
	"cmp"
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/trial"
	"spile/internal/trade/weather"
)

// layout reads which unit got which practice in which season. A season that is laid out anew takes the place of what
// was.
func (g *trialGather) layout(records []*record) {
	fresh := map[int]bool{}
	seen, coded := map[unitSeason]int{}, map[unitSeason]string{}
	for _, rec := range g.t.Records {
		for _, p := range rec.Plots {
			coded[unitSeason{rec.Season, p.Unit}] = p.Code
		}
	}
	for _, r := range records {
		p, _ := take(r, trial.Layouts.Columns, g.set)
		if p.Season == 0 || p.Unit == "" {
			continue
		}
		p.Code = strings.ToUpper(p.Code)
		if was := coded[unitSeason{p.Season, p.Unit}]; was != "" && p.Code != "" && p.Code != was {
			r.fault("code", note.New("the unit %s has the code %s already, and sheets and readings may name it; "+
				"allowed: that code", quote(p.Unit), was))
		}
		p.Code = cmp.Or(p.Code, coded[unitSeason{p.Season, p.Unit}])
		key := unitSeason{p.Season, p.Unit}
		if row, twice := seen[key]; twice {
			r.fault("unit",
				note.New("the unit %s stands twice in this season, here and in row %d; allowed: one row a unit and "+
					"season", quote(p.Unit), row))
		}
		seen[key] = r.row
		rec := g.record(p.Season)
		if rec == nil {
			g.t.Records = append(g.t.Records, trial.Record{Season: p.Season})
			rec = &g.t.Records[len(g.t.Records)-1]
		} else if !fresh[p.Season] {
			rec.Plots = nil
		}
		fresh[p.Season] = true
		rec.Plots = append(rec.Plots, p.Plot)
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
		d, _ := take(r, trial.Decisions.Columns, g.set)
		if d.Taken != nil {
			r.needs("from", "to")
		}
		g.t.Decisions = append(g.t.Decisions, d)
	}
}

// unitsBelow are the keys of a unit of a design, whose tag is called its name there.
func unitsBelow(prefix string) (list []column.Column[*trial.Unit]) {
	for _, c := range trial.Units.Columns {
		if c.Instead != "" {
			continue
		}
		if c.Name == "unit" {
			c.Name = "name"
		}
		c.Name = prefix + c.Name
		list = append(list, c)
	}
	return list
}

// trialKeys is what trial.toml may hold.
func trialKeys() schema {
	var keys []string
	for _, k := range trial.Keys {
		if k.Kind == column.List {
			k.Name += ".*"
		}
		keys = append(keys, k.Name)
	}
	return grow(append(keys, column.Names(unitsBelow("design.unit.*."))...)...)
}

// plan takes trial.toml, or a table of its keys.
func (g *trialGather) plan(t trialTable) {
	r := t.toml
	if r == nil {
		r = keyedRecord(t.head.file, t.records, g.faults)
		trialKeys().check(r)
	}
	x := &g.t
	x.Where = note.Where{File: r.file}
	if name := r.text("name"); x.Name != "" && name != "" && name != x.Name {
		r.fault("name", note.New("this is of the trial %s, and %s was asked for", quote(name), quote(x.Name)))
	}
	keys := slices.Clone(trial.Keys)
	for i := range keys {
		keys[i].Needed = false // what the trial is called and where it is may be known already
	}
	if r.below("analysis") != nil {
		x.Options = trial.Options{}
	}
	if r.below("design") != nil {
		x.Question = &trial.Question{}
	}
	if r.below("season_rules") != nil {
		x.Rules = new(weather.Usual())
	}
	fill(r, x, keys, g.set)
	for _, i := range r.below("design.unit") {
		var u trial.Unit
		fill(r, &u, unitsBelow("design.unit."+i+"."), g.set)
		x.Question.Units = append(x.Question.Units, u)
	}
}
