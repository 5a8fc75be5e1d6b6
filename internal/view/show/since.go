package show

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/view/say"
)

// Moved says what an answer was then and is now; nothing where that was not asked.
func (w *View) Moved() []string {
	if w.A.Since == nil {
		return nil
	}
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
			said = v.Text("%s came first then; now there is no answer.", capital(w.choice(was)))
		case was == is:
			said = v.Text("%s came first then, and does now.", capital(w.choice(is)))
		default:
			said = v.Text("%s came first then; now %s does.", capital(w.choice(was)), w.choice(is))
		}
	}
	return []string{said, v.Text("Each row is worked out by today's method from the evidence and the prices of then: " +
		"it is not what this program said at the time.")}
}

// Changes is what came, and what each moved, from the answer then to the answer now.
func (w *View) Changes() Table {
	v, since := w.V, *w.A.Since
	t := Table{ID: "changes", Title: v.Text("What came, and what it moved"), Cards: true, Columns: []Column{
		wordy("at", v.Text("until")), wordy("came", v.Text("what came")), wordy("first", v.Text("comes first")),
	}}
	of, some := since.First()
	if some {
		t.Lead = v.Text("Gain over unsanitized, net against today's practice and rank are those of %s; in brackets "+
			"the 95 %% interval.", w.choice(of))
		t.Columns = append(t.Columns, w.standing()...)
	}
	row := func(s advice.Step, before *advice.Step, until, came string) *Row {
		first := v.None()
		if c, ok := s.First(); ok {
			first = w.choice(c)
		}
		cells := []Cell{words(until), words(came), words(first)}
		if some {
			cells = append(cells, w.stands(of, s, before)...)
		}
		return t.row(fmt.Sprint(s.Change), cells...)
	}
	var before *advice.Step
	for i, s := range since.Steps {
		row(s, before, w.until(s), w.came(s, i == 0))
		before = &since.Steps[i]
	}
	if len(since.Steps) > 2 {
		x := row(*before, &since.Steps[0], v.Text("now"), v.Text("all of it, since the answer then"))
		x.ID, x.Strong = "all", true
	}
	unranked := func(s advice.Step) bool { return s.Find(of) != nil && s.Place(of) == 0 }
	if some {
		t.note(w.otherGains(of, since.Steps...))
	}
	if some && slices.ContainsFunc(since.Steps, unranked) {
		t.note(v.Text("Without a rank: it rested on too little then to come first, whatever it netted."))
	}
	return t
}

// Standings is every option as it stood then and stands now.
func (w *View) Standings() Table {
	v, steps := w.V, w.A.Since.Steps
	t := Table{ID: "standings", Title: v.Text("Every practice, then and now"), Cards: true, Columns: []Column{
		wordy("practice", v.Text("practice"))}}
	then, now := steps[0], steps[len(steps)-1]
	list := slices.Clone(now.Ranked)
	for _, x := range then.Ranked {
		if now.Find(x.Choice) == nil {
			list = append(list, x)
		}
	}
	if len(steps) < 2 || len(list) < 2 {
		return t
	}
	t.Lead = v.Text("In brackets the 95 %% interval; moved is from then to now.")
	t.Columns = append(t.Columns, w.standing()...)
	for _, x := range list {
		t.row(advice.Option{Practice: x.Practice, Every: x.Every, With: x.With}.ID(),
			append([]Cell{words(w.choice(x.Choice))}, w.stands(x.Choice, now, &then)...)...)
	}
	t.note(w.otherGains(now.Ranked[0].Choice, then, now))
	return t
}

// otherGains says that gains without prices are not those with them, where both stand in steps; else nothing.
func (w *View) otherGains(of practice.Choice, steps ...advice.Step) string {
	with, without := false, false
	for _, s := range steps {
		if x := s.Find(of); x != nil {
			with, without = with || x.Net != nil, without || x.Net == nil
		}
	}
	if !with || !without {
		return ""
	}
	return w.V.Text("A gain without a net is the pooled one, of an answer without prices; one beside a net is that " +
		"used for money, drawn toward those of like practices: what lies between them was moved by no study.")
}

// standing are the columns of how an option stands, and what that moved.
func (w *View) standing() []Column {
	v := w.V
	list := []Column{interval("gain_pct", v.Text("gain"), "%"),
		numeric("gain_moved_pct", v.Text("moved"), v.Text("points"))}
	if w.A.Input.Prices != nil {
		list = append(list, sums(v, "net", v.Text("net"), w.currency()).ranged(),
			sums(v, "net_moved", v.Text("moved"), w.currency()))
	}
	return append(list, Column{ID: "place", Name: v.Text("rank"), Right: true})
}

// changesForHall is what a hall can read of it: the answer then, the latest two of what came, what came before them
// together, and what was netted after each.
func (w *View) changesForHall() []Table {
	since := *w.A.Since
	steps := slices.Clone(since.Steps)
	for i := range steps {
		steps[i].Came, steps[i].Why = brief(steps[i].Came), nil
	}
	if n := len(steps) - lines + 1; n > 1 { // so that what moved adds up from then to now
		steps[n].Came = []note.Note{note.New("%d changes", n)}
		steps = slices.Delete(steps, 1, n)
	}
	told := *w.A
	told.Since = &advice.Since{Steps: steps}
	t := Of(&told, w.V).Changes()
	t.Lead, t.Notes, t.Rows = "", nil, t.Rows[:len(steps)]
	t = t.Without("place", "gain_pct", "gain_moved_pct")
	first := slices.IndexFunc(t.Columns, func(c Column) bool { return c.ID == "first" })
	if !slices.ContainsFunc(t.Rows, func(r Row) bool { return r.Cells[first].Text != t.Rows[0].Cells[first].Text }) {
		t = t.Without("first")
	}
	for i := range t.Rows {
		t.Rows[i].Cells[0].Text, _, _ = strings.Cut(t.Rows[i].Cells[0].Text, ",") // the day alone
	}
	if at := slices.IndexFunc(t.Columns, func(c Column) bool { return c.ID == "net" }); at >= 0 {
		// of whom the finding above says that it comes first
		t.Columns[at].Name, t.Columns[at].Interval = w.V.Text("its net"), false
		for i, r := range t.Rows {
			if x := r.Cells[at].Number; x != nil {
				t.Rows[i].Cells[at] = decimal(w.V, *x, 2)
			}
		}
	}
	return []Table{t}
}

// brief is what came without the names in brackets behind a number of studies or trials.
func brief(came []note.Note) (list []note.Note) {
	for _, n := range came {
		if len(n.Args) == 1 {
			if x, ok := n.Args[0].(note.Note); ok && x.Key == "%s (%s)" {
				if of, ok := x.Args[0].(note.Note); ok && len(of.Args) > 0 {
					n = note.New(n.Key, of)
				}
			}
		}
		list = append(list, n)
	}
	return list
}

// until is when a step ends.
func (w *View) until(s advice.Step) string {
	if s.Change == 0 {
		return w.V.Text("the empty workbook")
	}
	return w.V.Text("%s, change %d", s.At.Format(time.DateOnly), int(s.Change))
}

// came is what came in a step, in words.
func (w *View) came(s advice.Step, first bool) string {
	v := w.V
	what := strings.Join(v.Notes(s.Came), "; ")
	if first {
		what = v.Text("the answer then")
	}
	if len(s.Why) > 0 {
		what = v.Text("%s (why: %s)", what, strings.Join(s.Why, "; "))
	}
	if s.Faults != nil {
		return v.Text("%s. No answer: %s", what, v.Note(s.Faults[0]))
	}
	return what
}

// stands are the gain, the net and the place of an option in a step, with what moved since the one before.
func (w *View) stands(of practice.Choice, s advice.Step, before *advice.Step) []Cell {
	v, priced := w.V, w.A.Input.Prices != nil
	now, was := s.Find(of), (*advice.Standing)(nil)
	if before != nil {
		was = before.Find(of)
	}
	gain, gained, net, netted, place := none(v), words(""), none(v), words(""), none(v)
	if now != nil {
		gain = percents(v, now.GainPct, now.LowPct, now.HighPct)
		if was != nil && (was.Net == nil) == (now.Net == nil) {
			gained = moved(v, was.GainPct, now.GainPct, 1)
		}
		if n := now.Net; n != nil && n.Expected != nil {
			net = decimals(v, *n.Expected, n.NetLow, n.NetHigh, 2)
			if was != nil && was.Net != nil && was.Net.Expected != nil {
				netted = moved(v, *was.Net.Expected, *n.Expected, 2)
			}
		}
	}
	if at := s.Place(of); at > 0 {
		place = count(v, at)
		if before != nil {
			if from := before.Place(of); from > 0 && from != at {
				place.Text = v.Count(from) + " → " + v.Count(at)
			}
		}
	}
	if !priced {
		return []Cell{gain, gained, place}
	}
	return []Cell{gain, gained, net, netted, place}
}

// moved is the difference of two numbers as they are written, with its sign, so that steps add up to the whole; what
// rounds to nothing is a 0 without one.
func moved(v *say.Voice, from, to float64, digits int) Cell {
	written := func(x float64) float64 {
		x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'f', digits, 64), 64)
		return x
	}
	by := written(to) - written(from)
	text := v.Decimal(by, digits)
	switch zero := v.Decimal(0, digits); {
	case strings.TrimLeft(text, "−-") == zero:
		text = "0"
	case by > 0:
		text = "+" + text
	}
	return num(text, to-from)
}

// ChangesJSON is what `changes --json` prints.
type ChangesJSON struct {
	Of    *string      `json:"of"` // the option whose gain, net and place are given
	Steps []ChangeJSON `json:"steps"`
}

// ChangeJSON is the answer at one step.
type ChangeJSON struct {
	Change int64    `json:"change"`
	At     *string  `json:"at"`
	Who    []string `json:"who"`
	Came   []string `json:"came"`
	Why    []string `json:"why"`
	First  *string  `json:"first"`
	Gain   *Number  `json:"gain_pct"`
	Low    *Number  `json:"gain_low_pct"`
	High   *Number  `json:"gain_high_pct"`
	Net    *Number  `json:"net"`
	NetLow *Number  `json:"net_low"`
	NetTop *Number  `json:"net_high"`
	Place  *int     `json:"place"`
	Faults []string `json:"faults"`
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
		x := ChangeJSON{Change: s.Change, Who: append([]string{}, s.Who...),
			Came:   append([]string{}, w.V.Notes(s.Came)...),
			Why:    append([]string{}, s.Why...),
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
				x.Net, x.NetLow, x.NetTop = number(n.Expected), number(&n.NetLow), number(&n.NetHigh)
			}
			if place := s.Place(of); place > 0 {
				x.Place = &place
			}
		}
		j.Steps = append(j.Steps, x)
	}
	return j
}
