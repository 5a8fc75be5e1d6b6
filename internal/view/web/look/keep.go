package look

import (
	"net/url"
	"slices"
	"strings"

	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/web/page"
)

// keeping is how a page lets what is tried become an edit.
type keeping struct {
	Seen string // of the workbook
	From string
	Can  bool // something that is tried is of the prices
}

// keepable is true where something is tried that is of the prices.
func (s *Room) keepable(t *whatIf) bool {
	return s.Input.Prices != nil && slices.ContainsFunc(s.all, func(set *setting) bool {
		_, tried := t.tried[set.key]
		return tried && set.ofPrices()
	})
}

// ofPrices is true of a setting that is a number or word of the prices.
func (s *setting) ofPrices() bool {
	switch s.key {
	case "place", "organic", "baseline.practice", "all_at_once", "today":
		return true
	}
	return s.kind == page.Number && s.key != "longest" && s.key != "over" && s.ask == nil
}

// Kept is the prices with what is tried of them.
type Kept struct {
	Prices price.Prices
	Said   []string   // what is tried of them, by key and value; none: nothing is
	Tried  url.Values // the address that it was tried at
	Rest   url.Values // the address of what is tried besides
}

// Kept reads what a form tries of the prices; false where it is at fault.
func (s *Room) Kept(q url.Values) (Kept, bool) {
	t := s.try(q)
	if len(t.faults) > 0 {
		return Kept{}, false
	}
	in, k := s.Input, Kept{Tried: t.good, Rest: t.canonical()}
	for _, set := range s.all {
		if value, tried := t.tried[set.key]; tried && set.ofPrices() {
			set.apply(&in, value)
			k.Said = append(k.Said, set.key+" "+strings.Join(value, " "))
			k.Rest.Del(set.key)
		}
	}
	k.Prices = *in.Prices
	if in.Against != s.Input.Against {
		done := practice.Treatment{Practice: in.Against.Practice}
		k.Prices.Today = price.Done{Treatment: done, Every: in.Against.Every}
	}
	return k, true
}
