package sheet

import (
	"strconv"
	"strings"

	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// setting is one key of a TOML file and its value: a string, a bool or a float64, a price.Value, or a day.
type setting struct {
	key   []string
	value any
}

// dayText is a date, YYYY-MM-DD.
type dayText string

// settings are the keys of a price file, in the order in which docs/data.md lists them. Volumes are litres and masses
// kilograms, which the file says of itself, so that reading them gives the same numbers to the last bit.
func settings(p price.Prices) []setting {
	var list []setting
	put := func(value any, key ...string) { list = append(list, setting{key, value}) }
	text := func(v string, key ...string) {
		if v != "" {
			put(v, key...)
		}
	}
	value := func(v price.Value, key ...string) {
		if v != (price.Value{}) {
			put(v, key...)
		}
	}
	maybe := func(v *price.Value, key ...string) {
		if v != nil {
			put(*v, key...)
		}
	}
	done := func(t practice.Treatment, every int, at string) {
		text(string(t.Practice), at, "practice")
		if every > 0 {
			put(float64(every), at, "every")
		} else if t.DropAge > 0 {
			put(float64(t.DropAge), at, "drop_age")
		}
	}
	minutes := func(m map[price.Window]price.Value, at ...string) {
		for _, w := range price.Windows {
			if v, ok := m[w]; ok {
				put(v, append(at[:len(at):len(at)], "minutes", string(w))...)
			}
		}
	}

	text(p.Currency, "currency")
	if p.AsOf != "" {
		put(dayText(p.AsOf), "as_of")
	}
	text(p.Place, "place")
	if p.Organic {
		put(true, "organic")
	}
	if p.AllAtOnce {
		put(true, "all_at_once")
	}
	if p.SyrupBrix != 0 {
		put(p.SyrupBrix, "syrup_brix")
	}
	put(p.Wage, "wage")
	put(p.Discount, "discount")
	value(p.Processing, "processing")
	value(p.Hauling, "hauling")
	put(p.FarmAdjust, "farm_adjust")
	for _, u := range [][2]string{{"sap", "l"}, {"syrup", "l"}, {"mass", "kg"}, {"chemical", "l"}} {
		put(u[1], "units", u[0])
	}
	done(p.Today, p.TodayEvery, "today")
	put(p.Baseline.Yield, "baseline", "yield")
	done(p.Baseline.Practice, p.Baseline.Every, "baseline")
	put(p.Baseline.Brix, "baseline", "brix")
	maybe(p.Baseline.GainBrix, "baseline", "gain_brix")
	for _, g := range p.Sells.Grades {
		put(g.Share, "sells", "bulk", g.Name, "share")
		put(g.Price, "sells", "bulk", g.Name, "price")
	}
	for _, o := range []struct {
		name string
		*price.Outlet
	}{{"retail", p.Sells.Retail}, {"sap", p.Sells.Sap}} {
		if o.Outlet != nil {
			put(o.Share, "sells", o.name, "share")
			put(o.Price, "sells", o.name, "price")
		}
	}
	maybe(p.Sells.GainPrice, "sells", "gain_price")
	if q := p.Sells.Quota; q != nil {
		put(q.SyrupKg, "sells", "quota", "syrup")
		put(q.PriceBeyond, "sells", "quota", "price_beyond")
		value(q.DelaySeasons, "sells", "quota", "delay")
	}
	maybe(p.Sells.CapacityL, "sells", "capacity")
	for _, m := range p.Materials {
		put(m.Price, "material", m.Name, "price")
		if m.Grams != 0 {
			put(m.Grams, "material", m.Name, "grams")
		}
	}
	for _, c := range p.Chemicals {
		put(c.Price, "chemical", c.Name, "price")
		if c.LabelNamesTubing {
			put(true, "chemical", c.Name, "label_names_tubing")
		}
	}
	for _, u := range p.Uses {
		at := []string{"use", string(u.Practice)}
		in := func(more ...string) []string { return append(at[:2:2], more...) }
		for _, m := range u.Materials {
			put(m.Count, in("material", m.Material, "count")...)
			put(m.Life, in("material", m.Material, "life")...)
		}
		minutes(u.Minutes, at...)
		text(u.Chemical, in("chemical")...)
		value(u.ChemicalL, in("chemical_amount")...)
		for age, g := range u.GainPct {
			put(g, in("gain", strconv.Itoa(age))...)
		}
		value(u.LostSapL, in("lost_sap")...)
		value(u.Repairs, in("repairs")...)
		value(u.Disposal, in("disposal")...)
		if n := u.Renewal; n != nil {
			for _, m := range n.Materials {
				put(m.Count, in("renewal", "material", m.Material, "count")...)
			}
			minutes(n.Minutes, in("renewal")...)
			value(n.Disposal, in("renewal", "disposal")...)
		}
	}
	return list
}

// PricesTOML writes prices as a price file: reading it gives the same prices, but for where they stood.
func PricesTOML(p price.Prices) []byte {
	var b strings.Builder
	table := ""
	for _, s := range settings(p) {
		// A table for each of the first names, or the first two where the first holds names of the user's.
		deep := min(len(s.key)-1, 1)
		if first := s.key[0]; first == "material" || first == "chemical" || first == "use" {
			deep = 2
		}
		if at := dotted(s.key[:deep]); at != table {
			table = at
			b.WriteString("\n[" + table + "]\n")
		}
		b.WriteString(dotted(s.key[deep:]) + " = " + tomlText(s.value) + "\n")
	}
	return []byte(b.String())
}

// dotted writes a key; a name that TOML would not take bare stands in quotes.
func dotted(names []string) string {
	parts := make([]string, len(names))
	for i, n := range names {
		parts[i] = n
		if n == "" || strings.Trim(n, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_") != "" {
			parts[i] = tomlString(n)
		}
	}
	return strings.Join(parts, ".")
}

func tomlText(v any) string {
	switch v := v.(type) {
	case string:
		return tomlString(v)
	case dayText:
		return string(v)
	case bool:
		return strconv.FormatBool(v)
	case float64:
		return tomlNumber(v)
	case price.Value:
		if v.Low == nil && v.High == nil && v.Source == "" {
			return tomlNumber(v.Best)
		}
		parts := []string{"best = " + tomlNumber(v.Best)}
		if v.Low != nil {
			parts = append(parts, "low = "+tomlNumber(*v.Low))
		}
		if v.High != nil {
			parts = append(parts, "high = "+tomlNumber(*v.High))
		}
		if v.Source != "" {
			parts = append(parts, "source = "+tomlString(v.Source))
		}
		return "{ " + strings.Join(parts, ", ") + " }"
	}
	panic("a value that TOML does not have")
}

// tomlNumber writes a number with every digit it has.
func tomlNumber(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// tomlString writes a text in quotes (TOML 1.0, basic strings).
func tomlString(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x20 || r == 0x7f:
			b.WriteString(`\u00` + strconv.FormatInt(int64(r)+0x100, 16)[1:])
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
