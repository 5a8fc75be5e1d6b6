package show

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"spile/internal/view/figure"
	"spile/internal/view/say"
)

// Each exhibit has a name of its own, says what it shows and what it needs, stands somewhere, and can be built.
func TestCatalogueIsSound(t *testing.T) {
	sound(t, Figures)
	sound(t, Tables)
}

func sound[T any](t *testing.T, list []Exhibit[T]) {
	t.Helper()
	keys := map[string]bool{}
	for _, x := range list {
		switch starred := strings.Contains(x.Key, "*"); {
		case keys[x.Key] || x.Key != FileName(x.Key):
			t.Errorf("%s: twice, or no name for a file", x.Key)
		case x.Help == "" || x.Needs == 0 || len(x.At) == 0:
			t.Errorf("%s does not say what it shows, what it needs or where it stands", x.Key)
		case starred != (x.Each != nil) || starred != (x.Stars != nil) || starred == (x.Build != nil):
			t.Errorf("%s is built in no way that fits its key", x.Key)
		}
		keys[x.Key] = true
		spots := map[Spot]bool{}
		for _, s := range x.At {
			at := Spot{Medium: s.Medium, In: s.In}
			if s.In == "" || spots[at] {
				t.Errorf("%s stands twice at %v", x.Key, at)
			}
			spots[at] = true
			if s.Beside == "" {
				continue
			}
			figure := slices.ContainsFunc(Figures, func(f Exhibit[Drawing]) bool { return f.Key == s.Beside })
			table := slices.ContainsFunc(Tables, func(f Exhibit[Table]) bool { return f.Key == s.Beside })
			if !figure && !table {
				t.Errorf("%s stands beside %s, which nothing is called", x.Key, s.Beside)
			}
		}
	}
}

// counted counts how often each exhibit is built, until the test ends.
func counted(t *testing.T) map[string]int {
	built := map[string]int{}
	figures, tables := Figures, Tables
	t.Cleanup(func() { Figures, Tables = figures, tables })
	Figures, Tables = counting(figures, "figure ", built), counting(tables, "table ", built)
	return built
}

func counting[T any](list []Exhibit[T], kind string, built map[string]int) []Exhibit[T] {
	list = slices.Clone(list)
	for i, x := range list {
		one := func(w *View) T { built[kind+x.Key]++; return x.Build(w) }
		each := func(w *View, star string) T { built[kind+x.Key]++; return x.Each(w, star) }
		many := func(of func(w *View) []T) func(w *View) []T {
			if of == nil {
				return nil
			}
			return func(w *View) []T { built[kind+x.Key]++; return of(w) }
		}
		if x.Build != nil {
			list[i].Build = one
		} else {
			list[i].Each = each
		}
		list[i].Parts, list[i].Hall = many(x.Parts), many(x.Hall)
	}
	return list
}

// Whoever asks for one figure or table has that one built and nothing else; a place builds what stands on it, once.
func TestOnlyWhatIsAskedForIsBuilt(t *testing.T) {
	built := counted(t)
	w := Of(fixture(), say.In("en"))
	asked := func(what string, want map[string]int) {
		t.Helper()
		if !maps.Equal(built, want) {
			t.Errorf("%s: built %v, want %v", what, built, want)
		}
		clear(built)
	}
	if _, ok := w.Figure("net"); !ok {
		t.Error("no figure net")
	}
	asked("the figure net", map[string]int{"figure net": 1})
	if table, ok := w.Table("budget-check-valve-today"); !ok || table.ID != "budget-check-valve-today" {
		t.Errorf("no budget: %+v", table)
	}
	asked("a budget", map[string]int{"table budget-*-today": 1})
	for _, name := range []string{"nothing", "budget-nothing-today", "budget--today", "season-2024", "map", ""} {
		if table, ok := w.Table(name); ok {
			t.Errorf("the table %q is %s", name, table.ID)
		}
	}
	clear(built)
	if list := w.Spreads(Page, "rotation"); len(list) != 3 || len(list[0].Figures) != 1 || len(list[0].Tables) != 1 ||
		len(list[1].Tables) != 1 {
		t.Errorf("the page of rotations holds %d spreads", len(list))
	}
	asked("a page", map[string]int{"figure ageing": 1, "figure payback": 1,
		"table rotation": 1, "table ageing": 1, "table way": 1})
	w.Spreads(Report, "gains")
	asked("a chapter", standing(w, Report, "gains"))
	w.Spreads(Talk, "money")
	asked("a part of the talk", standing(w, Talk, "money"))
	w.TablesAt("profit", Command)
	asked("a command", standing(w, Command, "profit"))
}

// standing is what a view has of what stands at a place, each once.
func standing(w *View, m Medium, in string) map[string]int {
	list := map[string]int{}
	for _, x := range Figures {
		if x.Stands(m, in) && x.Needs.met(w) {
			list["figure "+x.Key] = 1
		}
	}
	for _, x := range Tables {
		if x.Stands(m, in) && x.Needs.met(w) {
			list["table "+x.Key] = 1
		}
	}
	return list
}

// A table has the name under which the catalogue has it, and a view that lacks what is needed has nothing.
func TestNamesOfTables(t *testing.T) {
	w := Of(fixture(), say.In("en"))
	seen := 0
	for _, x := range Tables {
		for _, name := range x.Names(w) {
			seen++
			if table, ok := w.Table(name); ok && FileName(table.ID) != name {
				t.Errorf("%s has the ID %s", name, table.ID)
			}
		}
	}
	if seen < 20 {
		t.Errorf("the fixture has only %d tables", seen)
	}
	nothing := &View{V: say.In("en")}
	for _, x := range Tables {
		if _, ok := nothing.Table(strings.ReplaceAll(x.Key, "*", "2024")); ok {
			t.Errorf("%s is made of nothing", x.Key)
		}
	}
	for _, x := range Figures {
		if f, ok := nothing.Figure(strings.ReplaceAll(x.Key, "*", "2024")); ok {
			t.Errorf("%s is made of nothing: %v", x.Key, f.Draw(figure.Page))
		}
	}
}

// A budget of a practice against itself says nothing.
func TestNoBudgetAgainstItself(t *testing.T) {
	a := fixture()
	w := Of(a, say.In("en"))
	budgets := func() (ids []string) {
		for _, table := range w.TablesAt("profit", Report) {
			if strings.HasPrefix(table.ID, "budget-") {
				ids = append(ids, table.ID)
			}
		}
		return ids
	}
	best := a.Ranking[a.Recommended].ID()
	if got, want := budgets(), []string{"budget-" + best + "-today", "budget-" + best +
		"-unsanitized"}; !slices.Equal(got, want) {
		t.Errorf("budgets %v, want %v", got, want)
	}
	a.Ranking[a.Recommended].IsToday = true
	if got, want := budgets(), []string{"budget-" + best + "-unsanitized"}; !slices.Equal(got, want) {
		t.Errorf("today's practice pays best: budgets %v, want %v", got, want)
	}
}
