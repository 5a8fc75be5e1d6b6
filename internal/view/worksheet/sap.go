package worksheet

import (
	"fmt"
	"strconv"
	"strings"

	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/show"
)

// Columns of the rows of what becomes of sap, but for the slices of it: these stand between rinsed and bulk.
const (
	colWeight = 3 + iota
	colGain
	colYield
	colRinsed
	colSlices
)

// account is what a row of sap ends in, in this order.
var account = []string{"bulk syrup", "retail syrup", "sap sold", "sap rinsed away or discarded", "boiling and packing",
	"fuel and concentrating", "hauling of sap"}

// writeSap writes what becomes of the sap of a tap, as package budget has it: it is boiled as far as that pays, what is
// above the unsanitized yield being added sap; a quota parts either in two.
func (b *builder) writeSap() {
	b.sap.begin(b.v.Text("Sap and syrup"))
	b.writeSugar()
	b.sap.row++
	sapUnit := show.UnitName(b.v, b.p.Word(price.UnitOf("units.sap")))
	b.writeSyrup(sapUnit)
	b.slices(sapUnit)
	b.sap.row++
	b.writeYields()
}

// writeSugar writes how much sugar a litre of sap and of syrup holds, by the table of densities.
func (b *builder) writeSugar() {
	v, s := b.v, b.sap
	s.head(1, v.Text("sugar"), v.Text("°Brix"), v.Text("whole"), v.Text("thirds"), v.Text("kg a litre"),
		v.Text("sugar, kg a litre"))
	added := "baseline.brix"
	if b.has("baseline.gain_brix") {
		added = "baseline.gain_brix"
	}
	for _, x := range []struct{ label, name, brix string }{
		{v.Text("sap"), "usual", b.of("baseline.brix")}, {v.Text("added sap"), "added", b.of(added)},
		{v.Text("syrup"), "syrup", b.of("syrup_brix")},
	} {
		k, t := here(3, s.row), here(4, s.row)
		point := func(i int) string { return fmt.Sprintf("INDEX(density_%d,%s+1)", i, k) }
		at := s.line(x.label, cell{formula(x.brix), plain}, cell{formula("MIN(INT(" + here(2, s.row) + "),69)"), plain},
			cell{formula("3*(" + here(2, s.row) + "-" + k + ")"), fine},
			cell{formula(strings.ReplaceAll("("+point(0)+"*(1-@)*(@-2)*(@-3)+3*"+point(1)+"*@*(@-2)*(@-3)-3*"+
				point(2)+"*@*(@-1)*(@-3)+"+point(3)+"*@*(@-1)*(@-2))/6", "@", t)), fine},
			cell{formula(here(5, s.row) + "*" + here(2, s.row) + "/100"), fine})
		b.define("density_"+x.name, s.at(5, at))
		b.define("sugar_"+x.name, s.at(6, at))
	}
}

// writeSyrup writes what follows for all practices alike: syrup from sap, the yield unsanitized, what is sold how.
func (b *builder) writeSyrup(sapUnit string) {
	v, s, p := b.v, b.sap, b.p
	unit := func(m price.Measure) string { return show.Measure(v, m, p.Currency, p.Word).Unit }
	mass := show.UnitName(v, p.Word(price.UnitOf("units.mass")))
	s.head(4, v.Text("what follows"), v.Text("value"), v.Text("unit"), v.Text("name"))
	s.over(numbers, 2)
	s.over(headed, 3, 4)
	scalar := func(label, name, f, unit string) {
		b.define(name, s.at(2, s.row))
		s.line(label, cell{formula(f), fine}, cell{unit, beside}, cell{name, called})
	}
	boiled, bulk, bulkPrice, retail := "1", "1", "0", "0"
	if b.has("sells.sap.share") {
		boiled = "1-" + b.of("sells.sap.share")
	}
	var shares, worth []string
	for _, name := range p.Names("sells.bulk") {
		share := b.of("sells.bulk." + name + ".share")
		shares, worth = append(shares, share), append(worth, share+"*"+b.of("sells.bulk."+name+".price"))
	}
	if len(shares) > 0 {
		all := strings.Join(shares, "+")
		bulkPrice = "IF(" + all + ">0,(" + strings.Join(worth, "+") + ")/(" + all + "),0)"
	}
	scalar(v.Text("%s of syrup in one %s of it", mass, show.UnitName(v, p.Word(price.UnitOf("units.syrup")))),
		"syrup_mass", "density_syrup*units_syrup/units_mass", mass)
	if b.has("sells.retail.price") {
		retail = b.of("sells.retail.price") + "/syrup_mass"
		all := strings.Join(append(shares, b.of("sells.retail.share")), "+")
		bulk = "IF(" + all + ">0,1-" + b.of("sells.retail.share") + "/(" + all + "),1)"
	}
	scalar(v.Text("syrup from one %s of sap", sapUnit), "syrup_usual",
		"units_sap*sugar_usual/(syrup_brix/100)/units_mass", mass)
	scalar(v.Text("syrup from one %s of added sap", sapUnit), "syrup_added",
		"units_sap*sugar_added/(syrup_brix/100)/units_mass", mass)
	scalar(v.Text("sap of an unsanitized tap"), "unsanitized_yield",
		b.of("baseline.yield")+"/(1+"+b.of("farm_adjust")+"*baseline_gain)", unit(price.SapATap))
	scalar(v.Text("part of the sap that is boiled"), "boiled_share", boiled, "")
	scalar(v.Text("part of the syrup that is sold in bulk"), "bulk_share", bulk, "")
	scalar(v.Text("mean price of bulk syrup"), "bulk_price", bulkPrice, unit(price.MoneySyrupKg))
	scalar(v.Text("price of retail syrup by mass"), "retail_price", retail, unit(price.MoneySyrupKg))
	scalar(v.Text("boiling and packing by mass"), "boiling_cost", b.of("processing")+"/syrup_mass",
		unit(price.MoneySyrupKg))
	if limit := b.of("sells.quota.syrup"); limit != "0" {
		scalar(v.Text("sap that fills the quota"), "quota_sap",
			"IF(bulk_share>0,"+limit+"/bulk_share/syrup_usual,1E+99)",
			sapUnit)
	}
}

// writeYields writes a row for each season of each option.
func (b *builder) writeYields() {
	v, s := b.v, b.sap
	kinds := b.kinds()
	headings := append([]string{v.Text("practice"), v.Text("season"), v.Text("weight"), v.Text("gain"), v.Text("sap"),
		v.Text("rinsed away"), v.Text("boiled")}, kinds...)
	headings = append(append(headings, v.Text("boiled, less what is rinsed away")), kinds...)
	for _, e := range account {
		headings = append(headings, v.Text(e))
	}
	s.head(1, headings...)
	for i := range b.options {
		o := &b.options[i]
		rinsed := b.of("use." + string(o.yearly()) + ".lost_sap")
		o.sap[0] = s.row
		if !b.p.AllAtOnce || len(o.used) == 1 {
			o.sap[1] = b.yield(o.name, nil, "1", "AVERAGE("+b.gains.at(5, o.gains[0], 5, o.gains[1])+")", rinsed)
			continue
		}
		for a := range o.used {
			o.sap[1] = b.yield(o.name, a+1, later(b.of("discount"), a)+"*"+b.yearly(strconv.Itoa(len(o.used))),
				b.gains.at(5, o.gains[0]+a), rinsed)
		}
	}
}

// yield writes what becomes of the sap of a gain, and gives the row.
func (b *builder) yield(name string, season any, weight, gain, rinsed string) int {
	s, at, k := b.sap, b.sap.row, len(b.kinds())
	cells := []any{name, season, cell{formula(weight), fine}, cell{formula(gain), percent},
		cell{formula("unsanitized_yield*(1+" + b.of("farm_adjust") + "*" + here(colGain, at) + ")"), fine},
		cell{formula(rinsed), fine}}
	gross := here(colYield, at)
	net := "(" + gross + "-" + here(colRinsed, at) + ")"
	for i, y := range []string{gross, net} {
		cells = append(cells, b.boil(y, colSlices+i*(k+1), at)...)
	}
	sum := func(part int, of string) string {
		from := colSlices + part*(k+1) + 1
		return "SUMPRODUCT(" + here(from, at) + ":" + here(from+k-1, at) + ",slice_boils,slice_" + of + ")"
	}
	sold := func(y string) string {
		return b.of("sells.sap.price") + "*(1-boiled_share)*(MIN(" + y +
			",unsanitized_yield)+sugar_added/sugar_usual*MAX(0," + y + "-unsanitized_yield))"
	}
	end := b.colAccount()
	lost := here(end, at) + "+" + here(end+1, at) + "+" + here(end+2, at) + "-" + sum(1, "bulk") + "-" +
		sum(1, "retail") + "-" + sold(net)
	for _, f := range []string{sum(0, "bulk"), sum(0, "retail"), sold(gross), lost, sum(1, "boiling"),
		sum(1, "fuel"), sum(1, "hauling") + "+" + b.of("hauling") + "*(1-boiled_share)*" + net} {
		cells = append(cells, cell{formula(f), fine})
	}
	return s.line(cells...)
}

// yearly is the practice whose yearly parts an option takes: of a combination the second.
func (o option) yearly() practice.Key {
	if o.With != "" {
		return o.With
	}
	return o.Practice
}

// later is the present value of 1 after so many seasons.
func later(rate string, seasons int) string { return fmt.Sprintf("1/(1+%s)^%d", rate, seasons) }

// yearly is the part of a price that one of its seasons bears: 1/Σ v^a.
func (b *builder) yearly(life string) string {
	r := b.of("discount")
	return fmt.Sprintf("IF(%s=0,1/%s,%s/(1+%s)/(1-1/(1+%s)^%s))", r, life, r, r, r, life)
}

// colAccount is the first column of what a row of sap ends in.
func (b *builder) colAccount() int { return colSlices + 2*(len(b.kinds())+1) }

// kinds names the slices of the sap that is boiled.
func (b *builder) kinds() []string {
	v := b.v
	if b.has("sells.quota.syrup") {
		return []string{v.Text("sap"), v.Text("sap beyond the quota"), v.Text("added sap"),
			v.Text("added sap beyond the quota")}
	}
	return []string{v.Text("sap"), v.Text("added sap")}
}

// slices writes what a unit of each slice of the sap brings and costs, and whether it pays to boil it.
func (b *builder) slices(unit string) {
	v, s := b.v, b.sap
	kinds := b.kinds()
	beyond := b.of("sells.quota.price_beyond") + "/(1+" + b.of("discount") + ")^" + b.of("sells.quota.delay")
	gain := "1"
	if b.has("sells.gain_price") {
		gain = b.of("sells.gain_price")
	}
	s.row++
	s.head(1, append([]string{v.Text("what one %s of sap brings", unit)}, kinds...)...)
	first := s.row
	for i, part := range []struct{ label, name string }{{v.Text("bulk syrup"), "bulk"},
		{v.Text("retail syrup"), "retail"}, {v.Text("boiling and packing"), "boiling"},
		{v.Text("fuel and concentrating"), "fuel"},
		{v.Text("hauling of sap"), "hauling"}, {v.Text("margin"), "margin"},
		{v.Text("boiled where it pays: 1"), "boils"}} {
		cells := []any{part.label}
		for k := range kinds {
			kg, price, within := "syrup_usual", "1", "1"
			if k >= len(kinds)/2 {
				kg, price = "syrup_added", gain
			}
			if len(kinds) == 4 && k%2 == 1 {
				within = beyond
			}
			c := func(row int) string { return here(2+k, first+row) }
			f := [...]string{"bulk_price*bulk_share*" + kg + "*" + price + "*" + within,
				"retail_price*(1-bulk_share)*" + kg + "*" + price, "boiling_cost*" + kg, b.of("boiling"),
				b.of("hauling"),
				c(0) + "+" + c(1) + "-" + c(2) + "-" + c(3) + "-" + c(4), "IF(" + c(5) + ">0,1,0)"}[i]
			cells = append(cells, cell{formula(f), fine})
		}
		at := s.line(cells...)
		b.define("slice_"+part.name, s.at(2, at, 1+len(kinds), at))
	}
}

// boil gives the cells of what is boiled of a yield and of its slices, from a column on. What is usual of it is no more
// than what is boiled of the unsanitized yield.
func (b *builder) boil(y string, col, row int) []any {
	can := func(y string) string {
		boiled := "boiled_share*" + y
		if b.has("sells.peak.flow") { // on the heaviest days
			boiled += "-MAX(0," + b.of("sells.peak.share") + "*" + boiled + "-" + b.of("sells.peak.flow") + "*" +
				b.of("sells.peak.days") + ")"
		}
		if b.has("sells.capacity") {
			boiled = "MIN(" + boiled + "," + b.of("sells.capacity") + ")"
		}
		return boiled
	}
	boiled, usual := can(y), can("unsanitized_yield")
	c := func(i int) string { return here(col+i, row) }
	list := []string{boiled, "MIN(" + c(0) + "," + usual + ")", c(0) + "-" + c(1)}
	if b.has("sells.quota.syrup") {
		list = []string{boiled, "MIN(" + c(0) + "," + usual + ",quota_sap)", "MIN(" + c(0) + "," + usual + ")-" + c(1),
			"MIN(" + c(0) + "-" + c(1) + "-" + c(2) + ",(quota_sap-" + c(1) + ")*syrup_usual/syrup_added)",
			c(0) + "-" + c(1) + "-" + c(2) + "-" + c(3)}
	}
	var cells []any
	for _, f := range list {
		cells = append(cells, cell{formula(f), fine})
	}
	return cells
}
