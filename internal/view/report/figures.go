package report

import (
	"spile/internal/view/figure"
	"spile/internal/view/show"
)

const (
	page  = figure.Page
	phone = figure.Phone
)

// Figure is a figure by its name.
type Figure = show.Drawn

// Figures lists the figures that an answer has.
func Figures(w *show.View) []Figure {
	var list []Figure
	for _, x := range show.Figures {
		if f, ok := w.Figure(x.Key); ok {
			list = append(list, f)
		}
	}
	return list
}
