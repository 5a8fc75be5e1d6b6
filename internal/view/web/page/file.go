package page

import (
	"bytes"
	"cmp"
	"html/template"
	"maps"
	"net/http"
	"net/url"
	"strings"
	"time"

	"spile/internal/files/sheet"
	"spile/internal/view/figure"
	"spile/internal/view/markup"
	"spile/internal/view/report"
	"spile/internal/view/show"
)

// Figured is a figure on a page, with its addresses as a file.
type Figured struct {
	HTML                 template.HTML
	SVG, PNG, Slide, PDF string
	Name                 string
	Tall                 string // where it is taller than a screen, its end stands behind a click
}

// FigureAt is a figure on a page, whose files stand under an address and are asked for by a query.
func FigureAt(under string, f show.Drawn, q url.Values) *Figured {
	slide := maps.Clone(q)
	slide.Set(SizeKey, "slide")
	at := under + "/" + f.Name
	html, tall := report.Inline(f)
	return &Figured{
		HTML: html, Tall: tall, Name: f.Name,
		SVG: WithQuery(at+".svg", q.Encode()), PNG: WithQuery(at+".png", q.Encode()),
		Slide: WithQuery(at+".png", slide.Encode()), PDF: WithQuery(at+".pdf", q.Encode()),
	}
}

// Tabled is a table on a page, with its addresses as a file; "" where it is of numbers that are only tried.
type Tabled struct {
	HTML      template.HTML
	CSV, XLSX string
}

// TableAlone is a table without files.
func TableAlone(t show.Table) Tabled {
	return Tabled{HTML: report.Table(t, markup.Marks{})}
}

// At gives a table its files, as FigureAt does.
func (t Tabled) At(under, id string, q url.Values) Tabled {
	at := under + "/" + show.FileName(id)
	t.CSV, t.XLSX = WithQuery(at+".csv", q.Encode()), WithQuery(at+".xlsx", q.Encode())
	return t
}

// SendFigure answers with a figure as a file of a kind, in the size that the address asks for: page, phone or slide.
func (s *Site) SendFigure(w http.ResponseWriter, r *http.Request, f show.Drawn, kind string, date time.Time,
	name string) {
	asked := r.URL.Query().Get(SizeKey)
	size, known := figure.SizeOf(asked) // a page where it is not said
	if !known && asked != "" {
		s.Missing(w, r)
		return
	}
	var body []byte
	var err error
	mime := ""
	switch kind {
	case "svg":
		mime, body = "image/svg+xml", f.Draw(size).SVGFile()
	case "png":
		mime = "image/png"
		body, err = f.Draw(size).PNG(300)
	case "pdf":
		mime = PDF
		body, err = f.Draw(size).PDF(report.Untitled(date, s.Voice, s.Version))
	default:
		s.Missing(w, r)
		return
	}
	if err != nil {
		Fail(w, http.StatusInternalServerError, s.Voice.Text("This figure could not be made: %s", err.Error()))
		return
	}
	Attach(w, name)
	Send(w, r, mime, body)
}

// SendTable answers with a table as a file of a kind.
func (s *Site) SendTable(w http.ResponseWriter, r *http.Request, t show.Table, kind, name string) {
	var b bytes.Buffer
	var err error
	mime := ""
	switch kind {
	case "csv":
		mime, err = CSV, t.CSV(&b)
	case "xlsx":
		mime, err = XLSX, sheet.WriteXLSX(&b, s.spreadsheet(t))
	default:
		s.Missing(w, r)
		return
	}
	if err != nil {
		Fail(w, http.StatusInternalServerError, s.Voice.Notes(Faults(err))...)
		return
	}
	Attach(w, name)
	Send(w, r, mime, b.Bytes())
}

// spreadsheet is a table as a sheet for people, with heads in their language; its intervals have columns of their own.
func (s *Site) spreadsheet(t show.Table) sheet.Table {
	v := s.Voice
	out := sheet.Table{Name: sheetName(t.ID)}
	for _, c := range t.Columns {
		name := cmp.Or(c.Name, c.ID)
		out.Columns = append(out.Columns, sheet.Column{Name: name, Unit: c.Unit})
		if c.Interval {
			out.Columns = append(out.Columns,
				sheet.Column{Name: v.Text("%s, %s", name, v.Text("low")), Unit: c.Unit},
				sheet.Column{Name: v.Text("%s, %s", name, v.Text("high")), Unit: c.Unit})
		}
	}
	for _, r := range t.Rows {
		var row []any
		number := func(x *float64) {
			if x == nil {
				row = append(row, nil)
			} else {
				row = append(row, *x)
			}
		}
		for i, c := range r.Cells {
			if c.Number != nil {
				number(c.Number)
			} else {
				row = append(row, c.Plain())
			}
			if i < len(t.Columns) && t.Columns[i].Interval {
				number(c.Low)
				number(c.High)
			}
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// sheetName is a name that a sheet can have.
func sheetName(id string) string {
	id = strings.NewReplacer("/", "-", "+", " ", ":", "-", "\\", "-", "?", "", "*", "", "[", "", "]", "").Replace(id)
	return id[:min(len(id), 31)]
}
