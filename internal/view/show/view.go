package show

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/view/say"
)

// View is one answer in one voice: its tables, figures and sentences. Footnote numbers of caveats are the same in all.
// One of a trial or a sugarbush has these in the place of an answer.
type View struct {
	A *advice.Advice
	V *say.Voice

	Trial   *TrialView
	Seasons []SeasonView // of a trial that was read
	Springs *WeatherView
	Layout  *LayoutView
	Power   *PowerView
	Plan    *PlanView

	caveats []evidence.Caveat // the number of a footnote is its index plus one
}

// Of makes the view of an answer.
func Of(a *advice.Advice, v *say.Voice) *View {
	w := &View{A: a, V: v}
	for _, s := range a.Input.Studies {
		for _, c := range a.Caveats[s.Name] {
			if !slices.Contains(w.caveats, c) {
				w.caveats = append(w.caveats, c)
			}
		}
	}
	return w
}

// Marks are the footnotes of a study's caveats: numbers from 1 into Footnotes.
func (w *View) Marks(study string) []int {
	var marks []int
	for i, c := range w.caveats {
		if slices.Contains(w.A.Caveats[study], c) {
			marks = append(marks, i+1)
		}
	}
	return marks
}

func (w *View) marks(study string) []string {
	var texts []string
	for _, m := range w.Marks(study) {
		texts = append(texts, strconv.Itoa(m))
	}
	return texts
}

// Footnotes are the caveats of all studies, numbered from 1.
func (w *View) Footnotes() []Footnote {
	notes := make([]Footnote, len(w.caveats))
	for i, c := range w.caveats {
		notes[i] = Footnote{strconv.Itoa(i + 1), w.footnote(c)}
	}
	return notes
}

// used are the footnotes of caveats that a table's cells refer to.
func (w *View) used(t Table) []Footnote {
	var notes []Footnote
	for _, n := range w.Footnotes() {
		if slices.ContainsFunc(t.Rows, func(r Row) bool {
			return slices.ContainsFunc(r.Cells, func(c Cell) bool { return slices.Contains(c.Marks, n.Mark) })
		}) {
			notes = append(notes, n)
		}
	}
	return notes
}

// Caveat is the short name of a caveat; one of the user's own naming stands in the user's words.
func (w *View) Caveat(c evidence.Caveat) string {
	if x, ours := c.Info(); ours {
		return w.V.Term(note.Term(x.Name))
	}
	return c.Words()
}

// footnote is a caveat as a footnote.
func (w *View) footnote(c evidence.Caveat) string {
	if x, ours := c.Info(); ours {
		return w.V.Text(x.Footnote)
	}
	return c.Words()
}

// Practice is the name of a practice.
func (w *View) Practice(k practice.Key) string {
	if p, ok := w.A.Input.Practices.Find(k); ok {
		return w.V.Term(note.Term(p.Name))
	}
	return string(k)
}

// Treatment is the name of a practice, with the drop age where that is not 0, the first season.
func (w *View) Treatment(t practice.Treatment) string {
	if t.DropAge == 0 {
		return w.Practice(t.Practice)
	}
	return w.V.Text("%s, drop age %d", w.Practice(t.Practice), t.DropAge)
}

// ages is true of a practice whose gain fades with the age of the drops.
func (w *View) ages(k practice.Key) bool {
	p, _ := w.A.Input.Practices.Find(k)
	return p.Ages()
}

// Option is the name of a row of the ranking: "new drop every 3 seasons".
func (w *View) Option(o advice.Option) string { return w.choice(o.Choice()) }

func (w *View) choice(c practice.Choice) string {
	name := w.Practice(c.Practice)
	if c.Every > 0 {
		name = w.V.Text("%s %s", name, w.V.Text("every %d seasons", c.Every))
	}
	if c.With != "" {
		name = w.V.Text("%s with %s", name, w.Practice(c.With))
	}
	return name
}

// optionOf is the name of a row of the ranking by its ID, which may belong to the ranking of another fit.
func (w *View) optionOf(id string) string {
	head, with, _ := strings.Cut(id, "+")
	key, every, _ := strings.Cut(head, "/")
	n, _ := strconv.Atoi(every)
	return w.choice(practice.Choice{Practice: practice.Key(key), Every: n, With: practice.Key(with)})
}

// Today is the name of what the ranking is against: today's practice.
func (w *View) Today() string {
	c := w.A.Reference
	if c.Practice == "" {
		c.Practice = practice.NewSpout
	}
	return w.choice(c)
}

// reference says what the ranking is against.
func (w *View) reference() string {
	if c := w.A.Untold; c.Practice != "" {
		return w.V.Text("Unsanitized stands in for today's practice, %s.", w.choice(c))
	}
	return w.V.Text("Today's practice: %s.", w.Today())
}

// aging is the practice whose ageing is followed: the first that has drops of some age in a study.
func (w *View) aging() practice.Key {
	for _, p := range w.A.Input.Practices {
		if p.Ages() && w.A.Pool != nil && slices.ContainsFunc(w.A.Pool.Weights,
			func(x pool.Weight) bool { return x.Practice.Practice == p.Key }) {
			return p.Key
		}
	}
	return practice.NewDrop
}

func (w *View) currency() string {
	if p := w.A.Input.Prices; p != nil {
		return p.Currency
	}
	return ""
}

// Warnings are all warnings of the answer, each once.
func (w *View) Warnings() []string { return texts(Warn(w.V, w.A.Notes, math.MaxInt)) }

// Warned are the same for a reader: of many that are alike the first few, and how many more there are.
func (w *View) Warned() []Warned { return Warn(w.V, w.A.Notes, Alike) }

func texts(list []Warned) []string {
	out := []string{}
	for _, x := range list {
		out = append(out, x.Text)
	}
	return out
}

// Warned is a warning for a reader, or how many more there are of those before it, with what they are.
type Warned struct {
	Text string
	More []string
}

// Alike is how many warnings of one kind are told at once.
const Alike = 5

// Warn is notes for a reader, each once.
func Warn(v *say.Voice, notes note.List, few int) (list []Warned) {
	type kind struct{ said, at int }
	kinds, said := map[string]*kind{}, map[string]bool{}
	for _, n := range notes {
		text := v.Note(n)
		if said[text] {
			continue
		}
		said[text] = true
		k := kinds[n.Key]
		if k == nil {
			k = new(kind)
			kinds[n.Key] = k
		}
		switch k.said++; {
		case k.said <= few:
			list = append(list, Warned{Text: text})
		case k.said == few+1:
			k.at = len(list)
			list = append(list, Warned{})
			fallthrough
		default:
			more := &list[k.at]
			more.More = append(more.More, text)
			more.Text = v.Text("and %d more like it", len(more.More))
		}
	}
	return list
}

// gain finds the pooled gain of a practice in its first season.
func (w *View) gain(k practice.Key) (pool.Gain, bool) {
	if w.A.Pool == nil {
		return pool.Gain{}, false
	}
	for _, g := range w.A.Pool.Gains {
		if g.Treatment == (practice.Treatment{Practice: k}) {
			return g, true
		}
	}
	return pool.Gain{}, false
}
