// Package worksheet writes the money of an answer as a spreadsheet that works it out again, every number a formula over
// cells with names: partial budget, rotation, the years of a change, whole-farm enterprise budget and cash flow
package worksheet

import (
	"bytes"

	"github.com/xuri/excelize/v2"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// builder writes the sheets, each over names that others give.
type builder struct {
	*pen
	v *say.Voice
	w *show.View
	p *price.Prices

	keys    map[string]string // names of the cells of prices, by key
	options []option
	entries []entry // what the sums of an option are made of
	longest option  // the longest rotation of the first practice that replaces drops
	lines   []farmLine
	gainOf  map[practice.Treatment]int // its row on the sheet of gains

	start, prices, budget, rotation, way, farm, cash, gains, sap, sums, density *sheet
}

// Write gives the spreadsheet (ECMA-376) of an answer. The error is note.Faults where it has no prices.
func Write(a *advice.Advice, v *say.Voice) ([]byte, error) {
	if len(a.Ranking) == 0 {
		return nil, note.Faults{note.New("a worksheet of money needs prices")}
	}
	b := &builder{pen: newPen(), v: v, w: show.Of(a, v), p: a.Input.Prices, keys: map[string]string{},
		gainOf: map[practice.Treatment]int{}}
	defer b.x.Close()
	b.start = b.sheet(v.Text("Start"), 30, 90)
	b.prices = b.sheet(v.Text("Prices"), 54, 12, 28, 12, 12, 56, 50)
	b.budget = b.sheet(v.Text("Partial budget"), 52, 34, 34, 16)
	b.rotation = b.sheet(v.Text("Rotation"), 30, 18)
	b.way = b.sheet(v.Text("The way there"), 46, 34, 18)
	b.farm = b.sheet(v.Text("Whole farm"), 40, 34, 34, 16, 40)
	b.cash = b.sheet(v.Text("Cash flow"), 40, 14, 12)
	b.gains = b.sheet(v.Text("Gains"), 46, 18)
	b.sap = b.sheet(v.Text("Sap and syrup"), 46, 15)
	b.sums = b.sheet(v.Text("Practices"), 46, 34, 14)
	b.density = b.sheet(v.Text("Density"), 14)
	b.list()
	for _, write := range []func(){b.writePrices, b.writeDensity, b.writeGains, b.writeSap, b.writeSums, b.writeBudget,
		b.writeRotation, b.writeWay, b.writeFarm, b.writeCash, b.writeStart} {
		write()
	}
	b.keep(b.x.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: new(true)}))
	if b.err != nil {
		return nil, b.err
	}
	var out bytes.Buffer
	err := b.x.Write(&out)
	return out.Bytes(), err
}

// writeStart says what the spreadsheet is and what stands where.
func (b *builder) writeStart() {
	v, s := b.v, b.start
	s.begin(v.Text("Money that follows your prices"),
		v.Text("Change a cell with a coloured ground, such as a price, and every number follows."),
		v.Text("Each of these cells has a name, which stands beside it and in the formulas."),
		v.Text("All stands at the best guesses, in %s; how sure it is this spreadsheet does not tell.",
			v.MoneyUnit(b.p.Currency)))
	s.head(2, v.Text("sheet"), v.Text("what it holds"))
	for _, x := range []struct {
		of    *sheet
		holds string
	}{
		{b.prices, v.Text("what is sold, bought and paid, and what each practice takes")},
		{b.budget, v.Text("one practice against another, a tap and season")},
		{b.rotation, v.Text("how often to replace drops, in the long run")},
		{b.way, v.Text("the first seasons of a change, from today's drops: net present value, payback and cash")},
		{b.farm, v.Text("the enterprise budget of all taps")},
		{b.cash, v.Text("money in and out month by month, with operating interest")},
		{b.gains, v.Text("what the studies say that each practice gains")},
		{b.sap, v.Text("what becomes of the sap")},
		{b.sums, v.Text("what each practice gives and takes, a tap and season")},
		{b.density, v.Text("density of sugar solutions, which sap and syrup are worked out from")},
	} {
		row := s.line(x.of.name, x.holds)
		b.keep(b.x.SetCellHyperLink(s.name, here(1, row), "'"+x.of.name+"'!A1", "Location"))
	}
	s.row++
	s.line(v.Text("prices of"), b.p.AsOf)
	s.line(v.Text("made by"), "spile")
	s.row++
	s.line(cell{v.Text("It informs. It permits nothing: labels, local law and your own accounts come first."), hint})
}
