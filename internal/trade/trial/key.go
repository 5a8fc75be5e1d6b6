package trial

import (
	"slices"
	"strconv"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

// Keys are those of trial.toml, which says what a trial is: its name and place, how it is analysed, what its layout was
// drawn from (but for the units, which are Units below design.unit), and what counts in its seasons' weather.
var Keys = slices.Concat(
	[]column.Column[*Trial]{
		{Name: "name", Needed: true, Holds: "also of the study that it is in the evidence",
			Field: column.Words(func(t *Trial) *string { return &t.Name })},
		{Name: "site", Needed: true, Holds: "where it is",
			Field: column.Words(func(t *Trial) *string { return &t.Site })},
		{Name: "note", Holds: "words", Field: column.Words(func(t *Trial) *string { return &t.Note })},
		{Name: "caveats", Holds: "reasons to read its gains with care", Allowed: "a list of keys",
			Field: column.ListOf(func(t *Trial) *[]evidence.Caveat { return &t.Caveats })},
	},
	below("analysis.", optionKeys, func(t *Trial, _ bool) *Options { return &t.Options }),
	below("design.", questionKeys, func(t *Trial, fresh bool) *Question {
		if t.Question == nil && fresh {
			t.Question = &Question{}
		}
		return t.Question
	}),
	below("season_rules.", ruleKeys, func(t *Trial, fresh bool) *weather.Rules {
		if t.Rules == nil && fresh {
			t.Rules = new(weather.Usual())
		}
		return t.Rules
	}),
)

var optionKeys = []column.Column[*Options]{
	{Name: "reference", Holds: "practice that gains are against; left out: `unsanitized`", Allowed: "a known key",
		Field: column.Key(func(o *Options) *practice.Key { return &o.Reference })},
	{Name: "response", Words: words(Responses), Holds: "what is compared; left out: `sap`",
		Field: column.Words(func(o *Options) *Response { return &o.Response })},
	{Name: "place", Holds: "for the density of syrup", Allowed: "a code of ISO 3166", Parse: parsePlace,
		Field: ofKind(column.Own, column.Words(func(o *Options) *string { return &o.Place }))},
	{Name: "before", Bounds: column.Spring, Holds: "a season before the trial, whose yields are adjusted for",
		Field: column.Int(func(o *Options) *int { return &o.Before })},
	{Name: "vacuum", Holds: "adjust for each unit's vacuum?",
		Field: column.Yes(func(o *Options) *bool { return &o.Vacuum })},
	{Name: "inference", Words: words(Inferences), Holds: "how intervals are worked out; left out: `kr`",
		Field: column.Words(func(o *Options) *Inference { return &o.Inference })},
}

func parsePlace(text string) (any, note.Note) {
	if !place.Exists(text) {
		return nil, place.Fault(text)
	}
	return text, note.Note{}
}

func ofKind[T any](k column.Kind, f column.Field[T]) column.Field[T] {
	f.Kind = k
	return f
}

var questionKeys = []column.Column[*Question]{
	{Name: "practices", Holds: "those compared, the reference among them", Allowed: "a list of known keys",
		Field: column.ListOf(func(q *Question) *[]practice.Key { return &q.Practices })},
	{Name: "reference", Holds: "left out: `unsanitized`, else the first", Allowed: "one of them",
		Field: column.Words(func(q *Question) *practice.Key { return &q.Reference })},
	{Name: "kind", Words: words(Designs), Holds: "the design",
		Field: column.Words(func(q *Question) *Kind { return &q.Design })},
	{Name: "replicates", Bounds: column.Count,
		Holds: "blocks, pairs or units of each practice, where no units are listed",
		Field: column.Int(func(q *Question) *int { return &q.Replicates })},
	{Name: "taps", Bounds: column.Count, Holds: "of each unit that is given without",
		Field: column.Int(func(q *Question) *int { return &q.Taps })},
	{Name: "seasons", Bounds: column.Count, Holds: "how many",
		Field: column.Int(func(q *Question) *int { return &q.Seasons })},
	{Name: "first_season", Bounds: column.Spring, Holds: "the year of the first",
		Field: column.Int(func(q *Question) *int { return &q.FirstSeason })},
	{Name: "more_reference", Holds: "more units of the reference?",
		Field: column.Yes(func(q *Question) *bool { return &q.MoreReference })},
	{Name: "blind", Holds: "codes in the place of practices?",
		Field: column.Yes(func(q *Question) *bool { return &q.Blind })},
	{Name: "plastic_age", Unit: "seasons", Bounds: column.Seasons, Holds: "age of a common pool of drops",
		Field: column.WholeOf(func(q *Question) **int { return &q.PlasticAge })},
	{Name: "seed", Holds: "of the layout", Allowed: "whole, 0 or more",
		Parse: func(text string) (any, note.Note) {
			seed, err := strconv.ParseUint(text, 10, 64)
			if err != nil {
				return nil, note.New("%s is not a seed; allowed: a whole number from 0", note.Quote(text))
			}
			return seed, note.Note{}
		},
		Field: own(func(q *Question) *uint64 { return &q.Seed })},
}

var ruleKeys = []column.Column[*weather.Rules]{
	dayOfYear("from", "first of the days that are looked at",
		func(r *weather.Rules) *weather.MonthDay { return &r.From }),
	dayOfYear("to", "the last", func(r *weather.Rules) *weather.MonthDay { return &r.To }),
	degrees("freeze_c", "a freeze-thaw day has its lowest below this",
		func(r *weather.Rules) *unit.Temperature { return &r.Freeze }),
	degrees("thaw_c", "and its highest above this", func(r *weather.Rules) *unit.Temperature { return &r.Thaw }),
	degrees("warm_c", "a warm day's lowest stays above this",
		func(r *weather.Rules) *unit.Temperature { return &r.Warm }),
	degrees("hot_c", "a hot day's highest reaches this", func(r *weather.Rules) *unit.Temperature { return &r.Hot }),
	degrees("base_c", "of degree days", func(r *weather.Rules) *unit.Temperature { return &r.Base }),
	days("hot_days", "so many in a row end a season hot", func(r *weather.Rules) *int { return &r.HotDays }),
	days("last_days", "when they come within so many days of the last freeze-thaw day",
		func(r *weather.Rules) *int { return &r.LastDays }),
	days("short_up_to", "freeze-thaw days of a short season at most",
		func(r *weather.Rules) *int { return &r.ShortUpTo }),
	days("long_from", "and of a long one at least", func(r *weather.Rules) *int { return &r.LongFrom }),
	days("max_gap", "days missing beyond which no class is given", func(r *weather.Rules) *int { return &r.MaxGap }),
}

func dayOfYear(name, holds string, at func(*weather.Rules) *weather.MonthDay) column.Column[*weather.Rules] {
	return column.Column[*weather.Rules]{Name: name, Holds: holds, Allowed: "month-day, such as `02-15`",
		Field: own(at),
		Parse: func(text string) (any, note.Note) {
			t, err := time.Parse("01-02", text)
			if err != nil {
				return nil, note.New("%s is not a day of a year; allowed: month-day, such as 02-15", note.Quote(text))
			}
			return weather.MonthDay{Month: t.Month(), Day: t.Day()}, note.Note{}
		}}
}

func degrees(name, holds string, at func(*weather.Rules) *unit.Temperature) column.Column[*weather.Rules] {
	return column.Column[*weather.Rules]{Name: name, Unit: "°C", Bounds: column.Bounds{Low: -90, High: 57},
		Holds: holds,
		Field: column.Field[*weather.Rules]{Kind: column.Number,
			Get: func(r *weather.Rules) any { return float64(*at(r)) },
			Set: func(r *weather.Rules, v any) { *at(r) = unit.Celsius.Of(v.(float64)) }}}
}

func days(name, holds string, at func(*weather.Rules) *int) column.Column[*weather.Rules] {
	return column.Column[*weather.Rules]{Name: name, Bounds: column.Bounds{Low: 0, High: 366, Whole: true},
		Holds: holds,
		Field: ofKind(column.Whole, own(at))}
}

// own is a field that always stands, of a kind of its own.
func own[T, V any](at func(*T) *V) column.Field[*T] {
	return column.Field[*T]{Kind: column.Own,
		Get: func(row *T) any { return *at(row) },
		Set: func(row *T, v any) { *at(row) = v.(V) }}
}

// below are the keys of a part of a trial. part gives it, and where it is asked to makes it; nil where there is none.
func below[U any](prefix string, keys []column.Column[*U], part func(t *Trial,
	fresh bool) *U) (list []column.Column[*Trial]) {
	for _, k := range keys {
		c := column.Column[*Trial]{Name: prefix + k.Name, Needed: k.Needed, Unit: k.Unit, Bounds: k.Bounds,
			Usual: k.Usual, Words: k.Words,
			Holds: k.Holds, Allowed: k.Allowed, Without: k.Without, Parse: k.Parse}
		c.Kind = k.Kind
		c.Get = func(t *Trial) any {
			if x := part(t, false); x != nil {
				return k.Get(x)
			}
			return nil
		}
		c.Set = func(t *Trial, v any) { k.Set(part(t, true), v) }
		list = append(list, c)
	}
	return list
}
