package show

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/view/say"
)

// What each change moved adds up, as it is written, to what all of them moved and to the nets beside it: on the page
// from row to row, and in a hall, which sees the last few rows, with what came before them in one.
func TestWhatMovedAddsUp(t *testing.T) {
	v := say.In("en")
	rapid.Check(t, func(rt *rapid.T) {
		a := fixture()
		since := advice.Since{}
		for i := range rapid.IntRange(3, 9).Draw(rt, "steps") {
			net := rapid.Float64Range(-3, 3).Draw(rt, "net")
			s := advice.Step{Change: int64(i + 1), At: time.Date(2025, 11, i+1, 0, 0, 0, 0, time.UTC),
				Ranked: []advice.Standing{{Choice: practice.Choice{Practice: practice.CheckValve},
					GainPct: rapid.Float64Range(-20, 90).Draw(rt, "gain"), LowPct: -30, HighPct: 100,
					Net: &advice.Compared{Expected: &net, NetLow: -4, NetHigh: 4}}}}
			if i > 0 {
				s.Came = []note.Note{note.New("new: %s", note.New("the study %s", fmt.Sprint("Fen ", i)))}
			}
			since.Steps = append(since.Steps, s)
		}
		a.Since = &since
		w := Of(a, v)
		read := func(c Cell) float64 {
			var x float64
			text := strings.NewReplacer("−", "-", "+", "").Replace(c.Text)
			if _, err := fmt.Sscan(text, &x); err != nil {
				rt.Fatalf("%q is no number", c.Text)
			}
			return x
		}
		sums := func(t Table, id, of string) float64 {
			at := slices.IndexFunc(t.Columns, func(c Column) bool { return c.ID == id })
			beside := slices.IndexFunc(t.Columns, func(c Column) bool { return c.ID == of })
			sum := 0.0
			for i, r := range t.Rows {
				if i == 0 || r.ID == "all" {
					continue
				}
				by := read(r.Cells[at])
				sum += by
				d := read(r.Cells[beside]) - read(t.Rows[i-1].Cells[beside])
				if of == "net" && math.Abs(d-by) > 1e-9 {
					rt.Fatalf("%s moved %v, and the numbers beside it %v", id, by, d)
				}
			}
			return sum
		}
		all := w.Changes()
		last := all.Rows[len(all.Rows)-1]
		if last.ID != "all" || !last.Strong {
			rt.Fatalf("the last row is not of all: %+v", last)
		}
		for id, of := range map[string]string{"gain_moved_pct": "gain_pct", "net_moved": "net"} {
			at := slices.IndexFunc(all.Columns, func(c Column) bool { return c.ID == id })
			if got, want := sums(all, id, of), read(last.Cells[at]); math.Abs(got-want) > 1e-9 {
				rt.Fatalf("%s: the steps sum to %v, and all of it to %v", id, got, want)
			}
		}
		hall := w.changesForHall()[0]
		at := slices.IndexFunc(all.Columns, func(c Column) bool { return c.ID == "net_moved" })
		if got, want := sums(hall, "net_moved", "net"), read(last.Cells[at]); math.Abs(got-want) > 1e-9 {
			rt.Fatalf("in a hall the steps sum to %v, and all of it is %v", got, want)
		}
		if len(hall.Rows) > lines {
			rt.Fatalf("a hall is shown %d rows", len(hall.Rows))
		}
		if n := len(since.Steps) - lines + 1; n > 1 && hall.Rows[1].Cells[1].Text != fmt.Sprint(n, " changes") {
			rt.Fatalf("what came before is %q, of %d changes", hall.Rows[1].Cells[1].Text, n)
		}
	})
}

// An option that rested on too little then has no rank, and the table says why.
func TestWithoutARank(t *testing.T) {
	a := fixture()
	valve := advice.Standing{Choice: practice.Choice{Practice: practice.CheckValve}, GainPct: 30, LowPct: 10,
		HighPct: 50}
	alone := valve
	alone.Promising = "one study"
	a.Since = &advice.Since{Steps: []advice.Step{{Ranked: []advice.Standing{alone}}, {Change: 1,
		Ranked: []advice.Standing{valve}, Came: []note.Note{note.New("new: %s", note.New("%s (%s)",
			note.New("%d studies", 2), "Fen 2024, Ash 2024"))}}}}
	for lang, want := range map[string][]string{
		"en": {"rank", "rested on too little", "new: 2 studies (Fen 2024, Ash 2024)"},
		"fr": {"rang", "reposait alors sur trop peu", "2 études (Fen 2024, Ash 2024)"}} {
		w := Of(a, say.In(lang))
		got := text(t, w.Changes())
		for _, x := range want {
			if !strings.Contains(strings.Join(strings.Fields(got), " "), x) {
				t.Errorf("%s: %q is lacking in\n%s", lang, x, got)
			}
		}
		if strings.Contains(got, "lieu") || strings.Contains(got, "place") {
			t.Errorf("%s: a rank is no place:\n%s", lang, got)
		}
		if short := w.changesForHall()[0].Rows[1].Cells[1].Text; strings.Contains(short, "Fen") {
			t.Errorf("%s: in a hall the names are too much: %s", lang, short)
		}
	}
}

// A gain without prices is the pooled one, and with them that used for money: the coming of prices moves no gain, and
// the table says why the numbers differ.
func TestPricesMoveNoGain(t *testing.T) {
	a := fixture()
	cv := practice.Choice{Practice: practice.CheckValve}
	net := 1.1
	without := advice.Standing{Choice: cv, GainPct: 49, LowPct: -3, HighPct: 129}
	with := advice.Standing{Choice: cv, GainPct: 42, LowPct: -6, HighPct: 105, Net: &advice.Compared{Expected: &net}}
	other := with
	other.Practice = practice.NewSpout
	a.Since = &advice.Since{Steps: []advice.Step{{Change: 1, Ranked: []advice.Standing{without}},
		{Change: 2, Ranked: []advice.Standing{with, other}}}}
	w := Of(a, say.In("en"))
	for _, table := range []Table{w.Changes(), w.Standings()} {
		at := slices.IndexFunc(table.Columns, func(c Column) bool { return c.ID == "gain_moved_pct" })
		for _, r := range table.Rows {
			if got := strings.TrimSpace(r.Cells[at].Text); got != "" {
				t.Errorf("%s: the gain moved by %q, when prices came", table.ID, got)
			}
		}
		if notes := fmt.Sprint(table.Notes); strings.Count(notes, "was moved by no study") != 1 {
			t.Errorf("%s does not say once that the gains are of two kinds: %q", table.ID, notes)
		}
	}
	a.Since.Steps = a.Since.Steps[1:]
	if notes := fmt.Sprint(Of(a, say.In("en")).Changes().Notes); strings.Contains(notes, "pooled one") {
		t.Errorf("gains of one kind are told apart: %q", notes)
	}
}
