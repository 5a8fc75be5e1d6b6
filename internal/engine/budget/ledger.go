// Package budget turns gains into money per tap and season by partial budgets and marginal analysis
// (CIMMYT 1988, From Agronomic Data to Farmer Recommendations). Gains and lives are plain numbers to it (M5).
package budget

import (
	"cmp"
	"math"
	"slices"

	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/sap"
)

// Annuity is the present value of 1 at the start of each of n seasons at rate r: Σ_{a<n} v^a = (1 − vⁿ)/(1 − v),
// v = 1/(1+r); n at r = 0. What lasts n seasons costs its price over Annuity each season.
func Annuity(r, n float64) float64 {
	return annuity(r, math.Log1p(r), n)
}

// annuity is Annuity where the logarithm of 1 + r is known.
func annuity(r, log, n float64) float64 {
	if r == 0 || n == 1 {
		return n
	}
	return -math.Expm1(-n*log) * (1 + r) / r // 1 − vⁿ and 1 − v, exact also where r is small
}

// Ledger is prices worked out once, at their best guesses, for many budgets. Amounts are a tap and season. It is
// read-only and may be shared between goroutines.
type Ledger struct {
	prices *price.Prices
	chosen map[practice.Key]*price.Use
	price  map[string]*price.Material
	litre  map[string]*price.Value // price of a chemical

	yield, adjust, discount float64
	logDiscount             float64 // ln(1 + discount)

	syrupBrix, kilo float64 // of syrup, and the kilograms of a litre of it

	brix, sugar [2]float64 // of the baseline's and of the added sap; kilograms of sugar a litre
	delay       [2]float64 // rate and seasons that late is for: what is paid so much later counts, relative
	late        float64

	boiled       float64 // share of the sap that is boiled; the rest is sold as sap
	capacity     float64 // litres boiled; +Inf without a limit
	heavy, most  float64 // part that runs on the heaviest days, litres boiled on these; 0 and +Inf without a limit
	syrup, added float64 // kilograms of syrup a litre of baseline and of added sap
	bulk         float64 // share of the syrup that is sold in bulk
	bulkPrice    float64 // a kilogram
	retailPrice  float64 // a kilogram
	gainPrice    float64 // of the added syrup, relative
	quota        float64 // kilograms in bulk; +Inf without one
	beyond       float64 // value of what is beyond the quota, relative
	sapPrice     float64 // a litre at the baseline's sugar
	addedSugar   float64 // sugar of a litre of added sap over that of a litre of the baseline's
	processing   float64 // a kilogram of syrup
	boiling      float64 // a litre of sap boiled
	hauling      float64 // a litre of sap

	sliced  [kinds]sold // what a litre of each slice brings
	limited bool        // by capacity or quota
	litres  [2]float64  // margins of a litre of the baseline's and of added sap, where it is not
	turn    int         // how often it was worked out
}

// Of works prices out. They must be free of Faults.
func Of(p *price.Prices) *Ledger {
	l := &Ledger{
		prices: p,
		chosen: map[practice.Key]*price.Use{},
		price:  map[string]*price.Material{},
		litre:  map[string]*price.Value{},
		late:   1,
		turn:   1,
	}
	for i := range p.Uses {
		l.chosen[p.Uses[i].Practice] = &p.Uses[i]
	}
	for i := range p.Materials {
		l.price[p.Materials[i].Name] = &p.Materials[i]
	}
	for i := range p.Chemicals {
		l.litre[p.Chemicals[i].Name] = &p.Chemicals[i].Price
	}
	l.read()
	return l
}

// Reprice works the ledger, and plans that it made, out again after best guesses among its prices changed; what is
// sold, and what a choice takes, must be as it was. A plan's accounts are then no longer to be asked for. It allocates
// nothing.
func (l *Ledger) Reprice(plans []Plan) {
	l.read()
	l.turn++
	for i := range plans {
		plans[i].read(l)
	}
}

// Join has plans share the bills that they have in common, and the sums of these, so that Reprice works each out once.
// They are then one goroutine's, together.
func Join(plans []Plan) {
	for i := range plans {
		for j, b := range plans[i].bills {
			for k := range plans[:i] {
				if same := slices.IndexFunc(plans[k].bills, b.as); same >= 0 {
					plans[i].bills[j] = plans[k].bills[same]
					break
				}
			}
		}
		plans[i].sum()
		for part, s := range plans[i].sums {
			for k := range plans[:i] {
				if o := plans[k].sums[part]; slices.Equal(o.bills, s.bills) {
					plans[i].sums[part] = o
					break
				}
			}
		}
	}
}

// sum makes the sums of the bills.
func (pl *Plan) sum() {
	pl.sums = [2]*sum{{}, {}}
	for _, b := range pl.bills {
		part := 0
		if b.renewal {
			part = 1
		}
		pl.sums[part].bills = append(pl.sums[part].bills, b)
	}
}

// sum is bills that plans have together.
type sum struct {
	bills []*bill
	turn  int // of the ledger, that money is of
	money float64
}

func (s *sum) of(l *Ledger) float64 {
	if s.turn == l.turn {
		return s.money
	}
	s.turn, s.money = l.turn, 0
	for _, b := range s.bills {
		if b.turn != l.turn {
			b.sum, b.turn = b.whole(l), l.turn
		}
		s.money += b.sum
	}
	return s.money
}

// read takes the numbers from the prices.
func (l *Ledger) read() {
	p := l.prices
	syrupBrix := p.SyrupBrix
	if syrupBrix == 0 {
		syrupBrix = sap.SyrupBrix(p.Place)
	}
	gainBrix := p.Baseline.Brix.Best
	if p.Baseline.GainBrix != nil {
		gainBrix = p.Baseline.GainBrix.Best
	}
	if l.syrupBrix != syrupBrix {
		l.syrupBrix, l.kilo = syrupBrix, sap.Density(syrupBrix)
	}
	kilo := l.kilo
	if brix := [2]float64{p.Baseline.Brix.Best, gainBrix}; l.brix != brix {
		l.brix, l.sugar = brix, [2]float64{float64(sap.Sugar(1, brix[0])), float64(sap.Sugar(1, brix[1]))}
	}
	l.yield, l.adjust = p.Baseline.Yield.Best, p.FarmAdjust.Best
	if r := p.Discount.Best; l.discount != r {
		l.discount, l.logDiscount = r, math.Log1p(r)
	}
	l.processing, l.hauling = p.Processing.Best/kilo, p.Hauling.Best
	l.boiled, l.capacity, l.gainPrice, l.quota = 1, math.Inf(1), 1, math.Inf(1)
	l.heavy, l.most, l.boiling = 0, math.Inf(1), 0
	if p.Boiling != nil {
		l.boiling = p.Boiling.Best
	}
	s := p.Sells
	if s.Sap != nil {
		l.boiled, l.sapPrice = 1-s.Sap.Share, s.Sap.Price.Best
	}
	share := 0.0
	l.bulkPrice = 0
	for i := range s.Grades {
		share += s.Grades[i].Share
		l.bulkPrice += s.Grades[i].Share * s.Grades[i].Price.Best
	}
	if share > 0 {
		l.bulkPrice /= share
	}
	if s.Retail != nil {
		l.retailPrice = s.Retail.Price.Best / kilo
		l.bulk = share / (share + s.Retail.Share)
	} else {
		l.bulk = 1
	}
	if s.GainPrice != nil {
		l.gainPrice = s.GainPrice.Best
	}
	if s.CapacityL != nil {
		l.capacity = s.CapacityL.Best
	}
	if k := s.Peak; k != nil {
		l.heavy = cmp.Or(k.Share, &price.PeakShare).Best
		l.most = k.FlowL.Best * cmp.Or(k.Days, &price.PeakDays).Best
	}
	if q := s.Quota; q != nil {
		l.quota = q.SyrupKg.Best
		if at := [2]float64{l.discount, q.DelaySeasons.Best}; l.delay != at {
			l.delay, l.late = at, math.Pow(1+at[0], -at[1])
		}
		l.beyond = q.PriceBeyond.Best * l.late
	}
	l.limited = s.CapacityL != nil || s.Quota != nil || s.Peak != nil
	l.sweeten()
}

// Sweet is the ledger where sap, and what is added to it, is as sweet as another's.
func (l *Ledger) Sweet(as *Ledger) Ledger {
	s := *l
	s.brix, s.sugar = as.brix, as.sugar
	s.sweeten()
	return s
}

// sweeten works out what hangs on sugar.
func (l *Ledger) sweeten() {
	sugar, addedSugar := l.sugar[0], l.sugar[1]
	l.syrup, l.added = sugar/(l.syrupBrix/100), addedSugar/(l.syrupBrix/100)
	l.addedSugar = addedSugar / sugar
	l.sliced = [kinds]sold{
		usual: l.slice(l.syrup, 1, 1), usualBeyond: l.slice(l.syrup, 1, l.beyond),
		more: l.slice(l.added, l.gainPrice, 1), moreBeyond: l.slice(l.added, l.gainPrice, l.beyond),
	}
	if !l.limited {
		l.unlimited()
	}
}

// Unsanitized is the yield without any practice, Y0 = Y/(1 + g): litres of sap a tap and season. The gain is that of
// the practice that the baseline was measured under, a fraction, as the trials have it; the farm adjustment is made
// here.
func (l *Ledger) Unsanitized(gain float64) float64 { return l.yield / (1 + l.adjust*gain) }

// Limited is true where a quota or what can be boiled, in a season or a day, bends what sap brings, so that it is no
// straight line of yields.
func (l *Ledger) Limited() bool { return l.limited }

// Yield is the yield of a tap under a gain over unsanitized, a fraction as the trials have it: litres a season.
func (l *Ledger) Yield(unsanitized, gain float64) float64 { return unsanitized * (1 + l.adjust*gain) }

// sold is what a yield brings and what its boiling and hauling cost.
type sold struct{ bulk, retail, sap, processing, boiling, hauling float64 }

func (s sold) returns() float64 { return s.bulk + s.retail + s.sap }

func (s sold) margin() float64 { return s.returns() - s.processing - s.boiling - s.hauling }

func (s *sold) add(w float64, o sold) {
	s.bulk += w * o.bulk
	s.retail += w * o.retail
	s.sap += w * o.sap
	s.processing += w * o.processing
	s.boiling += w * o.boiling
	s.hauling += w * o.hauling
}

// sell values y litres of sap a tap where y0 is what the tap gives unsanitized: what is above y0 is added sap, with a
// sugar and a price of its own. What cannot be boiled, and what is beyond the quota, is the last of it; what does not
// pay to boil is not boiled (free disposal).
func (l *Ledger) sell(y0, y float64) sold {
	sold0 := (1 - l.boiled) * min(y, y0)
	sold1 := (1-l.boiled)*y - sold0
	out := sold{
		sap:     l.sapPrice * (sold0 + l.addedSugar*sold1),
		hauling: l.hauling * (sold0 + sold1),
	}
	for i, litres := range l.boil(y0, y) {
		out.add(litres, l.sliced[i])
	}
	return out
}

// The slices of the sap that is boiled, in the order in which it is sold: that of y0 and what is added to it, each
// within the quota and beyond.
const (
	usual = iota
	usualBeyond
	more
	moreBeyond
	kinds
)

// boil is the litres of each slice that are boiled.
func (l *Ledger) boil(y0, y float64) (litres [kinds]float64) {
	can := func(all float64) float64 { return min(all-max(0, l.heavy*all-l.most), l.capacity) }
	all := can(l.boiled * y)
	first := min(all, can(l.boiled*y0)) // what is added runs on the heaviest days too, and makes no usual sap of itself
	split := func(x, kg, room float64) (within, beyond float64) {
		if kg*x > room {
			return room / kg, x - room/kg
		}
		return x, 0
	}
	litres[usual], litres[usualBeyond] = split(first, l.bulk*l.syrup, l.quota)
	litres[more], litres[moreBeyond] = split(all-first, l.bulk*l.added, l.quota-l.bulk*l.syrup*litres[usual])
	for i := range litres {
		if !(l.sliced[i].margin() > 0) {
			litres[i] = 0
		}
	}
	return litres
}

// slice is what a litre of sap brings that makes so many kilograms of syrup, at relative prices of all of it and of
// what is sold in bulk.
func (l *Ledger) slice(kg, relative, bulk float64) sold {
	return sold{
		bulk:       l.bulkPrice * l.bulk * kg * relative * bulk,
		retail:     l.retailPrice * (1 - l.bulk) * kg * relative,
		processing: l.processing * kg,
		boiling:    l.boiling,
		hauling:    l.hauling,
	}
}

// margin is that of sell, by what a litre of the baseline's and of added sap brings where no limit is set to either.
func (l *Ledger) margin(y0, y float64) float64 {
	if l.limited {
		return l.sell(y0, y).margin()
	}
	base := y0
	if y < y0 { // min, of which a browser makes a call
		base = y
	}
	return l.litres[0]*base + l.litres[1]*(y-base)
}

// unlimited fills the margins of a litre where no limit is set.
func (l *Ledger) unlimited() {
	first, added := l.Litres()
	l.litres = [2]float64{first.Margin, added.Margin}
}

// Litre is what a litre of sap brings where nothing limits what is sold. What does not pay to boil is not boiled.
type Litre struct {
	Margin, Gross float64 // money with boiling and hauling paid, and before
	Boiled        float64 // litres of it that are boiled
	Worth         float64 // kilograms, as those of Made.Worth
}

// Litres is that of usual sap and of what is added to it.
func (l *Ledger) Litres() (first, added Litre) {
	of := func(s sold, kg, asSap float64) Litre {
		x := Litre{Margin: (1 - l.boiled) * (asSap - l.hauling), Gross: (1 - l.boiled) * asSap}
		if m := s.margin(); m > 0 {
			x.Margin, x.Gross = x.Margin+l.boiled*m, x.Gross+l.boiled*s.returns()
			x.Boiled, x.Worth = l.boiled, l.boiled*l.bulk*kg
		}
		return x
	}
	return of(l.sliced[usual], l.syrup, l.sapPrice), of(l.sliced[more], l.added*l.gainPrice, l.sapPrice*l.addedSugar)
}

// Made is what is boiled under a gain, a tap and season.
type Made struct {
	Litres float64 // of sap
	Kg     float64 // of syrup
	BulkKg float64 // of it sold in bulk, within a quota or beyond
	// the same, syrup of added sap counted as so much of the other as it is worth: what a quota leaves over is the last
	// of it
	Worth float64
}

// Made is what is boiled of the sap of a tap.
func (l *Ledger) Made(pl *Plan, y0, gain float64) Made {
	x := l.boil(y0, l.Yield(y0, gain)-pl.lost)
	first, then := x[usual]+x[usualBeyond], x[more]+x[moreBeyond]
	kg, added := l.syrup*first, l.added*then
	return Made{first + then, kg + added, l.bulk * (kg + added), l.bulk * (kg + l.gainPrice*added)}
}

// Beyond is how much less added sap brings where limits bind, nothing where nothing is lost.
type Beyond struct {
	Kg, Litre           float64 // money for each kilogram of Made.Worth beyond a quota, and for each litre not boiled
	GrossKg, GrossLitre float64 // the same of what is sold alone
	Worth               float64 // what a litre of it adds to Made.Worth
}

// Beyond is that of the quota and of what can be boiled.
func (l *Ledger) Beyond() Beyond {
	within, beyond := l.sliced[more], l.sliced[moreBeyond]
	for _, s := range []*sold{&within, &beyond} {
		if !(s.margin() > 0) {
			*s = sold{}
		}
	}
	x := Beyond{Litre: within.margin(), GrossLitre: within.returns(), Worth: l.bulk * l.added * l.gainPrice}
	if x.Worth > 0 {
		x.Kg = (within.margin() - beyond.margin()) / x.Worth
		x.GrossKg = (within.returns() - beyond.returns()) / x.Worth
	}
	return x
}

// Plan is a choice with everything that does not hang on its gains worked out.
type Plan struct {
	Choice  practice.Choice
	bills   []*bill
	sums    [2]*sum // of the bills of every season, and of those of the season of replacement
	rinsed  *price.Value
	costs   []entry
	fixed   float64   // sum of the bills
	lost    float64   // litres of sap a tap and season rinsed away or discarded
	atOnce  bool      // all drops are replaced at once
	weights []float64 // of the seasons, where these do not count as one: of a cycle at once, of a way
	weighed float64   // the rate that the weights are at, of so many seasons
	over    int
	Minutes map[price.Window]float64
	// PlasticG is grams of plastic bought, ChemicalL litres of chemical used, a tap and season.
	PlasticG, ChemicalL float64
}

// Cost is what the choice takes a tap and season in materials, labour, chemicals, repairs and disposal.
func (pl *Plan) Cost() float64 { return pl.fixed }

// Lost is litres of sap a tap and season that are rinsed away or discarded.
func (pl *Plan) Lost() float64 { return pl.lost }

// Alike is true where all seasons count alike: then Margin asks for their mean alone.
func (pl *Plan) Alike() bool { return pl.weights == nil }

// Losing is the plan when the sap that is rinsed away or discarded is that of another, as after a wash that was done,
// or was not yet done, before this spring.
func (pl Plan) Losing(as Plan) Plan {
	pl.lost = as.lost
	return pl
}

// entry is one amount of an account, positive.
type entry struct {
	kind   kind
	name   string
	amount float64
}

type kind int

const (
	returns kind = iota // what is sold
	lostSap             // what would have been
	cost
	material // cost of a thing that the user named
	chemical
)

// labour names the work of a window.
var labour = map[price.Window]string{
	price.Shop:          "labour in the shop",
	price.BeforeTapping: "labour before tapping",
	price.Tapping:       "labour at tapping",
	price.AfterSeason:   "labour after the season",
}

// Priced is true where the prices say what the choice takes. Unsanitized takes nothing.
func (l *Ledger) Priced(c practice.Choice) bool {
	use := func(k practice.Key) bool { return k == practice.Unsanitized || l.chosen[k] != nil }
	return use(c.Practice) && (c.With == "" || use(c.With))
}

// bill is one product that a choice's costs are the sum of, a tap and season.
type bill struct {
	kind    kind
	name    string
	renewal bool    // weighs as the season of replacement does, else 1
	count   float64 // of price
	price   *price.Value
	life    *price.Value // price is spread over it; nil: all at once
	amount  *price.Value // times this
	minutes *price.Value // of work at the wage, where not nil

	spread  [2]float64 // the rate and the life that annuity is for
	annuity float64

	turn int // of the ledger, that sum is of
	sum  float64
}

// as is true of a bill of the same.
func (b *bill) as(o *bill) bool {
	return b.kind == o.kind && b.name == o.name && b.renewal == o.renewal && b.count == o.count &&
		b.price == o.price && b.life == o.life && b.amount == o.amount && b.minutes == o.minutes
}

func (b *bill) charge(l *Ledger, first float64) float64 {
	x := b.whole(l)
	if b.renewal {
		x *= first
	}
	return x
}

// whole is the bill of a season that it falls into.
func (b *bill) whole(l *Ledger) float64 {
	switch {
	case b.minutes != nil:
		return b.minutes.Best / 60 * l.prices.Wage.Best
	case b.life != nil:
		if at := [2]float64{l.discount, b.life.Best}; b.spread != at {
			b.spread, b.annuity = at, annuity(at[0], l.logDiscount, at[1])
		}
		return b.count * b.price.Best / b.annuity
	case b.amount != nil:
		return b.amount.Best * b.price.Best
	}
	return b.count * b.price.Best
}

// Plan works a choice out. Every season takes the yearly parts of the practice's use; a rotation takes its renewal on
// top, 1/Every of it each season, or, where all drops are replaced at once, all of it in the first season of a cycle,
// spread as an equivalent annual cost. A combination takes the yearly parts of its second practice in place of those
// of the first. Things that last are charged at the discount rate over their life.
func (l *Ledger) Plan(c practice.Choice) Plan {
	pl := Plan{Choice: c, Minutes: map[price.Window]float64{}}
	cycle := float64(max(1, c.Every))
	if pl.atOnce = l.prices.AllAtOnce && c.Every > 1; pl.atOnce {
		pl.weights = make([]float64, c.Every)
	}
	work := func(minutes map[price.Window]*price.Value, renewal bool, part float64) {
		for _, w := range price.Windows {
			if m, ok := minutes[w]; ok {
				pl.Minutes[w] += part * m.Best
				pl.bills = append(pl.bills,
					&bill{kind: cost, name: labour[w], renewal: renewal, minutes: m})
			}
		}
	}
	yearly := l.chosen[c.Practice]
	if c.With != "" {
		yearly = l.chosen[c.With]
	}
	if yearly != nil {
		for i := range yearly.Materials {
			m := &yearly.Materials[i]
			thing := l.price[m.Material]
			pl.bills = append(pl.bills,
				&bill{kind: material, name: m.Material, count: m.Count, price: &thing.Price, life: &m.Life})
			pl.PlasticG += m.Count * thing.Grams / m.Life.Best
		}
		work(yearly.Minutes, false, 1)
		if yearly.Chemical != "" {
			pl.bills = append(pl.bills, &bill{kind: chemical, name: yearly.Chemical,
				price: l.litre[yearly.Chemical], amount: &yearly.ChemicalL})
			pl.ChemicalL += yearly.ChemicalL.Best
		}
		pl.bills = append(pl.bills,
			&bill{kind: cost, name: "repairs", count: 1, price: &yearly.Repairs},
			&bill{kind: cost, name: "disposal", count: 1, price: &yearly.Disposal})
		pl.rinsed = &yearly.LostSapL
	}
	if drops := l.chosen[c.Practice]; c.Every > 0 && drops != nil && drops.Renewal != nil {
		r := drops.Renewal
		for _, m := range r.Materials {
			thing := l.price[m.Material]
			pl.bills = append(pl.bills,
				&bill{kind: material, name: m.Material, renewal: true, count: m.Count, price: &thing.Price})
			pl.PlasticG += m.Count * thing.Grams / cycle
		}
		work(r.Minutes, true, 1/cycle)
		pl.bills = append(pl.bills,
			&bill{kind: cost, name: "disposal", renewal: true, count: 1, price: &r.Disposal})
	}
	pl.sum()
	first := pl.read(l)
	for _, b := range pl.bills {
		e := entry{b.kind, b.name, b.charge(l, first)}
		if at := slices.IndexFunc(pl.costs,
			func(o entry) bool { return o.kind == e.kind && o.name == e.name }); at >= 0 {
			pl.costs[at].amount += e.amount
		} else {
			pl.costs = append(pl.costs, e)
		}
	}
	return pl
}

// read takes the numbers from the ledger, and gives the weight of the season of replacement.
func (pl *Plan) read(l *Ledger) (first float64) {
	cycle := max(1, pl.Choice.Every)
	first = 1 / float64(cycle)
	if pl.atOnce {
		first = 1 / Annuity(l.discount, float64(cycle))
	}
	if n := len(pl.weights); n > 0 && (pl.weighed != l.discount || pl.over != n) {
		pl.weighed, pl.over = l.discount, n
		v, now := 1/(1+l.discount), 1/annuity(l.discount, l.logDiscount, float64(n))
		for a := range pl.weights {
			pl.weights[a] = now
			now *= v
		}
	}
	pl.fixed = pl.sums[0].of(l) + first*pl.sums[1].of(l)
	if pl.rinsed != nil {
		pl.lost = pl.rinsed.Best
	}
	return first
}

// Way is a plan of the first so many seasons of a choice, each with a gain of its own: their equal yearly amount, what
// lasts charged over its life.
func (l *Ledger) Way(c practice.Choice, seasons int) Plan {
	pl := l.Plan(c)
	pl.weights = make([]float64, seasons)
	pl.read(l)
	return pl
}

// Paid is what the choice takes a tap in one of its seasons, from 0, in cash: what lasts is bought whole when the one
// before is worn.
func (pl *Plan) Paid(l *Ledger, season int) float64 {
	sum, part := 0., 1/float64(max(1, pl.Choice.Every))
	if pl.atOnce {
		if part = 0; season%pl.Choice.Every == 0 {
			part = 1
		}
	}
	for _, b := range pl.bills {
		if b.life == nil {
			sum += b.charge(l, part)
			continue
		}
		bought := math.Ceil(float64(season+1)/b.life.Best) - math.Ceil(float64(season)/b.life.Best)
		sum += bought * b.count * b.price.Best
	}
	return sum
}

// Margin is what a choice brings a tap and season, less what it costs, under the gains of the seasons of its cycle
// (fractions as the trials have them, one for each of Choice.Seasons), or of its way. The difference of two margins at
// the same y0 is the net of a budget of the one against the other. It allocates nothing.
func (l *Ledger) Margin(pl *Plan, y0 float64, gains []float64) float64 {
	if pl.weights == nil {
		return l.margin(y0, l.Yield(y0, mean(gains))-pl.lost) - pl.fixed
	}
	sum := -pl.fixed
	for a, w := range pl.weights {
		sum += w * l.margin(y0, l.Yield(y0, gains[a])-pl.lost)
	}
	return sum
}

// Account is what a choice gives and takes a tap and season: the average season of its cycle.
type Account struct {
	Plan
	GainPct float64 // plain mean of the yearly percents, as the farm gets them
	SapL    float64 // litres a tap and season, before any is lost
	entries []entry
}

// Account draws up the account of a choice; the arguments are those of Margin.
func (l *Ledger) Account(c practice.Choice, y0 float64, gains []float64) Account {
	pl := l.Plan(c)
	g := mean(gains)
	a := Account{Plan: pl, GainPct: 100 * l.adjust * g, SapL: l.Yield(y0, g)}
	var gross, net sold
	if pl.weights == nil {
		gross, net = l.sell(y0, a.SapL), l.sell(y0, a.SapL-pl.lost)
	} else {
		for i, w := range pl.weights {
			y := l.Yield(y0, gains[i])
			gross.add(w, l.sell(y0, y))
			net.add(w, l.sell(y0, y-pl.lost))
		}
	}
	a.entries = append([]entry{
		{returns, "bulk syrup", gross.bulk},
		{returns, "retail syrup", gross.retail},
		{returns, "sap sold", gross.sap},
		{lostSap, "sap rinsed away or discarded", gross.returns() - net.returns()},
		{cost, l.packs(), net.processing},
		{cost, "fuel and concentrating", net.boiling},
		{cost, "hauling of sap", net.hauling},
	}, pl.costs...)
	return a
}

// packs names what goes by the syrup: boiling too, where that does not go by the sap.
func (l *Ledger) packs() string {
	if l.boiling > 0 {
		return "packing"
	}
	return "boiling and packing"
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// Compare is the partial budget of an account against a reference. A line that does not differ is left out.
func Compare(a, reference Account) Budget {
	b := Budget{
		Minutes:   map[price.Window]float64{},
		PlasticG:  a.PlasticG - reference.PlasticG,
		ChemicalL: a.ChemicalL - reference.ChemicalL,
	}
	for _, w := range price.Windows {
		b.Minutes[w] = a.Minutes[w] - reference.Minutes[w]
	}
	add := func(e entry, more float64) {
		if more == 0 {
			return
		}
		line := Line{Name: e.name, Amount: more}
		switch {
		case e.kind == returns && more > 0:
			line.Part = AddedReturns
			b.AddedReturns += more
		case e.kind == returns:
			line.Part = ReducedReturns
			b.ReducedReturns -= more
		case e.kind == lostSap && more > 0:
			line.Part, line.Amount = ReducedReturns, -more
			b.ReducedReturns += more
		case e.kind == lostSap:
			line.Part, line.Amount = AddedReturns, -more
			b.AddedReturns -= more
		case more > 0:
			line.Part, line.Amount = AddedCosts, -more
			b.AddedCosts += more
		default:
			line.Part, line.Amount = ReducedCosts, -more
			b.ReducedCosts -= more
		}
		b.Lines = append(b.Lines, line)
		b.Net += line.Amount
	}
	for _, e := range a.entries {
		add(e, e.amount-find(reference.entries, e))
	}
	for _, e := range reference.entries {
		if !has(a.entries, e) {
			add(e, -e.amount)
		}
	}
	return b
}

func find(list []entry, like entry) float64 {
	for _, e := range list {
		if e.kind == like.kind && e.name == like.name {
			return e.amount
		}
	}
	return 0
}

func has(list []entry, like entry) bool {
	for _, e := range list {
		if e.kind == like.kind && e.name == like.name {
			return true
		}
	}
	return false
}
