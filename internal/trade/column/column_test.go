package column

import (
	"math"
	"testing"
	"time"
)

type row struct {
	name string
	yes  bool
	n    *float64
	age  *int
	day  time.Time
}

// What a field is given it gives back, and a fresh row gives nothing.
func TestFields(t *testing.T) {
	for _, c := range []struct {
		name string
		Field[*row]
		kind  Kind
		value any
	}{
		{"words", Words(func(r *row) *string { return &r.name }), Text, "a"},
		{"key", Key(func(r *row) *string { return &r.name }), Practice, "new-spout"},
		{"unit", Unit(func(r *row) *string { return &r.name }), Volume, "l"},
		{"yes", Yes(func(r *row) *bool { return &r.yes }), YesNo, true},
		{"number", Of(func(r *row) **float64 { return &r.n }), Number, 2.5},
		{"size", Size(func(r *row) **float64 { return &r.n }), Inches, 0.3125},
		{"whole", WholeOf(func(r *row) **int { return &r.age }), Whole, 3},
		{"day", DayOf(func(r *row) *time.Time { return &r.day }), Day, time.Date(2024, 2, 15, 0, 0, 0, 0, time.UTC)},
	} {
		var r row
		if c.Kind != c.kind || c.Get(&r) != nil {
			t.Errorf("%s: kind %d, a fresh row gives %v", c.name, c.Kind, c.Get(&r))
		}
		c.Set(&r, c.value)
		if got := c.Get(&r); got != c.value {
			t.Errorf("%s: got %v", c.name, got)
		}
	}
}

func TestBounds(t *testing.T) {
	for _, c := range []struct {
		b    Bounds
		x    float64
		want bool
	}{
		{Positive, 0, false}, {Positive, 1e-9, true}, {Positive, Most, true}, {Positive, Most + 1, false},
		{NotBelow, 0, true},
		{NotBelow, -1e-9, false}, {Count, 1.5, false}, {Count, 2, true}, {Seasons, 0, true}, {KPa, math.NaN(), false},
		{Anything, math.Inf(1), false},
	} {
		if got := c.b.Has(c.x); got != c.want {
			t.Errorf("%v has %v: %v", c.b, c.x, got)
		}
	}
}
