package show

import (
	"fmt"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/trade/practice"
)

// Moved says what an answer was then and is now.
func (w *View) Moved() []string {
	v, steps := w.V, w.A.Since.Steps
	then, now := steps[0], steps[len(steps)-1]
	said := v.Text("Nothing that an answer rests on has come since.")
	if len(steps) > 1 {
		was, had := then.First()
		is, has := now.First()
		switch {
		case !had && !has:
			said = v.Text("There was no answer then, and there is none now.")
		case !had:
			said = v.Text("There was no answer then; now %s comes first.", w.choice(is))
		case !has:
			said = v.Text("%s came first then; now there is no answer.", sentence(w.choice(was)))
		case was == is:
			said = v.Text("%s came first then, and does now.", sentence(w.choice(is)))
		default:
			said = v.Text("%s came first then; now %s does.", sentence(w.choice(was)), w.choice(is))
		}
	}
	return []string{said, v.Text("Each row is worked out by today's method from the evidence and the prices of then: it " +
		"is not what this program said at the time.")}
}

// Changes is what came, and what each moved, from the answer then to the answer now.
func (w *View) Changes() Table {
	v, since := w.V, *w.A.Since
	t := Table{ID: "changes", Title: v.Text("What came, and what it moved"), Columns: []Column{
		wordy("at", v.Text("until")), wordy("came", v.Text("what came")), wordy("first", v.Text("comes first")),
	}}
	of, some := since.First()
	if some {
		t.Lead = v.Text("Gain over unsanitized, net against today's practice and place are those of %s; in brackets the "+
			"95 %% interval, behind an arrow what the row moved.", w.choice(of))
		t.Columns = append(t.Columns, interval("gain_pct", v.Text("gain"), "%"))
		if w.A.Input.Prices != nil {
			t.Columns = append(t.Columns, interval("net", v.Text("net"), v.Text("%s a tap", w.currency())))
		}
		t.Columns = append(t.Columns, Column{ID: "place", Name: v.Text("place"), Right: true})
	}
	var before *advice.Step
	for i, s := range since.Steps {
		first := v.None()
		if c, ok := s.First(); ok {
			first = w.choice(c)
		}
		cells := []Cell{words(w.until(s)), words(w.came(s, i == 0)), words(first)}
		if some {
			cells = append(cells, w.stands(of, s, before)...)
		}
		t.row(fmt.Sprint(s.Change), cells...)
		before = &since.Steps[i]
	}
	t.Rows[len(t.Rows)-1].Strong = true
	return t
}

// until is when a step ends.
func (w *View) until(s advice.Step) string {
	if s.Change == 0 {
		return w.V.Text("the empty workbook")
	}
	return w.V.Text("%s, change %d", w.V.Date(s.At), int(s.Change))
}

// came is what came in a step, in words.
func (w *View) came(s advice.Step, first bool) string {
	v := w.V
	if s.Faults != nil {
		return v.Text("%s; no answer: %s", v.List(v.Notes(s.Came)), v.Note(s.Faults[0]))
	}
	if first {
		return v.Text("the answer then")
	}
	return v.List(v.Notes(s.Came))
}

// stands are the gain, the net and the place of an option in a step, with what moved since the one before.
func (w *View) stands(of practice.Choice, s advice.Step, before *advice.Step) (cells []Cell) {
	v := w.V
	now, was := s.Find(of), (*advice.Standing)(nil)
	if before != nil {
		was = before.Find(of)
	}
	moved := func(x float64, had bool, from float64, text func(float64) string) string {
		if !had || text(x) == text(from) {
			return ""
		}
		sign := "+"
		if x < from {
			sign = "−"
		}
		return " → " + sign + text(max(x-from, from-x))
	}
	priced := w.A.Input.Prices != nil
	if now == nil {
		cells = []Cell{words(v.None())}
		if priced {
			cells = append(cells, words(v.None()))
		}
		return append(cells, words(v.None()))
	}
	_ = moved
	_ = was
	return cells
}

// ChangesJSON is what `changes --json` prints.
type ChangesJSON struct {
	Of    *string      `json:"of"` // the option whose gain, net and place are given
	Steps []ChangeJSON `json:"steps"`
}

// ChangeJSON is the answer at one step.
type ChangeJSON struct {
	Change int64     `json:"change"`
	At     *string   `json:"at"`
	Who    []string  `json:"who"`
	Came   []string  `json:"came"`
	First  *string   `json:"first"`
	Gain   *Number   `json:"gain_pct"`
	Low    *Number   `json:"gain_low_pct"`
	High   *Number   `json:"gain_high_pct"`
	Net    *Number   `json:"net"`
	NetLow *Number   `json:"net_low"`
	NetTop *Number   `json:"net_high"`
	Place  *int      `json:"place"`
	Faults []string  `json:"faults"`
}

// ChangesJSON gives what came and what it moved.
func (w *View) ChangesJSON() ChangesJSON {
	since := *w.A.Since
	j := ChangesJSON{Steps: []ChangeJSON{}}
	of, some := since.First()
	id := func(c practice.Choice) *string {
		return new(advice.Option{Practice: c.Practice, Every: c.Every, With: c.With}.ID())
	}
	if some {
		j.Of = id(of)
	}
	for _, s := range since.Steps {
		x := ChangeJSON{Change: s.Change, Who: append([]string{}, s.Who...), Came: append([]string{}, w.V.Notes(s.Came)...),
			Faults: append([]string{}, w.V.Notes(s.Faults)...)}
		if s.Change > 0 {
			x.At = new(s.At.Format(time.RFC3339))
		}
		if c, ok := s.First(); ok {
			x.First = id(c)
		}
		if now := s.Find(of); some && now != nil {
			x.Gain, x.Low, x.High = number(&now.GainPct), number(&now.LowPct), number(&now.HighPct)
			if n := now.Net; n != nil {
				x.Net, x.NetLow, x.NetTop = number(&n.Net), number(&n.NetLow), number(&n.NetHigh)
			}
			if place := s.Place(of); place > 0 {
				x.Place = &place
			}
		}
		j.Steps = append(j.Steps, x)
	}
	return j
}
