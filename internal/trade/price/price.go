// Package price is what a price file says: what is sold, made, bought and paid, and what each practice takes. Money is
// in one currency; volumes are litres and masses kilograms whatever the file used.
package price

import (
	"slices"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Value is one assumption: its best guess and, where given, how low and high it may be.
type Value struct {
	Best   float64  `json:"best"`
	Low    *float64 `json:"low,omitempty"`
	High   *float64 `json:"high,omitempty"`
	Source string   `json:"source,omitempty"`
}

// Window is when in the year work is done.
type Window string

const (
	Shop          Window = "shop"
	BeforeTapping Window = "before-tapping"
	Tapping       Window = "tapping"
	AfterSeason   Window = "after-season"
)

// Windows is the order in which work is listed.
var Windows = []Window{Shop, BeforeTapping, Tapping, AfterSeason}

// Prices is everything that money rests on: one prices.toml. Begin with Default, then set what the file says. Fields
// is the table of what is in it: its keys, measures and bounds. The names in JSON are the format of a workbook: they
// stay, and what is added is left out where it is zero, so that what was written before is still written alike.
type Prices struct {
	Currency   string     `json:"currency"` // ISO 4217
	AsOf       string     `json:"as_of"`    // YYYY-MM-DD; what lapses is judged on this day, never by the clock
	Place      string     `json:"place,omitempty"`
	Organic    bool       `json:"organic"`
	AllAtOnce  bool       `json:"all_at_once"`
	Today      Done       `json:"today"`
	Baseline   Baseline   `json:"baseline"`
	SyrupBrix  float64    `json:"syrup_brix,omitempty"` // 0: as the place asks
	Sells      Sells      `json:"sells"`
	Processing Value      `json:"processing"`        // for each litre of syrup
	Boiling    *Value     `json:"boiling,omitempty"` // for each litre of sap boiled; nil: it stands in Processing
	Hauling    Value      `json:"hauling"`
	Wage       Value      `json:"wage"`
	Discount   Value      `json:"discount"`
	FarmAdjust Value      `json:"farm_adjust"`
	Materials  []Material `json:"materials,omitempty"`
	Chemicals  []Chemical `json:"chemicals,omitempty"`
	Uses       []Use      `json:"uses,omitempty"` // one a practice
	Seasons    Stray      `json:"seasons,omitzero"`
	Scenarios  []Scenario `json:"scenarios,omitempty"`

	Where note.Where        `json:"where,omitzero"`
	Lines map[string]int    `json:"lines,omitempty"` // line in the file of a dotted key; may be nil
	Units map[string]string `json:"-"`               // by the keys of Units, as they were typed; may be nil
	Text  string            `json:"-"`               // the price file as it was typed, all of it; "": it was none
}

// Scenario is a state of the world by name, in which some numbers are so many times as large; 0 is as large as they
// are.
type Scenario struct {
	Name  string  `json:"name"`
	Price float64 `json:"price,omitempty"` // of all that is sold
	Yield float64 `json:"yield,omitempty"`
	Sugar float64 `json:"sugar,omitempty"`
	Wage  float64 `json:"wage,omitempty"`
}

// In is the best guesses in a scenario, as prices that nothing else is known of.
func (p *Prices) In(s Scenario) *Prices {
	p = p.Clone()
	times := func(x float64, list ...*Value) {
		for _, v := range list {
			if x != 0 && v != nil {
				*v = Value{Best: x * v.Best, Source: v.Source}
			}
		}
	}
	for i := range p.Sells.Grades {
		times(s.Price, &p.Sells.Grades[i].Price)
	}
	for _, o := range []*Outlet{p.Sells.Retail, p.Sells.Sap} {
		if o != nil {
			times(s.Price, &o.Price)
		}
	}
	times(s.Yield, &p.Baseline.Yield)
	times(s.Sugar, &p.Baseline.Brix, p.Baseline.GainBrix)
	times(s.Wage, &p.Wage)
	return p
}

// Stray is how far a season strays from the mean of seasons, where no table of past seasons tells: standard deviations
// as parts of the mean, and the correlation of yield and price. A nil one is as AssumedStray.
type Stray struct {
	Yield    *Value `json:"yield,omitempty"`
	Sugar    *Value `json:"sugar,omitempty"`
	Price    *Value `json:"price,omitempty"`
	Together *Value `json:"together,omitempty"`
}

// AssumedStray stands in for what is not given (common practice, no source). Of how price and yield move together
// nothing is assumed.
var AssumedStray = Stray{&Value{Best: 0.2}, &Value{Best: 0.08}, &Value{Best: 0.1}, &Value{}}

// Default is the prices that a file's own values are laid over: all of a trial's gain reaches the farm, and today's
// practice is a new spout each season. It has no prices.
func Default() Prices {
	return Prices{
		Today:      Done{Treatment: practice.Treatment{Practice: practice.NewSpout}},
		FarmAdjust: Value{Best: 1},
	}
}

// Done is what was done: a practice on drops of one age, or whose drops are replaced every so many seasons.
type Done struct {
	practice.Treatment
	Every int `json:"every,omitempty"` // 0: not a rotation
}

// Seasons is the treatments of its cycle.
func (d Done) Seasons() []practice.Treatment {
	if d.Every > 0 {
		return practice.Choice{Practice: d.Practice, Every: d.Every}.Seasons()
	}
	return []practice.Treatment{d.Treatment}
}

// Choice is doing it year after year.
func (d Done) Choice(known practice.Set) practice.Choice {
	return practice.ChoiceOf(d.Treatment, d.Every, known)
}

// Baseline is the yield that the gains build on, with the practice it was measured under.
type Baseline struct {
	Yield    Value `json:"yield"`
	Done     `json:"done"`
	Brix     Value  `json:"brix"`
	GainBrix *Value `json:"gain_brix,omitempty"` // of the added, mostly late, sap; nil: as Brix, with a warning
}

// Sells is what the sugarbush sells. The shares are of the sap, and sum to 1.
type Sells struct {
	Grades    []Grade `json:"bulk,omitempty"`
	Retail    *Outlet `json:"retail,omitempty"`
	Sap       *Outlet `json:"sap,omitempty"`        // at the baseline's sugar; other sap is paid by its sugar
	GainPrice *Value  `json:"gain_price,omitempty"` // relative to the mean price; nil: 1, with a warning
	Quota     *Quota  `json:"quota,omitempty"`
	CapacityL *Value  `json:"capacity,omitempty"` // of sap a tap and season; beyond it sap is worth nothing
	Peak      *Peak   `json:"peak,omitempty"`
}

// Peak is a limit on what is boiled, or concentrated, in a day: of the sap that runs on the heaviest days of a season
// what is beyond it is worth nothing. Nil numbers are as PeakShare and PeakDays.
type Peak struct {
	FlowL Value  `json:"flow"` // litres of sap a tap and day
	Share *Value `json:"share,omitempty"`
	Days  *Value `json:"days,omitempty"`
}

// A third of a season's sap runs on its six heaviest days, until somebody who counted knows better (common practice, no
// source).
var PeakShare, PeakDays = Value{Best: 0.33}, Value{Best: 6}

// Grade is a part of the bulk crop.
type Grade struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
	Price Value   `json:"price"` // money a kilogram of syrup
}

// Outlet is another way of selling.
type Outlet struct {
	Share float64 `json:"share"`
	Price Value   `json:"price"` // money a litre
}

// Quota is a limit on the bulk syrup that is sold at full price.
type Quota struct {
	SyrupKg      Value `json:"syrup"`
	PriceBeyond  Value `json:"price_beyond"` // as a part of the full price
	DelaySeasons Value `json:"delay"`        // until what is beyond is paid
}

// Material is something of plastic or metal that is bought.
type Material struct {
	Name  string  `json:"name"`
	Price Value   `json:"price"` // each
	Grams float64 `json:"grams"`
	// Bag is how many pieces are sold together, and LeadWeeks how long they take to come; 0: not told.
	Bag       float64 `json:"bag,omitempty"`
	LeadWeeks float64 `json:"lead_weeks,omitempty"`
}

// Chemical is something that is run through the plastic.
type Chemical struct {
	Name             string `json:"name"`
	Price            Value  `json:"price"` // money a litre of the product
	LabelNamesTubing bool   `json:"label_names_tubing"`
}

// Use is what one practice takes per tap, over and above unsanitized.
type Use struct {
	Practice  practice.Key      `json:"practice"`
	Materials []MaterialUse     `json:"materials,omitempty"`
	Minutes   map[Window]*Value `json:"minutes,omitempty"`
	Chemical  string            `json:"chemical,omitempty"`
	ChemicalL Value             `json:"chemical_amount"`
	LostSapL  Value             `json:"lost_sap"` // where the measured gain has not already lost it
	Repairs   Value             `json:"repairs"`
	Disposal  Value             `json:"disposal"`
	// Renewal is what one replacement of drops takes on top (material and labour), in the season of replacement;
	// only for a practice that ages. The yearly parts above are what every season takes, that one too: the season's
	// spout and its labour stand there, so a renewal's drop is priced without its spout.
	Renewal *Renewal `json:"renewal,omitempty"`
	// GainPct is the user's own gains over unsanitized by the seasons that the plastic has been in use, percent, from
	// 0; they stand in where no study tells how it ages.
	GainPct []float64 `json:"gain_pct,omitempty"`
}

// MaterialUse is how many of a material a tap takes and over how many seasons it lasts.
type MaterialUse struct {
	Material string  `json:"material"`
	Count    float64 `json:"count"`
	Life     Value   `json:"life"` // seasons; of a renewal unused: the rotation sets it
}

// Renewal is a replacement of drops.
type Renewal struct {
	Materials []MaterialUse     `json:"materials,omitempty"`
	Minutes   map[Window]*Value `json:"minutes,omitempty"`
	Disposal  Value             `json:"disposal"`
}

// Unknown is what is not said of practices, and is not nothing: what it is they take, how long their work takes, what
// chemical they use and how much, and what plastic a piece is of.
type Unknown struct {
	Uses, Minutes, Chemicals []practice.Key
	Plastic                  []string // materials
}

// Unknown is what is not known of the practices.
func (p *Prices) Unknown(of practice.Set) (n Unknown) {
	for _, k := range of {
		u := named(p.Uses, string(k.Key), useName)
		switch {
		case k.Key == practice.Unsanitized:
			continue
		case u == nil:
			n.Uses = append(n.Uses, k.Key)
			continue
		case len(u.Minutes) == 0 && (u.Renewal == nil || len(u.Renewal.Minutes) == 0):
			n.Minutes = append(n.Minutes, k.Key)
		}
		if k.Chemical() && (u.Chemical == "" || u.ChemicalL.Best == 0) {
			n.Chemicals = append(n.Chemicals, k.Key)
		}
	}
	for _, m := range p.Materials {
		if m.Grams == 0 {
			n.Plastic = append(n.Plastic, m.Name)
		}
	}
	return n
}

// Told says whether it is known how many minutes some practices take, how much plastic, and how much of a chemical; of
// unsanitized all is.
func (p *Prices) Told(of practice.Set, keys ...practice.Key) (minutes, plastic, chemical bool) {
	n := p.Unknown(of)
	minutes, plastic, chemical = true, true, true
	for _, k := range keys {
		none := slices.Contains(n.Uses, k)
		minutes = minutes && !none && !slices.Contains(n.Minutes, k)
		chemical = chemical && !none && !slices.Contains(n.Chemicals, k)
		plastic = plastic && !none
		if u := named(p.Uses, string(k), useName); u != nil {
			list := u.Materials
			if u.Renewal != nil {
				list = slices.Concat(list, u.Renewal.Materials)
			}
			plastic = plastic && !slices.ContainsFunc(list, func(m MaterialUse) bool {
				return slices.Contains(n.Plastic, m.Material)
			})
		}
	}
	return minutes, plastic, chemical
}

// Clone is a copy that shares no number with the prices. What is empty is nil in it.
func (p Prices) Clone() *Prices {
	p.Sells.Grades = copied(p.Sells.Grades)
	for _, o := range []**Outlet{&p.Sells.Retail, &p.Sells.Sap} {
		*o = pointed(*o)
	}
	p.Sells.Quota = pointed(p.Sells.Quota)
	values := []**Value{&p.Baseline.GainBrix, &p.Sells.GainPrice, &p.Sells.CapacityL, &p.Boiling,
		&p.Seasons.Yield, &p.Seasons.Sugar, &p.Seasons.Price, &p.Seasons.Together}
	if p.Sells.Peak = pointed(p.Sells.Peak); p.Sells.Peak != nil {
		values = append(values, &p.Sells.Peak.Share, &p.Sells.Peak.Days)
	}
	for _, v := range values {
		*v = pointed(*v)
	}
	p.Scenarios = copied(p.Scenarios)
	p.Materials, p.Chemicals, p.Uses = copied(p.Materials), copied(p.Chemicals), copied(p.Uses)
	for i := range p.Uses {
		u := &p.Uses[i]
		u.Materials, u.Minutes, u.GainPct = copied(u.Materials), timed(u.Minutes), copied(u.GainPct)
		if u.Renewal = pointed(u.Renewal); u.Renewal != nil {
			u.Renewal.Materials, u.Renewal.Minutes = copied(u.Renewal.Materials), timed(u.Renewal.Minutes)
		}
	}
	return &p
}

// Said is what the prices say, without where that stood and how it was typed.
func (p Prices) Said() Prices {
	p.Where, p.Lines, p.Units, p.Text = note.Where{}, nil, nil, ""
	return *p.Clone()
}

func copied[T any](list []T) []T { return append([]T(nil), list...) }

func timed(minutes map[Window]*Value) map[Window]*Value {
	var m map[Window]*Value
	for w, v := range minutes {
		if m == nil {
			m = map[Window]*Value{}
		}
		m[w] = pointed(v)
	}
	return m
}

// pointed is a pointer to a copy, or nil.
func pointed[T any](p *T) *T {
	if p == nil {
		return nil
	}
	return new(*p)
}
