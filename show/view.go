package show

import (
	"slices"
	"strconv"

	"spile/advice"
	"spile/evidence"
	"spile/note"
	"spile/practice"
	"spile/say"
)

// View is one answer in one voice. Footnote numbers of caveats are the same in all its tables and figures.
type View struct {
	A       *advice.Advice
	V       *say.Voice
	caveats []evidence.Caveat // number of a footnote is its index plus one
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

// Marks are the footnote marks of a study's caveats, in the order of the footnotes.
func (w *View) Marks(study string) []string {
	var marks []string
	for i, c := range w.caveats {
		if slices.Contains(w.A.Caveats[study], c) {
			marks = append(marks, strconv.Itoa(i+1))
		}
	}
	return marks
}

// Footnotes are the caveats of all studies, numbered.
func (w *View) Footnotes() []Footnote {
	notes := make([]Footnote, len(w.caveats))
	for i, c := range w.caveats {
		notes[i] = Footnote{strconv.Itoa(i + 1), w.Caveat(c)}
	}
	return notes
}

// Caveat is a caveat in words; one of the user's own naming stands as typed.
func (w *View) Caveat(c evidence.Caveat) string {
	if text, ok := caveatTexts[c]; ok {
		return w.V.Text(text)
	}
	return string(c)
}

var caveatTexts = map[evidence.Caveat]string{
	evidence.NoReplication:  "not replicated: one unit an arm, so its own error is unknown",
	evidence.LowYield:       "low yield: less sap per tap than vacuum tubing gives, so a percentage weighs little",
	evidence.FreakSeason:    "freak season",
	evidence.Gravity:        "gravity: no vacuum",
	evidence.Tubing316:      "3/16 inch tubing",
	evidence.YoungReference: "the reference's drops were younger than three seasons, so gains look smaller",
	evidence.Interest:       "funded by a maker of what was tested",
}

// Practice is the name of a practice.
func (w *View) Practice(k practice.Key) string {
	if p, ok := w.A.Input.Practices.Find(k); ok {
		return w.V.Term(note.Term(p.Name))
	}
	return string(k)
}

// Treatment is the name of a practice, with the age of its drops where that is not the first season.
func (w *View) Treatment(t practice.Treatment) string {
	if t.DropAge == 0 {
		return w.Practice(t.Practice)
	}
	return w.V.Text("%s, season %d", w.Practice(t.Practice), t.DropAge+1)
}

// Option is the name of a row of the ranking: "new drop every 3 seasons".
func (w *View) Option(o advice.Option) string {
	name := w.Practice(o.Practice)
	if o.Every > 0 {
		name = w.V.Text("%s %s", name, w.V.Text("every %d seasons", o.Every))
	}
	if o.With != "" {
		name = w.V.Text("%s with %s", name, w.Practice(o.With))
	}
	return name
}
