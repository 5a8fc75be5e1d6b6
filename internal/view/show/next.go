package show

import (
	"math"

	"spile/internal/engine/advice"
	"spile/internal/engine/worth"
	"spile/internal/trade/practice"
)

// Trials is the trials that could be run next, each at its best size.
func (w *View) Trials(n *advice.Next) Table {
	v, money, q, list := w.V, w.currency(), n.Options, n.Ranked
	t := Table{
		ID:    "next-trial",
		Title: v.Text("Which trial is worth running next"),
		Lead: v.Text("Each at its best number of blocks of those tried (%d to %d), %s; for %s taps of which %s %% do "+
			"what pays best, over %d seasons.",
			q.Design.Blocks[0], q.Design.Blocks[len(q.Design.Blocks)-1], w.staged(q.Design), v.Decimal(q.Taps, 0),
			v.Decimal(100*q.Adoption, 0), q.Seasons),
		Columns: []Column{
			wordy("trial", v.Text("trial")), numeric("blocks", v.Text("blocks"), ""),
			numeric("net", v.Text("net"), money),
			numeric("benefit", v.Text("benefit"), money),
			numeric("cost", v.Text("cost"), money),
			numeric("changes_pct", v.Text("changes the choice"), "%"),
			numeric("evsi", v.Text("worth a tap and season"), money),
		},
	}
	nothing := Row{ID: "no-trial", Cells: []Cell{words(v.Text("no trial")), count(v, 0), decimal(v, 0, 0),
		decimal(v, 0, 0), decimal(v, 0, 0), decimal(v, 0, 0), decimal(v, 0, 3)}}
	placed := false
	worst, most := n.Error, 0.0 // standard errors
	var notes lettered
	for i, x := range list {
		worst, most = max(worst, x.Error), max(most, x.NetError())
		if x.Net < 0 && !placed {
			nothing.Best, nothing.Strong, placed = i == 0, i == 0, true
			t.Rows = append(t.Rows, nothing)
		}
		first := i == 0 && x.Net >= 0
		name := words(w.called(x.Trial))
		if len(x.Trial.Treatments) > many {
			name.Marks = append(name.Marks, notes.mark(w.trial(x.Trial)))
		}
		t.Rows = append(t.Rows, Row{ID: trialID(x.Trial), Best: first, Strong: first, Dim: x.Net < 0, Cells: []Cell{
			name, count(v, x.Trial.Blocks), decimal(v, math.Round(x.Net), 0), decimal(v, math.Round(x.Benefit), 0),
			decimal(v, math.Round(x.Cost), 0), decimal(v, 100*x.Changes, 0), decimal(v, x.EVSI, 3),
		}})
	}
	if !placed {
		t.Rows = append(t.Rows, nothing)
	}
	t.Notes = append(notes, []Footnote{
		{Text: v.Text("Knowing every gain for sure would be worth %s %s a tap and season: no trial is worth more.",
			v.Decimal(n.Perfect, 3), money)},
		{Text: v.Text("Standard error of the simulation: at most %s %s of what a trial is worth a tap and season, "+
			"and %s %s of its net.",
			v.Decimal(worst, 3), money, v.Decimal(math.Ceil(most), 0), money)},
		{Text: v.Text("The spreads between studies and sites are held at their estimates; prices and work count with " +
			"all that they may be. What seasons and sites differ by caps what more blocks can buy: another season or " +
			"site tells more.")},
	}...)
	if n.Rough {
		t.note(v.Text("A gain has fewer than three degrees of freedom: what a trial is worth is a rough " +
			"guide."))
	}
	return t
}

// many is how many practices a trial has to have for a short name.
const many = 4

// called is the name of a trial, short where it holds many practices: trial names them.
func (w *View) called(t worth.Trial) string {
	if n := len(t.Treatments) - 1; n >= many {
		return w.V.Text("%d practices in one trial, against %s", n, w.Treatment(t.Treatments[0]))
	}
	return w.trial(t)
}

// staged says where and how long trials run.
func (w *View) staged(d advice.TrialDesign) string {
	seasons := w.V.Text("%d seasons", d.Seasons)
	if d.Site != "" {
		return w.V.Text("%s at %s", seasons, d.Site)
	}
	return w.V.Text("%s at %s", seasons, w.V.Text("%d new sites", max(1, d.Sites)))
}

func trialID(t worth.Trial) string {
	id := ""
	for i, x := range t.Treatments {
		if i > 0 {
			id += "~"
		}
		id += treatmentID(x)
	}
	return id
}

func (w *View) trial(t worth.Trial) string {
	var names []string
	for _, x := range t.Treatments[1:] {
		names = append(names, w.Treatment(x))
	}
	if t.Treatments[0].Practice == practice.Unsanitized {
		return w.V.Text("%s against %s", w.V.List(names), w.Treatment(t.Treatments[0]))
	}
	return w.V.Text("%s against %s, direct", w.V.List(names), w.Treatment(t.Treatments[0]))
}
