// Package report writes the answer as one self-contained HTML file. It also holds what the pages of the workbench
// share with it: the stylesheet, and tables and figures as HTML.
package report

import (
	"bytes"
	_ "embed"
	"html/template"
	"strconv"
	"strings"

	"spile/advice"
	"spile/figure"
	"spile/say"
	"spile/show"
)

//go:embed report.html
var source string

// part is a section of the report: text, then spreads of figures and tables that stand beside one another where
// there is room.
type part struct {
	ID, Name string
	Fresh    bool // begins a page in print
	Hush     bool // its one table says its name
	Text     []string
	Spreads  [][]template.HTML
}

// HTML is the report of an answer in one voice: one file that needs no network and no script. Ask advice.Memo.Thorough
// first, so that it can say what each caveat does. Version is that of the program. The same answer, voice and version
// give the same bytes.
func HTML(a *advice.Advice, v *say.Voice, version string) ([]byte, error) {
	w := show.Of(a, v)
	b := builder{figures: map[string]template.HTML{}}
	for _, f := range Figures(w) {
		b.figures[f.Name] = Inline(f)
	}
	if a.Pool != nil {
		b.figures["intervals"] = pages(w)
	}
	priced := a.Input.Prices != nil && len(a.Ranking) > 0

	if priced {
		p := part{ID: "profit", Name: v.Text("Profit"), Spreads: [][]template.HTML{b.spread("net", w.Ranking())}}
		if i := a.Recommended; i >= 0 {
			p.Spreads = append(p.Spreads, b.spread("", w.Budget(a.Ranking[i], true), w.Budget(a.Ranking[i], false)))
		}
		p.Spreads = append(p.Spreads, b.spread("", w.Marginal()))
		b.parts = append(b.parts, p)
	}
	b.parts = append(b.parts,
		part{ID: "gains", Name: v.Text("Gains"), Fresh: true, Spreads: [][]template.HTML{
			b.spread("bars", w.Gains()), b.spread("intervals", w.Shares(), w.Variances(), w.Between()),
		}},
		part{ID: "rotation", Name: v.Text("Rotation"), Fresh: true, Spreads: [][]template.HTML{
			b.spread("ageing", w.Rotation(), w.Ageing()),
		}},
		part{ID: "caveats", Name: v.Text("Caveats"), Fresh: true, Spreads: [][]template.HTML{
			b.spread("", w.Caveats()), b.spread("", w.WithoutStudies()), b.spread("", w.WithoutSites()), b.spread("", w.Indirect()),
		}},
		part{ID: "evidence", Name: v.Text("Evidence"), Fresh: true, Spreads: [][]template.HTML{b.spread("", w.Evidence())}},
	)
	if priced {
		b.parts = append(b.parts,
			part{ID: "cautions", Name: v.Text("Cautions"), Hush: true, Spreads: [][]template.HTML{b.spread("", w.Cautions())}},
			part{ID: "assumptions", Name: v.Text("Assumptions"), Fresh: true, Spreads: [][]template.HTML{b.spread("", w.Assumptions())}},
		)
	}
	b.parts = append(b.parts, part{ID: "methods", Name: v.Text("Methods and data"),
		Text: []string{w.Methods()}, Spreads: [][]template.HTML{b.spread("", w.Sources())}})
	if b.err != nil {
		return nil, b.err
	}

	tmpl, err := template.New("report").Funcs(template.FuncMap{"t": v.Text}).Parse(source)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = tmpl.Execute(&out, map[string]any{
		"Lang": v.Lang(), "Version": version, "Style": template.CSS(Stylesheet()),
		"Lead": w.Recommendation(), "Warnings": w.Warnings(), "Parts": b.parts,
	})
	return out.Bytes(), err
}

// builder gathers the parts, and the first error on the way.
type builder struct {
	figures map[string]template.HTML
	parts   []part
	err     error
}

// spread is a figure, where name names one that the answer has, and the tables that hold anything.
func (b *builder) spread(name string, tables ...show.Table) []template.HTML {
	var list []template.HTML
	if f := b.figures[name]; f != "" {
		list = append(list, f)
	}
	for _, t := range tables {
		if len(t.Rows) == 0 && len(t.Notes) == 0 {
			continue
		}
		html, err := Table(t, nil)
		if err != nil && b.err == nil {
			b.err = err
		}
		list = append(list, html)
	}
	return list
}

// rowsOfPage is how many studies the figure of intervals holds where it fills a printed page at its own size.
const rowsOfPage = 38

// pages is the figure of intervals in as many parts as keep each on one printed page, whole practices together.
func pages(w *show.View) template.HTML {
	whole := w.Intervals()
	var parts [][]figure.IntervalGroup
	rows := 0
	for _, g := range whole.Groups {
		n := len(g.Studies) + 3 // its name, its pooled gain and the space between
		if len(parts) == 0 || rows+n > rowsOfPage {
			parts, rows = append(parts, nil), 0
		}
		parts[len(parts)-1] = append(parts[len(parts)-1], g)
		rows += n
	}
	var out template.HTML
	for i, groups := range parts {
		f := whole
		f.Groups = groups
		if len(parts) > 1 {
			f.Title = w.V.Text("%s: part %d of %d", whole.Title, i+1, len(parts))
		}
		out += Inline(Figure{"intervals-" + strconv.Itoa(i+1), f.Draw})
	}
	return out
}

// Inline is a figure for a page: laid out for a page's width and for a phone's, of which the stylesheet shows one.
func Inline(f Figure) template.HTML {
	var b strings.Builder
	b.WriteString(`<div class="page">`)
	b.Write(f.Draw(page).SVG())
	b.WriteString(`</div><div class="phone">`)
	b.Write(f.Draw(phone).SVG())
	b.WriteString(`</div>`)
	return template.HTML(`<figure id="figure-` + f.Name + `">` + b.String() + `</figure>`)
}
