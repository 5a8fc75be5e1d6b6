package edit

import (
	"slices"
	"strings"
	"time"

	"spile/internal/trade/practice"
	"spile/internal/view/web/page"
)

// undecided leads to what a sync has found changed on both sides, if anything.
func (s *Room) undecided() []page.Link {
	n := len(s.Have.Crossed)
	if n == 0 {
		return nil
	}
	return []page.Link{{Name: s.Voice.Text("%d things were changed here and there: decide", n), Href: "/crossed"}}
}

// Waiting is what somebody has to look at in the workbook: questions, rules of its place that have lapsed, old prices.
func (s *Room) Waiting() (list []page.Link) {
	v, now := s.Voice, s.Now().UTC()
	if asked, _, _ := s.Asked(s.doubts(), nil); len(asked) > 0 {
		list = append(list, page.Link{Name: v.Text("%d questions to answer", len(asked)), Href: "/workbook"})
	}
	list = append(list, s.undecided()...)
	p := s.Have.Prices
	if p == nil {
		return list
	}
	lapsed := slices.DeleteFunc(practice.WithShipped(s.Have.Rules), func(r practice.Rule) bool {
		here := r.Place == "" || r.Place == p.Place || strings.HasPrefix(p.Place, r.Place+"-")
		return !here || r.Verdict == practice.Never || !r.Lapsed(now.Format(time.DateOnly))
	})
	if n := len(lapsed); n > 0 {
		list = append(list, page.Link{Name: v.Text("%d rules have lapsed: look at them again", n), Href: "/rules"})
	}
	if day, err := time.Parse(time.DateOnly, p.AsOf); err == nil && day.AddDate(1, 0, 0).Before(now) {
		list = append(list, page.Link{Name: v.Text("the prices are over a year old: %s", v.Date(day)), Href: "/prices"})
	}
	return list
}
