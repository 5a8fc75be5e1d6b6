package report

import (
	"html/template"
	"strings"

	"spile/internal/view/show"
)

// Table is a table as HTML. What more gives for a row and a column, by their IDs, stands before the text of the first
// column and after that of any other; nil gives nothing.
func Table(t show.Table, more func(row, column string) template.HTML) (template.HTML, error) {
	if more == nil {
		more = func(_, _ string) template.HTML { return "" }
	}
	var b strings.Builder
	err := tables.Execute(&b, struct {
		show.Table
		More func(row, column string) template.HTML
	}{t, more})
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
<p class="caption" id="t-{{.ID}}">{{.Title}}{{with .Lead}} <span class="within">{{.}}</span>{{end}}</p>
<div class="scroll" tabindex="0" role="region" aria-labelledby="t-{{.ID}}">
<table class="t-{{.ID}}" aria-labelledby="t-{{.ID}}">
<thead><tr>
{{- range .Columns}}<th scope="col"{{if .Right}} class="num"{{end}}>{{.Name}}
{{- with .Unit}}<span class="within">{{.}}</span>{{end}}</th>
{{- end}}</tr></thead>
<tbody>
{{- $columns := .Columns}}
{{- range .Rows}}
{{- $id := .ID}}
<tr{{if .Strong}} class="strong"{{else if .Dim}} class="dim"{{end}}>
{{- range $i, $c := .Cells}}
{{- $column := index $columns $i}}
{{- if eq $i 0}}<th scope="row"{{if $column.Right}} class="num"{{end}}>{{call $.More $id $column.ID}}
{{- else}}<td{{if $column.Right}} class="num"{{end}}>{{end}}
{{- if $column.Interval}}{{$v := value .Text}}{{index $v 0}}{{template "marks" .}}
{{- with index $v 1}} <span class="within">{{.}}</span>{{end}}
{{- else}}{{.Text}}{{template "marks" .}}{{end}}
{{- if eq $i 0}}</th>{{else}}{{call $.More $id $column.ID}}</td>{{end}}
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
