package report

import (
	"bytes"
	_ "embed"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"

	"spile/internal/view/markup"
	"spile/internal/view/paper"
	"spile/internal/view/show"
)

// The size of text of a handout, between which the largest is found at which each side keeps to its page.
const smallest, largest, finest = 0.55, 1.2, 0.03

// readable is the size of text below which one side becomes two.
const readable = 0.8

// Handout is a producer's sheet as PDF: two sides on letter paper in North America, else on A4. Its text is as large as
// lets each side keep to its page. Where no study speaks of any section there is less to say: one side holds it, unless
// its text would be too small to read; then the first holds what is to be done, and what is not known. The same plan,
// voice and version give the same bytes.
func Handout(w show.PlanView, version string) ([]byte, error) {
	switch {
	case len(w.P.Sections) > 0:
		return fitted(w, version, 1, front, back)
	case fits(paper.NewFlow(paper.About{}, handoutLook(w, 1)), w, w.Handout(), 1, whole) >= readable:
		return fitted(w, version, 1, whole)
	}
	return fitted(w, version, 1, begun, rest)
}

// HandoutLarge is one page of it in large type, for a meeting: the advice, its money, and the six numbers it rests on.
func HandoutLarge(w show.PlanView, version string) ([]byte, error) {
	return fitted(w, version, 2, largePage)
}

// setter sets one side.
type setter func(*paper.Flow, show.PlanView, show.Handout)

// fitted sets sides, each in the largest text at which it keeps to its page; large is how much larger than that of a
// sheet read in the hand.
func fitted(w show.PlanView, version string, large float64, sides ...setter) ([]byte, error) {
	h := w.Handout()
	about := paper.About{Title: h.Title, Lang: w.V.Lang(), Creator: "spile " + version}
	about.Date, _ = time.Parse(time.DateOnly, w.P.Sugarbush.Prices.AsOf)
	var f *paper.Flow
	trial := paper.NewFlow(about, handoutLook(w, large))
	for i, set := range sides {
		low := fits(trial, w, h, large, set)
		if low == smallest && h.Figure != nil { // of very many sections the figure gives way
			h.Figure = nil
			low = fits(trial, w, h, large, set)
		}
		if i == 0 {
			f = paper.NewFlow(about, handoutLook(w, large*low))
		}
		f.Break()
		f.Look = handoutLook(w, large*low)
		set(f, w, h)
	}
	f.Look = handoutLook(w, 1)
	f.Note = min(f.Note, f.Note*(f.Width-2*f.Side)/paper.Italic.Width(h.Foot, f.Note)) // on one row
	f.Feet(h.Foot, func(page, of int) string { return "" })
	return f.Bytes()
}

// fits is the largest text at which a side keeps to its page; smallest where none is small enough.
func fits(trial *paper.Flow, w show.PlanView, h show.Handout, large float64, set setter) float64 {
	low, high := smallest, largest
	for high-low > finest {
		mid := (low + high) / 2
		trial.Break()
		trial.Look = handoutLook(w, large*mid)
		before := trial.Pages()
		if set(trial, w, h); trial.Pages() == before {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// letter is true where the reader's paper is, by the units or by the place of the sugarbush: in the Unicode Common
// Locale Data Repository (48, measurement data) Canada has letter paper as well.
func letter(w show.PlanView) bool {
	country, _, _ := strings.Cut(w.P.Sugarbush.Prices.Place, "-")
	return w.V.Units().Letter() || country == "CA"
}

func handoutLook(w show.PlanView, by float64) paper.Look {
	l, x := sheetOf(w.V), vg.Length(by)
	if letter(w) {
		l.Width, l.Height = 8.5*vg.Inch, 11*vg.Inch
	}
	l.Side, l.Top, l.Bottom, l.Measure = 40, 34, 38, l.Width
	l.Heading, l.Lead, l.Body, l.Caption, l.Table, l.Note, l.Least = 12.5*x, 15*x, 9.5*x, 11*x, 9*x, 8*x, 5*x
	l.Titles = paper.Bold
	return l
}

// handoutHead sets whose sheet it is and what it advises.
func handoutHead(f *paper.Flow, h show.Handout, large vg.Length) {
	one := large * (f.Width - 2*f.Side) / paper.Bold.Width(h.Title, large) * 0.99 // at which it is on one row
	f.Set(paper.Bold, max(large*0.7, min(large, one)), f.Ink, h.Title)
	f.Set(paper.Italic, f.Body, f.Faint, h.Kicker)
	f.Across()
	f.Set(paper.Regular, f.Lead, f.Accent, h.Lead)
}

// marks sets the large numbers beside each other, none of them on two rows.
func marks(f *paper.Flow, h show.Handout, value, label vg.Length) {
	gap := f.Body * 1.6
	lane := (f.Width-2*f.Side+gap)/vg.Length(max(1, len(h.Marks))) - gap
	for _, m := range h.Marks {
		value = min(value, value*0.98*lane/paper.Bold.Width(m.Value, value))
	}
	var lanes []paper.Lane
	for _, m := range h.Marks {
		lanes = append(lanes, paper.Lane{Weight: 1, Set: func() {
			f.Set(paper.Bold, value, f.Accent, m.Value)
			f.Set(paper.Regular, label, f.Ink, m.Label)
		}})
	}
	if len(lanes) > 0 {
		f.Space(f.Body * 0.5)
		f.Beside(gap, lanes...)
		f.Space(f.Body * 0.4)
	}
}

func front(f *paper.Flow, w show.PlanView, h show.Handout) {
	handoutHead(f, h, f.Lead*1.3)
	marks(f, h, f.Lead*1.8, f.Body)
	for _, text := range h.Why {
		f.Set(paper.Regular, f.Body, f.Ink, text)
	}
	if h.Figure != nil {
		put(f, show.Drawn{Name: "plan-rules", Draw: h.Figure.Draw})
	}
	wide(f, h.Do, w)
	f.Beside(f.Body*2.4,
		paper.Lane{Weight: 1, Set: func() { wide(f, h.Buy, w) }},
		paper.Lane{Weight: 1, Set: func() { wide(f, h.Hours, w) }})
}

func back(f *paper.Flow, w show.PlanView, h show.Handout) {
	f.Set(paper.Italic, f.Body, f.Faint, h.Title)
	f.Across()
	behind(f, w, h)
}

// whole is both sides as one.
func whole(f *paper.Flow, w show.PlanView, h show.Handout) {
	front(f, w, h)
	f.Space(f.Body)
	behind(f, w, h)
}

// begun is the first side with what else there is room for, and rest the second without it.
func begun(f *paper.Flow, w show.PlanView, h show.Handout) {
	front(f, w, h)
	f.Space(f.Body)
	h.Years = show.Table{}
	h.Left, h.Right = parted(h.Left, true), parted(h.Right, true)
	behind(f, w, h)
}

func rest(f *paper.Flow, w show.PlanView, h show.Handout) {
	h.Left, h.Right = parted(h.Left, false), parted(h.Right, false)
	back(f, w, h)
}

// parted are the panels that the first side of a sheet without evidence holds, or the others.
func parted(list []show.Panel, first bool) []show.Panel {
	return slices.DeleteFunc(slices.Clone(list), func(p show.Panel) bool {
		return (p.ID == "calendar" || p.ID == "unknown") != first
	})
}

// behind sets what stands behind the advice.
func behind(f *paper.Flow, w show.PlanView, h show.Handout) {
	f.Beside(f.Body*2.4,
		paper.Lane{Weight: 1, Set: func() { panels(f, w, h.Left) }},
		paper.Lane{Weight: 1, Set: func() { panels(f, w, h.Right) }})
	if len(h.Years.Rows) > 0 {
		wide(f, h.Years, w)
	}
}

// wide sets a table over the whole width.
func wide(f *paper.Flow, t show.Table, w show.PlanView) {
	x := tableOf(t, w.V)
	x.Wide = true
	f.Table(x)
}

func panels(f *paper.Flow, w show.PlanView, list []show.Panel) {
	for i, p := range list {
		if i > 0 {
			f.Space(f.Body * 0.7)
		}
		f.Set(paper.Bold, f.Heading, f.Ink, p.Title)
		for i, text := range p.Text {
			f.Set(paper.Regular, f.Body, f.Ink, text)
			if i == 0 && p.Table != nil {
				wide(f, *p.Table, w)
			}
		}
		for n, text := range p.Steps {
			f.Step(strconv.Itoa(n+1)+".", text)
		}
		for _, text := range p.Bullets {
			f.Step("–", text)
		}
	}
}

func largePage(f *paper.Flow, w show.PlanView, h show.Handout) {
	handoutHead(f, h, f.Lead*1.3)
	marks(f, h, f.Lead*1.6, f.Body)
	if len(h.Inputs.Rows) > 0 {
		wide(f, h.Inputs, w)
	}
	for _, p := range h.Left {
		if p.ID == "leaks" {
			f.Set(paper.Bold, f.Body, f.Ink, p.Title)
			f.Set(paper.Regular, f.Body, f.Ink, p.Text[0])
		}
	}
}

//go:embed handout.html
var handoutSource string

// HandoutHTML is the sheet as one file that needs no network and no script, and prints on two sides.
func HandoutHTML(w show.PlanView, version string, large bool) ([]byte, error) {
	tmpl, err := template.New("handout").Funcs(template.FuncMap{"t": w.V.Text}).Parse(handoutSource)
	if err != nil {
		return nil, err
	}
	size := "A4"
	if letter(w) {
		size = "letter"
	}
	var out bytes.Buffer
	err = tmpl.Execute(&out, map[string]any{"Lang": w.V.Lang(), "Title": w.Handout().Title, "Version": version,
		"Style": template.CSS(markup.Stylesheet()), "Paper": template.CSS(size), "Body": HandoutBody(w, large)})
	return out.Bytes(), err
}
