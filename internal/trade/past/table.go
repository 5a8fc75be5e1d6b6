package past

import (
	"fmt"
	"slices"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/doubt"
	"spile/internal/trade/unit"
)

// Row is a row of a table of past seasons: a season, and of one grade what it brought. A season has as many rows as
// grades; what it gave stands in any of them.
type Row struct {
	Season int
	Yield  *unit.Volume // of sap a tap
	Brix   *float64
	Grade  string
	Price  *float64 // money a kilogram of syrup
	Source string

	Where note.Where
}

// Columns is what a table of past seasons may hold.
var Columns = slices.Concat([]column.Column[*Row]{
	{Name: "season", Needed: true, Bounds: column.Spring, Label: "season",
		Headers: []string{"year", "spring", "saison", "année", "annee", "printemps"},
		Holds:   "the year of the spring", Field: column.Int(func(r *Row) *int { return &r.Season })},
}, yields(), []column.Column[*Row]{
	{Name: "brix", Unit: "°Bx", Bounds: column.Bounds{Low: 0.1, High: 20}, Usual: column.Range{Low: 1, High: 4},
		Label: "sugar of the sap, °Brix", Headers: []string{"sugar", "sugar brix", "sucre", "sucre brix"},
		Holds: "mean sugar of the sap of the season", Field: column.Of(func(r *Row) **float64 { return &r.Brix })},
	{Name: "grade", Label: "grade", Headers: []string{"class", "classe", "catégorie", "categorie"},
		Holds: "grade that the price is of; nothing: of all syrup, or the mean",
		Field: column.Words(func(r *Row) *string { return &r.Grade })},
	price("price_lb", unit.Pound, "price of syrup, a pound", "price a lb", "price per lb", "price lb",
		"price per pound", "prix la livre", "prix par livre", "prix lb"),
	price("price_kg", unit.Kilogram, "price of syrup, a kilogram", "price a kg", "price per kg", "price kg",
		"prix le kilo", "prix par kg", "prix kg"),
	{Name: "source", Label: "source", Headers: []string{"source of it", "reference", "référence"},
		Holds: "where the numbers come from", Field: column.Words(func(r *Row) *string { return &r.Source })},
})

// yields are the units in which the yield of a tap may stand.
func yields() (list []column.Column[*Row]) {
	for _, x := range []struct {
		unit        unit.VolumeUnit
		name, label string
		says        []string
	}{
		{unit.Litre, "yield_l", "sap of a tap, L", []string{
			"yield l", "yield litres", "litres a tap", "l per tap", "rendement l",
			"litres par entaille", "l par entaille", "rendement litres"}},
		{unit.USGallon, "yield_gal", "sap of a tap, gal", []string{
			"yield gal", "yield gallons", "gallons a tap", "gal per tap",
			"gallons per tap", "rendement gal"}},
		{unit.ImperialGallon, "yield_gal_imp", "sap of a tap, imperial gal", []string{
			"yield gal imp", "imperial gallons per tap",
			"gallons impériaux par entaille"}},
	} {
		list = append(list, column.Column[*Row]{Name: x.name, Unit: string(x.unit), Bounds: column.Positive,
			Usual: column.Range{Low: unit.Round(unit.Litre.Of(10).In(x.unit), 3),
				High: unit.Round(unit.Litre.Of(200).In(x.unit), 3)},
			Label: x.label, Headers: x.says, Instead: "yield_l", Holds: "sap of a tap in the season",
			Field: column.Quantity(x.unit, func(r *Row) **unit.Volume { return &r.Yield })})
	}
	list[0].Instead = ""
	return list
}

func price(name string, of unit.MassUnit, label string, headers ...string) column.Column[*Row] {
	c := column.Column[*Row]{Name: name, Unit: "money a " + string(of), Bounds: column.Positive, Label: label,
		Headers: headers, Holds: "mean price of bulk syrup of the season, in the currency of the prices",
		Field: column.Field[*Row]{Kind: column.Number,
			Get: func(r *Row) any {
				if r.Price == nil {
					return nil
				}
				return unit.Round(*r.Price*float64(of.Of(1)), 12)
			},
			Set: func(r *Row, v any) { r.Price = new(v.(float64) / float64(of.Of(1))) },
		}}
	if name != "price_kg" {
		c.Instead = "price_kg"
	}
	return c
}

// Of gathers rows into seasons, by year. What a season says twice, and otherwise, is a fault; so is a season of which
// nothing is told.
func Of(rows []Row) ([]Season, note.Faults) {
	var list []Season
	var faults note.Faults
	for _, r := range rows {
		say := func(column, text string, args ...any) {
			at := r.Where
			at.Column = column
			faults = append(faults, note.New(text, args...).At(at))
		}
		i, have := slices.BinarySearchFunc(list, r.Season, func(s Season, year int) int { return s.Year - year })
		if !have {
			list = slices.Insert(list, i, Season{Year: r.Season})
		}
		s := &list[i]
		number := func(column string, at **float64, x *float64) {
			switch {
			case x == nil:
			case *at != nil && **at != *x:
				say(column, "the season %s has another number here already; allowed: one", fmt.Sprint(r.Season))
			default:
				*at = x
			}
		}
		if r.Yield != nil {
			number("yield_l", &s.YieldL, new(r.Yield.In(unit.Litre)))
		}
		number("brix", &s.Brix, r.Brix)
		if r.Source != "" {
			s.Source = r.Source
		}
		switch {
		case r.Price == nil && r.Grade != "":
			say("price_kg", "the grade %s has no price; allowed: one, or no grade", note.Quote(r.Grade))
		case r.Price == nil && r.Yield == nil && r.Brix == nil:
			say("season", "nothing is told of the season %s; allowed: a yield, a sugar or a price",
				fmt.Sprint(r.Season))
		case r.Price != nil:
			if before, twice := s.Prices[r.Grade]; twice && before != *r.Price {
				say("price_kg", "the season %s has another price of %s already; allowed: one", fmt.Sprint(r.Season),
					note.Quote(r.Grade))
			}
			if s.Prices == nil {
				s.Prices = map[string]float64{}
			}
			s.Prices[r.Grade] = *r.Price
		}
	}
	return list, faults
}

// Rows is a season as it stands in a table.
func (s Season) Rows() (rows []Row) {
	first := Row{Season: s.Year, Brix: s.Brix, Source: s.Source}
	if s.YieldL != nil {
		first.Yield = new(unit.Litre.Of(*s.YieldL))
	}
	for _, g := range Grades([]Season{s}) {
		r := first
		r.Grade, r.Price = g, new(s.Prices[g])
		rows, first = append(rows, r), Row{Season: s.Year}
	}
	if rows == nil {
		return []Row{first}
	}
	return rows
}

// Faults is what is wrong with a season by itself, by the bounds of its columns.
func (s Season) Faults() (faults note.Faults) {
	for _, r := range s.Rows() {
		for _, c := range Columns {
			if x, ok := number(c, &r); ok && c.Instead == "" && !c.Bounds.Has(x) {
				faults.Add("the season %s: %v stands in %s; allowed: %v to %v", fmt.Sprint(s.Year), x, c.Name,
					c.Bounds.Low, c.Bounds.High)
			}
		}
	}
	return faults
}

func number(c column.Column[*Row], r *Row) (float64, bool) {
	switch x := c.Get(r).(type) {
	case float64:
		return x, true
	case int:
		return float64(x), true
	}
	return 0, false
}

// Doubts asks about what is possible and unusual of past seasons: numbers beyond what their columns say is usual, and a
// season that is not past. latest is the last season that there may be; 0 is not known.
func Doubts(seasons []Season, latest int) (asked doubt.Questions) {
	for _, s := range seasons {
		name := fmt.Sprint(s.Year)
		if s.Year < doubt.FirstYear || latest > 0 && s.Year > latest {
			asked = append(asked, doubt.About(note.New("the past seasons hold %s; is that meant?", name), "past", name))
		}
		for _, r := range s.Rows() {
			for _, c := range Columns {
				x, ok := number(c, &r)
				if !ok || c.Instead != "" || c.Usual == (column.Range{}) {
					continue
				}
				if n, unusual := c.Usual.Ask(x); unusual {
					n.Where.Column = c.Name
					asked = append(asked, doubt.About(n, "past", name, c.Name, fmt.Sprintf("%.8g", x)))
				}
			}
		}
	}
	return asked
}
