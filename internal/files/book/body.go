package book

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"reflect"
	"strconv"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/doubt"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/past"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/station"
	"spile/internal/trade/trial"
)

// What the workbook holds, as JSON. These types are the file format: the domain's own types may be renamed, these
// names stay. docs/data.md lists them. A body is what a thing says; its place is where it stood in the file that it
// came from, and is no part of what it says.

type practiceBody struct {
	Key   practice.Key   `json:"key"`
	Name  string         `json:"name"`
	Spout practice.Spout `json:"spout"`
	Drops practice.Drops `json:"drops"`
	Wash  practice.Wash  `json:"wash"`
}

type ruleBody struct {
	Wash       practice.Wash    `json:"wash,omitempty"`
	Spout      practice.Spout   `json:"spout,omitempty"`
	Product    string           `json:"product,omitempty"`
	Chemical   bool             `json:"chemical,omitempty"`
	Unlabelled bool             `json:"unlabelled,omitempty"`
	Place      string           `json:"place,omitempty"`
	Organic    *bool            `json:"organic,omitempty"`
	Verdict    practice.Verdict `json:"verdict"`
	Reason     string           `json:"reason"`
	Checked    string           `json:"checked"`
}

type bushBody struct {
	Name string      `json:"name"`
	Keys []entryBody `json:"keys"` // dotted, as a sugarbush's file has them
}

type entryBody struct {
	Key   string `json:"key"`
	Value string `json:"value"`
}

type searchBody struct {
	Text string `json:"text"`
}

type answerBody struct {
	ID    string `json:"id"`
	About string `json:"about"`
}

type wordBody struct {
	Of    string `json:"of"`
	Said  string `json:"said"`
	Means string `json:"means"`
}

type holdBody struct {
	Of      string        `json:"of"`
	Name    string        `json:"name"`
	Station string        `json:"station"`
	Stage   station.Stage `json:"stage"`
	From    string        `json:"from,omitempty"`
	Reason  string        `json:"reason,omitempty"`
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
	// of prices and of a sugarbush, how it was typed: the units by their keys, and the file itself
	Units map[string]string `json:"units,omitempty"`
	Text  string            `json:"text,omitempty"`
	Typed *evidence.Typed   `json:"typed,omitempty"` // of a study, as it stood in its table
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

func nonEmpty[K comparable, V any](m map[K]V) map[K]V {
	if len(m) == 0 {
		return nil
	}
	return m
}

// encode gives a thing's kind, key, body and place.
func encode(v any) (kind Kind, key, body, at string, err error) {
	var b any
	var p place
	switch v := v.(type) {
	case evidence.Study:
		kind, key = Study, v.Name
		b = v.Said()
		p = place{At: whereBody(v.Where),
			Arms: each(v.Arms, func(a evidence.Arm) whereBody { return whereBody(a.Where) }),
			Typed: maybe(v.Typed, func(t evidence.Typed) evidence.Typed {
				t.Words = each(t.Words, func(s gloss.Sense) gloss.Sense { return s }) // nil where it is empty
				for _, lines := range []*[][]string{&t.Above, &t.Lines, &t.Below} {
					*lines = each(*lines, func(line []string) []string { return line })
				}
				return t
			})}
	case price.Prices:
		kind, key = Prices, "list"
		p = place{At: whereBody(v.Where), Lines: nonEmpty(v.Lines), Units: nonEmpty(v.Units), Text: v.Text}
		b = v.Said()
	case practice.Practice:
		kind, key, b = Practice, string(v.Key), practiceBody(v)
	case practice.Rule:
		kind, key, b = Rule, v.Case(), ruleBody(v)
	case input.Exclusion:
		kind, key, b = Excluded, v.Study, exclusionBody(v)
	case station.Hold:
		kind, key, b = Holding, keyOf(v.Of, v.Name), holdBody(v)
	case Crossing:
		kind, key, b = Crossed, keyOf(string(v.Kind), v.Key), v.stored()
	case input.Search:
		kind, key, b = Search, "studies", searchBody{string(v)}
	case doubt.Answer:
		kind, key, b = Answer, v.ID, answerBody(v)
	case gloss.Sense:
		kind, key, b = Word, keyOf(v.Of, gloss.Fold(v.Said)), wordBody(v)
	case bush.Draft:
		kind, key = Bush, v.Name
		b = bushBody{v.Name, each(v.Keys, func(e bush.Entry) entryBody { return entryBody(e) })}
		p = place{At: whereBody(v.Where), Text: v.Text}
	case past.Season:
		kind, key, b = Past, strconv.Itoa(v.Year), v
	case trial.Trial:
		kind, key = Trial, v.Name
		p = place{At: whereBody(v.Where)}
		v.Where = note.Where{}
		b = v
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
		var b evidence.Study
		err := read(&b)
		b.Where, b.Typed = note.Where(p.At), p.Typed
		for i := range min(len(b.Arms), len(p.Arms)) {
			b.Arms[i].Where = note.Where(p.Arms[i])
		}
		return b, err
	case Prices:
		var b price.Prices
		err := read(&b)
		b.Where, b.Lines, b.Units, b.Text = note.Where(p.At), p.Lines, p.Units, p.Text
		return b, err
	case Practice:
		var b practiceBody
		err := read(&b)
		return practice.Practice(b), err
	case Rule:
		var b ruleBody
		err := read(&b)
		return practice.Rule(b), err
	case Excluded:
		var b exclusionBody
		err := read(&b)
		return input.Exclusion(b), err
	case Holding:
		var b holdBody
		err := read(&b)
		return station.Hold(b), err
	case Crossed:
		var b crossingBody
		err := read(&b)
		return b.crossing(), err
	case Search:
		var b searchBody
		err := read(&b)
		return input.Search(b.Text), err
	case Answer:
		var b answerBody
		err := read(&b)
		return doubt.Answer(b), err
	case Word:
		var b wordBody
		err := read(&b)
		return gloss.Sense(b), err
	case Bush:
		var b bushBody
		err := read(&b)
		return bush.Draft{Name: b.Name, Keys: each(b.Keys, func(e entryBody) bush.Entry { return bush.Entry(e) }),
			Where: note.Where(p.At), Text: p.Text}, err
	case Past:
		var b past.Season
		err := read(&b)
		return b, err
	case Trial:
		var b trial.Trial
		err := read(&b)
		b.Where = note.Where(p.At)
		return b, err
	}
	if v, known, err := decodeLogged(kind, read, p); known {
		return v, err
	}
	return nil, errors.New("its kind is not known")
}
