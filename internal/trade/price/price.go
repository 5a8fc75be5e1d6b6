// Package price is what a price file says: what is sold, made, bought and paid, and what each practice takes.
package price

import (
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Value is one assumption: its best guess and, where given, how low and high it may be.
type Value struct {
	Best      float64
	Low, High *float64
	Source    string
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

// Prices is everything that money rests on: one prices.toml. Money is in Currency; volumes are litres and masses
// kilograms whatever the file used. Begin with Default, then set what the file says. The dotted key that Faults names
// stands behind each field.
type Prices struct {
	Currency   string             // currency: ISO 4217
	AsOf       string             // as_of: date of the prices, YYYY-MM-DD; what lapses is judged on this day, never by the clock
	Place      string             // place: ISO 3166-2, such as US-VT or CA-QC; "" is unknown
	Organic    bool               // organic: the sugarbush holds a certificate
	Today      practice.Treatment // today.practice, today.drop_age
	TodayEvery int                // today.every: today drops are replaced every N seasons; 0: not a rotation
	AllAtOnce  bool               // all_at_once: drops are replaced all in one season, every N seasons; false: 1/N of them each season

	Baseline   Baseline // baseline
	SyrupBrix  float64  // syrup_brix: 66.0, or 66.9 where the law asks it; 0: as the place asks
	Sells      Sells    // sells
	Processing Value    // processing: money a litre of syrup made: fuel, labour of boiling, packing
	Hauling    Value    // hauling: money a litre of sap moved
	Wage       Value    // wage: money an hour
	Discount   Value    // discount: a year, as a fraction
	FarmAdjust Value    // farm_adjust: what part of a trial's gain a farm gets; 1 is all of it

	Materials []Material // material.NAME
	Chemicals []Chemical // chemical.NAME
	Uses      []Use      // use.PRACTICE, one a practice
	Where     note.Where
	Lines     map[string]int // line in the file of a dotted key, for the place of a fault; may be nil
}

// Default is the prices that a file's own values are laid over: all of a trial's gain reaches the farm, and today's
// practice is a new spout each season. It has no prices.
func Default() Prices {
	return Prices{
		Today:      practice.Treatment{Practice: practice.NewSpout},
		FarmAdjust: Value{Best: 1},
	}
}

// Baseline is the yield that the gains build on, with the practice it was measured under.
type Baseline struct {
	Yield    Value              // baseline.yield: litres of sap a tap and season
	Practice practice.Treatment // baseline.practice, baseline.drop_age
	Every    int                // baseline.every: measured over drops replaced every N seasons; 0: all of one age
	Brix     Value              // baseline.brix
	GainBrix *Value             // baseline.gain_brix: sugar of the added, mostly late, sap; nil: as Brix, with a warning
}

// Sells is what the sugarbush sells. The shares are of the sap, and sum to 1.
type Sells struct {
	Grades    []Grade // sells.bulk.NAME: money a kilogram of syrup
	Retail    *Outlet // sells.retail: money a litre of syrup
	Sap       *Outlet // sells.sap: money a litre of sap at the baseline's sugar; other sap is paid by its sugar
	GainPrice *Value  // sells.gain_price: price of the added syrup relative to the mean price; nil: 1, with a warning
	Quota     *Quota  // sells.quota
	CapacityL *Value  // sells.capacity: litres of sap a tap that can be boiled in a season; beyond it sap is worth nothing
}

// Grade is a part of the bulk crop.
type Grade struct {
	Name  string
	Share float64
	Price Value // money a kilogram of syrup
}

// Outlet is another way of selling.
type Outlet struct {
	Share float64
	Price Value
}

// Quota is a limit on the bulk syrup that is sold at full price.
type Quota struct {
	SyrupKg      Value // kilograms of bulk syrup a tap and season
	PriceBeyond  Value // as a part of the full price
	DelaySeasons Value // until what is beyond is paid
}

// Material is something of plastic or metal that is bought.
type Material struct {
	Name  string
	Price Value // each
	Grams float64
}

// Chemical is something that is run through the plastic.
type Chemical struct {
	Name  string
	Price Value // money a litre of the product
	// LabelNamesTubing (label_names_tubing) says that the label of the product names tubing for sap; permission asks it.
	LabelNamesTubing bool
}

// Use is what one practice takes per tap, over and above unsanitized.
type Use struct {
	Practice  practice.Key
	Materials []MaterialUse
	Minutes   map[Window]Value
	Chemical  string
	ChemicalL Value // litres a tap and season
	LostSapL  Value // rinse or discarded first run, litres of sap a tap, where the measured gain has not already lost it
	Repairs   Value // money a tap and season, may be negative
	Disposal  Value // money a tap and season
	// Renewal is what one replacement of drops takes on top (material and labour), in the season of replacement;
	// only for a practice that ages. The yearly parts above are what every season takes, that one too: the season's
	// spout and its labour stand there, so a renewal's drop is priced without its spout.
	Renewal *Renewal
	// GainPct is the user's own gains over unsanitized by the seasons that the plastic has been in use, percent, from 0; they
	// stand in where no study tells how it ages (use.PRACTICE.gain.AGE).
	GainPct []float64
}

// MaterialUse is how many of a material a tap takes and over how many seasons it lasts.
type MaterialUse struct {
	Material string
	Count    float64
	Life     Value // seasons
}

// Renewal is a replacement of drops.
type Renewal struct {
	Materials []MaterialUse // Life unused: the rotation sets it
	Minutes   map[Window]Value
	Disposal  Value
}

// Seasons is the treatments whose mean gain the baseline's yield holds already.
func (b Baseline) Seasons() []practice.Treatment {
	if b.Every > 0 {
		return practice.Choice{Practice: b.Practice.Practice, Every: b.Every}.Seasons()
	}
	return []practice.Treatment{b.Practice}
}

// TodayChoice is today's practice as a choice.
func (p *Prices) TodayChoice(known practice.Set) practice.Choice {
	return practice.ChoiceOf(p.Today, p.TodayEvery, known)
}
