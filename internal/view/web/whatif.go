package web

import (
	"cmp"
	"errors"
	"html/template"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	places "spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/say"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// setting is one thing that can be tried. Its value is a list of words as they stand in an address: one for a number,
// a word or a choice, any number for things left out.
type setting struct {
	key     string
	kind    page.Kind
	label   string
	unit    string
	factor  float64       // of a number: what it shows is the base unit's number times this; 0 where it has none
	options []page.Option // of a choice, or of which several may be chosen
	files   []string      // its value as the files have it
	// apply puts a value into the input; the note says what is wrong with it.
	apply func(in *advice.Input, value []string) *note.Note
	// ask puts a value into what a page asks of the answer; where there is one, apply is nil.
	ask func(q *question, value []string) *note.Note
}

// put puts a value where it belongs.
func (s *setting) put(in *advice.Input, q *question, value []string) *note.Note {
	if s.ask != nil {
		return s.ask(q, value)
	}
	return s.apply(in, value)
}

// trial is what an address asks for, and the answer.
type trial struct {
	tried  map[string][]string // what differs from the files, by key
	typed  map[string][]string // what could not be read, as it was typed
	faults map[string]string   // why not, by key; "" is for the page as a whole
	good   url.Values          // the address of the answer below
	answer *advice.Advice
	asked  question
	moving bool // a quick look at a number that is still being changed
}

// canonical is the address of what is tried: only what differs from the files.
func (t *trial) canonical() url.Values {
	q := url.Values{}
	for k, v := range t.tried {
		if len(v) == 0 {
			v = []string{""}
		}
		q[k] = v
	}
	return q
}

// try reads an address and answers it. Where something in it is at fault, the answer is the last good one.
func (s *site) try(q url.Values) *trial {
	t := s.tryRanked(q)
	t.answer = s.Memo.Sure(t.answer)
	return t
}

// tryRanked is try for a page that shows no chance.
func (s *site) tryRanked(q url.Values) *trial {
	t := s.parse(q)
	if len(t.faults) == 0 {
		if t.answer = s.answer(t); t.answer != nil {
			t.good = t.canonical()
			return t
		}
	}
	if last, err := url.ParseQuery(q.Get(page.LastKey)); err == nil && q.Get(page.LastKey) != "" {
		last.Del(page.LastKey)
		before := s.parse(last)
		if len(before.faults) == 0 {
			if t.answer = s.answer(before); t.answer != nil {
				t.good, t.asked = before.canonical(), before.asked
				return t
			}
		}
	}
	t.answer, t.good, t.asked = s.Base, url.Values{}, s.usual()
	return t
}

// parse reads an address without answering it.
func (s *site) parse(q url.Values) *trial {
	t := &trial{tried: map[string][]string{}, typed: map[string][]string{}, faults: map[string]string{}, moving: q.Get(page.MovingKey) != ""}
	v := s.Voice
	var unknown []string
	for key, values := range q {
		set := s.byKey[key]
		switch {
		case key == page.MovingKey || key == page.LastKey || key == page.SizeKey || key == page.TagKey || key == page.SeenKey || key == page.FromKey:
			continue
		case set == nil:
			unknown = append(unknown, page.Short(key))
			continue
		}
		value, fault := set.read(s.Voice, values)
		if fault == nil && !slices.Equal(value, set.files) {
			fault = set.put(new(s.Input), new(s.usual()), value)
		}
		switch {
		case fault != nil:
			t.typed[key], t.faults[key] = values, v.Note(*fault)
		case !slices.Equal(value, set.files):
			t.tried[key] = value
		}
	}
	if len(unknown) > 0 {
		slices.Sort(unknown)
		t.faults[""] = v.Text("The address asks for what is not here: %s.", v.List(unknown))
	}
	return t
}

// answer runs the chain on what is tried. Where that is at fault it says so in the trial and gives nil.
func (s *site) answer(t *trial) *advice.Advice {
	in := s.Input
	t.asked = s.usual()
	for _, set := range s.settings {
		if value, ok := t.tried[set.key]; ok {
			set.put(&in, &t.asked, value)
		}
	}
	a, err := s.Memo.Ranked(in)
	var faults note.Faults
	switch {
	case err == nil:
		return a
	case errors.As(err, &faults):
		for _, f := range faults {
			key := f.Where.Column
			set := s.byKey[key]
			factor := 1.0
			if set != nil && set.factor != 0 {
				factor = set.factor
			}
			text := s.Voice.Note(page.AsTyped(f, factor))
			if _, tried := t.tried[key]; tried {
				t.typed[key] = t.tried[key]
			} else {
				// What is tried makes something else impossible: it is named at the head.
				if set != nil {
					text = s.Voice.Text("%s: %s", set.label, text)
				}
				key = ""
			}
			if !strings.Contains(t.faults[key], text) {
				t.faults[key] = strings.TrimPrefix(t.faults[key]+"; "+text, "; ")
			}
		}
	default:
		t.faults[""] = s.Voice.Text("This could not be worked out: %s", err.Error())
	}
	return nil
}

// read turns what stands in an address into the setting's value.
func (s *setting) read(v *say.Voice, values []string) ([]string, *note.Note) {
	switch s.kind {
	case page.Number:
		text := strings.TrimSpace(values[len(values)-1])
		x, ok := page.Parsed(v, text)
		if !ok {
			return nil, new(note.New("not a number: %s", page.Short(text)))
		}
		return []string{page.Format(x)}, nil
	case page.Word:
		return []string{strings.ToUpper(strings.TrimSpace(values[len(values)-1]))}, nil
	case page.Choice:
		value := values[len(values)-1]
		if !slices.ContainsFunc(s.options, func(o page.Option) bool { return o.Value == value }) {
			return nil, new(note.New("not one of the choices: %s", page.Short(value)))
		}
		return []string{value}, nil
	}
	var chosen []string
	for _, o := range s.options {
		if slices.Contains(values, o.Value) {
			chosen = append(chosen, o.Value)
		}
	}
	for _, x := range values {
		if x != "" && !slices.Contains(chosen, x) {
			return nil, new(note.New("not one of the choices: %s", page.Short(x)))
		}
	}
	return chosen, nil
}

// shown is a value as the reader writes it.
func (s *site) shown(set *setting, value []string) string {
	switch set.kind {
	case page.Number:
		return page.Marked(s.Voice, strings.Join(value, ""))
	case page.Word:
		return strings.Join(value, "")
	}
	var names []string
	for _, o := range set.options {
		if slices.Contains(value, o.Value) {
			names = append(names, o.Name)
		}
	}
	if len(names) == 0 {
		return s.Voice.Text("none")
	}
	return s.Voice.List(names)
}

// tryable lists everything that can be tried: first the numbers of the prices, then the rest.
func (s *site) tryable() []*setting {
	in, v, w := s.Input, s.Voice, s.View
	var all []*setting
	for _, a := range in.Prices.Assumptions() {
		m := w.Measure(a.Measure)
		all = append(all, &setting{
			key: a.Key, kind: page.Number, label: v.Note(a.Name), unit: m.Unit, factor: m.Factor, files: []string{page.Format(page.Rounded(a.Value.Best * m.Factor))},
			apply: func(in *advice.Input, value []string) *note.Note {
				x, err := strconv.ParseFloat(value[0], 64)
				if err != nil || math.Abs(x) > 1e9 {
					return new(note.New("too large a number: %s", value[0]))
				}
				tried, err := in.With(a.Key, price.Value{Best: x / m.Factor})
				if err != nil {
					return new(note.New("%s", err.Error()))
				}
				*in = tried
				return nil
			},
		})
	}
	yesNo := []page.Option{page.Opt("no", v.Text("no")), page.Opt("yes", v.Text("yes"))}
	if in.Prices != nil {
		all = append(all, s.today(), &setting{
			key: "place", kind: page.Word, label: v.Text("place"), unit: v.Text("like US-VT"), files: []string{in.Prices.Place},
			apply: func(in *advice.Input, value []string) *note.Note {
				if value[0] != "" && !places.Exists(value[0]) {
					return new(places.Fault(value[0]))
				}
				in.Prices = new(*in.Prices)
				in.Prices.Place = value[0]
				return nil
			},
		}, &setting{
			key: "organic", kind: page.Choice, label: v.Text("organic certificate"), options: yesNo, files: []string{yes(in.Prices.Organic)},
			apply: func(in *advice.Input, value []string) *note.Note {
				in.Prices = new(*in.Prices)
				in.Prices.Organic = value[0] == "yes"
				return nil
			},
		})
	}
	if in.Prices != nil {
		measured := &setting{
			key: "baseline.practice", kind: page.Choice, label: v.Text("baseline yield measured under"), files: []string{string(in.Prices.Baseline.Practice)},
			apply: func(in *advice.Input, value []string) *note.Note {
				in.Prices = new(*in.Prices)
				in.Prices.Baseline.DropAge, in.Prices.Baseline.Every = 0, 0
				in.Prices.Baseline.Practice = practice.Key(value[0])
				return nil
			},
		}
		for _, p := range in.Practices {
			measured.options = append(measured.options, page.Opt(string(p.Key), w.Practice(p.Key)))
		}
		all = append(all, measured, &setting{
			key: "all_at_once", kind: page.Choice, label: v.Text("all drops replaced in one season"), options: yesNo, files: []string{yes(in.Prices.AllAtOnce)},
			apply: func(in *advice.Input, value []string) *note.Note {
				in.Prices = new(*in.Prices)
				in.Prices.AllAtOnce = value[0] == "yes"
				return nil
			},
		})
	}
	all = append(all, &setting{
		key: "longest", kind: page.Number, label: v.Text("longest rotation looked at"), unit: v.Text("seasons"), files: []string{strconv.Itoa(longest(in))},
		apply: func(in *advice.Input, value []string) *note.Note {
			n, err := strconv.Atoi(value[0])
			if err != nil || n < 1 || n > 30 {
				return new(note.New("a whole number from 1 to 30 is asked, not %s", value[0]))
			}
			in.MaxInterval = n
			return nil
		},
	}, &setting{
		key: "inference", kind: page.Choice, label: v.Text("intervals"), files: []string{cmp.Or(string(in.Pool.Inference), "kr")},
		options: inferences(v),
		apply: func(in *advice.Input, value []string) *note.Note {
			in.Pool.Inference = pool.Inference(value[0])
			return nil
		},
	}, &setting{
		key: "variance", kind: page.Choice, label: v.Text("a study's own error from"), files: []string{string(in.Evidence.Variance)},
		options: []page.Option{page.Opt("moderated", v.Text("its own spread, moderated by others")), page.Opt("pooled", v.Text("the pooled spread")), page.Opt("reported", v.Text("its own spread"))},
		apply: func(in *advice.Input, value []string) *note.Note {
			in.Evidence.Variance = evidence.Rule(value[0])
			return nil
		},
	}, &setting{
		key: "site", kind: page.Choice, label: v.Text("sites differ"), options: yesNo, files: []string{yes(in.Pool.Site)},
		apply: func(in *advice.Input, value []string) *note.Note {
			in.Pool.Site = value[0] == "yes"
			return nil
		},
	}, &setting{
		key: "reports", kind: page.Choice, label: v.Text("count producers' reports"), options: yesNo, files: []string{yes(in.Evidence.ProducerReports)},
		apply: func(in *advice.Input, value []string) *note.Note {
			in.Evidence.ProducerReports = value[0] == "yes"
			return nil
		},
	})
	moderators := &setting{
		key: "moderator", kind: page.Several, label: v.Text("adjust gains for"), files: in.Pool.Moderators,
		apply: func(in *advice.Input, value []string) *note.Note {
			in.Pool.Moderators = value
			return nil
		},
	}
	var names []string
	for _, e := range s.Base.Effects.Studies {
		for name := range e.Moderators {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	slices.Sort(names)
	for _, name := range names {
		moderators.options = append(moderators.options, page.Opt(name, v.Term(note.Term(name))))
	}
	caveats := &setting{
		key: "without", kind: page.Several, label: v.Text("leave out studies with"), files: text(in.Evidence.Without),
		apply: func(in *advice.Input, value []string) *note.Note {
			in.Evidence.Without = nil
			fill(&in.Evidence.Without, value)
			return nil
		},
	}
	studies := &setting{
		key: "exclude", kind: page.Several, label: v.Text("leave out"), files: in.Evidence.Exclude,
		apply: func(in *advice.Input, value []string) *note.Note {
			in.Evidence.Exclude = value
			return nil
		},
	}
	for _, study := range in.Studies {
		for _, c := range s.Base.Caveats[study.Name] {
			if o := (page.Opt(string(c), w.Caveat(c))); !slices.Contains(caveats.options, o) {
				caveats.options = append(caveats.options, o)
			}
		}
		if o := (page.Opt(study.Name, study.Name)); !slices.Contains(studies.options, o) {
			studies.options = append(studies.options, o)
		}
	}
	return append(append(all, moderators, caveats, studies), s.questions()...)
}

// today is the practice that money is compared with.
func (s *site) today() *setting {
	ref := s.Base.Reference
	now := advice.Option{Practice: ref.Practice, Every: ref.Every, With: ref.With}.ID()
	t := &setting{
		key: "today", kind: page.Choice, label: s.Voice.Text("today's practice"), files: []string{now},
		apply: func(in *advice.Input, value []string) *note.Note {
			id, with, _ := strings.Cut(value[0], "+")
			key, every, _ := strings.Cut(id, "/")
			in.Against.Every, _ = strconv.Atoi(every)
			in.Against.Practice = practice.Key(key)
			in.Against.With = practice.Key(with)
			return nil
		},
	}
	add := func(value, name string) {
		if !slices.ContainsFunc(t.options, func(o page.Option) bool { return o.Value == value }) {
			t.options = append(t.options, page.Opt(value, name))
		}
	}
	add("unsanitized", s.View.Practice("unsanitized"))
	for _, o := range s.Base.Ranking {
		if o.With == "" && o.Studied {
			add(o.ID(), s.View.Option(o))
		}
	}
	add(now, s.View.Today())
	return t
}

func longest(in advice.Input) int {
	if in.MaxInterval > 0 {
		return in.MaxInterval
	}
	return 10
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// The words of the domain are strings of many types; these put a word of an address into one.

func fill[T ~string](to *[]T, words []string) {
	for _, w := range words {
		*to = append(*to, T(w))
	}
}

func text[T ~string](words []T) []string {
	var list []string
	for _, w := range words {
		list = append(list, string(w))
	}
	return list
}

// inferences are the ways to intervals.
func inferences(v *say.Voice) (list []page.Option) {
	for _, x := range pool.Inferences {
		list = append(list, page.Opt(string(x.Key), v.Text(x.Name)))
	}
	return list
}

// before gives, for the cells of one column that differ, what stood there with the files as they stand.
func (s *site) before(t, files show.Table, column string) func(row, column string) template.HTML {
	cells := func(t show.Table) map[string]show.Cell {
		list := map[string]show.Cell{}
		if at := slices.IndexFunc(t.Columns, func(c show.Column) bool { return c.ID == column }); at >= 0 {
			for _, r := range t.Rows {
				list[r.ID] = r.Cells[at]
			}
		}
		return list
	}
	was, now := cells(files), cells(t)
	return func(row, col string) template.HTML {
		old, known := was[row]
		then, _, _ := strings.Cut(old.Text, " (")
		here, _, _ := strings.Cut(now[row].Text, " (")
		if col != column || !known || then == here {
			return ""
		}
		return s.Fragment("was", then)
	}
}
