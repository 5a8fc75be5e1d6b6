package show

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/view/say"
)

// told is an arm of a made-up study.
type told struct {
	of   practice.Key
	age  int // of drops; −1: it has none
	mean float64
}

// pooled is what is said of made-up studies, in the order of their names, the first arm of each its reference.
func pooled(t *testing.T, studies [][]told, change func(i int, s *evidence.Study)) *View {
	t.Helper()
	var list []evidence.Study
	for i, arms := range studies {
		s := evidence.Study{Name: fmt.Sprint("S", i), Site: fmt.Sprint("P", i), Season: 2010 + i,
			Kind: evidence.Replicated, Unit: evidence.Chamber}
		for k, x := range arms {
			a := evidence.Arm{Practice: x.of, Reference: k == 0, Mean: new(x.mean), SD: new(3.), N: new(6.)}
			if x.age >= 0 {
				a.DropAge = new(x.age)
			}
			s.Arms = append(s.Arms, a)
		}
		if change != nil {
			change(i, &s)
		}
		list = append(list, s)
	}
	var m advice.Memo
	a, err := m.Of(advice.Usual(input.Input{Practices: practice.Shipped(), Studies: list}))
	if err == nil {
		a, err = m.Thorough(a)
	}
	if err != nil {
		t.Fatal(err)
	}
	return Of(a, say.In("en"))
}

// all is every sentence, cell and footnote of the tables of a pool.
func (w *View) all() string {
	list := append(w.Recommendation(), w.Warnings()...)
	for _, t := range []Table{w.Gains(), w.Between(), w.Variances(), w.Caveats(), w.WithoutStudies(), w.Few()} {
		for _, r := range t.Rows {
			for _, c := range r.Cells {
				list = append(list, c.Text)
			}
		}
		for _, n := range t.Notes {
			list = append(list, n.Text)
		}
	}
	return strings.Join(list, "\n")
}

// Tables made to be hostile, and what must, or must not, stand on their pages.
func TestHostileTables(t *testing.T) {
	const u, spout, valve, drop, rinse = practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.NewDrop,
		practice.ChlorineRinse
	pair := []told{{u, -1, 14}, {spout, -1, 18}}
	var seasons, one, up [][]told
	for i := range 40 {
		seasons = append(seasons, []told{{u, -1, 14}, {spout, -1, 17 + float64(i%5)/2}})
	}
	for i := range 6 {
		one = append(one, []told{{u, -1, 14}, {spout, -1, 17}, {drop, 2, 20 + float64(i)/10}})
	}
	for i := range 8 {
		up = append(up, []told{{u, -1, 14}, {spout, -1, 17}, {drop, i % 4, 15 + 2*float64(i%4)}})
	}
	for _, c := range []struct {
		what      string
		studies   [][]told
		change    func(i int, s *evidence.Study)
		said, not []string
	}{
		{"one study", [][]told{pair}, nil,
			[]string{"No practice is put first", "this spread is assumed: there is one only", "tables of 1 study"},
			[]string{"of 0 comparisons"}},
		{"two that are alike in every digit, at two places", [][]told{pair, pair}, nil,
			[]string{"S1 states the same means, units and errors as S0, in every arm; was one trial entered " +
				"twice?"}, nil},
		{"no comparison left over to tell a spread", [][]told{{{u, -1, 14}, {rinse, -1, 15}},
			{{rinse, -1, 15}, {spout, -1, 18}}, {{spout, -1, 18}, {valve, -1, 21}}}, nil,
			[]string{"this spread is assumed: the studies tell nothing of it"}, []string{"0.400"}},
		{"what leads stands before what is promising", [][]told{{{u, -1, 14}, {rinse, -1, 15}},
			{{rinse, -1, 15}, {spout, -1, 18}}, {{spout, -1, 18}, {valve, -1, 21}}}, nil,
			[]string{"That interval hangs on what is assumed of the spread: it is −25 to 121 % with half of it, −79 " +
				"to 702 % with twice.\nPromising, but first place needs two studies"}, nil},
		{"two studies whose interval holds zero", [][]told{pair, {{u, -1, 15}, {spout, -1, 19}}}, nil,
			[]string{"No practice is shown to give more sap than unsanitized. New spout each season comes first with " +
				"28 % more than unsanitized (95 % interval −20 to 102 %, 2 studies)."},
			[]string{"gives the most sap", "is not settled"}},
		{"two practices whose intervals hold zero", [][]told{{{u, -1, 14}, {spout, -1, 16}, {valve, -1, 17}},
			{{u, -1, 15}, {spout, -1, 16}, {valve, -1, 17}}}, nil,
			[]string{"No practice is shown to give more sap than unsanitized. Check-valve spout each season comes " +
				"first", "and cannot be told apart from new spout each season"}, []string{"do not tell"}},
		{"one study far ahead of five", append(slices.Repeat([][]told{{{u, -1, 14}, {spout, -1, 18}}}, 5),
			[]told{{u, -1, 14}, {valve, -1, 35}}), nil,
			[]string{"New spout each season gives the most sap of what was studied twice", "which rests on one study"},
			[]string{"told apart from it", "comes close"}},
		{"what leads is unsure, another is not", append(slices.Repeat([][]told{{{u, -1, 14}, {spout, -1, 18}}}, 8),
			[]told{{spout, -1, 16}, {valve, -1, 20}}, []told{{spout, -1, 26}, {valve, -1, 26}}),
			func(i int, s *evidence.Study) {
				for k := range s.Arms {
					if i > 7 {
						s.Arms[k].SD, s.Arms[k].N = new(9.), new(2.)
					}
				}
			}, []string{"These studies do not tell which practice gives the most sap. Check-valve spout",
				"that these " +
					"do is, by their intervals: new spout each season"}, nil},
		{"all lose", slices.Repeat([][]told{{{u, -1, 16}, {spout, -1, 12}, {valve, -1, 11}}}, 6), nil,
			[]string{"No practice is shown to give more"}, []string{"holds zero"}},
		{"seasons that contradict each other", slices.Repeat([][]told{{{u, -1, 14}, {spout, -1, 18}},
			{{u, -1, 14}, {spout, -1, 11}}}, 4), func(i int, s *evidence.Study) { s.Season = 2019 + i%2 },
			[]string{"Its seasons contradict each other: beyond the studies' own errors a gain in 2019, a " +
				"loss in 2020."}, []string{"studies contradict"}},
		{"forty seasons of one trial", seasons, func(i int, s *evidence.Study) { s.Site, s.Trial = "P", "long" },
			[]string{"1 independent trial: ", "tables of 1 study"}, []string{"1 independent trials", "tables of 35"}},
		{"two that contradict each other", [][]told{{{u, -1, 18}, {valve, -1, 30}}, {{u, -1, 20}, {valve, -1, 15}}},
			nil, []string{"their own intervals do not meet"}, nil},
		{"two that do not", [][]told{{{u, -1, 18}, {valve, -1, 24}}, {{u, -1, 20}, {valve, -1, 26}}}, nil, nil,
			[]string{"do not meet", "of one season", "at one place", "only against", "contradict"}},
		{"five that contradict each other", [][]told{{{u, -1, 18}, {spout, -1, 29}}, {{u, -1, 18}, {spout, -1, 12}},
			{{u, -1, 18}, {spout, -1, 30}}, {{u, -1, 18}, {spout, -1, 12}}, {{u, -1, 18}, {spout, -1, 18}}}, nil,
			[]string{"Its studies contradict each other: beyond their own errors a gain in 2 of them, a loss in " +
				"2."}, nil},
		{"all of one freak season", [][]told{pair, {{u, -1, 15}, {spout, -1, 18}}, {{u, -1, 13}, {spout, -1, 18}}},
			func(i int, s *evidence.Study) { s.Season, s.Caveats = 2012, []evidence.Caveat{evidence.FreakSeason} },
			[]string{"All 3 studies of it are of one season, 2012, and tell nothing of others.",
				"All 3 studies of it carry a caveat: a freak season."}, []string{"at one place"}},
		{"all at one place", [][]told{pair, {{u, -1, 15}, {spout, -1, 18}}, {{u, -1, 13}, {spout, -1, 18}}},
			func(i int, s *evidence.Study) { s.Site = "P" },
			[]string{"All 3 studies of it were made at one place, P, and tell nothing of others."},
			[]string{"of one season", "carry a caveat"}},
		{"held against unsanitized by no study", [][]told{pair, pair, {{spout, -1, 18}, {valve, -1, 21}},
			{{spout, -1, 17}, {valve, -1, 21}}}, nil,
			[]string{"no study holds it against unsanitized itself, only against new spout each season"}, nil},
		{"drops of one age", one, nil,
			[]string{"not studied in its first season: its gains by age stand with the rotation"}, nil},
		{"drops that gain with age", up, nil,
			[]string{"drops gain more the older they are", "the gain changes with the seasons in use"},
			[]string{"the gain fades"}},
	} {
		said := strings.ReplaceAll(pooled(t, c.studies, c.change).all(), "\u00a0", " ")
		for _, x := range c.said {
			if !strings.Contains(said, x) {
				t.Errorf("%s: %q is not said in\n%s", c.what, x, said)
			}
		}
		for _, x := range c.not {
			if strings.Contains(said, x) {
				t.Errorf("%s: %q is said in\n%s", c.what, x, said)
			}
		}
	}
}

// What was studied and is linked to nothing is not passed over where practices are ranked.
func TestUnlinkedIsNamed(t *testing.T) {
	const u, spout, valve, rinse = practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.ChlorineRinse
	pair, loose := []told{{u, -1, 14}, {spout, -1, 18}}, []told{{rinse, -1, 15}, {valve, -1, 21}}
	w := pooled(t, [][]told{pair, pair, loose, loose}, nil)
	const want = "not ranked, since no chain of studies links it to unsanitized: check-valve spout each season and " +
		"chlorine rinse"
	if got := w.unlinkedToAny(); got != want {
		t.Errorf("%q is said, not %q", got, want)
	}
	if got := pooled(t, [][]told{pair, pair}, nil).unlinkedToAny(); got != "" {
		t.Errorf("%q is said where all is linked", got)
	}
}

// What has no gain of a first season stands once, whatever is asked beside.
func TestOlderStandsOnce(t *testing.T) {
	w := pooled(t, [][]told{{{practice.Unsanitized, -1, 14}, {practice.NewDrop, 2, 18}, {practice.NewSpout, -1, 17}},
		{{practice.Unsanitized, -1, 14}, {practice.NewSpout, -1, 18}}}, nil)
	n := 0
	for _, r := range w.Gains().Rows {
		if r.ID == string(practice.NewDrop) {
			n++
		}
	}
	if n != 1 {
		t.Errorf("new drop stands in %d rows", n)
	}
}

// A p where no comparison is left over from the effects would rest on a spread taken as 0: there is none.
func TestNoPWithoutFreedom(t *testing.T) {
	w := pooled(t, [][]told{{{practice.Unsanitized, -1, 14}, {practice.NewSpout, -1, 18}},
		{{practice.NewSpout, -1, 18}, {practice.CheckValve, -1, 21}}}, nil)
	for _, d := range w.A.Pool.Between {
		if !math.IsNaN(d.P) {
			t.Errorf("%s against %s has p %v", d.Practice, d.Against, d.P)
		}
	}
}
