package worksheet

import (
	"fmt"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// kind is what an entry of an account is.
type kind int

const (
	returns kind = iota
	lost         // what would have been returned
	cost
)

// entry is one line of the accounts of all options.
type entry struct {
	kind  kind
	id    string
	label string
	col   int              // on the sheet of the sums
	terms map[int][]string // by option; nil: what becomes of its sap
}

// labour names the work of a window, as budgets do.
var labour = map[price.Window]string{price.Shop: "labour in the shop", price.BeforeTapping: "labour before tapping",
	price.Tapping: "labour at tapping", price.AfterSeason: "labour after the season"}

// colEntries is the first column of entries on the sheet of the sums.
const colEntries = 5

// charge is what is taken of one thing.
type charge struct{ id, label, formula string }

// work is the charges of what is done in the windows of a key.
func (b *builder) work(key string) (list []charge) {
	for _, w := range price.Windows {
		if at := key + ".minutes." + string(w); b.has(at) {
			list = append(list, charge{string(w), b.v.Text(labour[w]), b.of(at) + "/60*" + b.of("wage")})
		}
	}
	return list
}

// pieces is the charge of a material.
func (b *builder) pieces(key, name, part string) charge {
	return charge{"material." + name, b.v.Term(note.Term(name)),
		b.of(key+".material."+name+".count") + "*" + b.of("material."+name+".price") + part}
}

// yearlyCharges are those of every season of a practice, over and above unsanitized.
func (b *builder) yearlyCharges(k practice.Key, lasting func(life string) string) (list []charge) {
	key := "use." + string(k)
	for _, u := range b.p.Uses {
		if u.Practice != k {
			continue
		}
		for _, m := range u.Materials {
			list = append(list, b.pieces(key, m.Material, lasting(b.of(key+".material."+m.Material+".life"))))
		}
		list = append(list, b.work(key)...)
		if u.Chemical != "" {
			list = append(list, charge{"chemical." + u.Chemical, b.v.Term(note.Term(u.Chemical)),
				b.of(key+".chemical_amount") + "*" + b.of("chemical."+u.Chemical+".price")})
		}
		list = append(list, charge{"repairs", b.v.Text("repairs"), b.of(key + ".repairs")},
			charge{"disposal", b.v.Text("disposal"), b.of(key + ".disposal")})
	}
	return list
}

// renewalCharges are those of one replacement of drops.
func (b *builder) renewalCharges(k practice.Key) (list []charge) {
	key := "use." + string(k) + ".renewal"
	for _, u := range b.p.Uses {
		if u.Practice == k && u.Renewal != nil {
			for _, m := range u.Renewal.Materials {
				list = append(list, b.pieces(key, m.Material, ""))
			}
			list = append(append(list, b.work(key)...),
				charge{"disposal", b.v.Text("disposal"), b.of(key + ".disposal")})
		}
	}
	return list
}

// charges are what an option takes in a season, of what lasts the part that its life leaves, and such a part of a
// replacement of drops.
func (b *builder) charges(o option, lasting func(life string) string, replaced string) []charge {
	list := b.yearlyCharges(o.yearly(), lasting)
	if o.Every > 0 {
		for _, c := range b.renewalCharges(o.Practice) {
			c.formula += replaced
			list = append(list, c)
		}
	}
	return list
}

// enter puts what an option takes under its entries.
func (b *builder) enter(i int) {
	for _, c := range b.spread(b.options[i]) {
		at := slices.IndexFunc(b.entries, func(e entry) bool { return e.id == c.id })
		if at < 0 {
			at = len(b.entries)
			b.entries = append(b.entries, entry{cost, c.id, c.label, colEntries + at, map[int][]string{}})
		}
		b.entries[at].terms[i] = append(b.entries[at].terms[i], c.formula)
	}
}

// sum adds charges up.
func sum(list []charge) string {
	f := "0"
	for _, c := range list {
		f += "+" + c.formula
	}
	return f
}

// writeSums writes what each option gives and takes a tap and season, and what it nets.
func (b *builder) writeSums() {
	v, s := b.v, b.sums
	for i, label := range account {
		k := cost
		if i < 3 {
			k = returns
		} else if i == 3 {
			k = lost
		}
		b.entries = append(b.entries, entry{k, label, v.Text(label), colEntries + i, nil})
	}
	for i := range b.options {
		b.enter(i)
	}
	s.begin(v.Text("Practices"), v.Text("What each gives and takes a tap and season, in %s. Costs are over and above "+
		"unsanitized.", v.MoneyUnit(b.p.Currency)))
	headings := []string{v.Text("practice"), v.Text("name"), v.Text("studied"), v.Text("gain as the farm gets it")}
	for _, e := range b.entries {
		headings = append(headings, e.label)
	}
	s.head(1, append(headings, v.Text("margin"), v.Text("net over unsanitized"), v.Text("net over the one chosen"))...)
	first := s.row
	none := slices.IndexFunc(b.options,
		func(o option) bool { return o.Choice == practice.Choice{Practice: practice.Unsanitized} })
	for i := range b.options {
		o := &b.options[i]
		o.row = s.row
		studied := v.Text("yes")
		if !o.studied {
			studied = v.Text("no")
		}
		gains := b.gains.at(5, o.gains[0], 5, o.gains[1])
		margin := colEntries + len(b.entries)
		name := b.define("net_"+o.id, s.at(margin+1, o.row))
		cells := []any{o.name, cell{name, called}, cell{studied, mark},
			cell{formula(b.of("farm_adjust") + "*AVERAGE(" + gains + ")"), percent}}
		in, out := []string{}, []string{}
		for j, e := range b.entries {
			f := strings.Join(e.terms[i], "+")
			if e.terms == nil {
				col := b.colAccount() + j
				f = "SUMPRODUCT(" + b.sap.at(colWeight, o.sap[0], colWeight, o.sap[1]) + "," +
					b.sap.at(col, o.sap[0], col, o.sap[1]) + ")"
			}
			if f == "" {
				f = "0"
			}
			cells = append(cells, cell{formula(f), money})
			if e.kind == returns {
				in = append(in, here(e.col, o.row))
			} else {
				out = append(out, here(e.col, o.row))
			}
		}
		f := strings.Join(in, "+") + "-(" + strings.Join(out, "+") + ")"
		cells = append(cells, cell{formula(f), total},
			cell{formula(here(margin, o.row) + "-" + here(margin, first+none)), money},
			cell{formula(here(margin, o.row) + "-INDEX(margins,MATCH(against,practices,0))"), money})
		s.line(cells...)
	}
	last := s.row - 1
	b.define("practices", s.at(1, first, 1, last))
	b.define("margins", s.at(colEntries+len(b.entries), first, colEntries+len(b.entries), last))
	for i := range b.entries {
		e := &b.entries[i]
		b.define("entry_"+fmt.Sprint(i+1), s.at(e.col, first, e.col, last))
	}
	b.keep(s.x.SetPanes(s.name, &excelize.Panes{Freeze: true, XSplit: 1, YSplit: first - 1,
		TopLeftCell: here(2, first), ActivePane: "bottomRight"}))
}
