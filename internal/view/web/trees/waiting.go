package trees

import (
	"spile/internal/engine/harvest"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// Waiting is what somebody has to decide of trials: what was found in them that may spoil a comparison.
func Waiting(s *page.Site) (list []page.Link) {
	for _, t := range s.Input.Trials {
		summed, err := harvest.Of(t)
		if err != nil {
			continue
		}
		n := 0
		for _, season := range show.SeasonViews(t, summed, s.Voice, s.Input.Practices) {
			for _, f := range season.Total.Findings {
				if _, decided := t.Decided(season.Record.Season, f.ID()); !decided {
					n++
				}
			}
		}
		if n > 0 {
			list = append(list, page.Link{Name: s.Voice.Text("%d findings to decide in %s", n, t.Name),
				Href: page.TrialAddress(t.Name)})
		}
	}
	return list
}
