package worksheet

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"spile/internal/engine/advice"
	"spile/internal/engine/budget"
	files "spile/internal/files/sheet"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// memo keeps the pool of the studies, which all tests share.
var memo advice.Memo

// demo is the invented scenario; a change of its prices needs no other pool.
func demo(t *testing.T) advice.Input {
	t.Helper()
	read, err := files.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	return advice.Usual(read)
}

// open is a worksheet as a spreadsheet program has it.
type opened struct {
	*excelize.File
	at map[string]string // cells by their names
}

func open(t *testing.T, data []byte) opened {
	t.Helper()
	x, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	o := opened{x, map[string]string{}}
	for _, n := range x.GetDefinedName() {
		o.at[n.Name] = strings.ReplaceAll(n.RefersTo, "$", "")
	}
	return o
}

// cell parts the place of a name.
func (o opened) cell(name string) (sheet, cell string) {
	sheet, cell, _ = strings.Cut(o.at[name], "!")
	return strings.ReplaceAll(strings.Trim(sheet, "'"), "''", "'"), cell
}

// number works out the cell of a name.
func (o opened) number(t *testing.T, name string) float64 {
	t.Helper()
	s, c := o.cell(name)
	text, err := o.CalcCellValue(s, c, excelize.Options{RawCellValue: true})
	x, bad := strconv.ParseFloat(text, 64)
	if err != nil || bad != nil {
		t.Fatalf("%s (%s!%s): %q, %v", name, s, c, text, err)
	}
	return x
}

func (o opened) set(t *testing.T, name string, x any) {
	t.Helper()
	s, c := o.cell(name)
	if err := o.SetCellValue(s, c, x); err != nil {
		t.Fatal(name, err)
	}
}

func close(got, want float64) bool { return math.Abs(got-want) <= 1e-9*(1+math.Abs(want)) }

// holds compares every net of a worksheet with ours.
func (o opened) holds(t *testing.T, what string, a *advice.Advice) {
	t.Helper()
	for _, x := range a.Ranking {
		name := "net_" + strings.NewReplacer("-", "_", "/", "_", "+", "_").Replace(x.ID())
		if x.With != "" && o.at[name] == "" {
			continue // another interval pays best now, and what is put on it follows
		}
		if got := o.number(t, name); !close(got, x.Unsanitized.Net) {
			t.Errorf("%s: %s is %v, ours %v", what, name, got, x.Unsanitized.Net)
		}
	}
}

// farms are prices that take every way through the arithmetic.
var farms = []struct {
	name string
	set  func(*price.Prices)
}{
	{"demo", func(*price.Prices) {}},
	{"everything sold, a quota and a limit on boiling", func(p *price.Prices) {
		p.Sells.Grades[0].Share = 0.35
		p.Sells.Sap = &price.Outlet{Share: 0.2, Price: price.Value{Best: 0.11}}
		p.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: 0.9}, PriceBeyond: price.Value{Best: 0.7},
			DelaySeasons: price.Value{Best: 2}}
		p.Sells.CapacityL = &price.Value{Best: 75}
	}},
	{"sap that does not pay to boil", func(p *price.Prices) {
		p.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: 1.2}, PriceBeyond: price.Value{Best: 0.1}}
		p.Processing = price.Value{Best: 4}
	}},
	{"all drops at once, in Québec, litres and kilograms", func(p *price.Prices) {
		p.AllAtOnce, p.Place, p.SyrupBrix, p.Units, p.Currency = true, "CA-QC", 0, nil, "CAD"
		p.Baseline.GainBrix, p.Sells.GainPrice = nil, nil
	}},
	{"fuel by the sap, and a limit on a day's boiling", func(p *price.Prices) {
		p.Boiling = &price.Value{Best: 0.03}
		p.Sells.Peak = &price.Peak{FlowL: price.Value{Best: 3}}
		p.Sells.CapacityL = &price.Value{Best: 85}
	}},
	{"no interest", func(p *price.Prices) { p.AllAtOnce, p.Discount = true, price.Value{} }},
}

// each goes through the farms with the answer to their prices.
func each(t *testing.T, do func(t *testing.T, ask func(*price.Prices) *advice.Advice, p *price.Prices)) {
	in := demo(t)
	ask := func(p *price.Prices) *advice.Advice {
		in := in
		in.Prices = p
		a, err := memo.Ranked(in)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	for _, farm := range farms {
		t.Run(farm.name, func(t *testing.T) {
			p := in.Prices.Clone()
			farm.set(p)
			do(t, ask, p)
		})
	}
}

func written(t *testing.T, a *advice.Advice) opened {
	t.Helper()
	data, err := Write(a, say.In("en"))
	if err != nil {
		t.Fatal(err)
	}
	return open(t, data)
}

// What the formulas work out is what package budget does: as written, and where every number of the prices is another,
// in the sheet as in the file.
func TestNetsFollowThePrices(t *testing.T) {
	each(t, func(t *testing.T, ask func(*price.Prices) *advice.Advice, p *price.Prices) {
		a := ask(p)
		o := written(t, a)
		o.holds(t, "as written", a)
		data, _ := Write(a, say.In("en"))
		o = open(t, data) // nothing worked out yet
		moved := p.Clone()
		for i, s := range moved.Slots() {
			name := strings.NewReplacer(".", "_", "-", "_").Replace(s.Key)
			if _, ok := s.Assumption(); ok && s.Value() != nil && !strings.HasPrefix(s.Key, "seasons.") {
				x := s.Value().Best * (1 + 0.01*float64(i%5+1))
				s.Put(price.Value{Best: x})
				o.set(t, name, x/p.Per(s.Measure))
			}
		}
		o.holds(t, "all moved", ask(moved))
	})
}

// The partial budget is that of spile profit where gains are as the studies say, in all four parts.
func TestPartialBudget(t *testing.T) {
	each(t, func(t *testing.T, ask func(*price.Prices) *advice.Advice, p *price.Prices) {
		a := ask(p)
		for _, i := range []int{0, len(a.Ranking) - len(t.Name())%5 - 1} { // some other in each
			o, b := written(t, a), a.Ranking[i].Says.Today
			o.set(t, "gains_taken", "as the studies say")
			o.set(t, "practice", show.Of(a, say.In("en")).Option(a.Ranking[i]))
			for name, want := range map[string]float64{"added_returns": b.AddedReturns, "reduced_costs": b.ReducedCosts,
				"added_costs": b.AddedCosts, "reduced_returns": b.ReducedReturns, "net": b.Net} {
				if got := o.number(t, name); !close(got, want) {
					t.Errorf("%s: %s is %v, ours %v", a.Ranking[i].ID(), name, got, want)
				}
			}
		}
	})
}

// way compares the first seasons of a practice with its way in an answer: net present value, which is Σ vˢ times the
// net of season s, the equal yearly amount of it (Annuity), payback and the greatest outlay.
func (o opened) way(t *testing.T, a *advice.Advice, x advice.Option) {
	t.Helper()
	r, present := a.Input.Prices.Discount.Best, 0.
	for s, net := range x.Way.Net {
		present += net * math.Pow(1+r, -float64(s))
	}
	o.set(t, "way_practice", show.Of(a, say.In("en")).Option(x))
	for name, want := range map[string]float64{"net_present_value": present,
		"equivalent_annual": present / budget.Annuity(r, float64(len(x.Way.Net))), "greatest_outlay": x.Way.Outlay} {
		if got := o.number(t, name); !close(got, want) {
			t.Errorf("%s: %s is %v, ours %v", x.ID(), name, got, want)
		}
	}
	s, c := o.cell("payback")
	got, err := o.CalcCellValue(s, c, excelize.Options{RawCellValue: true})
	want := strconv.Itoa(x.Way.Payback)
	if want == "0" {
		want = "not paid back"
	}
	if err != nil || got != want {
		t.Errorf("%s: paid back %q, ours %q: %v", x.ID(), got, want, err)
	}
}

// The years of a change are those of the answer, practice by practice, and follow prices that are changed.
func TestWayThere(t *testing.T) {
	each(t, func(t *testing.T, ask func(*price.Prices) *advice.Advice, p *price.Prices) {
		a := ask(p)
		moved := p.Clone()
		moved.Wage, moved.Discount = price.Value{Best: 37}, price.Value{Best: 0.11}
		for i := range moved.Materials {
			moved.Materials[i].Price = price.Value{Best: 1.7 * p.Materials[i].Price.Best}
		}
		now := ask(moved)
		data, _ := Write(a, say.In("en"))
		o := open(t, data)
		o.set(t, "wage", 37)
		o.set(t, "discount", 0.11)
		for _, m := range moved.Materials {
			o.set(t, "material_"+strings.NewReplacer(" ", "_", "-", "_").Replace(m.Name)+"_price", m.Price.Best)
		}
		// what changes at once, what is staged, and what lasts
		for _, c := range []practice.Choice{{Practice: practice.CheckValve}, {Practice: practice.NewDrop, Every: 3},
			{Practice: practice.SilverSpout}} {
			x, ok := now.Find(c)
			if !ok {
				t.Fatal(c)
			}
			o.way(t, now, x)
		}
	})
}

// Over as many seasons as lie between two replacements of all drops at once, the way from old drops is the rotation.
func TestWayOfOneReplacementIsTheRotation(t *testing.T) {
	in := demo(t)
	in.Prices = in.Prices.Clone()
	in.Prices.AllAtOnce, in.Over = true, 3
	a, err := memo.Ranked(in)
	if err != nil {
		t.Fatal(err)
	}
	x, ok := a.Find(practice.Choice{Practice: practice.NewDrop, Every: 3})
	if !ok {
		t.Fatal("no rotation of three seasons")
	}
	o := written(t, a)
	o.way(t, a, x)
	if got := o.number(t, "equivalent_annual"); !close(got, x.Today.Net) {
		t.Errorf("%v a season, ours %v", got, x.Today.Net)
	}
}

// From a rotation, whose drops go on ageing under a new spout, over one season and over thirty.
func TestWayFromARotation(t *testing.T) {
	for _, over := range []int{1, 30} {
		in := demo(t)
		in.Against, in.Over = practice.Choice{Practice: practice.NewDrop, Every: 6}, over
		a, err := memo.Ranked(in)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []practice.Choice{{Practice: practice.NewSpout}, {Practice: practice.NewDrop, Every: 3}} {
			x, ok := a.Find(c)
			if !ok {
				t.Fatal(c)
			}
			written(t, a).way(t, a, x)
		}
	}
}

// The months of the cash flow add up to the enterprise; interest is by hand: a twelfth of the rate on what was owed
// at the end of the month before.
func TestCashFlow(t *testing.T) {
	each(t, func(t *testing.T, ask func(*price.Prices) *advice.Advice, p *price.Prices) {
		a := ask(p)
		o := written(t, a)
		o.set(t, "taps", 2500)
		o.set(t, "fixed_costs", 4800)
		o.set(t, "operating_rate", 0.12)
		margin := 2500 * o.number(t, "gross_margin") / 2500
		if got := o.number(t, "farm_net"); !close(got, margin-4800) || !close(got, o.number(t, "cash_net")) {
			t.Errorf("the farm nets %v, the months %v", got, o.number(t, "cash_net"))
		}
		best, _ := a.Best()
		if at := slices.IndexFunc(a.Ranking, func(x advice.Option) bool { return x.ID() == best.ID() }); at >= 0 {
			difference := 2500 * best.Today.Net
			_, row := o.cell("gross_margin")
			text, _ := o.CalcCellValue("Whole farm", "D"+row[1:], excelize.Options{RawCellValue: true})
			if got, _ := strconv.ParseFloat(text, 64); !close(got, difference) {
				t.Errorf("all taps net %v over today, ours %v", got, difference)
			}
		}
		balance, interest := 0., 0.
		_, at := o.cell("cash_net")
		for m := range 12 {
			text, _ := o.CalcCellValue("Cash flow", column(3+m)+at[1:], excelize.Options{RawCellValue: true})
			x, _ := strconv.ParseFloat(text, 64)
			owed := math.Max(0, -balance) * 0.01
			balance, interest = balance+x-owed, interest+owed
		}
		got, end := o.number(t, "operating_interest"), o.number(t, "cash_end")
		if !close(got, -interest) || !close(end, balance) {
			t.Errorf("interest %v and in the end %v; by hand %v and %v", got, end, -interest, balance)
		}
	})
}

// value works out a cell.
func (o opened) value(t *testing.T, sheet, at string) float64 {
	t.Helper()
	text, err := o.CalcCellValue(sheet, at, excelize.Options{RawCellValue: true})
	x, bad := strconv.ParseFloat(text, 64)
	if err != nil || bad != nil {
		t.Fatalf("%s!%s: %q, %v", sheet, at, text, err)
	}
	return x
}

// Whatever is typed, the enterprise budget is one (identities of any handbook of farm management): returns less
// variable costs are the gross margin, less fixed costs the net; of either practice the margin is that of a tap times
// the taps, with what the farm itself adds; a difference is that of the two; the months add up to the year, and what is
// left at its end is its net less interest.
func TestEnterpriseIdentities(t *testing.T) {
	each(t, func(t *testing.T, ask func(*price.Prices) *advice.Advice, p *price.Prices) {
		o := written(t, ask(p))
		r := rand.New(rand.NewPCG(7, uint64(len(t.Name()))))
		list := o.at["practices"]
		first, end, _ := strings.Cut(list[strings.LastIndexByte(list, '!')+1:], ":")
		top, _ := strconv.Atoi(strings.TrimLeft(first, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
		last, _ := strconv.Atoi(strings.TrimLeft(end, "ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
		margins, _, _ := strings.Cut(o.at["margins"], ":")
		sheet, margin, _ := strings.Cut(margins, "!")
		sheet, margin = strings.Trim(sheet, "'"), strings.TrimRight(margin, "0123456789")
		rows := map[string]int{}
		for _, who := range []string{"practice", "against"} {
			rows[who] = top + r.IntN(last-top+1)
			name, err := o.GetCellValue(sheet, "A"+strconv.Itoa(rows[who]))
			if err != nil || name == "" {
				t.Fatal(name, err)
			}
			o.set(t, who, name)
		}
		taps := float64(1 + r.IntN(60_000))
		o.set(t, "taps", taps)
		own := map[string]float64{}
		for _, name := range []string{"other_returns", "other_costs", "fixed_costs"} {
			for _, of := range []string{name, name + "_against"} {
				own[of] = math.Round(100*50_000*r.Float64()) / 100
				o.set(t, of, own[of])
			}
		}
		nets := map[string]float64{}
		for who, end := range map[string]string{"practice": "", "against": "_against"} {
			of := func(name string) float64 { return o.number(t, name+end) }
			gross, net := of("gross_margin"), of("farm_net")
			if want := of("returns") - of("variable_costs"); !close(gross, want) {
				t.Errorf("%s: the gross margin is %v, returns less variable costs %v", who, gross, want)
			}
			if want := gross - own["fixed_costs"+end]; !close(net, want) {
				t.Errorf("%s: the net is %v, margin less fixed costs %v", who, net, want)
			}
			a := o.value(t, sheet, margin+strconv.Itoa(rows[who]))
			if want := taps*a + own["other_returns"+end] - own["other_costs"+end]; !close(gross, want) {
				t.Errorf("%s: the gross margin is %v, of the taps one by one %v", who, gross, want)
			}
			nets[who] = net
		}
		farm, at := o.cell("farm_net")
		if got := o.value(t, farm, "D"+at[1:]); !close(got, nets["practice"]-nets["against"]) {
			t.Errorf("the difference is %v of %v", got, nets)
		}
		cash, at := o.cell("cash_net")
		months, lowest := 0., math.Inf(1)
		_, balance := o.cell("lowest_balance")
		for m := range 12 {
			months += o.value(t, cash, column(3+m)+at[1:])
			lowest = min(lowest, o.value(t, cash, column(3+m)+balance[1:]))
		}
		if !close(months, nets["practice"]) || !close(o.number(t, "cash_net"), months) {
			t.Errorf("the months bring %v, the year %v", months, nets["practice"])
		}
		left, interest := o.number(t, "cash_end"), o.number(t, "operating_interest")
		if !close(left, months+interest) || interest > 0 || !close(o.number(t, "lowest_balance"), lowest) {
			t.Errorf("left is %v of %v with interest %v; lowest %v", left, months, interest, lowest)
		}
	})
}

// Another spreadsheet program works out the same, and follows a price that is changed in it.
func TestOffice(t *testing.T) {
	if os.Getenv("SPILE_CROSSCHECK_DIR") == "" {
		t.Skip("make crosscheck runs it")
	}
	office, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatal("NOT RUN: the worksheet in another program needs LibreOffice")
	}
	each(t, func(t *testing.T, ask func(*price.Prices) *advice.Advice, p *price.Prices) {
		dir := t.TempDir()
		recalculated := func(o opened, name string) opened {
			t.Helper()
			if err := o.SaveAs(filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
			run := exec.Command(office, "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless",
				"--convert-to", "xlsx", "--outdir", filepath.Join(dir, "out"), filepath.Join(dir, name))
			if out, err := run.CombinedOutput(); err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			data, err := os.ReadFile(filepath.Join(dir, "out", name))
			if err != nil {
				t.Fatal(err)
			}
			return open(t, data)
		}
		same := func(o opened, a *advice.Advice, taps float64) {
			t.Helper()
			stored := func(name string) float64 {
				s, c := o.cell(name)
				text, err := o.GetCellValue(s, c, excelize.Options{RawCellValue: true})
				x, bad := strconv.ParseFloat(text, 64)
				if err != nil || bad != nil {
					t.Errorf("%s holds %q", name, text)
				}
				return x
			}
			for _, x := range a.Ranking {
				name := "net_" + strings.NewReplacer("-", "_", "/", "_", "+", "_").Replace(x.ID())
				if x.With != "" && o.at[name] == "" {
					continue
				}
				if got := stored(name); math.Abs(got-x.Unsanitized.Net)*taps > 0.005 {
					t.Errorf("%s: %v, ours %v", name, got, x.Unsanitized.Net)
				}
			}
			best, _ := a.Best()
			got := stored("gross_margin") - stored("gross_margin_against")
			if math.Abs(got-taps*best.Today.Net) > 0.005 {
				t.Errorf("all taps net %v over today, ours %v", got, taps*best.Today.Net)
			}
			r, present := a.Input.Prices.Discount.Best, 0.
			for s, net := range best.Way.Net {
				present += net * math.Pow(1+r, -float64(s))
			}
			if got := stored("net_present_value"); math.Abs(got-present)*taps > 0.005 {
				t.Errorf("over the first seasons a net present value of %v, ours %v", got, present)
			}
			if got := stored("greatest_outlay"); math.Abs(got-best.Way.Outlay)*taps > 0.005 {
				t.Errorf("a greatest outlay of %v, ours %v", got, best.Way.Outlay)
			}
			if best.Way.Payback > 0 && stored("payback") != float64(best.Way.Payback) {
				t.Errorf("paid back in season %v, ours %d", stored("payback"), best.Way.Payback)
			}
			if got, want := stored("cash_net"), stored("farm_net"); math.Abs(got-want) > 0.005 {
				t.Errorf("the months bring %v, the farm %v", got, want)
			}
		}
		a := ask(p)
		o := recalculated(written(t, a), "as-written.xlsx")
		same(o, a, usualTaps)
		moved := p.Clone()
		moved.Wage = price.Value{Best: 31}
		moved.Sells.Grades[1].Price = price.Value{Best: 1.15 * p.Sells.Grades[1].Price.Best}
		now := ask(moved)
		o = written(t, a)
		o.set(t, "wage", 31)
		o.set(t, "sells_bulk_dark_price", moved.Sells.Grades[1].Price.Best/p.Per(price.MoneySyrupKg))
		o.set(t, "taps", 12_000)
		best, _ := now.Best()
		o.set(t, "practice", show.Of(now, say.In("en")).Option(best))
		o.set(t, "way_practice", show.Of(now, say.In("en")).Option(best))
		same(recalculated(o, "changed.xlsx"), now, 12_000)
	})
}

// Every name and sheet stands in French as well; no cell is at fault in either language.
func TestNoCellIsAtFault(t *testing.T) {
	each(t, func(t *testing.T, ask func(*price.Prices) *advice.Advice, p *price.Prices) {
		data, err := Write(ask(p), say.In("fr"))
		if err != nil {
			t.Fatal(err)
		}
		o := open(t, data)
		for _, s := range o.GetSheetList() {
			rows, err := o.GetRows(s)
			if err != nil {
				t.Fatal(err)
			}
			for i, r := range rows {
				for j := range r {
					at := column(j+1) + strconv.Itoa(i+1)
					if f, _ := o.GetCellFormula(s, at); f == "" {
						continue
					}
					if x, err := o.CalcCellValue(s, at); err != nil || strings.HasPrefix(x, "#") {
						t.Errorf("%s!%s: %q, %v", s, at, x, err)
					}
				}
			}
		}
	})
}
