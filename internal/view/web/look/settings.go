package look

import (
	"cmp"
	"math"
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

// read turns what stands in an address into the setting's value.
func (s *setting) read(v *say.Voice, values []string) ([]string, *note.Note) {
	switch s.kind {
	case page.Number:
		text := strings.TrimSpace(values[len(values)-1])
		x, ok := v.Parsed(text)
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

// settings is everything that can be tried of an input, in the order of an address.
type settings struct {
	*page.Site
	all   []*setting
	byKey map[string]*setting
}

func newSettings(s *page.Site) *settings {
	list := &settings{Site: s, byKey: map[string]*setting{}}
	list.all = list.tryable()
	for _, t := range list.all {
		list.byKey[t.key] = t
	}
	return list
}

// shown is a value as the reader writes it.
func (s *settings) shown(set *setting, value []string) string {
	switch set.kind {
	case page.Number:
		return s.Voice.Marked(strings.Join(value, ""))
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

// tryable is all that can be tried, in the order in which a page asks it.
func (s *settings) tryable() []*setting {
	return slices.Concat(s.assumptions(), s.circumstances(), s.pooling(), s.leavingOut(), s.questions())
}

// assumptions are the numbers of the prices.
func (s *settings) assumptions() (all []*setting) {
	for _, a := range s.Input.Prices.Assumptions() {
		m := s.View.Measure(a.Measure)
		all = append(all, &setting{
			key: a.Key, kind: page.Number, label: s.Voice.Note(a.Name), unit: m.Unit, factor: m.Factor,
			files: []string{page.Format(page.Rounded(a.Value.Best * m.Factor))},
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
	return all
}

// chosen is a setting with choices, which are never at fault.
func chosen(key, label, now string, options []page.Option, set func(in *advice.Input, value string)) *setting {
	return &setting{key: key, kind: page.Choice, label: label, options: options, files: []string{now},
		apply: func(in *advice.Input, value []string) *note.Note {
			set(in, value[0])
			return nil
		}}
}

// whether is a setting that is yes or no.
func (s *settings) whether(key, label string, now bool, set func(in *advice.Input, yes bool)) *setting {
	options := []page.Option{page.Opt("no", s.Voice.Text("no")), page.Opt("yes", s.Voice.Text("yes"))}
	return chosen(key, label, yes(now), options, func(in *advice.Input, value string) { set(in, value == "yes") })
}

// seasons is a setting that is a number of seasons.
func (s *settings) seasons(key, label string, now int, set func(in *advice.Input, n int)) *setting {
	return &setting{key: key, kind: page.Number, label: label, unit: s.Voice.Text("seasons"),
		files: []string{strconv.Itoa(now)},
		apply: func(in *advice.Input, value []string) *note.Note {
			n, err := strconv.Atoi(value[0])
			if err != nil || n < 1 || n > 30 {
				return new(note.New("a whole number from 1 to 30 is asked, not %s", value[0]))
			}
			set(in, n)
			return nil
		}}
}

// circumstances are what else a price file says of a farm.
func (s *settings) circumstances() []*setting {
	p, v := s.Input.Prices, s.Voice
	if p == nil {
		return nil
	}
	priced := func(in *advice.Input) *price.Prices { // which may be changed
		in.Prices = new(*in.Prices)
		return in.Prices
	}
	var practices []page.Option
	for _, x := range s.Input.Practices {
		practices = append(practices, page.Opt(string(x.Key), s.View.Practice(x.Key)))
	}
	place := &setting{key: "place", kind: page.Word, label: v.Text("place"), unit: v.Text("like US-VT"),
		files: []string{p.Place},
		apply: func(in *advice.Input, value []string) *note.Note {
			if value[0] != "" && !places.Exists(value[0]) {
				return new(places.Fault(value[0]))
			}
			priced(in).Place = value[0]
			return nil
		}}
	return []*setting{s.today(), place,
		s.whether("organic", v.Text("organic certificate"), p.Organic,
			func(in *advice.Input, yes bool) { priced(in).Organic = yes }),
		chosen("baseline.practice", v.Text("baseline yield measured under"), string(p.Baseline.Practice), practices,
			func(in *advice.Input, key string) {
				b := &priced(in).Baseline
				b.Practice, b.DropAge, b.Every = practice.Key(key), 0, 0
			}),
		s.whether("all_at_once", v.Text("all drops replaced in one season"), p.AllAtOnce,
			func(in *advice.Input, yes bool) { priced(in).AllAtOnce = yes }),
	}
}

// pooling is how gains are worked out, and how far money looks ahead.
func (s *settings) pooling() []*setting {
	in, v := s.Input, s.Voice
	spreads := []page.Option{page.Opt("moderated", v.Text("its own spread, moderated by others")),
		page.Opt("pooled", v.Text("the pooled spread")), page.Opt("reported", v.Text("its own spread"))}
	return []*setting{
		s.seasons("longest", v.Text("longest rotation looked at"), longest(in),
			func(in *advice.Input, n int) { in.MaxInterval = n }),
		s.seasons("over", v.Text("the way there over"), s.Base.Input.Over,
			func(in *advice.Input, n int) { in.Over = n }),
		chosen("inference", v.Text("intervals"), string(in.Pool.Inference), inferences(v),
			func(in *advice.Input, value string) { in.Pool.Inference = pool.Inference(value) }),
		chosen("variance", v.Text("a study's own error from"), string(in.Evidence.Variance), spreads,
			func(in *advice.Input, value string) { in.Evidence.Variance = evidence.Rule(value) }),
		s.whether("site", v.Text("sites differ"), in.Pool.Site,
			func(in *advice.Input, yes bool) { in.Pool.Site = yes }),
		s.whether("shrinkage", v.Text("draw gains toward those of like practices for money"), !in.Pool.Unshrunk,
			func(in *advice.Input, yes bool) { in.Pool.Unshrunk = !yes }),
		s.whether("reports", v.Text("count producers' reports"), in.Evidence.ProducerReports,
			func(in *advice.Input, yes bool) { in.Evidence.ProducerReports = yes }),
	}
}

// leavingOut is what gains are adjusted for, and which studies are left out.
func (s *settings) leavingOut() []*setting {
	in, v := s.Input, s.Voice
	several := func(key, label string, now []string, set func(in *advice.Input, list []string)) *setting {
		return &setting{key: key, kind: page.Several, label: label, files: now,
			apply: func(in *advice.Input, value []string) *note.Note {
				set(in, value)
				return nil
			}}
	}
	moderators := several("moderator", v.Text("adjust gains for"), in.Pool.Moderators,
		func(in *advice.Input, list []string) { in.Pool.Moderators = list })
	caveats := several("without", v.Text("leave out studies with"), text(in.Evidence.Without),
		func(in *advice.Input, list []string) {
			in.Evidence.Without = nil
			fill(&in.Evidence.Without, list)
		})
	studies := several("exclude", v.Text("leave out"), in.Evidence.Exclude,
		func(in *advice.Input, list []string) { in.Evidence.Exclude = list })
	offered := map[*setting]map[page.Option]bool{moderators: {}, caveats: {}, studies: {}}
	offer := func(x *setting, o page.Option) {
		if !offered[x][o] {
			offered[x][o], x.options = true, append(x.options, o)
		}
	}
	for _, e := range s.Base.Effects.Studies {
		for name := range e.Moderators {
			offer(moderators, page.Opt(name, v.Term(note.Term(name))))
		}
	}
	slices.SortFunc(moderators.options, func(a, b page.Option) int { return cmp.Compare(a.Value, b.Value) })
	for _, study := range in.Studies {
		for _, c := range s.Base.Caveats[study.Name] {
			offer(caveats, page.Opt(string(c), s.View.Caveat(c)))
		}
		offer(studies, page.Opt(study.Name, study.Name))
	}
	return []*setting{moderators, caveats, studies}
}

// today is the practice that money is compared with.
func (s *settings) today() *setting {
	ref := s.Base.Reference
	now := advice.Option{Practice: ref.Practice, Every: ref.Every, With: ref.With}.ID()
	t := chosen("today", s.Voice.Text("today's practice"), now, nil, func(in *advice.Input, value string) {
		id, with, _ := strings.Cut(value, "+")
		key, every, _ := strings.Cut(id, "/")
		in.Against.Every, _ = strconv.Atoi(every)
		in.Against.Practice, in.Against.With = practice.Key(key), practice.Key(with)
	})
	add := func(value, name string) {
		if !slices.ContainsFunc(t.options, func(o page.Option) bool { return o.Value == value }) {
			t.options = append(t.options, page.Opt(value, name))
		}
	}
	add(string(practice.Unsanitized), s.View.Practice(practice.Unsanitized))
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

// group is fields under one heading.
type group struct {
	Name   string
	Fields []page.Field
}

// fields are settings as they stand on a page.
func (s *settings) fields(d *drawn, path string, settings []*setting) []page.Field {
	var list []page.Field
	for _, set := range settings {
		f := page.Field{Key: set.key, ID: "w-" + set.key, Label: set.label, Unit: set.unit, Kind: set.kind,
			Fault: d.faults[set.key]}
		value, changed := d.tried[set.key]
		if !changed {
			value = set.files
		}
		typed, bad := d.typed[set.key]
		f.Shown = s.shown(set, value)
		f.Value = f.Shown
		if set.kind == page.Choice {
			f.Value = strings.Join(value, "")
		}
		if bad && len(typed) > 0 && (set.kind == page.Number || set.kind == page.Word) {
			f.Value = typed[len(typed)-1]
		}
		for i, o := range set.options {
			here := slices.Contains(value, o.Value)
			f.Options = append(f.Options, page.Picked{Option: o, ID: f.ID + "-" + strconv.Itoa(i), Here: here})
		}
		if changed || bad {
			f.Changed = true
			f.Was = s.shown(set, set.files)
			q := d.canonical()
			q.Del(set.key)
			f.Reset = page.WithQuery(path, q.Encode())
		}
		list = append(list, f)
	}
	return list
}

// grouped puts the numbers of the prices under headings, by the head of their keys.
func (s *settings) grouped(d *drawn, path string, settings []*setting) []group {
	var list []group
	for _, set := range settings {
		name := Heading(s.Site, set.key)
		f := s.fields(d, path, []*setting{set})
		f[0].Label = Within(s.Voice, name, f[0].Label)
		if i := slices.IndexFunc(list, func(g group) bool { return g.Name == name }); i >= 0 {
			list[i].Fields = append(list[i].Fields, f...)
		} else {
			list = append(list, group{name, f})
		}
	}
	return list
}

// Within is a label without what the heading over it says already.
func Within(v *say.Voice, heading, label string) string {
	return strings.TrimPrefix(label, v.Text("%s: %s", heading, ""))
}

// Heading is the heading of a number of the prices.
func Heading(s *page.Site, key string) string {
	head, rest, _ := strings.Cut(key, ".")
	switch head {
	case "baseline", "sells":
		return s.Voice.Text("sap and syrup")
	case "material", "chemical":
		return s.Voice.Text("what is bought")
	case "use":
		key, _, _ := strings.Cut(rest, ".")
		for _, p := range s.Input.Practices {
			if string(p.Key) == key {
				return s.View.Practice(p.Key)
			}
		}
	}
	return s.Voice.Text("work and capital")
}

// named finds the settings that exist among the keys.
func (s *settings) named(keys ...string) []*setting {
	var list []*setting
	for _, k := range keys {
		if t := s.byKey[k]; t != nil && (t.kind != page.Several || len(t.options) > 0) {
			list = append(list, t)
		}
	}
	return list
}

// money is what the page Profit lets a reader try: what moves the answer most at once, every other number below.
func (s *settings) money() (open, more []*setting) {
	open = s.named("baseline.yield", "baseline.brix")
	for _, t := range s.all {
		if strings.HasPrefix(t.key, "sells.") && strings.HasSuffix(t.key, ".price") {
			open = append(open, t)
		}
	}
	open = append(open, s.named("wage", "discount", "today", "place", "organic", "shrinkage")...)
	for _, t := range s.all {
		if t.ofPrices() && t.kind == page.Number && !slices.Contains(open, t) {
			more = append(more, t)
		}
	}
	return open, append(s.named("over", "baseline.practice", "all_at_once"), more...)
}

func (s *settings) rotating() (open, more []*setting) {
	open, more = s.money()
	return append(s.named("longest"), open...), more
}

func (s *settings) statistics() (open, more []*setting) {
	return s.named("variance", "inference", "shrinkage", "site", "reports", "moderator", "without"), nil
}

func (s *settings) leaving() (open, more []*setting) {
	return s.named("reports", "without"), nil
}
