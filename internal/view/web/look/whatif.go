package look

import (
	"errors"
	"html/template"
	"net/url"
	"slices"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// whatIf is what an address asks for, and the answer.
type whatIf struct {
	tried  map[string][]string // what differs from the files, by key
	typed  map[string][]string // what could not be read, as it was typed
	faults map[string]string   // why not, by key; "" is for the page as a whole
	good   url.Values          // the address of the answer below
	answer *advice.Advice
	asked  question
	moving bool // a quick look at a number that is still being changed
}

// canonical is the address of what is tried: only what differs from the files.
func (t *whatIf) canonical() url.Values {
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
func (s *Room) try(q url.Values) *whatIf {
	t := s.tryRanked(q)
	t.answer = s.Sure(t.answer)
	return t
}

// tryRanked is try for a page that shows no chance.
func (s *Room) tryRanked(q url.Values) *whatIf {
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
func (s *Room) parse(q url.Values) *whatIf {
	t := &whatIf{tried: map[string][]string{}, typed: map[string][]string{}, faults: map[string]string{},
		moving: q.Get(page.MovingKey) != ""}
	v := s.Voice
	var unknown []string
	for key, values := range q {
		set := s.byKey[key]
		switch {
		case key == page.MovingKey || key == page.LastKey || key == page.SizeKey || key == page.TagKey ||
			key == page.SeenKey || key == page.FromKey:
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
func (s *Room) answer(t *whatIf) *advice.Advice {
	in := s.Input
	t.asked = s.usual()
	for _, set := range s.all {
		if value, ok := t.tried[set.key]; ok {
			set.put(&in, &t.asked, value)
		}
	}
	if len(t.tried) == 0 {
		return s.Base
	}
	var near *advice.Advice // what stands beside a held answer is held like it
	if s.Base != nil && s.Base.Held {
		near = s.Base
	}
	a, err := s.Memo.Soon(in, near)
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

// before gives, for the cells of one column that differ, what stood there with the files as they stand.
func (s *Room) before(t, files show.Table, column string) func(row, column string) template.HTML {
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
