package internal_test

import (
	"slices"
	"strings"
	"testing"

	"spile/internal/trade/bush"
	"spile/internal/trade/column"
	"spile/internal/trade/price"
)

// The keys of a price file and of a sugarbush.
func init() {
	made["price-keys"] = func() string { return described("key", priceKeys()) }
	made["sugarbush-keys"] = func() string { return described("key", bushKeys()) }
	made["sugarbush-prices"] = func() string {
		var keys []string
		for _, f := range price.Fields {
			if f.Own {
				keys = append(keys, "`"+f.Shown()+"`")
			}
		}
		return strings.Join(keys, ", ") + "\n"
	}
}

// key is a field of prices as a column.
func key(f price.Field) column.Column[any] {
	unit := f.Unit
	if f.Measure != "" {
		unit = f.Measure.Says()
	}
	kind := f.Kind
	if f.IsValue() {
		kind = column.Number
	}
	return column.Column[any]{Name: f.Shown(), Needed: f.Needed, Unit: unit, Bounds: f.Bounds, Holds: f.Holds,
		Allowed: f.Allowed, Without: f.Without,
		Field: column.Field[any]{Kind: kind}}
}

func priceKeys() (keys []column.Column[any]) {
	for _, f := range price.Fields {
		keys = append(keys, key(f))
	}
	var units []column.Column[any]
	for _, u := range price.Units {
		units = append(units, column.Column[any]{Name: u.Key, Holds: u.Holds, Allowed: u.Allowed})
	}
	at := slices.IndexFunc(keys, func(c column.Column[any]) bool { return strings.Contains(c.Name, ".") })
	return slices.Insert(keys, at, units...)
}

func bushKeys() (keys []column.Column[any]) {
	keys = column.Bare(bush.Whole)
	for _, f := range price.Fields {
		if name, ok := strings.CutPrefix(f.Key, "sells.quota."); ok {
			c := key(f)
			c.Name, c.Unit, c.Holds = "quota."+name, strings.TrimSuffix(c.Unit, " a tap"),
				strings.Replace(c.Holds, "a tap", "the whole", 1)
			keys = append(keys, c)
		}
	}
	below := func(at string, list []column.Column[any]) {
		for _, c := range list {
			if c.Name = at + c.Name; c.Instead != "" {
				c.Instead = at + c.Instead
			}
			keys = append(keys, c)
		}
	}
	below("window.WINDOW.", column.Bare(bush.Crews))
	below("section.NAME.", column.Bare(bush.Sections))
	for i := range keys {
		if price.UnitOf(keys[i].Unit) != nil {
			keys[i].Unit = "`" + keys[i].Unit + "` a tap"
		}
	}
	return keys
}

// A number that is added to the prices, in one place, is described.
func TestAStrangersNumberIsDescribed(t *testing.T) {
	before := price.Fields
	defer func() { price.Fields = before }()
	price.Fields = append(slices.Clone(before),
		price.Field{Key: "licence", Measure: price.MoneyATap, Bounds: column.NotBelow,
			Own: true, Holds: "what a licence costs", At: func(s price.Spot) *price.Value { return &s.Hauling }})
	page := made["price-keys"]()
	if !strings.HasSuffix(page, "| `licence` | what a licence costs | money a tap | 0 or more |\n") {
		t.Errorf("not described: %s", page)
	}
	if list := made["sugarbush-prices"](); !strings.HasSuffix(list, ", `licence`\n") {
		t.Errorf("not a sugarbush's own: %s", list)
	}
}
