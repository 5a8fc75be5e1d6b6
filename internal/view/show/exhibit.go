package show

import (
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/view/figure"
)

// Exhibit is a figure or a table as the catalogue declares it; T is Drawing or Table. Whoever names, lists, draws or
// writes one loops over the catalogue, and nothing is built before it is asked for.
type Exhibit[T any] struct {
	Key   string // its name, in addresses and of files; a star stands for an option or a season: "budget-*-today"
	Help  string // what it shows, in a few words that can stand in a list
	Needs Need
	At    []Spot

	Build func(w *View) T              // of one without a star
	Each  func(w *View, star string) T // of one with a star; the zero T where there is none of that name
	Stars func(w *View) []string       // what the star stands for where it is shown
	Parts func(w *View) []T            // in report and page: parts that each fit a printed page; nil: the whole
	Hall  func(w *View) []T            // in a talk: what a hall can read; nil: the whole
	Says  func(w *View) []string       // in a talk: the finding that each slide of it has for its title
	Brief func(t T) T                  // without what only a statistician asks for; nil: the whole
}

// Drawing is a figure with its words and numbers, before it is laid out for a size.
type Drawing interface {
	Draw(figure.Size) *figure.Sheet
}

// Drawn is a figure by its name, which stands in addresses and file names.
type Drawn struct {
	Name  string
	Draw  func(figure.Size) *figure.Sheet
	Parts []func(figure.Size) *figure.Sheet // on a page: parts that each fit a printed one; nil: it does
}

// Medium is where things are shown.
type Medium int

// The media.
const (
	Page    Medium = iota // a page of the workbench
	Closer                // the closer look of a page, for the statistician
	Report                // a chapter of the report
	Talk                  // a part of the slides
	Command               // what a command prints
	More                  // what it prints beside that with --thorough
)

// Spot is a page, a chapter, a command, by its key.
type Spot struct {
	Medium Medium
	In     string
	Beside string // key of the figure or the earlier table that it stands beside; "": it stands by itself
	brief  bool
}

func page(in string, beside ...string) Spot {
	return Spot{Medium: Page, In: in, Beside: strings.Join(beside, ""), brief: true}
}

func chapter(in string, beside ...string) Spot {
	return Spot{Medium: Report, In: in, Beside: strings.Join(beside, "")}
}

func closer(in string) Spot  { return Spot{Medium: Closer, In: in} }
func talk(in string) Spot    { return Spot{Medium: Talk, In: in} }
func command(in string) Spot { return Spot{Medium: Command, In: in} }
func more(in string) Spot    { return Spot{Medium: More, In: in} }

func briefly(s Spot) Spot {
	s.brief = true
	return s
}

// spot is where it stands at a place.
func (x Exhibit[T]) spot(m Medium, in string) (Spot, bool) {
	i := slices.IndexFunc(x.At, func(s Spot) bool { return s.Medium == m && s.In == in })
	if i < 0 {
		return Spot{}, false
	}
	return x.At[i], true
}

// Stands is true of what stands at a place.
func (x Exhibit[T]) Stands(m Medium, in string) bool {
	_, here := x.spot(m, in)
	return here
}

// Need is a set of what must be known, or have been asked of an answer, before something can be shown.
type Need int

// What may be needed.
const (
	Studies Need = 1 << iota // that could be pooled
	Prices
	Draws     // how sure the recommendation is; without, it shows what it can
	LeftOut   // the answer without each study, site and caveat; without, it shows what it can
	Chances   // what each option is likely to net, and what the choice hangs on
	Knowing   // what it would be worth to know more
	Trials    // which trial is worth running next
	Checked   // whether the pool can be trusted
	Explained // gains taken apart
	History   // how it came to be what it is
	OfTrial   // one trial that can be analysed
	OfSeasons // one that was read
	OfSprings // one whose days' weather is known
	OfLayout
	OfPower
	OfPlan    // a sugarbush planned for
	OfSection // of which at least one section has a plan
)

// met is true of a view that has what is needed.
func (n Need) met(w *View) bool {
	var has Need
	if a := w.A; a != nil {
		has |= Draws | LeftOut | met(a.Trust != nil, Checked) | met(a.Why != nil, Explained)
		if a.Pool != nil {
			has |= Studies
		}
		if a.Input.Prices != nil && len(a.Ranking) > 0 {
			has |= Prices
		}
		has |= met(a.Since != nil, History)
		if x := a.Weighed; x != nil {
			has |= met(x.Prospect != nil, Chances) | met(x.Prospect != nil && x.Knowing != nil,
				Knowing) | met(x.Next != nil, Trials)
		}
	}
	has |= met(w.Trial != nil, OfTrial) | met(len(w.Seasons) > 0, OfSeasons) | met(w.Springs != nil, OfSprings)
	has |= met(w.Layout != nil, OfLayout) | met(w.Power != nil, OfPower)
	has |= met(w.Plan != nil, OfPlan) | met(w.Plan != nil && len(w.Plan.P.Sections) > 0, OfSection)
	return n&^has == 0
}

func met(yes bool, n Need) Need {
	if yes {
		return n
	}
	return 0
}

// OfAnswer is true of what is made of an answer alone: of studies and prices, not of one trial or one sugarbush.
func (n Need) OfAnswer() bool { return n < OfTrial }

// Whole is all that the report needs.
const Whole = Draws | LeftOut | Checked | Explained | Chances | Knowing | Trials

// Ask asks of an answer what is needed. Of all is taken what is asked under uncertainty.
func (n Need) Ask(m *advice.Memo, a *advice.Advice, all advice.WeighOptions) (*advice.Advice, error) {
	var err error
	if n&Draws != 0 {
		a = m.Sure(a)
	}
	if n&LeftOut != 0 {
		if a, err = m.Thorough(a); err != nil {
			return nil, err
		}
	}
	if n&Checked != 0 {
		if a, err = m.Trust(a); err != nil {
			return nil, err
		}
	}
	if n&Explained != 0 {
		if a, err = m.Why(a); err != nil {
			return nil, err
		}
	}
	if n&(Chances|Knowing|Trials) == 0 {
		return a, nil
	}
	all.Outlook, all.Knowing = n&(Chances|Knowing) != 0, n&Knowing != 0
	if n&Trials == 0 {
		all.Trials = nil
	}
	return m.Weigh(a, all)
}

// Find is the exhibit of a name, and what the name has in the place of its star; false where the list has none.
func Find[T any](list []Exhibit[T], name string) (x Exhibit[T], star string, found bool) {
	for _, x := range list {
		head, tail, starred := strings.Cut(x.Key, "*")
		switch {
		case x.Key == name:
			return x, "", !starred
		case starred && len(name) > len(head)+len(tail) && strings.HasPrefix(name, head) &&
			strings.HasSuffix(name, tail):
			return x, name[len(head) : len(name)-len(tail)], true
		}
	}
	return x, "", false
}

// of is what it shows of a view; the zero T where the view has not what it needs.
func (x Exhibit[T]) of(w *View, star string) (t T) {
	switch {
	case !x.Needs.met(w):
		return t
	case x.Each != nil:
		return x.Each(w, star)
	}
	return x.Build(w)
}

// Names are those under which a view has it.
func (x Exhibit[T]) Names(w *View) []string {
	switch {
	case !x.Needs.met(w):
		return nil
	case x.Each == nil:
		return []string{x.Key}
	}
	var list []string
	for _, star := range x.Stars(w) {
		list = append(list, strings.Replace(x.Key, "*", star, 1))
	}
	return list
}

// Figure is the figure of a name; false where this view has none.
func (w *View) Figure(name string) (Drawn, bool) {
	x, star, found := Find(Figures, name)
	if !found {
		return Drawn{}, false
	}
	d := x.of(w, star)
	if d == nil {
		return Drawn{}, false
	}
	return Drawn{Name: name, Draw: d.Draw}, true
}

// Table is the table of a name; false where this view has none.
func (w *View) Table(name string) (Table, bool) {
	x, star, found := Find(Tables, name)
	if !found {
		return Table{}, false
	}
	t := x.of(w, star)
	return t, t.ID != ""
}

// Spread is a figure, in its parts, with the tables beside it, or tables alone: what stands together at a place.
type Spread struct {
	Figures []Drawn
	Tables  []Table
}

// Spreads are what stands at a place, in the order of the catalogue: figures with what is beside them, then tables that
// stand by themselves. What a view has nothing for is left out.
func (w *View) Spreads(m Medium, in string) []Spread {
	var list []Spread
	at := map[string]int{} // the spread that a key stands in
	for _, x := range Figures {
		if !x.Stands(m, in) {
			continue
		}
		at[x.Key] = len(list)
		list = append(list, Spread{Figures: drawn(x, w, m)})
	}
	for _, x := range Tables {
		spot, here := x.spot(m, in)
		if !here {
			continue
		}
		tables := filled(x, w, m, spot)
		i, beside := at[spot.Beside]
		if !beside {
			i = len(list)
			list = append(list, Spread{})
		}
		at[x.Key] = i
		list[i].Tables = append(list[i].Tables, tables...)
	}
	return slices.DeleteFunc(list, func(s Spread) bool { return s.Figures == nil && s.Tables == nil })
}

// NeedsAt is what all that stands at a place needs together.
func NeedsAt(m Medium, in string) Need {
	return needsOf(Figures, m, in) | needsOf(Tables, m, in)
}

func needsOf[T any](list []Exhibit[T], m Medium, in string) (n Need) {
	for _, x := range list {
		if x.Stands(m, in) {
			n |= x.Needs
		}
	}
	return n
}

// TablesAt are the tables that stand at a place, of some media together.
func (w *View) TablesAt(in string, media ...Medium) []Table {
	var list []Table
	for _, x := range Tables {
		for _, m := range media {
			if spot, here := x.spot(m, in); here {
				list = append(list, filled(x, w, m, spot)...)
			}
		}
	}
	return list
}

// shown is an exhibit as a medium has it: in its parts, once for each of its stars.
func (x Exhibit[T]) shown(w *View, m Medium) []T {
	switch {
	case !x.Needs.met(w):
		return nil
	case m == Report && x.Parts != nil:
		return x.Parts(w)
	case m == Talk && x.Hall != nil:
		return x.Hall(w)
	case x.Each == nil:
		return []T{x.Build(w)}
	}
	var list []T
	for _, star := range x.Stars(w) {
		list = append(list, x.Each(w, star))
	}
	return list
}

func drawn(x Exhibit[Drawing], w *View, m Medium) []Drawn {
	parts := x.shown(w, m)
	var list []Drawn
	var pieces []func(figure.Size) *figure.Sheet
	if m == Page && x.Parts != nil && len(parts) > 0 {
		for _, d := range x.Parts(w) {
			pieces = append(pieces, d.Draw)
		}
	}
	for i, d := range parts {
		name := x.Key
		if x.Each != nil {
			name = x.Names(w)[i]
		} else if len(parts) > 1 {
			name += "-" + strconv.Itoa(i+1)
		}
		if d != nil {
			list = append(list, Drawn{name, d.Draw, pieces})
		}
	}
	return list
}

// filled are the tables of an exhibit that hold anything.
func filled(x Exhibit[Table], w *View, m Medium, at Spot) []Table {
	var list []Table
	for _, t := range x.shown(w, m) {
		if at.brief && x.Brief != nil {
			t = x.Brief(t)
		}
		if len(t.Rows) > 0 || len(t.Notes) > 0 {
			list = append(list, t)
		}
	}
	return list
}
