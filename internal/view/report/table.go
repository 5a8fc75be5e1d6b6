package report

import (
	"html/template"

	"spile/internal/view/markup"
	"spile/internal/view/show"
)

// Table is a table for a template, as markup.Writer writes it.
func Table(t show.Table, more func(row, column string) template.HTML) template.HTML {
	var w markup.Writer
	if more == nil {
		w.Table(t, nil)
	} else {
		w.Table(t, func(row, column string) string { return string(more(row, column)) })
	}
	return template.HTML(w.String())
}

// Inline is a figure for a template, as markup.Writer writes it.
func Inline(f show.Drawn) template.HTML {
	var w markup.Writer
	w.Figure(f)
	return template.HTML(w.String())
}

// HandoutBody is the sheet as HTML within a page.
func HandoutBody(w show.PlanView, large bool) template.HTML {
	var to markup.Writer
	to.Sheet(w, large)
	return template.HTML(to.String())
}
