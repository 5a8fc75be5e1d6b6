package price

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"time"

	"spile/internal/note"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/sap"
	"spile/internal/trade/unit"
)

var (
	currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)
)

// at is the place of a dotted key in the file that the prices came from.
func (p *Prices) at(key string) note.Where {
	w := p.Where
	w.Row, w.Column = p.Lines[key], key
	return w
}

// span is what numbers are allowed at a key.
type span struct {
	allowed func(x float64) bool
	text    string
}

var (
	anyNumber   = span{func(x float64) bool { return true }, "any number"}
	notNegative = span{func(x float64) bool { return x >= 0 }, "0 or more"}
	positive    = span{func(x float64) bool { return x > 0 }, "more than 0"}
	part        = span{func(x float64) bool { return x >= 0 && x <= 1 }, "0 to 1"}
	sapBrix     = span{func(x float64) bool { return x >= 0.1 && x <= 20 }, "0.1 to 20 °Bx"}
	rate        = span{func(x float64) bool { return x >= -0.5 && x <= 1 }, "−0.5 to 1 (5 % is written 0.05)"}
	life        = span{func(x float64) bool { return x >= 0.1 && x <= 100 }, "0.1 to 100 seasons"}
	seasons     = span{func(x float64) bool { return x >= 0 && x <= 100 }, "0 to 100 seasons"}
)

// largest keeps sums and products of amounts within what a number can hold.
const largest = 1e12

// Faults is every fault of the prices: numbers outside what is allowed, shares that do not sum to 1, and names that
// stand for nothing. Each says where, what stood there, and what is allowed.
func (p *Prices) Faults(known practice.Set) note.Faults {
	var faults note.Faults
	say := func(key, text string, args ...any) { faults = append(faults, note.New(text, args...).At(p.at(key))) }
	number := func(key string, x float64, s span) bool {
		ok := !math.IsNaN(x) && math.Abs(x) <= largest && s.allowed(x)
		if !ok {
			say(key, "%v stands here; allowed is %s", x, note.Term(s.text))
		}
		return ok
	}
	value := func(key string, v Value, s span) {
		ok := number(key, v.Best, s)
		if v.Low != nil {
			ok = number(key+".low", *v.Low, s) && ok
		}
		if v.High != nil {
			ok = number(key+".high", *v.High, s) && ok
		}
		if ok && v.Low != nil && *v.Low > v.Best {
			say(key+".low", "low is %v; it may not lie above the best guess, %v", *v.Low, v.Best)
		}
		if ok && v.High != nil && *v.High < v.Best {
			say(key+".high", "high is %v; it may not lie below the best guess, %v", *v.High, v.Best)
		}
	}
	perhaps := func(key string, v *Value, s span) {
		if v != nil {
			value(key, *v, s)
		}
	}
	isKnown := func(key string, k practice.Key) {
		if _, ok := known.Find(k); !ok {
			say(key, "there is no practice named %q", string(k))
		}
	}

	if !currencyForm.MatchString(p.Currency) {
		say("currency", "%q is not a currency; three capital letters are, such as CAD or USD", p.Currency)
	}
	if _, err := time.Parse(time.DateOnly, p.AsOf); err != nil {
		say("as_of", "%q is not a date; write it as 2026-01-31", p.AsOf)
	}
	if p.Place != "" && !place.Exists(p.Place) {
		n := place.Fault(p.Place)
		say("place", n.Key, n.Args...)
	}
	isKnown("today.practice", p.Today.Practice)
	isKnown("baseline.practice", p.Baseline.Practice.Practice)
	for _, n := range []struct {
		key   string
		count int
	}{
		{"today.every", p.TodayEvery}, {"today.drop_age", p.Today.DropAge},
		{"baseline.every", p.Baseline.Every}, {"baseline.drop_age", p.Baseline.Practice.DropAge},
	} {
		number(n.key, float64(n.count), seasons)
	}
	if p.SyrupBrix != 0 {
		number("syrup_brix", p.SyrupBrix, span{func(x float64) bool { return x >= 60 && x <= sap.MaxBrix }, "60 to 70 °Bx"})
	}
	value("baseline.yield", p.Baseline.Yield, positive)
	value("baseline.brix", p.Baseline.Brix, sapBrix)
	perhaps("baseline.gain_brix", p.Baseline.GainBrix, sapBrix)
	value("processing", p.Processing, notNegative)
	value("hauling", p.Hauling, notNegative)
	value("wage", p.Wage, notNegative)
	value("discount", p.Discount, rate)
	value("farm_adjust", p.FarmAdjust, part)

	s := p.Sells
	shares, outlets := 0.0, 0
	outlet := func(key string, share float64, price Value) {
		if number(key+".share", share, part) {
			shares += share
		} else {
			shares = math.NaN()
		}
		value(key+".price", price, notNegative)
		outlets++
	}
	var names []string
	for _, g := range s.Grades {
		key := "sells.bulk." + g.Name
		if slices.Contains(names, g.Name) {
			say(key, "%q stands here twice", g.Name)
		}
		names = append(names, g.Name)
		outlet(key, g.Share, g.Price)
	}
	if s.Retail != nil {
		outlet("sells.retail", s.Retail.Share, s.Retail.Price)
	}
	if s.Sap != nil {
		outlet("sells.sap", s.Sap.Share, s.Sap.Price)
	}
	switch {
	case outlets == 0:
		say("sells", "nothing is sold; name bulk grades, retail or sap")
	case math.Abs(shares-1) > 0.001: // false where a share is itself at fault
		say("sells", "the shares of what is sold sum to %.4g; they must sum to 1", shares)
	}
	perhaps("sells.gain_price", s.GainPrice, notNegative)
	perhaps("sells.capacity", s.CapacityL, positive)
	if q := s.Quota; q != nil {
		value("sells.quota.syrup", q.SyrupKg, notNegative)
		value("sells.quota.price_beyond", q.PriceBeyond, part)
		value("sells.quota.delay", q.DelaySeasons, seasons)
	}

	var materials, chemicals []string
	for _, m := range p.Materials {
		key := "material." + m.Name
		if slices.Contains(materials, m.Name) {
			say(key, "%q stands here twice", m.Name)
		}
		materials = append(materials, m.Name)
		value(key+".price", m.Price, notNegative)
		number(key+".grams", m.Grams, notNegative)
	}
	for _, c := range p.Chemicals {
		key := "chemical." + c.Name
		if slices.Contains(chemicals, c.Name) {
			say(key, "%q stands here twice", c.Name)
		}
		chemicals = append(chemicals, c.Name)
		value(key+".price", c.Price, notNegative)
	}
	minutes := func(key string, in map[Window]Value) {
		for _, w := range Windows {
			if v, ok := in[w]; ok {
				value(key+".minutes."+string(w), v, anyNumber)
			}
		}
		var odd []string
		for w := range in {
			if !slices.Contains(Windows, w) {
				odd = append(odd, string(w))
			}
		}
		slices.Sort(odd)
		for _, w := range odd {
			say(key+".minutes."+w, "there is no window %q; there are shop, before-tapping, tapping and after-season", w)
		}
	}
	things := func(key string, list []MaterialUse, lasting bool) {
		for _, m := range list {
			key := key + ".material." + m.Material
			if !slices.Contains(materials, m.Material) {
				say(key, "there is no material named %q", m.Material)
			}
			number(key+".count", m.Count, notNegative)
			if lasting {
				value(key+".life", m.Life, life)
			}
		}
	}
	var users []practice.Key
	for _, u := range p.Uses {
		key := "use." + string(u.Practice)
		if slices.Contains(users, u.Practice) {
			say(key, "%q stands here twice", string(u.Practice))
		}
		users = append(users, u.Practice)
		isKnown(key, u.Practice)
		things(key, u.Materials, true)
		minutes(key, u.Minutes)
		if u.Chemical != "" && !slices.Contains(chemicals, u.Chemical) {
			say(key+".chemical", "there is no chemical named %q", u.Chemical)
		}
		value(key+".chemical_amount", u.ChemicalL, notNegative)
		value(key+".lost_sap", u.LostSapL, span{
			func(x float64) bool { return x >= 0 && (x <= p.Baseline.Yield.Best || !(p.Baseline.Yield.Best > 0)) }, "0 up to the baseline yield"})
		value(key+".repairs", u.Repairs, anyNumber)
		value(key+".disposal", u.Disposal, anyNumber)
		for age, g := range u.GainPct {
			number(fmt.Sprintf("%s.gain.%d", key, age), g, span{func(x float64) bool { return x > -100 && x <= 1000 }, "above −100, at most 1000 %"})
		}
		who, ok := known.Find(u.Practice)
		if ok && !who.Ages() && len(u.GainPct) > 0 {
			say(key+".gain", "%q does not age, so it has no gains by age", string(u.Practice))
		}
		switch {
		case !ok:
		case who.Ages() && u.Renewal == nil:
			say(key+".renewal", "what one replacement of drops takes is missing; without it a rotation would cost nothing")
		case !who.Ages() && u.Renewal != nil:
			say(key+".renewal", "%q replaces no drops, so it has no renewal", string(u.Practice))
		}
		if u.Renewal != nil {
			key += ".renewal"
			things(key, u.Renewal.Materials, false)
			minutes(key, u.Renewal.Minutes)
			value(key+".disposal", u.Renewal.Disposal, anyNumber)
		}
	}
	return faults
}

// Notes is what must be said of the prices: assumptions that stand in for what was not given, and numbers that are
// likely wrong.
func (p *Prices) Notes() []note.Note {
	var notes []note.Note
	say := func(key, text string, args ...any) { notes = append(notes, note.New(text, args...).At(p.at(key))) }
	if gallons := unit.Volume(p.Baseline.Yield.Best).In(unit.USGallon); gallons > 40 {
		say("baseline.yield", "a baseline of %.1f US gallons a tap is more than 40: look whether it is sap of one tap in one season", gallons)
	}
	if p.Baseline.GainBrix == nil {
		say("baseline.gain_brix", "added sap is mostly late sap; its sugar is not given and taken as that of the baseline, %.1f °Bx", p.Baseline.Brix.Best)
	}
	if p.Sells.GainPrice == nil && (len(p.Sells.Grades) > 0 || p.Sells.Retail != nil) {
		say("sells.gain_price", "added sap is mostly late sap; the price of its syrup is not given and taken as the mean price")
	}
	if q := p.Sells.Quota; q != nil && q.PriceBeyond.Best > 0 && q.DelaySeasons.Best > 0 && p.Discount.Best == 0 {
		say("sells.quota.delay", "at a discount rate of 0 the delay beyond the quota costs nothing")
	}
	return notes
}
