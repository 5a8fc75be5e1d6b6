package price

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"golang.org/x/text/currency"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
)

// at is the place of a dotted key in the file that the prices came from.
func (p *Prices) at(key string) note.Where {
	w := p.Where
	w.Row, w.Column = p.Lines[key], key
	return w
}

// IsCurrency is true of a code of ISO 4217.
func IsCurrency(code string) bool {
	_, err := currency.ParseISO(code)
	return err == nil && strings.ToUpper(code) == code
}

// largest keeps sums and products of amounts within what a number can hold, where nothing else does: bounds that end at
// column.Most are of a number as it was typed, in whatever unit.
const largest = 1e12

// fault says that a number in base units is out of bounds, as it was typed, and what is allowed; nil where it is not.
func fault(x, typed float64, b column.Bounds) *note.Note {
	wide := b
	if b.High == column.Most {
		wide.High = largest
	}
	if b.Low == -column.Most {
		wide.Low = -largest
	}
	switch {
	case wide.Has(x):
		return nil
	case b.Whole:
		return new(note.New("%v stands here; allowed is a whole number from %v to %v", typed, b.Low, b.High))
	case b.High == column.Most && b.Low < 0:
		return new(note.New("%v stands here; allowed is any number", typed))
	case b.High == column.Most && b.Open:
		return new(note.New("%v stands here; allowed is more than %v", typed, b.Low))
	case b.High == column.Most:
		return new(note.New("%v stands here; allowed is %v or more", typed, b.Low))
	case b.Open:
		return new(note.New("%v stands here; allowed is more than %v and at most %v", typed, b.Low, b.High))
	}
	return new(note.New("%v stands here; allowed is %v to %v", typed, b.Low, b.High))
}

// Faults is every fault of the prices: numbers outside what is allowed, shares that do not sum to 1, and names that
// stand for nothing. Each says where, what stood there, and what is allowed.
func (p *Prices) Faults(known practice.Set) note.Faults {
	var faults note.Faults
	say := func(key, text string, args ...any) { faults = append(faults, note.New(text, args...).At(p.at(key))) }
	number := func(key string, x float64, m Measure, b column.Bounds) bool {
		n := fault(x, p.Typed(x, m), b)
		if n != nil {
			faults = append(faults, n.At(p.at(key)))
		}
		return n == nil
	}
	if !IsCurrency(p.Currency) {
		say("currency", "%s is not a currency; allowed: a code of ISO 4217, such as USD or CAD", note.Quote(p.Currency))
	}
	if _, err := time.Parse(time.DateOnly, p.AsOf); err != nil {
		say("as_of", "%q is not a date; write it as 2026-01-31", p.AsOf)
	}
	if p.Place != "" && !place.Exists(p.Place) {
		faults = append(faults, place.Fault(p.Place).At(p.at("place")))
	}
	isKnown := func(key string, k practice.Key) {
		if _, ok := known.Find(k); !ok {
			say(key, "there is no practice named %q", string(k))
		}
	}
	isKnown("today.practice", p.Today.Practice)
	isKnown("baseline.practice", p.Baseline.Practice)

	shares := 0.0
	p.walk(Fields, "", nil, func(g group, key string, s Spot) {
		names, at := g.names(s), strings.TrimSuffix(key, "*")
		for i, name := range names {
			switch {
			case slices.Contains(names[:i], name):
				say(at+name, "%q stands here twice", name)
			case g.only != nil && !slices.Contains(g.only, Window(name)):
				say(at+name, "there is no window %q; there are shop, before-tapping, tapping and after-season", name)
			}
		}
	}, func(s Slot) {
		ok := true
		switch v := s.Value(); {
		case v != nil:
			typed := func(x float64) float64 { return p.Typed(x, s.Measure) }
			ok = number(s.Key, v.Best, s.Measure, s.Bounds)
			ok = (v.Low == nil || number(s.Key+".low", *v.Low, s.Measure, s.Bounds)) && ok
			ok = (v.High == nil || number(s.Key+".high", *v.High, s.Measure, s.Bounds)) && ok
			if ok && v.Low != nil && *v.Low > v.Best {
				say(s.Key+".low", "low is %v; it may not lie above the best guess, %v", typed(*v.Low), typed(v.Best))
			}
			if ok && v.High != nil && *v.High < v.Best {
				say(s.Key+".high", "high is %v; it may not lie below the best guess, %v", typed(*v.High), typed(v.Best))
			}
		case s.Get != nil && s.Kind.Numeric():
			x, given := s.number()
			ok = !given && !s.Needed || number(s.Key, x, s.Measure, s.Bounds)
			if strings.HasSuffix(s.Key, ".share") {
				shares += x
				if !ok {
					shares = math.NaN()
				}
			}
		}
		if s.Field.Key == "use.*.lost_sap" && p.Baseline.Yield.Best > 0 && s.Value().Best > p.Baseline.Yield.Best {
			say(s.Key, "%v stands here; allowed: 0 to the baseline yield, %v", p.Typed(s.Value().Best, s.Measure),
				p.Typed(p.Baseline.Yield.Best, s.Measure))
		}
	})
	switch s := p.Sells; {
	case len(s.Grades) == 0 && s.Retail == nil && s.Sap == nil:
		say("sells", "nothing is sold; name bulk grades, retail or sap")
	case math.Abs(shares-1) > 0.001: // false where a share is itself at fault
		say("sells", "the shares of what is sold sum to %.4g; they must sum to 1", shares)
	}
	return append(faults, p.misnamed(known)...)
}

// misnamed is what uses name and there is not, and what is missing or too much of a use for what its practice does.
func (p *Prices) misnamed(known practice.Set) note.Faults {
	var faults note.Faults
	say := func(key, text string, args ...any) { faults = append(faults, note.New(text, args...).At(p.at(key))) }
	things := func(key string, list []MaterialUse) {
		for _, m := range list {
			if named(p.Materials, m.Material, materialName) == nil {
				say(key+".material."+m.Material, "there is no material named %q", m.Material)
			}
		}
	}
	for _, u := range p.Uses {
		key := "use." + string(u.Practice)
		things(key, u.Materials)
		if u.Chemical != "" && named(p.Chemicals, u.Chemical, chemicalName) == nil {
			say(key+".chemical", "there is no chemical named %q", u.Chemical)
		}
		if u.Renewal != nil {
			things(key+".renewal", u.Renewal.Materials)
		}
		switch who, ok := known.Find(u.Practice); {
		case !ok:
			say(key, "there is no practice named %q", string(u.Practice))
		case who.Ages() && u.Renewal == nil:
			say(key+".renewal",
				"what one replacement of drops takes is missing; without it a rotation would cost nothing")
		case !who.Ages() && u.Renewal != nil:
			say(key+".renewal", "%q replaces no drops, so it has no renewal", string(u.Practice))
		case !who.Ages() && len(u.GainPct) > 0:
			say(key+".gain", "%q does not age, so it has no gains by age", string(u.Practice))
		}
	}
	return faults
}

// number is the number of a field that is no value, and whether one is given.
func (s Slot) number() (x float64, given bool) {
	switch v := s.Get(s.Spot).(type) {
	case int:
		x = float64(v)
	case float64:
		x = v
	}
	return x, x != 0
}

// Notes is what must be said of the prices: assumptions that stand in for what was not given, and numbers that are
// likely wrong.
func (p *Prices) Notes() note.List {
	var notes note.List
	say := func(key, text string, args ...any) { notes = append(notes, note.New(text, args...).At(p.at(key))) }
	if p.Baseline.GainBrix == nil {
		say("baseline.gain_brix",
			"added sap is mostly late sap; its sugar is not given and taken as that of the baseline, %.1f °Bx",
			p.Baseline.Brix.Best)
	}
	if p.Sells.GainPrice == nil && (len(p.Sells.Grades) > 0 || p.Sells.Retail != nil) {
		say("sells.gain_price",
			"added sap is mostly late sap; the price of its syrup is not given and taken as the mean price")
	}
	if q := p.Sells.Quota; q != nil && q.PriceBeyond.Best > 0 && q.DelaySeasons.Best > 0 && p.Discount.Best == 0 {
		say("sells.quota.delay", "at a discount rate of 0 the delay beyond the quota costs nothing")
	}
	if k := p.Sells.Peak; k != nil && (k.Share == nil || k.Days == nil) {
		say("sells.peak", "how much of a season's sap runs on its heaviest days is not all given and taken as %.0f %% "+
			"on %.0f days", 100*cmp.Or(k.Share, &PeakShare).Best, cmp.Or(k.Days, &PeakDays).Best)
	}
	return notes
}
