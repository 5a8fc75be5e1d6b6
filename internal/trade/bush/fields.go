package bush

import (
	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// The keys of a sugarbush's file are declared here, beside those that price.Fields lets it have of its own. A number
// whose unit is a key of price.Units stands in that unit. What is usual is common practice, without a source.

// Whole is what is said of the whole sugarbush, beside what price.Fields lets it have of its own. A form asks for what
// bears a label.
var Whole = []column.Column[*Sugarbush]{
	{Name: "name", Needed: true, Label: "name", Holds: "what the handout calls it",
		Field: column.Words(func(b *Sugarbush) *string { return &b.Name })},
	{Name: "first_season", Needed: true, Bounds: column.Spring,
		Label: "first season planned", Hint: "the year of its spring",
		Holds: "first season to plan, the year of its spring",
		Field: column.Int(func(b *Sugarbush) *int { return &b.First })},
	{Name: "seasons", Bounds: column.Bounds{Low: 1, High: MaxSeasons, Whole: true},
		Label: "seasons planned", Hint: "1 to 15", Holds: "how many seasons to plan", Allowed: "1 to 15; left out: 10",
		Field: column.Int(func(b *Sugarbush) *int { return &b.Seasons })},
	{Name: "cash", Bounds: column.Bounds{Low: 0, High: 1e8}, Unit: "money",
		Usual: column.Range{Low: 50, High: 5e5},
		Label: "most cash in a season before the sap is sold", Allowed: "0 or more; left out: no limit",
		Holds: "most that a season may take before its sap is sold: materials with the spare, wages, chemicals, " +
			"repairs, disposal",
		Field: column.Of(func(b *Sugarbush) **float64 { return &b.Cash })},
	{Name: "spare", Bounds: column.Bounds{Low: 0, High: 1}, Unit: "fraction",
		Usual: column.Range{Low: 0, High: 0.3},
		Label: "spare allowance", Hint: "0.05 is 5 %%", Holds: "bought over what is needed",
		Allowed: "0 to 1; left out: 0.05",
		Field:   column.Plain(func(b *Sugarbush) *float64 { return &b.Spare })},
	{Name: "currency", Label: "currency", Hint: "where it is not that of the prices",
		Holds: "its money, where that is not the price file's", Allowed: "a code of ISO 4217"},
	{Name: "exchange", Bounds: column.Positive, Label: "exchange", Hint: "what one unit of the prices’ money is in it",
		Holds:   "what one unit of the price file's money is in it; all its prices are turned into it",
		Allowed: "above 0; needed where `currency` is another", Field: column.Field[*Sugarbush]{Kind: column.Number}},
	{Name: "drop_length_in", Bounds: column.Positive, Unit: "inches",
		Usual: column.Range{Low: 10, High: 80},
		Holds: "tubing in one drop", Allowed: "above 0; left out: 30 inches (common practice, no source)",
		Field: column.Filled(unit.Inch, func(b *Sugarbush) *unit.Length { return &b.DropLength })},
	{Name: "drop_length_cm", Instead: "drop_length_in", Bounds: column.Positive, Unit: "centimetres",
		Usual: column.Range{Low: 25, High: 200},
		Holds: "the same in centimetres", Allowed: "above 0; left out: 30 inches (common practice, no source)",
		Field: column.Filled(unit.Centimetre, func(b *Sugarbush) *unit.Length { return &b.DropLength })},
}

// Crews is what is said of who works in a window: window.WINDOW.KEY.
var Crews = []column.Column[*Crew]{
	{Name: "people", Needed: true, Bounds: column.NotBelow, Label: "people",
		Usual: column.Range{Low: 0, High: 50},
		Holds: "the crew that has time for this work, over and above tapping and pulling; WINDOW is `shop`, " +
			"`before-tapping`, `tapping` or `after-season`; one that is not named has no limit",
		Field: column.Plain(func(c *Crew) *float64 { return &c.People })},
	{Name: "days", Needed: true, Bounds: column.NotBelow, Label: "days", Holds: "the days that it has",
		Usual: column.Range{Low: 0, High: 120},
		Field: column.Plain(func(c *Crew) *float64 { return &c.Days })},
	{Name: "hours_a_day", Bounds: column.Bounds{Low: 0, High: 24, Open: true}, Unit: "hours",
		Usual: column.Range{Low: 1, High: 14},
		Label: "hours a day", Hint: "8 if blank", Holds: "how long a day is",
		Allowed: "above 0, at most 24; left out: 8",
		Field:   column.Plain(func(c *Crew) *float64 { return &c.HoursADay })},
}

// Sections is what is said of a section: section.NAME.KEY. Each is a column of a table of sections, too.
var Sections = []column.Column[*Section]{
	{Name: "taps", Needed: true, Bounds: column.Bounds{Low: 1, High: 1e6, Whole: true},
		Usual: column.Range{Low: 1, High: 5e4},
		Label: "taps", Unit: "taps", Holds: "its taps", Allowed: "whole, 1 to 1,000,000",
		Field: column.Int(func(x *Section) *int { return &x.Taps })},
	{Name: "practice", Needed: true, Label: "done last season",
		Holds: "last season's practice, under which `yield` was measured", Allowed: "a key of a practice",
		Field: column.Key(func(x *Section) *practice.Key { return &x.Practice })},
	{Name: "every", Bounds: column.Count, Unit: "seasons",
		Usual: column.Range{Low: 1, High: 15},
		Label: "drops replaced every … seasons", Hint: "where they are by rule",
		Holds: "where that practice replaces drops: every so many seasons", Allowed: "whole, 1 or more",
		Field: column.Int(func(x *Section) *int { return &x.Every })},
	{Name: "drops_replaced", Bounds: column.Spring, Label: "drops last replaced",
		Hint: "season; blank: long ago", Holds: "season in which the drops were last replaced",
		Allowed: "a year; left out: long ago", Field: column.Int(func(x *Section) *int { return &x.DropsReplaced })},
	{Name: "yield", Bounds: column.Positive, Unit: "units.sap",
		Usual: column.Range{Low: 20, High: 150}, // litres: 5 to 40 US gallons
		Label: "usual sap a tap and season", Hint: "in the unit of sap", Holds: "usual sap of a tap",
		Allowed: "above 0; left out: the price file's baseline",
		Field:   column.Of(func(x *Section) **float64 { return &x.YieldL })},
	{Name: "brix", Bounds: column.Bounds{Low: 0, High: 20, Open: true}, Unit: "°Bx",
		Usual: column.Range{Low: 1, High: 4},
		Label: "usual sugar", Hint: "°Bx", Holds: "usual sugar of its sap",
		Allowed: "above 0, at most 20; left out: as the baseline",
		Field:   column.Of(func(x *Section) **float64 { return &x.Brix })},
	{Name: "vacuum_inhg", Bounds: column.InHg, Unit: "inHg", Label: "vacuum", Hint: "inHg; 0: gravity",
		Usual: column.Range{Low: 0, High: 28.5},
		Holds: "vacuum at the end of the laterals; 0: gravity", Allowed: "left out: not known; 0 to 29.92",
		Field: column.Quantity(unit.InchOfMercury, func(x *Section) **unit.Pressure { return &x.Vacuum })},
	{Name: "vacuum_kpa", Instead: "vacuum_inhg", Bounds: column.KPa, Unit: "kPa", Label: "vacuum",
		Usual: column.Range{Low: 0, High: 96.5},
		Hint:  "kPa; 0: gravity", Holds: "the same in kPa",
		Field: column.Quantity(unit.Kilopascal, func(x *Section) **unit.Pressure { return &x.Vacuum })},
	{Name: "tubing_in", Bounds: column.Bounds{Low: 0, High: 4, Open: true}, Unit: "inches",
		Usual: column.Range{Low: 0.17, High: 0.5},
		Label: "tubing, inside", Hint: "inches, such as 5/16", Holds: "inside diameter of the laterals",
		Allowed: "`\"5/16\"`, or `0.3125`", Field: column.PlainSize(func(x *Section) *float64 { return &x.TubingIn })},
	{Name: "line_age", Bounds: column.Bounds{Low: 0, High: 100}, Unit: "seasons",
		Usual: column.Range{Low: 0, High: 30},
		Label: "age of the tubing", Hint: "seasons", Holds: "age of its laterals",
		Field: column.Of(func(x *Section) **float64 { return &x.LineAge })},
	{Name: "species", Label: "trees", Hint: "such as sugar maple", Holds: "the trees",
		Allowed: "any text, such as `sugar maple`",
		Field:   column.Words(func(x *Section) *string { return &x.Species })},
	{Name: "releaser", Words: []string{"mechanical", "electric"}, Label: "releaser",
		Holds: "kept, not reckoned with", Field: column.Words(func(x *Section) *string { return &x.Releaser })},
	{Name: "collection", Words: []string{"tubing", "buckets"}, Label: "collected by",
		Holds: "what its sap is collected by", Allowed: "`tubing`, `buckets`; left out: `tubing`",
		Field: column.Field[*Section]{Kind: column.Text,
			Get: func(x *Section) any { return map[bool]string{true: "buckets"}[x.Buckets] },
			Set: func(x *Section, v any) { x.Buckets = v == "buckets" }}},
	{Name: "reach_min", Bounds: column.Bounds{Low: 0, High: 600}, Unit: "minutes",
		Usual: column.Range{Low: 0, High: 120},
		Label: "minutes to reach it", Hint: "one way", Holds: "minutes to reach it, one way",
		Field: column.Plain(func(x *Section) *float64 { return &x.ReachMin })},
	{Name: "unwanted", Label: "not wanted there", Hint: "such as check-valve; silver-spout",
		Holds: "practices that are not wanted there", Allowed: "a list of keys",
		Field: column.Keys(func(x *Section) *[]practice.Key { return &x.Unwanted })},
}
