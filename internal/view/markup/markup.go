// Package markup writes tables, figures and sheets as HTML: one small writer for the pages of the workbench, the
// report, and the engine in a browser, which has no room for a language of templates.
package markup

import (
	"html"
	"slices"
	"strings"

	"spile/internal/view/figure"
	"spile/internal/view/show"
)

// Writer writes HTML. Prefix stands before every id, where a page holds the same thing twice.
type Writer struct {
	strings.Builder
	Prefix string
}

// put writes markup, and between two pieces of it a text: odd arguments are markup, even ones are text.
func (w *Writer) put(parts ...string) {
	for i, p := range parts {
		if i%2 == 1 {
			p = html.EscapeString(p)
		}
		w.WriteString(p)
	}
}

// List is texts as the items of a list.
func (w *Writer) List(kind string, items []string) {
	if len(items) == 0 {
		return
	}
	w.put("<" + kind + ">")
	for _, x := range items {
		w.put("<li>", x, "</li>")
	}
	w.put("</" + kind + ">\n")
}

// Paragraphs is texts as paragraphs.
func (w *Writer) Paragraphs(texts ...string) {
	for _, x := range texts {
		w.put("<p>", x, "</p>\n")
	}
}

// Lead writes what is to be done: the first of some texts large.
func (w *Writer) Lead(texts []string) {
	for i, x := range texts {
		class := ""
		if i == 0 {
			class = ` class="first"`
		}
		w.put("<p"+class+">", x, "</p>\n")
	}
}

// Marks are what a page adds to a table, by the IDs of row and column; nil adds nothing. What More gives is HTML that
// stands before the text of the first column and after that of any other; Link is the address that the text leads to,
// "" for none.
type Marks struct {
	More, Link func(row, column string) string
}

// Table writes a table. Rows that are Later stand behind a click, with the notes that concern them alone.
func (w *Writer) Table(t show.Table, m Marks) {
	id := w.Prefix + "t-" + t.ID
	w.put(`<div class="sheet">`+"\n"+`<p class="caption" id="`, id, `">`, t.Title)
	w.within(" ", t.Lead)
	w.put("</p>\n")
	if t.Hint != "" {
		w.put(`<p class="hint">`, t.Hint, "</p>\n")
	}
	w.put(`<div class="scroll" tabindex="0" role="group" aria-labelledby="`, id, `">`+"\n"+`<table class="`,
		"t-"+t.ID+cards(t), `" aria-labelledby="`, id, `">`+"\n<thead><tr>")
	for _, c := range t.Columns {
		if c.Name == "" && c.Unit == "" {
			w.put("<td></td>") // a corner heads nothing
			continue
		}
		w.put(`<th scope="col"`+number(c)+`>`, c.Name)
		w.within("", c.Unit)
		w.put("</th>")
	}
	w.put("</tr></thead>")
	seen := map[string]bool{"": true} // marks of rows before the click
	for _, later := range []bool{false, true} {
		rows := slices.DeleteFunc(slices.Clone(t.Rows), func(r show.Row) bool { return r.Later != later })
		switch {
		case !later:
			w.put("\n<tbody>")
		case len(rows) == 0:
			continue
		default:
			w.put("\n" + `<tbody class="later">`)
		}
		for _, r := range rows {
			w.row(t, r, m)
			for _, c := range r.Cells {
				for _, mark := range c.Marks {
					seen[mark] = seen[mark] || !later
				}
			}
		}
		w.put("\n</tbody>")
	}
	w.put("\n</table>\n</div>")
	if t.Rest != "" {
		w.put("\n"+`<details class="more" id="`, w.Prefix+"more-"+t.ID, `"><summary>`, t.Rest, "</summary></details>")
	}
	if len(t.Notes) > 0 {
		w.put("\n" + `<ul class="notes">`)
		general := 0
		for _, n := range t.Notes {
			if n.Mark == "" {
				general++
			}
			if now, marked := seen[n.Mark]; marked && !now || n.Mark == "" && t.Read > 0 && general > t.Read {
				w.put(`<li class="later">`)
			} else {
				w.put("<li>")
			}
			if n.Mark != "" {
				w.put("<b>", n.Mark, "</b>")
			}
			w.put("", n.Text, "</li>")
		}
		w.put("</ul>")
	}
	w.put("\n</div>\n")
}

// cards is the class of a table whose rows are cards on a phone.
func cards(t show.Table) string {
	if t.Cards {
		return " stack"
	}
	return ""
}

// row writes a row; a cell without words is the head of nothing.
func (w *Writer) row(t show.Table, r show.Row, m Marks) {
	switch {
	case r.Strong:
		w.put("\n" + `<tr class="strong">`)
	case r.Dim:
		w.put("\n" + `<tr class="dim">`)
	default:
		w.put("\n<tr>")
	}
	for i, c := range r.Cells {
		column := t.Columns[i]
		extra, link := "", ""
		if m.More != nil {
			extra = m.More(r.ID, column.ID)
		}
		if m.Link != nil && c.Text != "" {
			link = m.Link(r.ID, column.ID)
		}
		head := i == 0 && c.Text != ""
		if head {
			w.put(`<th scope="row"` + number(column) + `>` + extra)
		} else {
			w.put(`<td` + number(column))
			if t.Cards {
				w.put(` data-name="`, column.Name, `"`)
			}
			w.put(">")
		}
		text, within := c.Text, ""
		if column.Interval {
			text, within = c.Parted()
		}
		if link != "" {
			w.put(`<a href="`, link, `">`, text, "</a>")
		} else {
			w.put("", text)
		}
		if len(c.Marks) > 0 {
			w.put("<sup>", strings.Join(c.Marks, ", "), "</sup>")
		}
		w.within(" ", within)
		if head {
			w.put("</th>")
		} else {
			w.put(extra + "</td>")
		}
	}
	w.put("</tr>")
}

// number is the class of a column of numbers.
func number(c show.Column) string {
	if c.Right {
		return ` class="num"`
	}
	return ""
}

// within writes a lesser text after a space, where there is one.
func (w *Writer) within(space, text string) {
	if text != "" {
		w.put(space+`<span class="within">`, text, `</span>`)
	}
}

// Figure writes a figure laid out for a page's width and for a phone's, of which the stylesheet shows one. tall says
// where it is taller than a screen: classes of what stands around it.
func (w *Writer) Figure(f show.Drawn) (tall string) {
	const screen = 675 // points: 900 CSS px
	narrow, high := f.Draw(figure.Phone), 0.0
	w.put(`<figure id="`, w.Prefix+"figure-"+f.Name, `">`)
	parts := f.Parts
	if parts == nil {
		parts = append(parts, f.Draw)
	}
	for _, draw := range parts {
		wide := draw(figure.Page)
		high += float64(wide.Height)
		w.put(`<div class="page">`)
		w.Write(wide.SVG())
		w.put(`</div>`)
	}
	if high > screen {
		tall = "tall "
	}
	if narrow.Height > screen {
		tall += "long"
	}
	w.put(`<div class="phone">`)
	w.Write(narrow.SVG())
	w.put(`</div></figure>`)
	return tall
}

// Sheet writes a producer's sheet: two sides, or one in large type.
func (w *Writer) Sheet(p show.PlanView, large bool) {
	h := p.Handout()
	side, class := `<section class="side">`+"\n", "handout"
	if large {
		class += " large"
	}
	w.put(`<article class="`, class, `">`+"\n"+side+`<header><h1>`, h.Title, `</h1><p class="kicker">`, h.Kicker,
		`</p></header>`+"\n"+`<p class="lede">`, h.Lead, `</p>`+"\n")
	w.Marks(h.Marks)
	if large {
		w.some(h.Inputs)
		for _, x := range h.Left {
			if x.ID == "leaks" {
				w.put(`<section class="panel"><h2>`, x.Title, `</h2><p>`, x.Text[0], `</p></section>`)
			}
		}
	} else {
		w.Paragraphs(h.Why...)
		if h.Figure != nil {
			w.Figure(show.Drawn{Name: "plan-rules", Draw: h.Figure.Draw})
		}
		w.some(h.Do)
		w.put(`<div class="pair">`)
		w.some(h.Buy)
		w.some(h.Hours)
		w.put(`</div>` + "\n</section>\n" + side + `<div class="pair"><div>`)
		w.panels(h.Left)
		w.put(`</div><div>`)
		w.panels(h.Right)
		w.put(`</div></div>` + "\n")
		w.some(h.Years)
	}
	w.put(`<p class="quiet">`, h.Foot, "</p>\n</section>\n</article>\n")
}

// some writes a table that has columns.
func (w *Writer) some(t show.Table) {
	if len(t.Columns) > 0 {
		w.Table(t, Marks{})
	}
}

// Marks writes the large numbers of a sheet.
func (w *Writer) Marks(marks []show.Mark) {
	if len(marks) == 0 {
		return
	}
	w.put(`<div class="marks">`)
	for _, m := range marks {
		w.put(`<p><b>`, m.Value, `</b><span>`, m.Label, `</span></p>`)
	}
	w.put("</div>\n")
}

func (w *Writer) panels(list []show.Panel) {
	for _, x := range list {
		w.put("\n"+`<section class="panel" id="`, w.Prefix+x.ID, `">`+"\n<h2>", x.Title, "</h2>\n")
		if x.Table == nil {
			w.Paragraphs(x.Text...)
		} else {
			w.Paragraphs(x.Text[0])
			w.Table(*x.Table, Marks{})
			w.Paragraphs(x.Text[1:]...)
		}
		w.List("ol", x.Steps)
		w.List("ul", x.Bullets)
		w.put("</section>")
	}
}
