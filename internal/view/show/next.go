package show

import (
	"math"
	"slices"

	"spile/internal/engine/advice"
	"spile/internal/engine/worth"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// shown is how many trials a table shows.
const shown = 10

// Trials is the best of the trials that could be run next, each at its best size.
func (w *View) Trials(n *advice.Next) Table {
	v, money, q, list := w.V, w.currency(), n.Options, n.Ranked[:min(shown, len(n.Ranked))]
	t := Table{
		ID:    "next-trial",
		Title: v.Text("Which trial is worth running next"),
		Lead: v.Text("Sets of practices, each at the sites, seasons and blocks that pay best; for %s of which %s %% "+
			"do what pays best, over %s.", v.Text("%d taps", note.Count(q.Taps)), v.Decimal(100*q.Adoption, 0),
			v.Text("%d seasons", q.Seasons)),
		Columns: []Column{
			wordy("trial", v.Text("trial")), numeric("sites", v.Text("sites"), ""),
			numeric("seasons", v.Text("seasons"), ""), numeric("blocks", v.Text("blocks a site"), ""),
			sums(v, "net", v.Text("net"), money),
			sums(v, "benefit", v.Text("benefit"), money),
			sums(v, "cost", v.Text("cost"), money),
			numeric("changes_pct", v.Text("changes the choice"), "%"),
			sums(v, "evsi", v.Text("worth a tap and season"), money),
		},
	}
	if q.Design.Site != "" {
		t.Lead += " " + v.Text("All are at %s.", q.Design.Site)
	}
	nothing := Row{ID: "no-trial", Cells: []Cell{words(v.Text("no trial")), count(v, 0), count(v, 0), count(v, 0),
		decimal(v, 0, 0), decimal(v, 0, 0), decimal(v, 0, 0), decimal(v, 0, 0), decimal(v, 0, 3)}}
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
		blocks := count(v, x.Trial.Blocks)
		if x.Edge {
			blocks.Marks = append(blocks.Marks, notes.mark(v.Text("beyond this size none was looked at")))
		}
		t.Rows = append(t.Rows, Row{ID: trialID(x.Trial), Best: first, Strong: first, Dim: x.Net < 0, Cells: []Cell{
			name, count(v, max(1, x.Trial.Sites)), count(v, x.Trial.Seasons), blocks,
			decimal(v, math.Round(x.Net), 0),
			decimal(v, math.Round(x.Benefit), 0), decimal(v, math.Round(x.Cost), 0), decimal(v, 100*x.Changes, 0),
			decimal(v, x.EVSI, 3),
		}})
	}
	if !placed {
		t.Rows = append(t.Rows, nothing)
	}
	t.Notes = append(notes, []Footnote{
		{Text: v.Text("Knowing every gain for sure would be worth %s %s a tap and season: no trial is worth more.",
			v.Decimal(n.Perfect, 3), v.MoneyUnit(money))},
		{Text: v.Text("Standard error of the simulation: at most %s %s of what a trial is worth a tap and season, "+
			"and %s %s of its net.",
			v.Decimal(worst, 3), v.MoneyUnit(money), v.Decimal(math.Ceil(most), 0), v.MoneyUnit(money))},
		{Text: v.Text("Its cost holds the sap that every practice in it gives away that brings less than what pays " +
			"best today.")},
		{Text: v.Text("How much studies, sites, seasons and practices differ counts as little known as it is, and a " +
			"result tells of that too; prices and work count with all that they may be. What seasons and sites " +
			"differ by caps what more blocks can buy.")},
	}...)
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

// staged says where and how long a trial runs.
func (w *View) staged(t worth.Trial) string {
	seasons := w.V.Text("%d seasons", t.Seasons)
	if t.Site != "" {
		return w.V.Text("%s at %s", seasons, t.Site)
	}
	return w.V.Text("%s at %s", seasons, w.V.Text("%d new sites", max(1, t.Sites)))
}

// sized says how large it is besides.
func (w *View) sized(t worth.Trial) string {
	blocks := w.V.Text("%d blocks", t.Blocks)
	if t.Sites > 1 {
		return w.V.Text("%s, with %s at each", w.staged(t), blocks)
	}
	return w.V.Text("%s, with %s", w.staged(t), blocks)
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

// arm is the name of a treatment within a list.
func (w *View) arm(t practice.Treatment) string {
	if t.DropAge == 0 {
		return w.Treatment(t)
	}
	return w.V.Text("%s (drop age %d)", w.Practice(t.Practice), t.DropAge)
}

func (w *View) trial(t worth.Trial) string {
	var names []string
	for _, x := range t.Treatments[1:] {
		names = append(names, w.arm(x))
	}
	if t.Treatments[0].Practice == practice.Unsanitized {
		return w.V.Text("%s against %s", w.V.List(names), w.arm(t.Treatments[0]))
	}
	return w.V.Text("%s against %s, direct", w.V.List(names), w.arm(t.Treatments[0]))
}

// NextTrial says which trial to run next.
func (w *View) NextTrial() []string {
	v, x := w.V, w.A.Weighed
	if x == nil || x.Next == nil || len(x.Next.Ranked) == 0 {
		return []string{v.Text("Nothing is recommended, so that nothing can be said of what a trial would change.")}
	}
	best, money := x.Next.Ranked[0], w.currency()
	var list []string
	if best.Net <= 0 {
		list = append(list,
			v.Text("No trial is worth its cost: the best, %s, costs %s and is expected to bring %s.",
				w.trial(best.Trial), v.Sum(best.Cost, money), v.Sum(best.Benefit, money)))
	} else {
		list = append(list,
			v.Text("Worth running next: %s, %s. It costs %s and is expected to bring %s to all who use its answer.",
				w.trial(best.Trial), w.sized(best.Trial), v.Sum(best.Cost, money), v.Sum(best.Benefit, money)),
			v.Text("It changes which practice pays best with a chance of %s; the more can change, the more it is "+
				"worth.", InPercent(v, best.Changes)))
	}
	if t := w.promising(x.Next); t != "" {
		list = append(list, t)
	}
	return list
}

// promising names what leads on one study, and the best trial that would give it another.
func (w *View) promising(n *advice.Next) string {
	v := w.V
	if n.Promising == nil {
		return ""
	}
	leads := v.Text("%s nets more than what is recommended, and rests on %s: promising, but first place needs two "+
		"studies.", capital(w.Option(*n.Promising)), n.Promising.Promising)
	for i, x := range n.Ranked {
		switch {
		case !slices.ContainsFunc(x.Trial.Treatments,
			func(t practice.Treatment) bool { return t.Practice == n.Promising.Practice }):
		case i == 0:
			return leads + " " + v.Text("This trial gives it another.")
		default:
			return leads + " " + v.Text("Of the trials that give it another, this leaves most, %s: %s, %s.",
				v.Sum(x.Net, w.currency()), w.trial(x.Trial), w.sized(x.Trial))
		}
	}
	return leads
}
