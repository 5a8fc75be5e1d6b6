package show

import (
	"spile/internal/engine/advice"
	"spile/internal/trade/practice"
	"spile/internal/view/figure"
)

// Way is how each practice is come by from today's: what it nets over the first seasons beside the long run, when it is
// paid back, and what it takes in cash.
func (w *View) Way() Table {
	v, money := w.V, w.currency()
	first, _ := w.firstOver()
	t := Table{
		ID:    "way",
		Title: v.Text("The way there, a tap"),
		Lead: v.Text("%s Each is against going on so, and begins with drops as old as they are now. Net: the average "+
			"over what is unsure, a season; over the first %d seasons as one equal amount, and as one sum today "+
			"(net present value), what lasts charged over its life.", w.reference(), w.A.Input.Over),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			sums(v, "net_steady", v.Text("in the long run"), money),
			sums(v, "net_over", v.Text("over the first %d seasons", w.A.Input.Over), money),
			sums(v, "net_present_value", v.Text("net present value"), money),
			numeric("payback_season", v.Text("paid back in season"), ""),
			sums(v, "outlay", v.Text("greatest outlay"), money),
		},
	}
	var notes lettered
	for i, o := range w.A.Ranking {
		if !w.mayLead(o) {
			continue
		}
		name := words(w.Option(o))
		if o.Promising != "" {
			name.Marks = []string{notes.mark(v.Text("promising, %s: first place needs two studies", o.Promising))}
		}
		paid := none(v)
		if o.Way.Payback > 0 {
			paid = count(v, o.Way.Payback)
		}
		t.Rows = append(t.Rows, Row{ID: o.ID(), Best: o.ID() == first.ID(), Strong: i == w.A.Recommended, Cells: []Cell{
			name, decimal(v, o.Today.Average(), 2), decimal(v, o.Way.Expected, 2), decimal(v, o.Way.Present, 2), paid,
			decimal(v, o.Way.Outlay, 2)}})
	}
	t.Notes = notes
	t.note(v.Text("Paid back: the season at whose end all that was spent more is back, and stays so; a dash where "+
		"that is none of the first %d. Greatest outlay: the most that a season takes more before its sap is sold. "+
		"Both are in cash at best guesses, what lasts bought whole. Of what may come first, what nets most over these "+
		"seasons is marked.",
		w.A.Input.Over))
	return t
}

// Payback is the cash of each change that pays so far, season by season; nil where none does.
func (w *View) Payback() Drawing {
	v, money := w.V, w.currency()
	n := w.A.Input.Over
	f := figure.Lines{
		Words: w.figureWords(v.Text("When a change is paid back"),
			v.Text("Lines: the cash of a tap so far, at the end of each of the first %d seasons, more than going on "+
				"as today, at best guesses, what lasts bought whole and nothing discounted; a ring marks the season "+
				"in which all that was spent more is back, and stays so.", n), false),
		X: v.Text("season"), Y: v.Text("cash a tap so far, over today's practice, %s", v.Sign(money)), Open: true,
		Level: &figure.Level{Name: v.Text("as much as today's practice")},
	}
	for _, i := range w.Choices() {
		o := w.A.Ranking[i]
		pays := i == w.A.Recommended || o.Today.Average() > 0 // what loses would leave the others no room
		if !w.mayLead(o) || o.IsToday || !pays || len(f.Curves) == most {
			continue
		}
		name := v.Text("%s: not paid back in %d seasons", w.Option(o), n)
		if o.Way.Payback > 0 {
			name = v.Text("%s: paid back in season %d", w.Option(o), o.Way.Payback)
		}
		line, sum := figure.Line{Name: name, Strong: i == w.A.Recommended, Needed: o.Way.Payback}, 0.
		for s, x := range o.Way.Cash {
			sum += x
			line.Points = append(line.Points, figure.LinePoint{At: s + 1, Value: sum,
				Range: figure.Range{Low: sum, High: sum}})
		}
		f.Curves = append(f.Curves, line)
	}
	if len(f.Curves) == 0 {
		return nil
	}
	return f
}

// most is how many changes a figure of payback tells apart.
const most = 6

// mayLead is true of an option that may come first, or leads and waits for a second study.
func (w *View) mayLead(o advice.Option) bool {
	return o.Way != nil && o.Studied && o.Verdict == practice.Permitted
}

// firstOver is what nets most over the first seasons of all that may come first; false where there is none.
func (w *View) firstOver() (first advice.Option, found bool) {
	for _, o := range w.A.Ranking {
		if w.mayLead(o) && o.Promising == "" && (!found || o.Way.Expected > first.Way.Expected) {
			first, found = o, true
		}
	}
	return first, found
}

// soon says what nets more than the recommended over the first seasons from today's practice; "" where nothing does.
func (w *View) soon(best advice.Option) string {
	v, money := w.V, w.currency()
	first, found := w.firstOver()
	if !found || best.Way == nil {
		return ""
	}
	most, own := v.Money(first.Way.Expected, money), v.Money(best.Way.Expected, money)
	if first.ID() == best.ID() || most == own {
		return ""
	}
	return v.Text("over the first %d seasons from today's practice and drops, %s nets more: %s a tap and season, not "+
		"%s", w.A.Input.Over, w.Option(first), most, own)
}

// wayObject is a way in JSON: its seasons, at best guesses, and their equal yearly amount.
func wayObject(x *advice.Way) any {
	if x == nil {
		return nil
	}
	var payback any
	if x.Payback > 0 {
		payback = x.Payback
	}
	return object{{"seasons", len(x.Net)}, {"net_by_season", x.Net}, {"net_expected", x.Expected},
		{"net_present_value", x.Present}, {"cash_by_season", x.Cash},
		{"payback_season", payback}, {"outlay", x.Outlay}}
}

// wayOf is the way to replacing drops every so many seasons, in JSON.
func (w *View) wayOf(every int) any {
	if o, ok := w.A.Find(practice.Choice{Practice: w.aging(), Every: every}); ok {
		return wayObject(o.Way)
	}
	return nil
}
