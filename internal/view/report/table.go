package report

import (
	"html/template"

	"spile/internal/view/markup"
	"spile/internal/view/show"
)

// Table is a table for a template, as markup.Writer writes it.
func Table(t show.Table, m markup.Marks) template.HTML {
	var w markup.Writer
	w.Table(t, m)
	return template.HTML(w.String())
}

// Inline is a figure for a template, as markup.Writer writes it, and where it is taller than a screen.
func Inline(f show.Drawn) (html template.HTML, tall string) {
	var w markup.Writer
	tall = w.Figure(f)
	return template.HTML(w.String()), tall
}

// HandoutBody is the sheet as HTML within a page.
func HandoutBody(w show.PlanView, large bool) template.HTML {
	var to markup.Writer
	to.Sheet(w, large)
	return template.HTML(to.String())
}
