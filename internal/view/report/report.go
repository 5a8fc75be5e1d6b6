// Package report writes the answer as one self-contained HTML file, as a PDF and as slides. It also holds what the
// pages of the workbench share with it: the stylesheet, and tables and figures as HTML.
package report

import (
	"bytes"
	_ "embed"
	"html/template"

	"spile/internal/engine/advice"
	"spile/internal/view/markup"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

//go:embed report.html
var source string

// part is a section of the report as HTML: text, then spreads of figures and tables that stand beside one another where
// there is room.
type part struct {
	ID, Name string
	Hush     bool // its one table says its name
	Text     []string
	Spreads  [][]template.HTML
}

// HTML is the report of an answer in one voice: one file that needs no network and no script. Ask advice.Memo.Thorough
// first, so that it can say what each caveat does. Version is that of the program. tried says, a line each, where the
// answer does not stand on the files as they are. The same arguments give the same bytes.
func HTML(a *advice.Advice, v *say.Voice, version string, tried ...string) ([]byte, error) {
	w := show.Of(a, v)
	var parts []part
	for _, c := range chapters(w) {
		p := part{ID: c.id, Name: c.name, Hush: c.hush, Text: c.text}
		for _, s := range c.spreads {
			var list []template.HTML
			var figures template.HTML
			for _, f := range s.Figures {
				html, _ := Inline(f)
				figures += html
			}
			if figures != "" {
				list = append(list, figures)
			}
			for _, t := range s.Tables {
				list = append(list, Table(t, markup.Marks{}))
			}
			p.Spreads = append(p.Spreads, list)
		}
		parts = append(parts, p)
	}

	var lead template.HTML
	for _, s := range w.Spreads(show.Report, "answer") {
		for _, f := range s.Figures {
			html, _ := Inline(f)
			lead += html
		}
	}
	tmpl, err := template.New("report").Funcs(template.FuncMap{"t": v.Text}).Parse(source)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = tmpl.Execute(&out, map[string]any{
		"Lang": v.Lang(), "Version": version, "Style": template.CSS(markup.Stylesheet()),
		"Lead": w.Recommendation(), "Tried": tried, "Figure": lead, "Warnings": w.Warned(), "Parts": parts,
	})
	return out.Bytes(), err
}
