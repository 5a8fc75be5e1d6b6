package report

import (
	"html/template"
	"strings"

	"spile/show"
)

// Table is a table as HTML. Where pick is not nil, what it gives for a row's ID stands before the first cell of the
// first row with that ID.
func Table(t show.Table, pick func(id string) template.HTML) (template.HTML, error) {
	seen := map[string]bool{}
	first := func(id string) template.HTML {
		if pick == nil || seen[id] {
			return ""
		}
		seen[id] = true
		return pick(id)
	}
	var b strings.Builder
	err := tables.Execute(&b, struct {
		show.Table
		Pick func(id string) template.HTML
	}{t, first})
	return template.HTML(b.String()), err
}

// value is a cell's text with its interval parted from it, so that the interval can stand on a line of its own.
func value(text string) (parts [2]string) {
	if i := strings.Index(text, " ("); i > 0 {
		return [2]string{text[:i], text[i+1:]}
	}
	return [2]string{text, ""}
}

var tables = template.Must(template.New("table").Funcs(template.FuncMap{
	"value": value,
	"join":  func(s []string) string { return strings.Join(s, ", ") },
}).Parse(`<div class="sheet">
<div class="scroll" tabindex="0" role="region" aria-label="{{.Title}}">
<table>
<caption>{{.Title}}{{with .Lead}}<span class="within">{{.}}</span>{{end}}</caption>
<thead><tr>{{range .Columns}}<th scope="col"{{if .Right}} class="num"{{end}}>{{.Name}}{{with .Unit}}<span class="within">{{.}}</span>{{end}}</th>{{end}}</tr></thead>
<tbody>
{{- $columns := .Columns}}
{{- range .Rows}}
{{- $id := .ID}}
<tr{{if .Strong}} class="strong"{{else if .Dim}} class="dim"{{end}}>
{{- range $i, $c := .Cells}}
{{- $column := index $columns $i}}
{{- if eq $i 0}}<th scope="row"{{if $column.Right}} class="num"{{end}}>{{call $.Pick $id}}{{else}}<td{{if $column.Right}} class="num"{{end}}>{{end}}
{{- if $column.Interval}}{{$v := value .Text}}{{index $v 0}}{{template "marks" .}}{{with index $v 1}} <span class="within">{{.}}</span>{{end}}
{{- else}}{{.Text}}{{template "marks" .}}{{end}}
{{- if eq $i 0}}</th>{{else}}</td>{{end}}
{{- end}}</tr>
{{- end}}
</tbody>
</table>
</div>
{{- with .Notes}}
<ul class="notes">{{range .}}<li>{{with .Mark}}<b>{{.}}</b>{{end}}{{.Text}}</li>{{end}}</ul>
{{- end}}
</div>
{{define "marks"}}{{with .Marks}}<sup>{{join .}}</sup>{{end}}{{end}}`))
