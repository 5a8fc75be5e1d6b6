package report

import (
	"image/color"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"

	"spile/internal/engine/advice"
	"spile/internal/view/figure"
	"spile/internal/view/paper"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// PDF is the report as a document: the same content in the same order as HTML, on letter paper for a reader with US
// units, else on A4. Ask advice.Memo.Thorough first. The same answer, voice and version give the same bytes.
func PDF(a *advice.Advice, v *say.Voice, version string, tried ...string) ([]byte, error) {
	w := show.Of(a, v)
	l := sheetOf(v)
	l.Floats = true
	f := paper.NewFlow(About(a, v, version), l)
	f.Title(v.Text("Tap holes and drops: what pays"))
	f.Kicker(v.Text("What to do"))
	for i, text := range w.Recommendation() {
		if i == 0 {
			f.Lede(text)
		} else {
			f.Bullet(text)
		}
	}
	all := chapters(w)
	var heads []string
	for _, c := range all {
		heads = append(heads, c.name)
	}
	f.Contents(v.Text("Contents"), heads)
	if len(tried) > 0 {
		f.Head(v.Text("Tried, and not as the files stand"))
		for _, text := range tried {
			f.Bullet(text)
		}
	}
	if warnings := w.Warned(); len(warnings) > 0 {
		f.Head(v.Text("Read with care"))
		for _, x := range warnings {
			f.Bullet(x.Text)
		}
	}
	for _, s := range w.Spreads(show.Report, "answer") {
		for _, x := range s.Figures {
			put(f, x)
		}
	}
	for _, c := range all {
		if c.apart {
			f.Break()
		}
		f.Head(c.name)
		for _, text := range c.text {
			f.Para(text)
		}
		for _, s := range c.spreads {
			for _, x := range s.Figures {
				put(f, x)
			}
			var tables []paper.Table
			for _, t := range s.Tables {
				set := tableOf(t, v)
				if c.hush {
					set.Title = ""
				}
				tables = append(tables, set)
			}
			f.Tables(tables...)
		}
	}
	f.Quiet(v.Text("Made by spile %s. The same data and version give the same report, byte for byte.", version))
	f.Quiet(v.Text("This report informs; it does not permit. The label is the law."))
	f.Feet(v.Text("Tap holes and drops: what pays"),
		func(page, of int) string { return v.Text("page %d of %d", page, of) })
	return f.Bytes()
}

// About is what a document of an answer says of itself; its date is that of the prices.
func About(a *advice.Advice, v *say.Voice, version string) paper.About {
	about := paper.About{Title: v.Text("Tap holes and drops: what pays"), Lang: v.Lang(), Creator: "spile " + version}
	if p := a.Input.Prices; p != nil {
		about.Date, _ = time.Parse(time.DateOnly, p.AsOf)
	}
	return about
}

// Untitled says of the PDF of a figure what it is; its title is the figure's own. A zero date is left out.
func Untitled(date time.Time, v *say.Voice, version string) paper.About {
	return paper.About{Lang: v.Lang(), Creator: "spile " + version, Date: date}
}

// margin is that of a figure for a page.
const margin = 12

func put(f *paper.Flow, x show.Drawn) {
	s := x.Draw(figure.Page)
	f.Figure(s.Width, s.Height, margin, s.Alt(), s.DrawOn)
}

// sheetOf is how a report is set on the paper of its reader.
func sheetOf(v *say.Voice) paper.Look {
	l := look()
	l.Width, l.Height = 210*vg.Millimeter, 297*vg.Millimeter
	if v.Units().Letter() {
		l.Width, l.Height = 8.5*vg.Inch, 11*vg.Inch
	}
	l.Side, l.Top, l.Bottom, l.Measure = 48, 48, 58, 432
	l.Heading, l.Lead, l.Body, l.Caption, l.Table, l.Note, l.Least = 17, 14, 10, 11.5, 8, 7.5, 6.5
	l.Whole = 0.22
	return l
}

// look is the one look: one ink, one accent, on the white of the paper.
func look() paper.Look {
	colours := map[string]color.Color{}
	for _, c := range figure.Palette() {
		colours[c.Var] = c.Light
	}
	return paper.Look{Ink: colours["--ink"], Faint: colours["--faint"], Rule: colours["--rule"],
		Accent: colours["--accent"]}
}

// tableOf is a table for paper; the interval in a number's text is parted from it.
func tableOf(t show.Table, v *say.Voice) paper.Table {
	out := paper.Table{Title: t.Title, Continued: v.Text("%s, continued", t.Title), Lead: t.Lead}
	for _, c := range t.Columns {
		out.Columns = append(out.Columns, paper.Column{Head: c.Name, Unit: c.Unit, Right: c.Right})
	}
	for _, r := range t.Rows {
		row := paper.Row{Strong: r.Strong, Dim: r.Dim}
		for i, c := range r.Cells {
			cell := paper.Cell{Text: c.Text, Marks: strings.Join(c.Marks, ",")}
			if t.Columns[i].Interval {
				cell.Text, cell.Within = c.Parted()
			}
			row.Cells = append(row.Cells, cell)
		}
		out.Rows = append(out.Rows, row)
	}
	for _, n := range t.Notes {
		out.Notes = append(out.Notes, paper.Note{Mark: n.Mark, Text: n.Text})
	}
	return out
}
