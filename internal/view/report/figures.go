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
