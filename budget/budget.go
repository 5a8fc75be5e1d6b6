// Package budget turns gains into money per tap and season by partial budgets and marginal analysis
// (CIMMYT 1988, From Agronomic Data to Farmer Recommendations). Gains and lives are plain numbers to it (M5).
package budget

import (
	"spile/note"
	"spile/practice"
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

// Prices is everything that money rests on: one prices.toml. Money is in Currency; volumes are litres and masses
// kilograms whatever the file used.
type Prices struct {
	Currency string // ISO 4217
	AsOf     string // date of the prices, YYYY-MM-DD; what lapses is judged on this day, never by the clock
	Place    string // ISO 3166-2, such as US-VT or CA-QC; "" is unknown
	Organic  bool
	Today    practice.Treatment // today's practice

	Baseline   Baseline
	SyrupBrix  float64 // 66.0, or 66.9 where the law asks it
	Sells      Sells
	Processing Value // money a litre of syrup made: fuel, labour of boiling, packing
	Hauling    Value // money a litre of sap moved
	Wage       Value // money an hour
	Discount   Value // a year, as a fraction
	FarmAdjust Value // what part of a trial's gain a farm gets; 1 is all of it

	Materials []Material
	Chemicals []Chemical
	Uses      []Use
	Where     note.Where
}

// Baseline is the yield that the gains build on, with the practice it was measured under.
type Baseline struct {
	Yield    Value // litres of sap a tap and season
	Practice practice.Treatment
	Brix     Value
	GainBrix *Value // sugar of the added, mostly late, sap; nil: as Brix, with a warning
}

// Sells is what the sugarbush sells.
type Sells struct {
	Grades    []Grade // bulk, money a kilogram of syrup; shares sum to 1 with Retail and Sap
	Retail    *Outlet // money a litre of syrup
	Sap       *Outlet // money a litre of sap at the baseline's sugar
	GainPrice *Value  // price of the added syrup relative to the mean price; nil: 1, with a warning
	Quota     *Quota
	CapacityL *Value // litres of sap a tap that can be boiled; beyond it sap is worth nothing
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

// Quota is a limit on what is sold at full price.
type Quota struct {
	SyrupKg      Value // kilograms of syrup a tap and season
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
	// only for a practice that ages. The yearly parts above are what every season takes.
	Renewal *Renewal
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
