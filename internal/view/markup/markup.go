// Package markup writes tables, figures and sheets as HTML: one small writer for the pages of the workbench, the
// report, and the engine in a browser, which has no room for a language of templates.
package markup

import (
	"html"
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

// Table writes a table. What more gives for a row and a column, by their IDs, is HTML that stands before the text of
// the first column and after that of any other; nil gives nothing.
func (w *Writer) Table(t show.Table, more func(row, column string) string) {
	if more == nil {
		more = func(_, _ string) string { return "" }
	}
	id := w.Prefix + "t-" + t.ID
	w.put(`<div class="sheet">`+"\n"+`<p class="caption" id="`, id, `">`, t.Title)
	w.within(" ", t.Lead)
	w.put("</p>\n"+`<div class="scroll" tabindex="0" role="region" aria-labelledby="`, id, `">`+"\n"+`<table class="`,
		"t-"+t.ID, `" aria-labelledby="`, id, `">`+"\n<thead><tr>")
	for _, c := range t.Columns {
		w.put(`<th scope="col"`+number(c)+`>`, c.Name)
		w.within("", c.Unit)
		w.put("</th>")
	}
	w.put("</tr></thead>\n<tbody>")
	for _, r := range t.Rows {
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
			extra := more(r.ID, column.ID)
			if i == 0 {
				w.put(`<th scope="row"` + number(column) + `>` + extra)
			} else {
				w.put(`<td` + number(column) + `>`)
			}
			text, within := c.Text, ""
			if column.Interval {
				text, within = c.Parted()
			}
			w.put("", text)
			if len(c.Marks) > 0 {
				w.put("<sup>", strings.Join(c.Marks, ", "), "</sup>")
			}
			w.within(" ", within)
			if i == 0 {
				w.put("</th>")
			} else {
				w.put(extra + "</td>")
			}
		}
		w.put("</tr>")
	}
	w.put("\n</tbody>\n</table>\n</div>")
	if len(t.Notes) > 0 {
		w.put("\n" + `<ul class="notes">`)
		for _, n := range t.Notes {
			w.put("<li>")
			if n.Mark != "" {
				w.put("<b>", n.Mark, "</b>")
			}
			w.put("", n.Text, "</li>")
		}
		w.put("</ul>")
	}
	w.put("\n</div>\n")
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

// Figure writes a figure laid out for a page's width and for a phone's, of which the stylesheet shows one.
func (w *Writer) Figure(f show.Drawn) {
	w.put(`<figure id="`, w.Prefix+"figure-"+f.Name, `"><div class="page">`)
	w.Write(f.Draw(figure.Page).SVG())
	w.put(`</div><div class="phone">`)
	w.Write(f.Draw(figure.Phone).SVG())
	w.put(`</div></figure>`)
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
				w.put(`<section class="panel"><h3>`, x.Title, `</h3><p>`, x.Text[0], `</p></section>`)
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
		w.Table(t, nil)
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
		w.put("\n"+`<section class="panel" id="`, w.Prefix+x.ID, `">`+"\n<h3>", x.Title, "</h3>\n")
		w.Paragraphs(x.Text...)
		w.List("ol", x.Steps)
		w.List("ul", x.Bullets)
		w.put("</section>")
	}
}
