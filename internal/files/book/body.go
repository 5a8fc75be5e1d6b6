package book

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"reflect"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// What the workbook holds, as JSON. These types are the file format: the domain's own types may be renamed, these
// names stay. docs/data.md lists them. A body is what a thing says; its place is where it stood in the file that it
// came from, and is no part of what it says.

type studyBody struct {
	Name    string    `json:"name"`
	Site    string    `json:"site"`
	Season  int       `json:"season"`
	Kind    string    `json:"kind,omitempty"`
	Trial   string    `json:"trial,omitempty"`
	Unit    string    `json:"unit,omitempty"`
	Caveats []string  `json:"caveats,omitempty"`
	Species string    `json:"species,omitempty"`
	Weather string    `json:"weather,omitempty"`
	Funding string    `json:"funding,omitempty"`
	Source  string    `json:"source,omitempty"`
	Arms    []armBody `json:"arms"`
}

type armBody struct {
	Practice  string            `json:"practice"`
	Reference bool              `json:"reference,omitempty"`
	Mean      *float64          `json:"mean,omitempty"`
	MeanUnit  string            `json:"mean_unit,omitempty"`
	N         *float64          `json:"n,omitempty"`
	SD        *float64          `json:"sd,omitempty"`
	SE        *float64          `json:"se,omitempty"`
	Gain      *gainBody         `json:"gain,omitempty"`
	Taps      *float64          `json:"taps,omitempty"`
	DropAge   *int              `json:"drop_age,omitempty"`
	SpoutAge  *int              `json:"spout_age,omitempty"`
	VacuumKPa *float64          `json:"vacuum_kpa,omitempty"`
	TubingIn  *float64          `json:"tubing_in,omitempty"`
	LineAge   *float64          `json:"line_age,omitempty"`
	Releaser  string            `json:"releaser,omitempty"`
	Pump      string            `json:"pump,omitempty"`
	Tapped    string            `json:"tapped,omitempty"` // YYYY-MM-DD
	LastRun   string            `json:"last_run,omitempty"`
	Chemical  *washBody         `json:"chemical,omitempty"`
	Extra     map[string]string `json:"extra,omitempty"`
}

type gainBody struct {
	Pct     float64  `json:"pct"`
	SEPct   *float64 `json:"se_pct,omitempty"`
	LowPct  *float64 `json:"low_pct,omitempty"`
	HighPct *float64 `json:"high_pct,omitempty"`
}

type washBody struct {
	Product    string   `json:"product,omitempty"`
	Strength   string   `json:"strength,omitempty"`
	ContactMin *float64 `json:"contact_min,omitempty"`
	Applied    string   `json:"applied,omitempty"`
	Rinsed     string   `json:"rinsed,omitempty"`
}

type practiceBody struct {
	Key   string `json:"key"`
	Name  string `json:"name"`
	Spout string `json:"spout"`
	Drops string `json:"drops"`
	Wash  string `json:"wash"`
}

type ruleBody struct {
	Wash       string `json:"wash,omitempty"`
	Spout      string `json:"spout,omitempty"`
	Product    string `json:"product,omitempty"`
	Chemical   bool   `json:"chemical,omitempty"`
	Unlabelled bool   `json:"unlabelled,omitempty"`
	Place      string `json:"place,omitempty"`
	Organic    *bool  `json:"organic,omitempty"`
	Verdict    string `json:"verdict"`
	Reason     string `json:"reason"`
	Checked    string `json:"checked"`
}

type bushBody struct {
	Name string      `json:"name"`
	Keys []entryBody `json:"keys"` // dotted, as a sugarbush's file has them
}

type entryBody struct {
	Key   string `json:"key"`
	Value string `json:"value"`
}

type exclusionBody struct {
	Study  string `json:"study"`
	Reason string `json:"reason"`
}

// place is where a thing stood.
type place struct {
	At    whereBody      `json:"at,omitzero"`
	Arms  []whereBody    `json:"arms,omitempty"`  // of a study, one an arm
	Lines map[string]int `json:"lines,omitempty"` // of prices, by dotted key
}

type whereBody struct {
	File   string `json:"file,omitempty"`
	Sheet  string `json:"sheet,omitempty"`
	Row    int    `json:"row,omitempty"`
	Column string `json:"column,omitempty"`
}

// The day format of bodies.
func dayText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

func textDay(s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	return time.Parse(time.DateOnly, s)
}

func texts[A, B ~string](list []A) []B {
	return each(list, func(a A) B { return B(a) })
}

func each[A, B any](list []A, f func(A) B) []B {
	if len(list) == 0 {
		return nil
	}
	out := make([]B, len(list))
	for i, a := range list {
		out[i] = f(a)
	}
	return out
}

// maybe maps what a pointer points at.
func maybe[A, B any](p *A, f func(A) B) *B {
	if p == nil {
		return nil
	}
	return new(f(*p))
}

func ofStudy(s evidence.Study) (studyBody, place) {
	b := studyBody{
		Name: s.Name, Site: s.Site, Season: s.Season, Kind: string(s.Kind), Trial: s.Trial, Unit: string(s.Unit),
		Caveats: texts[evidence.Caveat, string](s.Caveats), Species: s.Species, Weather: s.Weather, Funding: s.Funding,
		Source: s.Source,
		Arms: each(s.Arms, func(a evidence.Arm) armBody {
			return armBody{
				Practice: string(a.Practice), Reference: a.Reference, Mean: a.Mean, MeanUnit: string(a.MeanUnit),
				N: a.N, SD: a.SD, SE: a.SE,
				Gain: maybe(a.Gain, func(g evidence.Reported) gainBody { return gainBody(g) }),
				Taps: a.Taps, DropAge: a.DropAge, SpoutAge: a.SpoutAge,
				VacuumKPa: maybe(a.Vacuum, func(p unit.Pressure) float64 { return float64(p) }),
				TubingIn:  a.TubingIn, LineAge: a.LineAge, Releaser: a.Releaser, Pump: a.Pump,
				Tapped: dayText(a.Tapped), LastRun: dayText(a.LastRun),
				Chemical: maybe(a.Chemical, func(c evidence.Chemical) washBody { return washBody(c) }),
				Extra:    nonEmpty(a.Extra),
			}
		}),
	}
	return b, place{At: whereBody(s.Where),
		Arms: each(s.Arms, func(a evidence.Arm) whereBody { return whereBody(a.Where) })}
}

func (b studyBody) study(p place) (evidence.Study, error) {
	s := evidence.Study{
		Name: b.Name, Site: b.Site, Season: b.Season, Kind: evidence.Kind(b.Kind), Trial: b.Trial,
		Unit:    evidence.UnitKind(b.Unit),
		Caveats: texts[string, evidence.Caveat](b.Caveats), Species: b.Species, Weather: b.Weather, Funding: b.Funding,
		Source: b.Source,
		Where:  note.Where(p.At),
	}
	for i, a := range b.Arms {
		arm := evidence.Arm{
			Practice: practice.Key(a.Practice), Reference: a.Reference, Mean: a.Mean,
			MeanUnit: unit.VolumeUnit(a.MeanUnit), N: a.N, SD: a.SD, SE: a.SE,
			Gain: maybe(a.Gain, func(g gainBody) evidence.Reported { return evidence.Reported(g) }),
			Taps: a.Taps, DropAge: a.DropAge, SpoutAge: a.SpoutAge,
			Vacuum:   maybe(a.VacuumKPa, func(x float64) unit.Pressure { return unit.Pressure(x) }),
			TubingIn: a.TubingIn, LineAge: a.LineAge, Releaser: a.Releaser, Pump: a.Pump,
			Chemical: maybe(a.Chemical, func(c washBody) evidence.Chemical { return evidence.Chemical(c) }),
			Extra:    nonEmpty(a.Extra),
		}
		if i < len(p.Arms) {
			arm.Where = note.Where(p.Arms[i])
		}
		var err, err2 error
		arm.Tapped, err = textDay(a.Tapped)
		arm.LastRun, err2 = textDay(a.LastRun)
		if err := errors.Join(err, err2); err != nil {
			return s, err
		}
		s.Arms = append(s.Arms, arm)
	}
	return s, nil
}

func nonEmpty[K comparable, V any](m map[K]V) map[K]V {
	if len(m) == 0 {
		return nil
	}
	return m
}

func ofPractice(p practice.Practice) practiceBody {
	return practiceBody{string(p.Key), p.Name, string(p.Spout), string(p.Drops), string(p.Wash)}
}

func (b practiceBody) practice() practice.Practice {
	return practice.Practice{Key: practice.Key(b.Key), Name: b.Name, Spout: practice.Spout(b.Spout),
		Drops: practice.Drops(b.Drops), Wash: practice.Wash(b.Wash)}
}

func ofRule(r practice.Rule) ruleBody {
	return ruleBody{string(r.Wash), string(r.Spout), r.Product, r.Chemical, r.Unlabelled, r.Place, r.Organic,
		string(r.Verdict), r.Reason, r.Checked}
}

func (b ruleBody) rule() practice.Rule {
	return practice.Rule{
		Wash: practice.Wash(b.Wash), Spout: practice.Spout(b.Spout), Product: b.Product, Chemical: b.Chemical,
		Unlabelled: b.Unlabelled,
		Place:      b.Place, Organic: b.Organic, Verdict: practice.Verdict(b.Verdict), Reason: b.Reason,
		Checked: b.Checked,
	}
}

// encode gives a thing's kind, key, body and place.
func encode(v any) (kind Kind, key, body, at string, err error) {
	var b any
	var p place
	switch v := v.(type) {
	case evidence.Study:
		kind, key = Study, v.Name
		b, p = ofStudy(v)
	case price.Prices:
		kind, key = Prices, "list"
		p = place{At: whereBody(v.Where), Lines: nonEmpty(v.Lines)}
		b = v.Said()
	case practice.Practice:
		kind, key, b = Practice, string(v.Key), ofPractice(v)
	case practice.Rule:
		kind, key, b = Rule, v.Case(), ofRule(v)
	case input.Exclusion:
		kind, key, b = Excluded, v.Study, exclusionBody(v)
	case bush.Draft:
		kind, key = Bush, v.Name
		b = bushBody{v.Name, each(v.Keys, func(e bush.Entry) entryBody { return entryBody(e) })}
		p = place{At: whereBody(v.Where)}
	case trial.Trial:
		kind, key = Trial, v.Name
		b, p = ofTrial(v)
	default:
		var parts []string
		kind, parts, b, p = encodeLogged(v)
		key = keyOf(parts...)
	}
	if body, err = canonical(b); err != nil {
		return
	}
	if !reflect.DeepEqual(p, place{}) {
		at, err = canonical(p)
	}
	return
}

// keyOf names a thing by several texts, told apart whatever they hold.
func keyOf(parts ...string) string {
	escape := strings.NewReplacer(`\`, `\\`, `,`, `\,`)
	return strings.Join(each(parts, escape.Replace), ", ")
}

// partsOf takes a key of keyOf apart.
func partsOf(key string) []string {
	var parts []string
	var part strings.Builder
	for i := 0; i < len(key); i++ {
		switch {
		case key[i] == '\\' && i+1 < len(key):
			i++
			part.WriteByte(key[i])
		case strings.HasPrefix(key[i:], ", "):
			parts = append(parts, part.String())
			part.Reset()
			i++
		default:
			part.WriteByte(key[i])
		}
	}
	return append(parts, part.String())
}

// errLost is a value that JSON cannot hold.
var errLost = errors.New("it holds a text that is not UTF-8")

// canonical is the one way in which a body is written. What it gives reads back as what was written.
func canonical[T any](v T) (string, error) {
	var buf bytes.Buffer
	e := json.NewEncoder(&buf)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return "", err
	}
	back := reflect.New(reflect.TypeOf(v))
	if err := strict(buf.Bytes(), back.Interface()); err != nil {
		return "", err
	}
	if !reflect.DeepEqual(back.Elem().Interface(), any(v)) {
		return "", errLost
	}
	return strings.TrimSuffix(buf.String(), "\n"), nil
}

// strict decodes one JSON value, all of it, with no field that is not known.
func strict(data []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("something stands behind the end")
	}
	return nil
}

// decode is the other way: one of Thing.
func decode(kind Kind, body, at string) (any, error) {
	var p place
	if at != "" {
		if err := strict([]byte(at), &p); err != nil {
			return nil, err
		}
	}
	read := func(into any) error { return strict([]byte(body), into) }
	switch kind {
	case Study:
		var b studyBody
		if err := read(&b); err != nil {
			return nil, err
		}
		return b.study(p)
	case Prices:
		var b price.Prices
		err := read(&b)
		b.Where, b.Lines = note.Where(p.At), p.Lines
		return b, err
	case Practice:
		var b practiceBody
		err := read(&b)
		return b.practice(), err
	case Rule:
		var b ruleBody
		err := read(&b)
		return b.rule(), err
	case Excluded:
		var b exclusionBody
		err := read(&b)
		return input.Exclusion(b), err
	case Bush:
		var b bushBody
		err := read(&b)
		return bush.Draft{Name: b.Name, Keys: each(b.Keys, func(e entryBody) bush.Entry { return bush.Entry(e) }),
			Where: note.Where(p.At)}, err
	case Trial:
		var b trialBody
		err := read(&b)
		return b.trial(p), err
	}
	if v, known, err := decodeLogged(kind, read, p); known {
		return v, err
	}
	return nil, errors.New("its kind is not known")
}
