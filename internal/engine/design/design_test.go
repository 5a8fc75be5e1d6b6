package design

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

var four = []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.NewDrop}

func question(design trial.Kind) trial.Question {
	return trial.Question{Practices: four, Design: design, Replicates: 6, Taps: 20, FirstSeason: 2026, Seed: 11}
}

// tally counts places by practice, and by practice in each block and season.
func tally(l *trial.Layout) (all map[practice.Key]int, block map[string]int) {
	all, block = map[practice.Key]int{}, map[string]int{}
	for _, p := range l.Places {
		all[p.Practice]++
		block[fmt.Sprint(p.Season, p.Unit.Block, p.Practice)]++
	}
	return all, block
}

func TestLayoutBlocks(t *testing.T) {
	l, err := Draw(question(trial.Blocks), practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	all, block := tally(l)
	for _, k := range four {
		if all[k] != 6 {
			t.Errorf("%s on %d units, want 6", k, all[k])
		}
	}
	if len(block) != 24 || l.DF != 15 { // (4−1)(6−1)
		t.Errorf("%d of 24 block and practice pairs, %d degrees of freedom", len(block), l.DF)
	}
	// 6 units of 20 taps: the reference needs 120 used spouts and drops, two others used drops, new drops none.
	want := []trial.Keep{{Practice: practice.Unsanitized, Spouts: 120, Drops: 120},
		{Practice: practice.NewSpout, Drops: 120}, {Practice: practice.CheckValve, Drops: 120}}
	if d := cmp.Diff(want, l.Keep); d != "" {
		t.Error(d)
	}
}

// The same seed makes the same layout, another seed another one.
func TestLayoutSeed(t *testing.T) {
	for _, d := range []trial.Kind{trial.Randomised, trial.Blocks} {
		q := question(d)
		q.Blind = true
		a, _ := Draw(q, practice.Shipped())
		b, _ := Draw(q, practice.Shipped())
		if diff := cmp.Diff(a.Places, b.Places); diff != "" {
			t.Error(diff)
		}
		q.Seed++
		c, _ := Draw(q, practice.Shipped())
		if cmp.Equal(a.Places, c.Places) {
			t.Errorf("%s: two seeds, one layout", d)
		}
		codes := map[string]string{}
		for _, p := range a.Places {
			if u, ok := codes[p.Code]; p.Code == "" || ok && u != p.Unit.Name {
				t.Fatalf("code %q of %s and %s", p.Code, u, p.Unit.Name)
			}
			codes[p.Code] = p.Unit.Name
		}
	}
}

// In a Williams square every practice stands once in each row and season and follows every other equally often
// (Williams 1949).
func TestWilliams(t *testing.T) {
	for k := 2; k <= 9; k++ {
		rows := williams(k)
		follows := map[[2]int]int{}
		for s := range k {
			in := map[int]int{}
			for _, row := range rows {
				in[row[s]]++
				if s > 0 {
					follows[[2]int{row[s-1], row[s]}]++
				}
			}
			for x := range k {
				if in[x] != len(rows)/k {
					t.Errorf("k = %d: practice %d stands %d times in season %d", k, x, in[x], s)
				}
			}
		}
		for a := range k {
			for b := range k {
				if a != b && follows[[2]int{a, b}] != len(rows)/k {
					t.Errorf("k = %d: %d follows %d %d times, want %d", k, b, a, follows[[2]int{a, b}], len(rows)/k)
				}
			}
		}
	}
}

func TestLatinRefusesNewDrops(t *testing.T) {
	q := question(trial.Latin)
	q.Replicates, q.Seasons = 1, 4
	_, err := Draw(q, practice.Shipped())
	if err == nil || !strings.Contains(err.Error(), "one season old") {
		t.Fatalf("new drops are rotated: %v", err)
	}
	q.PlasticAge = new(3)
	l, err := Draw(q, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	all, _ := tally(l)
	for _, k := range four {
		if all[k] != 4 {
			t.Errorf("%s in %d unit-seasons, want 4", k, all[k])
		}
	}
}

// Trees on one chamber are one unit.
func TestLayoutNested(t *testing.T) {
	q := question(trial.Randomised)
	for i := range 24 {
		q.Units = append(q.Units, trial.Unit{Name: fmt.Sprint("tree ", i), Chamber: fmt.Sprint("chamber ", i/3),
			Taps: 2})
	}
	l, err := Draw(q, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Places) != 8 || l.DF != 4 || l.Places[0].Unit.Taps != 6 || len(l.Places[0].Members) != 3 {
		t.Errorf("%d units, %d degrees of freedom, %+v", len(l.Places), l.DF, l.Places[0])
	}
	if !slices.ContainsFunc(l.Notes,
		func(n note.Note) bool { return strings.Contains(n.English(), "not replicates") }) {
		t.Error("nothing says that trees on one chamber are not replicates")
	}
}

// √k rule (Dunnett 1955): four practices against one reference, twice as many of it.
// Units that are listed without taps have those of the question, and it is said: plastic is counted by them.
func TestListedWithoutTaps(t *testing.T) {
	q := trial.Question{Practices: []practice.Key{practice.Unsanitized, practice.CheckValve}, Design: trial.Blocks,
		Taps: 5, Seed: 1,
		Units: []trial.Unit{{Name: "a"}, {Name: "b", Taps: 7}, {Name: "c", Chamber: "x"},
			{Name: "d", Chamber: "x", Taps: 2}}}
	for want, taps := range map[int]int{5: 5, 1: 0} {
		q.Taps = taps
		l, err := Draw(q, practice.Shipped())
		if err != nil {
			t.Fatal(err)
		}
		all := 0
		for _, p := range l.Places {
			all += p.Unit.Taps
		}
		for _, u := range l.Out {
			all += u.Taps
		}
		if all != 2*want+9 || q.Units[0].Taps != 0 || !slices.ContainsFunc(l.Notes, func(n note.Note) bool {
			return strings.Contains(n.English(), fmt.Sprintf("no taps are given for a, c; counted as %d each", want))
		}) {
			t.Errorf("%d taps: %v", all, l.Notes)
		}
	}
}

func TestMoreReference(t *testing.T) {
	q := trial.Question{Practices: append(slices.Clone(four), practice.SilverSpout), Design: trial.Randomised,
		MoreReference: true, Replicates: 5, Taps: 1, Seed: 3}
	l, err := Draw(q, practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	all, _ := tally(l)
	if all[practice.Unsanitized] != 10 || all[practice.NewDrop] != 5 {
		t.Errorf("%v", all)
	}
}

// Any units whatever: every layout is whole, and stems differ less than by chance alone.
func TestLayoutProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := trial.Question{Practices: four,
			Design:      rapid.SampledFrom([]trial.Kind{trial.Randomised, trial.Blocks}).Draw(t, "design"),
			FirstSeason: 2026, Seasons: rapid.IntRange(1, 3).Draw(t, "seasons"),
			Seed: rapid.Uint64().Draw(t, "seed"), MoreReference: rapid.Bool().Draw(t, "more")}
		n := rapid.IntRange(0, 40).Draw(t, "n")
		for i := range n {
			u := trial.Unit{Name: fmt.Sprint(i), Taps: rapid.IntRange(0, 30).Draw(t, "taps"),
				Diameter: rapid.Float64Range(0, 80).Draw(t, "stem")}
			if rapid.Bool().Draw(t, "blocked") {
				u.Block = rapid.SampledFrom([]string{"a", "b", "c"}).Draw(t, "block")
			}
			q.Units = append(q.Units, u)
		}
		l, err := Draw(q, practice.Shipped())
		if err != nil {
			return
		}
		seen := map[string]bool{}
		for _, p := range l.Places {
			key := fmt.Sprint(p.Season, p.Unit.Name)
			if seen[key] {
				t.Fatalf("%s stands twice", key)
			}
			seen[key] = true
		}
		if got := len(l.Places)/q.Seasons + len(l.Out); got != n && n > 0 {
			t.Fatalf("%d units in or out of %d", got, n)
		}
		all, _ := tally(l)
		for _, k := range four {
			if all[k] == 0 {
				t.Fatalf("%s has no unit", k)
			}
		}
	})
}

// Whatever is asked, a layout is refused with words, or it holds every unit once a season, every practice as often as
// asked for, in blocks as often as any other, and the same seed draws the same again.
func FuzzPlan(f *testing.F) {
	f.Add(uint8(1), uint8(3), int16(6), int16(20), int16(1), int16(2026), int64(11), int16(0), false, false)
	f.Add(uint8(2), uint8(1), int16(4), int16(1), int16(2), int16(2025), int64(-3), int16(9), true, true)
	f.Add(uint8(3), uint8(7), int16(1), int16(5), int16(4), int16(0), int64(0), int16(-1), false, true)
	f.Fuzz(func(t *testing.T, design, practices uint8, replicates, taps, seasons, first int16, seed int64, units int16,
		more, blind bool) {
		if replicates > 30 || seasons > 6 || units > 200 {
			return // larger ones tell nothing more
		}
		q := trial.Question{Design: trial.Designs[int(design)%len(trial.Designs)], Replicates: int(replicates),
			Taps: int(taps), Seasons: int(seasons), FirstSeason: int(first), Seed: uint64(seed), Blind: blind,
			MoreReference: more,
			Reference:     practice.Unsanitized}
		for i, p := range practice.Shipped() {
			if practices>>(i%8)&1 == 1 {
				q.Practices = append(q.Practices, p.Key)
			}
		}
		for i := range units {
			q.Units = append(q.Units, trial.Unit{Name: fmt.Sprint("u", i), Block: fmt.Sprint(i % max(1, replicates))})
		}
		l, err := Draw(q, practice.Shipped())
		if err != nil {
			if words, ok := err.(note.Faults); !ok || len(words) == 0 {
				t.Fatalf("no words: %v", err)
			}
			return
		}
		seen, each := map[string]bool{}, map[string]map[practice.Key]int{}
		for _, p := range l.Places {
			at := fmt.Sprint(p.Season, " ", p.Unit.Name)
			if seen[at] || !slices.Contains(q.Practices, p.Practice) {
				t.Fatalf("%s stands twice, or has %s, which was not asked for", at, p.Practice)
			}
			seen[at] = true
			in := fmt.Sprint(p.Season, " ", p.Unit.Block)
			if each[in] == nil {
				each[in] = map[practice.Key]int{}
			}
			each[in][p.Practice]++
		}
		if q.Design == trial.Blocks || q.Design == trial.Pairs {
			for in, n := range each {
				for _, k := range q.Practices {
					if n[k] < 1 || n[k] != n[q.Practices[0]] && !more {
						t.Fatalf("block %s has %v", in, n)
					}
				}
			}
		}
		again, err := Draw(q, practice.Shipped())
		if d := cmp.Diff(l, again); err != nil || d != "" {
			t.Fatalf("drawn again: %v %s", err, d)
		}
	})
}
