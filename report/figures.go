package report

import (
	"spile/figure"
	"spile/show"
)

const (
	page  = figure.Page
	phone = figure.Phone
)

// Figure is one of the figures of an answer; Name stands in addresses and file names.
type Figure struct {
	Name string
	Draw func(figure.Size) *figure.Sheet
}

// Figures lists the figures that an answer has: net (with prices), bars, intervals, ageing.
func Figures(w *show.View) []Figure {
	var list []Figure
	if w.A.Input.Prices != nil && len(w.A.Ranking) > 0 {
		list = append(list, Figure{"net", w.Net().Draw})
	}
	if w.A.Pool != nil {
		list = append(list, Figure{"bars", w.Bars().Draw}, Figure{"intervals", w.Intervals().Draw}, Figure{"ageing", w.AgeingFigure().Draw})
	}
	return list
}
