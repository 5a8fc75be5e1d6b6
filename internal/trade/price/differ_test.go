package price

import (
	"reflect"
	"slices"
	"testing"
)

// Whatever number or word of prices is changed, its key is named and no other, whichever way round.
func TestDiffer(t *testing.T) {
	p := sound()
	for i, s := range p.Slots() {
		q := p.Clone()
		at := q.Slots()[i]
		switch {
		case s.IsValue():
			at.Put(Value{Best: 0.123, Source: "asked"})
		case s.Kind.Numeric() && reflect.TypeOf(s.Get(s.Spot)) == reflect.TypeFor[float64]():
			at.Set(at.Spot, 0.123)
		default:
			continue
		}
		for _, got := range [][]string{p.Differ(q), q.Differ(&p)} {
			if !slices.Equal(got, []string{s.Key}) {
				t.Errorf("%s was changed, and what differs is %q", s.Key, got)
			}
		}
	}
	q := p.Clone()
	q.Materials = q.Materials[1:]
	if got := p.Differ(q); len(got) == 0 || !slices.Equal(got, slices.Sorted(slices.Values(q.Differ(&p)))) &&
		len(got) != len(q.Differ(&p)) {
		t.Errorf("of a material taken away %q differs", got)
	}
	if got := p.Differ(p.Clone()); got != nil {
		t.Errorf("of the same prices %q differs", got)
	}
}
