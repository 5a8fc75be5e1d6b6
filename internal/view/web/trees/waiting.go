package trees

import "spile/internal/view/web/page"

// Waiting is what somebody has to decide of trials: what was found in them that may spoil a comparison. What a trial
// says is kept, so that looking again sums nothing.
func Waiting(s *page.Site) (list []page.Link) {
	for _, t := range s.Input.Trials {
		_, summed, _ := s.Memo.Trial(t, s.Input.Practices)
		if summed == nil {
			continue // what cannot be summed says so on its own page
		}
		n := 0
		for i, r := range summed.Records {
			for _, f := range summed.Totals[i].Findings {
				if _, decided := t.Decided(r.Season, f.ID()); !decided {
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
