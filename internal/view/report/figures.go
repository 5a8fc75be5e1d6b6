package report

import (
	"spile/internal/view/figure"
	"spile/internal/view/show"
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

// Figures lists the figures that an answer has: net (with prices), bars, intervals, ageing (where studies or the user's
// own gains tell of it), and, where it was weighed, outlook, swings, map and trial-size.
func Figures(w *show.View) []Figure {
	var list []Figure
	if w.A.Input.Prices != nil && len(w.A.Ranking) > 0 {
		list = append(list, Figure{"net", w.Net().Draw})
	}
	if w.A.Pool != nil {
		list = append(list, Figure{"bars", w.Bars().Draw}, Figure{"intervals", w.Intervals().Draw})
		if a := w.A.Pool.Ageing; a.Estimable || len(a.ByAge) > 0 || len(w.A.Rotation.Intervals) > 0 {
			list = append(list, Figure{"ageing", w.AgeingFigure().Draw})
		}
	}
	if x := w.A.Weighed; x != nil {
		if x.Prospect != nil {
			list = append(list, Figure{"outlook", w.OutlookFigure(x.Prospect).Draw},
				Figure{"swings", w.SwingsFigure(x.Prospect, x.Hangs).Draw})
		}
		if x.Contest != nil {
			list = append(list, Figure{"map", w.ContestFigure(x.Prospect, *x.Contest).Draw})
		}
		if x.Next != nil && len(x.Next.Ranked) > 0 {
			list = append(list, Figure{"trial-size", w.SizesFigure(x.Next).Draw})
		}
	}
	return list
}
