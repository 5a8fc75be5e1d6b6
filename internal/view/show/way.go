package show

import (
	"spile/internal/engine/advice"
	"spile/internal/trade/practice"
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
			"over what is unsure, a season; over the first %d seasons as one equal amount (equivalent annual net "+
			"present value), what lasts charged over its life.", w.reference(), w.A.Input.Over),
		Columns: []Column{
			wordy("practice", v.Text("practice")),
			numeric("net_steady", v.Text("in the long run"), money),
			numeric("net_over", v.Text("over the first %d seasons", w.A.Input.Over), money),
			numeric("payback_season", v.Text("paid back in season"), ""),
			numeric("outlay", v.Text("greatest outlay"), money),
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
			name, decimal(v, o.Today.Average(), 2), decimal(v, o.Way.Expected, 2), paid,
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
		{"payback_season", payback}, {"outlay", x.Outlay}}
}

// wayOf is the way to replacing drops every so many seasons, in JSON.
func (w *View) wayOf(every int) any {
	if o, ok := w.A.Find(practice.Choice{Practice: w.aging(), Every: every}); ok {
		return wayObject(o.Way)
	}
	return nil
}
