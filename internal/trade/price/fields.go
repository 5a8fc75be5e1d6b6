package price

import (
	"cmp"
	"maps"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/practice"
)

// Field is one key of a price file: what it holds, and where its value stands in prices. A number that has a low, a
// high and a source stands at At or May; what is none has Get and Set.
type Field struct {
	Key     string // dotted; * stands for a name of the user's, whose groups say where those are
	Needed  bool   // where its group is there
	Own     bool   // a sugarbush may have its own
	Measure Measure
	Bounds  column.Bounds
	Usual   column.Range // in base units, where something is common practice; zero where nothing is said
	Label   string       // English, the id of its translation, with a %s for each name of the key and for Word
	Word    func(Spot) string
	Holds   string // what data.md says that it holds
	Unit    string // as data.md says it, where there is no measure
	Allowed string // as data.md says it; "" follows from the bounds
	Without string // what data.md says counts where it is left out; "" nothing is said

	At   func(Spot) *Value
	May  func(Spot) **Value   // a file may leave it out
	Else func(*Prices) *Value // what then stands in
	column.Field[Spot]
}

// Spot is a place in prices, by the names that stand for the asterisks of a key.
type Spot struct {
	*Prices
	Names []string
}

var (
	share    = column.Bounds{Low: 0, High: 1}
	some     = column.Bounds{Low: 0, High: 1, Open: true}
	sugar    = column.Bounds{Low: 0.1, High: 20}
	rate     = column.Bounds{Low: -0.5, High: 1}
	lasting  = column.Bounds{Low: 0.1, High: 100}
	pieces   = column.Bounds{Low: 0, High: 100, Open: true}
	work     = column.Bounds{Low: -1000, High: 1000}
	gain     = column.Bounds{Low: -100, High: 1000, Open: true}
	syrup    = column.Bounds{Low: 60, High: 70}
	factor   = column.Bounds{Low: 0, High: 10, Open: true}
	delay    = column.Bounds{Low: 0, High: 100}
	stray    = column.Bounds{Low: 0, High: 2}
	together = column.Bounds{Low: -0.95, High: 0.95}
	heavy    = column.Bounds{Low: 1, High: 60}
	cycle    = column.Bounds{Low: 1, High: 100, Whole: true}
)

// What numbers are most of the time, in base units (common practice, no source): money in a currency whose unit is
// worth about a dollar, and of no other.
var (
	usualBrix    = column.Range{Low: 1, High: 4}
	usualAge     = column.Range{Low: 0, High: 20}
	usualCycle   = column.Range{Low: 1, High: 15}
	usualMinutes = column.Range{Low: -5, High: 20}
	usualPieces  = column.Range{Low: 0.02, High: 5}
	usualYearly  = column.Range{Low: -2, High: 5} // money a tap
)

// Fields is every key of a price file but the units, in the order in which numbers are listed.
var Fields = []Field{
	{Key: "currency", Needed: true, Holds: "currency of every price",
		Label:   "currency",
		Allowed: "a code of ISO 4217: `\"USD\"`, `\"CAD\"`",
		Field:   column.Words(func(s Spot) *string { return &s.Currency })},
	{Key: "as_of", Needed: true, Holds: "day of the prices; permission rules are judged on it", Unit: "date",
		Label:   "day of the prices",
		Allowed: "`2025-11-01`", Own: true, Field: day(func(s Spot) *string { return &s.AsOf })},
	{Key: "place", Holds: "where the sugarbush is; settles syrup density and permission", Own: true,
		Label:   "place",
		Allowed: "a code of ISO 3166: `\"US-VT\"`, `\"CA-QC\"`; left out: unknown, and every chemical is held back",
		Field:   column.Words(func(s Spot) *string { return &s.Place })},
	{Key: "organic", Holds: "does it hold an organic certificate?", Allowed: "`true`, `false`", Own: true,
		Label: "organic certificate",
		Field: column.Yes(func(s Spot) *bool { return &s.Organic })},
	{Key: "all_at_once", Holds: "are all drops replaced in one season?",
		Label:   "all drops replaced in one season",
		Allowed: "`true`; else 1/N of them each season",
		Field:   column.Yes(func(s Spot) *bool { return &s.AllAtOnce })},
	{Key: "syrup_brix", Bounds: syrup, Unit: "°Bx", Holds: "density of syrup",
		Label:   "density of syrup",
		Usual:   column.Range{Low: 65, High: 68},
		Without: "as the place asks (66.9 in US-VT, else 66.0)",
		Field:   column.Plain(func(s Spot) *float64 { return &s.SyrupBrix })},

	{Key: "today.practice", Holds: "today’s practice", Allowed: "a key of a practice; left out: `new-spout`",
		Label: "today’s practice",
		Field: column.Key(func(s Spot) *practice.Key { return &s.Today.Practice })},
	{Key: "today.drop_age", Bounds: column.Seasons, Unit: "seasons", Holds: "age of its drops, where it replaces them",
		Label: "today: age of the drops",
		Usual: usualAge,
		Field: column.Int(func(s Spot) *int { return &s.Today.DropAge })},
	{Key: "today.every", Bounds: cycle, Unit: "seasons",
		Label: "today: seasons between replacements of drops",
		Usual: usualCycle,
		Holds: "seasons between its replacements; not beside `drop_age`",
		Field: column.Int(func(s Spot) *int { return &s.Today.Every })},

	{Key: "baseline.yield", Needed: true, Measure: SapATap, Bounds: column.Positive,
		Usual: column.Range{Low: 20, High: 150}, // 5 to 40 US gallons (common practice, no source)
		Label: "baseline yield of sap", Holds: "sap of a tap", At: func(s Spot) *Value { return &s.Baseline.Yield }},
	{Key: "baseline.practice", Needed: true, Allowed: "a key of a practice",
		Label: "baseline yield measured under",
		Holds: "the practice that this yield was measured under: without it every gain would be counted twice",
		Field: column.Key(func(s Spot) *practice.Key { return &s.Baseline.Practice })},
	{Key: "baseline.drop_age", Bounds: column.Seasons, Unit: "seasons",
		Label: "baseline: age of the drops", Holds: "age of its drops, where it replaces them",
		Usual: usualAge,
		Field: column.Int(func(s Spot) *int { return &s.Baseline.DropAge })},
	{Key: "baseline.every", Bounds: cycle, Unit: "seasons", Label: "baseline: seasons between replacements of drops",
		Holds: "seasons between its replacements; not beside `drop_age`",
		Usual: usualCycle,
		Field: column.Int(func(s Spot) *int { return &s.Baseline.Every })},
	{Key: "baseline.brix", Needed: true, Measure: Brix, Bounds: sugar,
		Usual: usualBrix,
		Label: "sugar of the sap", Holds: "sugar of the sap", At: func(s Spot) *Value { return &s.Baseline.Brix }},
	{Key: "baseline.gain_brix", Measure: Brix, Bounds: sugar, Usual: usualBrix,
		Label: "sugar of the added sap", Holds: "sugar of the added sap, which is mostly late",
		Allowed: "as `baseline.brix`; left out: the same, with a warning",
		May:     func(s Spot) **Value { return &s.Baseline.GainBrix },
		Else:    func(p *Prices) *Value { return &p.Baseline.Brix }},

	{Key: "sells.bulk.*.share", Needed: true, Own: true, Bounds: share, Unit: "fraction",
		Label:   "part sold in bulk, %s",
		Holds:   "part of the sap that is sold as bulk syrup of this grade",
		Allowed: "0 to 1; all shares sum to 1", Field: column.Plain(func(s Spot) *float64 { return &s.grade().Share })},
	{Key: "sells.bulk.*.price", Needed: true, Own: true, Measure: MoneySyrupKg, Bounds: column.NotBelow,
		Usual: column.Range{Low: 2, High: 25},
		Label: "price of bulk syrup, %s", Holds: "its price", At: func(s Spot) *Value { return &s.grade().Price }},
	{Key: "sells.retail.share", Needed: true, Own: true, Bounds: share, Unit: "fraction",
		Label: "part sold at retail",
		Holds: "part that is sold as syrup at retail",
		Field: column.Plain(func(s Spot) *float64 { return &s.Sells.Retail.Share })},
	{Key: "sells.retail.price", Needed: true, Own: true, Measure: MoneySyrupL, Bounds: column.NotBelow,
		Usual: column.Range{Low: 4, High: 80},
		Label: "price of retail syrup", Holds: "its price", At: func(s Spot) *Value { return &s.Sells.Retail.Price }},
	{Key: "sells.sap.share", Needed: true, Own: true, Bounds: share, Unit: "fraction",
		Label: "part sold as sap",
		Holds: "part that is sold as sap", Field: column.Plain(func(s Spot) *float64 { return &s.Sells.Sap.Share })},
	{Key: "sells.sap.price", Needed: true, Own: true, Measure: MoneySapL, Bounds: column.NotBelow,
		Usual: column.Range{Low: 0.02, High: 1},
		Label: "price of sap", Holds: "its price at the baseline's sugar",
		At: func(s Spot) *Value { return &s.Sells.Sap.Price }},
	{Key: "sells.gain_price", Own: true, Measure: Ratio, Bounds: column.NotBelow,
		Usual:   column.Range{Low: 0.3, High: 1.2},
		Label:   "price of the added syrup, as a part of the mean price",
		Holds:   "price of the added syrup as a part of the mean price",
		Without: "1, with a warning",
		May:     func(s Spot) **Value { return &s.Sells.GainPrice },
		Else:    func(*Prices) *Value { return &Value{Best: 1} }},
	{Key: "sells.quota.syrup", Needed: true, Measure: SyrupATap, Bounds: column.NotBelow,
		Usual: column.Range{Low: 0.3, High: 4},
		Label: "quota", Holds: "bulk syrup of a tap that is sold at full price",
		At: func(s Spot) *Value { return &s.Sells.Quota.SyrupKg }},
	{Key: "sells.quota.price_beyond", Needed: true, Measure: Ratio, Bounds: share,
		Label: "price beyond the quota, as a part of the full price",
		Holds: "price beyond it, as a part of the full price",
		At:    func(s Spot) *Value { return &s.Sells.Quota.PriceBeyond }},
	{Key: "sells.quota.delay", Measure: Seasons, Bounds: delay,
		Usual: column.Range{Low: 0, High: 5},
		Label: "delay of what is paid beyond the quota", Holds: "seasons until what is beyond is paid",
		At: func(s Spot) *Value { return &s.Sells.Quota.DelaySeasons }},
	{Key: "sells.capacity", Own: true, Measure: SapATap, Bounds: column.Positive,
		Usual: column.Range{Low: 10, High: 300},
		Label: "sap that can be boiled", Holds: "sap of a tap that can be boiled; beyond it sap is worth nothing",
		May: func(s Spot) **Value { return &s.Sells.CapacityL }},
	{Key: "sells.peak.flow", Needed: true, Own: true, Measure: SapADay, Bounds: column.Positive,
		Usual: column.Range{Low: 1, High: 20},
		Label: "sap that can be boiled in a day",
		Holds: "sap of a tap that can be boiled, or concentrated, in a day; beyond it sap is worth nothing",
		At:    func(s Spot) *Value { return &s.Sells.Peak.FlowL }},
	{Key: "sells.peak.share", Own: true, Measure: Ratio, Bounds: some,
		Usual:   column.Range{Low: 0.1, High: 0.8},
		Label:   "part of a season's sap that runs on its heaviest days",
		Holds:   "part of a season's sap that runs on its heaviest days",
		Without: "0.33 (common practice, no source)",
		May:     func(s Spot) **Value { return &s.Sells.Peak.Share },
		Else:    func(*Prices) *Value { return &PeakShare }},
	{Key: "sells.peak.days", Own: true, Measure: Days, Bounds: heavy,
		Usual:   column.Range{Low: 1, High: 15},
		Label:   "how many days are the heaviest",
		Holds:   "how many days these are",
		Without: "6 (common practice, no source)",
		May:     func(s Spot) **Value { return &s.Sells.Peak.Days },
		Else:    func(*Prices) *Value { return &PeakDays }},

	{Key: "processing", Own: true, Measure: MoneySyrupL, Bounds: column.NotBelow,
		Usual: column.Range{Low: 0, High: 15},
		Label: "boiling and packing", Holds: "fuel, boiling, packing; beside `boiling` what goes with the syrup alone",
		At: func(s Spot) *Value { return &s.Processing }},
	{Key: "boiling", Own: true, Measure: MoneySapL, Bounds: column.NotBelow,
		Usual: column.Range{Low: 0, High: 0.2},
		Label: "fuel and concentrating, by sap boiled",
		Holds: "fuel and concentrating for sap that is boiled: thin sap then costs more a volume of syrup",
		May:   func(s Spot) **Value { return &s.Boiling }},
	{Key: "hauling", Own: true, Measure: MoneySapL, Bounds: column.NotBelow,
		Usual: column.Range{Low: 0, High: 0.2},
		Label: "hauling of sap", Holds: "moving of sap", At: func(s Spot) *Value { return &s.Hauling }},
	{Key: "wage", Needed: true, Own: true, Measure: MoneyHour, Bounds: column.NotBelow,
		Usual: column.Range{Low: 5, High: 100},
		Label: "wage", Holds: "wage", At: func(s Spot) *Value { return &s.Wage }},
	{Key: "discount", Needed: true, Own: true, Measure: YearlyRate, Bounds: rate,
		Usual: column.Range{Low: -0.02, High: 0.2},
		Label: "discount rate", Holds: "discount rate of a year", Allowed: "−0.5 to 1: 5 % is `0.05`",
		At: func(s Spot) *Value { return &s.Discount }},
	{Key: "farm_adjust", Own: true, Measure: Ratio, Bounds: some,
		Usual: column.Range{Low: 0.3, High: 1},
		Label: "part of a trial's gain that a farm gets", Holds: "what part of a trial's gain a farm gets",
		Without: "1", At: func(s Spot) *Value { return &s.FarmAdjust }},

	{Key: "seasons.yield", Measure: Ratio, Bounds: stray,
		Usual:   column.Range{Low: 0.05, High: 0.5},
		Label:   "how far the yield of a season strays, as a part of the mean",
		Holds:   "standard deviation of the yield of a season as a part of the mean, in all practices alike",
		Without: "as `past` seasons tell, else 0.2 (common practice, no source)",
		May:     func(s Spot) **Value { return &s.Seasons.Yield },
		Else:    func(*Prices) *Value { return AssumedStray.Yield }},
	{Key: "seasons.sugar", Measure: Ratio, Bounds: stray,
		Usual:   column.Range{Low: 0.02, High: 0.3},
		Label:   "how far the sugar of a season strays, as a part of the mean",
		Holds:   "the same of the sugar",
		Allowed: "as `seasons.yield`; left out: as `past` seasons tell, else 0.08 (common practice, no source)",
		May:     func(s Spot) **Value { return &s.Seasons.Sugar },
		Else:    func(*Prices) *Value { return AssumedStray.Sugar }},
	{Key: "seasons.price", Measure: Ratio, Bounds: stray,
		Usual:   column.Range{Low: 0.02, High: 0.5},
		Label:   "how far the prices of a season stray, as a part of the mean",
		Holds:   "the same of all prices of syrup and sap",
		Allowed: "as `seasons.yield`; left out: as `past` seasons tell, else 0.1 (common practice, no source)",
		May:     func(s Spot) **Value { return &s.Seasons.Price },
		Else:    func(*Prices) *Value { return AssumedStray.Price }},
	{Key: "seasons.together", Measure: Ratio, Bounds: together,
		Label:   "how yield and price of a season move together",
		Holds:   "correlation of the yield and the price of a season, below 0 where a good crop lowers the price",
		Without: "as `past` seasons tell, else 0",
		May:     func(s Spot) **Value { return &s.Seasons.Together },
		Else:    func(*Prices) *Value { return AssumedStray.Together }},

	times("price", "scenario %s: times the prices of all that is sold",
		"in a scenario of this name, how many times as large all that is sold is paid",
		func(s Spot) *float64 { return &s.scenario().Price }),
	times("yield", "scenario %s: times the yield", "the same of the yield of sap",
		func(s Spot) *float64 { return &s.scenario().Yield }),
	times("sugar", "scenario %s: times the sugar", "the same of the sugar",
		func(s Spot) *float64 { return &s.scenario().Sugar }),
	times("wage", "scenario %s: times the wage", "the same of the wage",
		func(s Spot) *float64 { return &s.scenario().Wage }),

	{Key: "material.*.price", Needed: true, Own: true, Measure: MoneyEach, Bounds: column.NotBelow,
		Usual: column.Range{Low: 0.02, High: 30},
		Label: "price of one %s", Holds: "price of one piece", At: func(s Spot) *Value { return &s.material().Price }},
	{Key: "material.*.grams", Bounds: column.NotBelow, Unit: "grams", Holds: "its plastic",
		Label: "plastic of one %s",
		Usual: column.Range{Low: 0.5, High: 500},
		Field: column.Plain(func(s Spot) *float64 { return &s.material().Grams })},
	{Key: "material.*.bag", Own: true, Bounds: column.Count, Holds: "pieces that are sold together, as in a bag",
		Label: "pieces in a bag of %s", Without: "sold one by one",
		Usual: column.Range{Low: 2, High: 5000},
		Field: column.Plain(func(s Spot) *float64 { return &s.material().Bag })},
	{Key: "material.*.lead_weeks", Own: true, Bounds: column.NotBelow, Unit: "weeks",
		Label: "weeks until %s is delivered", Holds: "weeks from its order to its delivery",
		Without: "not told",
		Usual:   column.Range{Low: 0.5, High: 40},
		Field:   column.Plain(func(s Spot) *float64 { return &s.material().LeadWeeks })},
	{Key: "chemical.*.price", Needed: true, Own: true, Measure: MoneyProductL, Bounds: column.NotBelow,
		Usual: column.Range{Low: 0.2, High: 60},
		Label: "price of %s", Holds: "price of the product", At: func(s Spot) *Value { return &s.chemical().Price }},
	{Key: "chemical.*.label_names_tubing", Own: true, Holds: "does its label name tubing for sap?",
		Label:   "does the label of %s name tubing?",
		Allowed: "`true`, `false`",
		Field:   column.Yes(func(s Spot) *bool { return &s.chemical().LabelNamesTubing })},

	{Key: "use.*.material.*.count", Needed: true, Bounds: pieces, Holds: "pieces of a material that a tap has",
		Label: "%s: pieces of %s",
		Usual: usualPieces,
		Field: column.Plain(func(s Spot) *float64 { return &s.piece(s.use().Materials).Count })},
	{Key: "use.*.material.*.life", Needed: true, Measure: Seasons, Bounds: lasting,
		Usual: column.Range{Low: 0.5, High: 25},
		Label: "%s: life of a %s", Holds: "how long they last",
		At: func(s Spot) *Value { return &s.piece(s.use().Materials).Life }},
	{Key: "use.*.minutes.*", Needed: true, Measure: MinutesATap, Bounds: work,
		Usual:   usualMinutes,
		Label:   "%s: added minutes, %s",
		Holds:   "work added, over and above unsanitized",
		Allowed: "a number; WINDOW is `shop`, `before-tapping`, `tapping` or `after-season`",
		At:      func(s Spot) *Value { return s.use().Minutes[Window(s.Names[1])] }},
	{Key: "use.*.chemical", Holds: "the chemical it uses", Allowed: "the NAME of a chemical",
		Label: "%s: chemical",
		Field: column.Words(func(s Spot) *string { return &s.use().Chemical })},
	{Key: "use.*.chemical_amount", Measure: ChemicalATap, Bounds: column.NotBelow,
		Usual: column.Range{Low: 0, High: 1},
		Label: "%s: amount of %s", Word: func(s Spot) string { return s.use().Chemical },
		Holds: "how much of the product", At: func(s Spot) *Value { return &s.use().ChemicalL }},
	{Key: "use.*.lost_sap", Measure: SapATap, Bounds: column.NotBelow, Label: "%s: sap rinsed away or discarded",
		Usual:   column.Range{Low: 0, High: 15},
		Holds:   "sap rinsed away or discarded, where the measured gain has not already lost it",
		Allowed: "0 up to the baseline yield", At: func(s Spot) *Value { return &s.use().LostSapL }},
	{Key: "use.*.repairs", Measure: MoneyATap, Bounds: column.Anything,
		Usual: usualYearly,
		Label: "%s: repairs", Holds: "repairs, less those saved", At: func(s Spot) *Value { return &s.use().Repairs }},
	{Key: "use.*.disposal", Measure: MoneyATap, Bounds: column.Anything,
		Usual: usualYearly,
		Label: "%s: disposal", Holds: "disposal", At: func(s Spot) *Value { return &s.use().Disposal }},
	{Key: "use.*.gain.*", Needed: true, Bounds: gain, Unit: "%",
		Label: "%s: own gain in season %s of use, from 0",
		Usual: column.Range{Low: -20, High: 200},
		Holds: "your own gains over unsanitized by the seasons in use, 0 first and none left out, for a practice " +
			"that is replaced every few seasons; used where no study tells how it ages, without an interval",
		Field: column.Plain(func(s Spot) *float64 { i, _ := strconv.Atoi(s.Names[1]); return &s.use().GainPct[i] })},
	{Key: "use.*.renewal.material.*.count", Needed: true, Bounds: pieces,
		Label: "%s: pieces of %s at a replacement",
		Usual: usualPieces,
		Holds: "pieces of a material that one replacement of drops takes; the season's spout stays with the " +
			"yearly part",
		Field: column.Plain(func(s Spot) *float64 { return &s.piece(s.use().Renewal.Materials).Count })},
	{Key: "use.*.renewal.minutes.*", Needed: true, Measure: MinutesATap, Bounds: work,
		Usual: usualMinutes,
		Label: "%s: minutes of a replacement, %s", Holds: "work of one replacement",
		At: func(s Spot) *Value { return s.use().Renewal.Minutes[Window(s.Names[1])] }},
	{Key: "use.*.renewal.disposal", Measure: MoneyATap, Bounds: column.Anything,
		Usual: usualYearly,
		Label: "%s: disposal at a replacement", Holds: "disposal at a replacement",
		At: func(s Spot) *Value { return &s.use().Renewal.Disposal }},
}

// times is a number of a scenario.
func times(key, label, holds string, at func(Spot) *float64) Field {
	return Field{Key: "scenario.*." + key, Bounds: factor, Usual: column.Range{Low: 0.3, High: 2}, Unit: "times",
		Label: label, Holds: holds, Without: "as large", Field: column.Plain(at)}
}

// group is a part of prices that may be there under several names of the user's, or once, or not at all.
type group struct {
	key   string // an asterisk at its end stands for its name
	word  string // what stands for its name in documents
	only  []Window
	names func(Spot) []string // those there
	add   func(Spot, string)
}

// groups are those parts, each before what stands in it. A key that begins with a group's is there where the group is.
var groups = []group{
	list("sells.bulk.*", "NAME", func(s Spot) *[]Grade { return &s.Sells.Grades }, gradeName),
	once("sells.retail", func(s Spot) **Outlet { return &s.Sells.Retail }),
	once("sells.sap", func(s Spot) **Outlet { return &s.Sells.Sap }),
	once("sells.peak", func(s Spot) **Peak { return &s.Sells.Peak }),
	once("sells.quota", func(s Spot) **Quota { return &s.Sells.Quota }),
	list("scenario.*", "NAME", func(s Spot) *[]Scenario { return &s.Scenarios }, scenarioName),
	list("material.*", "NAME", func(s Spot) *[]Material { return &s.Materials }, materialName),
	list("chemical.*", "NAME", func(s Spot) *[]Chemical { return &s.Chemicals }, chemicalName),
	list("use.*", "PRACTICE", func(s Spot) *[]Use { return &s.Uses }, useName),
	list("use.*.material.*", "NAME", func(s Spot) *[]MaterialUse { return &s.use().Materials }, pieceName),
	worked("use.*.minutes.*", func(s Spot) *map[Window]*Value { return &s.use().Minutes }),
	{"use.*.gain.*", "AGE", nil,
		func(s Spot) (ages []string) {
			for age := range s.use().GainPct {
				ages = append(ages, strconv.Itoa(age))
			}
			return ages
		},
		func(s Spot, _ string) { s.use().GainPct = append(s.use().GainPct, 0) }},
	once("use.*.renewal", func(s Spot) **Renewal { return &s.use().Renewal }),
	list("use.*.renewal.material.*", "NAME", func(s Spot) *[]MaterialUse { return &s.use().Renewal.Materials },
		pieceName),
	worked("use.*.renewal.minutes.*", func(s Spot) *map[Window]*Value { return &s.use().Renewal.Minutes }),
}

func list[T any, S ~string](key, word string, at func(Spot) *[]T, name func(*T) *S) group {
	return group{key, word, nil,
		func(s Spot) (names []string) {
			for i := range *at(s) {
				names = append(names, string(*name(&(*at(s))[i])))
			}
			return names
		},
		func(s Spot, called string) {
			var t T
			*name(&t) = S(called)
			*at(s) = append(*at(s), t)
		},
	}
}

func once[T any](key string, at func(Spot) **T) group {
	return group{key, "", nil,
		func(s Spot) []string {
			if *at(s) == nil {
				return nil
			}
			return []string{""}
		},
		func(s Spot, _ string) { *at(s) = new(T) },
	}
}

func worked(key string, at func(Spot) *map[Window]*Value) group {
	return group{key, "WINDOW", Windows,
		func(s Spot) (names []string) {
			for w := range *at(s) {
				names = append(names, string(w))
			}
			slices.SortFunc(names, func(a, b string) int { // those that are none at the end
				i, j := slices.Index(Windows, Window(a)), slices.Index(Windows, Window(b))
				if i < 0 || j < 0 {
					return cmp.Or(cmp.Compare(j, i), cmp.Compare(a, b))
				}
				return cmp.Compare(i, j)
			})
			return names
		},
		func(s Spot, name string) {
			if *at(s) == nil {
				*at(s) = map[Window]*Value{}
			}
			(*at(s))[Window(name)] = new(Value)
		},
	}
}

func scenarioName(s *Scenario) *string             { return &s.Name }
func (s Spot) scenario() *Scenario                 { return named(s.Scenarios, s.Names[0], scenarioName) }
func gradeName(g *Grade) *string                   { return &g.Name }
func materialName(m *Material) *string             { return &m.Name }
func chemicalName(c *Chemical) *string             { return &c.Name }
func useName(u *Use) *practice.Key                 { return &u.Practice }
func pieceName(m *MaterialUse) *string             { return &m.Material }
func (s Spot) grade() *Grade                       { return named(s.Sells.Grades, s.Names[0], gradeName) }
func (s Spot) material() *Material                 { return named(s.Materials, s.Names[0], materialName) }
func (s Spot) chemical() *Chemical                 { return named(s.Chemicals, s.Names[0], chemicalName) }
func (s Spot) use() *Use                           { return named(s.Uses, s.Names[0], useName) }
func (s Spot) piece(of []MaterialUse) *MaterialUse { return named(of, s.Names[1], pieceName) }

// named is the one of a name.
func named[T any, S ~string](list []T, called string, name func(*T) *S) *T {
	for i := range list {
		if string(*name(&list[i])) == called {
			return &list[i]
		}
	}
	return nil
}

// day is a day that stands as a text.
func day(at func(Spot) *string) column.Field[Spot] {
	f := column.Words(at)
	return column.Field[Spot]{Kind: column.Day, Get: f.Get,
		Set: func(s Spot, v any) { *at(s) = v.(time.Time).Format(time.DateOnly) }}
}

// Slot is a field where it stands in prices; its key has the user's names.
type Slot struct {
	Field
	Spot
	Key  string
	Path []string // the parts of the key, in which a name of the user's may hold a full stop
}

// Slots is all that is there, in the order of Fields, one thing of the user's after another.
func (p *Prices) Slots() []Slot {
	var list []Slot
	p.walk(Fields, "", nil, func(group, string, Spot) {}, func(s Slot) { list = append(list, s) })
	return list
}

// Differ is the keys under which other prices say something else, or nothing, or something where these say nothing.
func (p *Prices) Differ(other *Prices) (keys []string) {
	said := map[string]any{}
	say := func(s Slot) any {
		if s.IsValue() {
			return s.Value()
		}
		return s.Get(s.Spot)
	}
	for _, s := range p.Slots() {
		said[s.Key] = say(s)
	}
	for _, s := range other.Slots() {
		if before, there := said[s.Key]; !there || !reflect.DeepEqual(before, say(s)) {
			keys = append(keys, s.Key)
		}
		delete(said, s.Key)
	}
	return append(keys, slices.Sorted(maps.Keys(said))...)
}

// Names are those of the user's below a key, such as material.
func (p *Prices) Names(key string) []string {
	for _, g := range groups {
		if g.key == key+".*" {
			return g.names(Spot{Prices: p})
		}
	}
	return nil
}

// Build makes the parts of prices that a file names; below gives the names that it has below a dotted key.
func (p *Prices) Build(below func(key string) []string) {
	p.walk(Fields, "", nil, func(g group, key string, s Spot) {
		at, many := strings.CutSuffix(key, ".*")
		for _, name := range below(at) {
			switch {
			case !many:
				if g.names(s) == nil {
					g.add(s, "")
				}
			case g.only == nil || slices.Contains(g.only, Window(name)):
				g.add(s, name)
			}
		}
	}, func(Slot) {})
}

// walk goes through fields below a key whose asterisks stand for names: it enters each group, which may then be added
// to, and visits what is there.
func (p *Prices) walk(fields []Field, in string, names []string, enter func(g group, key string, s Spot),
	visit func(Slot)) {
	for len(fields) > 0 {
		s := Spot{p, names}
		at := slices.IndexFunc(groups, func(g group) bool { return len(g.key) > len(in) && g.holds(fields[0].Key) })
		if at < 0 {
			path := filled(fields[0].Key, names)
			visit(Slot{fields[0], s, strings.Join(path, "."), path})
			fields = fields[1:]
			continue
		}
		g, n := groups[at], 1
		for n < len(fields) && g.holds(fields[n].Key) {
			n++
		}
		enter(g, strings.Join(filled(g.key, names), "."), s)
		for _, name := range g.names(s) {
			below := names
			if strings.HasSuffix(g.key, "*") {
				below = append(slices.Clone(names), name)
			}
			p.walk(fields[:n], g.key, below, enter, visit)
		}
		fields = fields[n:]
	}
}

// holds is true of a key that stands in the group.
func (g group) holds(key string) bool { return key == g.key || strings.HasPrefix(key, g.key+".") }

// filled is the parts of a key with names in the place of its asterisks, as far as there are names.
func filled(key string, names []string) []string {
	parts := strings.Split(key, ".")
	for i, part := range parts {
		if part == "*" && len(names) > 0 {
			parts[i], names = names[0], names[1:]
		}
	}
	return parts
}

// Keys are those that a file may have: that of the field, or where only some names are allowed one for each.
func (f Field) Keys() []string {
	for _, g := range groups {
		if g.only != nil && g.holds(f.Key) {
			var keys []string
			for _, w := range g.only {
				keys = append(keys, strings.TrimSuffix(g.key, "*")+string(w)+strings.TrimPrefix(f.Key, g.key))
			}
			return keys
		}
	}
	return []string{f.Key}
}

// Shown is the key as documents have it, with a word for each name: use.PRACTICE.minutes.WINDOW.
func (f Field) Shown() string {
	var words []string
	for _, g := range groups {
		if g.word != "" && g.holds(f.Key) {
			words = append(words, g.word)
		}
	}
	return strings.Join(filled(f.Key, words), ".")
}

// IsValue is true of a number that may have a low, a high and a source.
func (f Field) IsValue() bool { return f.At != nil || f.May != nil }

// Value is the value that stands there; nil where there is none, or it is no value.
func (s Slot) Value() *Value {
	switch {
	case s.At != nil:
		return s.At(s.Spot)
	case s.May != nil:
		return *s.May(s.Spot)
	}
	return nil
}

// Put puts a value there.
func (s Slot) Put(v Value) {
	if s.At != nil {
		*s.At(s.Spot) = v
	} else {
		*s.May(s.Spot) = &v
	}
}

// Assumption is one number of the prices that an answer rests on and that can be tried at another value.
type Assumption struct {
	Key     string    // dotted, as in the price file: "wage", "use.check-valve.minutes.tapping"
	Name    note.Note // what it is, in words
	Measure Measure
	Value   Value
	Default bool // the file says nothing: Value is what stands in for it
}

// Assumption is what can be tried of a slot; false where nothing can.
func (s Slot) Assumption() (Assumption, bool) {
	a := Assumption{Key: s.Key, Name: note.New(s.Label), Measure: s.Measure}
	names := s.Names
	if s.Word != nil {
		names = append(slices.Clone(names), s.Word(s.Spot))
	}
	for _, name := range names {
		if name == "" {
			return a, false
		}
		a.Name.Args = append(a.Name.Args, note.Term(name))
	}
	v := s.Value()
	if v == nil && s.Else != nil {
		v, a.Default = s.Else(s.Prices), true
	}
	if v == nil {
		return a, false
	}
	a.Value = *v
	return a, true
}

// Tried is the slots of which something can be tried, in the order of Slots.
func (p *Prices) Tried() []Slot {
	return slices.DeleteFunc(p.Slots(), func(s Slot) bool { _, ok := s.Assumption(); return !ok })
}

// Assumptions lists every number that can be tried, in the order of Fields. Nil prices have none.
func (p *Prices) Assumptions() []Assumption {
	var list []Assumption
	if p == nil {
		return nil
	}
	for _, s := range p.Slots() {
		if a, ok := s.Assumption(); ok {
			list = append(list, a)
		}
	}
	return list
}

// NoAssumption says that a key names none of the assumptions, and which one it may have been meant for.
func NoAssumption(key string, among []Assumption) note.Note {
	keys := make([]string, len(among))
	for i, a := range among {
		keys[i] = a.Key
	}
	if near := note.Near(key, keys); near != "" {
		return note.New("there is no assumption named %s; did you mean %s?", key, near)
	}
	return note.New("there is no assumption named %s; allowed: the key of one that the prices give, such as %s", key,
		note.Some(keys))
}

// With is prices with another value in the place of one assumption's. The error is a note.Faults naming the key where
// there is no such assumption.
func (p *Prices) With(key string, v Value) (*Prices, error) {
	if p != nil {
		p = p.Clone()
		for _, s := range p.Slots() {
			if _, ok := s.Assumption(); ok && s.Key == key {
				s.Put(v)
				return p, nil
			}
		}
	}
	return p, note.Faults{NoAssumption(key, p.Assumptions())}
}
