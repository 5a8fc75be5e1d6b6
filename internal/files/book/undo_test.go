package book

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/trial"
)

// said is what a workbook says, thing by thing.
func said(b *Book) map[Touched]string {
	all := map[Touched]string{}
	live := b.now.live()
	for _, at := range b.now.shelves {
		live = append(live, at.live()...)
	}
	for _, v := range live {
		all[Touched{v.kind, v.key}] = *v.body
	}
	return all
}

// tell tells a history in words.
func tell(list []Entry) string {
	var text strings.Builder
	for _, e := range list {
		fmt.Fprintln(&text, e.ID, e.At, e.Who, e.What, e.Why, e.Undo, e.Part)
		for _, s := range e.Steps {
			body := func(v *version) string {
				if v == nil {
					return "none"
				}
				return *v.body
			}
			fmt.Fprintln(&text, " ", s.Touched, body(s.before), body(s.after))
		}
	}
	return text.String()
}

// Whatever was changed, one thing or many, added, replaced or removed: undone it is as before, the undo undone as
// after, and a change is undone only where nothing that it touched has been made something else since. All of it is
// there when opened again.
func TestUndoProperty(t *testing.T) {
	outer := t
	rapid.Check(t, func(t *rapid.T) {
		b, err := Create(somewhere(outer))
		if err != nil {
			t.Fatal(err)
		}
		b.hurry()
		defer func() { b.Close() }()
		must := func(err error) {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
		}
		own := ownTrial()
		_, err = b.Save(by("Ada", 0), TrialItems(own)...)
		must(err)
		states := []map[Touched]string{{}, said(b)} // after each change
		touched := [][]Touched{nil, slices.Collect(maps.Keys(said(b)))}
		for range rapid.IntRange(1, 12).Draw(t, "changes") {
			before := said(b)
			if len(states) > 2 && rapid.Bool().Draw(t, "undo") { // the first is the trial that readings rest on
				of := rapid.IntRange(2, len(states)-1).Draw(t, "of")
				later := false // changed since, and not back to what it was
				for _, list := range touched[of+1:] {
					for _, x := range list {
						later = later || slices.Contains(touched[of], x) && before[x] != states[of-1][x]
					}
				}
				h, err := b.History(0, math.MaxInt)
				must(err)
				offered := h[len(h)-of].Undo
				saved, err := b.Undo(by("Bo", 0), int64(of))
				if (offered == Overtaken) != later || (offered == Undone) != (!later && saved.Change == 0) {
					t.Fatalf("the undo of %d is said to be %d; changed since: %v; done: %+v", of, offered, later, saved)
				}
				if later {
					if !errors.As(err, new(*Conflict)) || !maps.Equal(said(b), before) {
						t.Fatalf("the undo of %d, of which something was changed since: %v", of, err)
					}
					continue
				}
				must(err)
				for _, x := range touched[of] {
					if said(b)[x] != states[of-1][x] {
						t.Fatalf("%v is %q after the undo, and was %q", x, said(b)[x], states[of-1][x])
					}
				}
			} else {
				var items []Item
				for _, k := range rapid.SliceOfNDistinct(rapid.IntRange(0, 5), 1, 4, rapid.ID).Draw(t, "things") {
					value := rapid.IntRange(0, 3).Draw(t, "value") // 0: removed
					switch {
					case k < 3 && value == 0:
						items = append(items, Remove(Study, fmt.Sprint("Study ", k)))
					case k < 3:
						items = append(items, Keep(study(fmt.Sprint("Study ", k), float64(20+value))))
					default:
						r := Logged[trial.Reading]{own.Name, 2026,
							trial.Reading{Unit: "2", At: march(10+k, 0), Brix: new(float64(value))}}
						if value == 0 {
							items = append(items, Drop(r))
						} else {
							items = append(items, Keep(r))
						}
					}
				}
				e := by("Ada", b.now.head)
				e.Replace = true
				_, err := b.Save(e, items...)
				must(err)
			}
			if int(b.now.head) == len(states) { // something was changed
				after := said(b)
				var list []Touched
				for x := range after {
					if after[x] != before[x] {
						list = append(list, x)
					}
				}
				for x := range before {
					if _, there := after[x]; !there {
						list = append(list, x)
					}
				}
				states, touched = append(states, after), append(touched, list)
			}
		}
		end := said(b)
		told, err := b.History(0, math.MaxInt) // as it went on since it was asked for first
		must(err)
		must(b.Close())
		b, err = Open(b.path)
		must(err)
		if !maps.Equal(said(b), end) {
			t.Fatal("opened again it says something else")
		}
		again, err := b.History(0, math.MaxInt)
		must(err)
		if a, b := tell(told), tell(again); a != b {
			t.Fatalf("the history said\n%s\nand says, opened again,\n%s", a, b)
		}
		_, err = Check(b.path)
		must(err)
	})
}

// An import is undone whole, however much it was; so is the removal of a study that was left out.
func TestUndoOfAnImport(t *testing.T) {
	b := fresh(t)
	save(t, b, by("Ada", 0), Keep(study("Kept", 20)))
	before := said(b)
	save(t, b, by("Ada", 1), append(append(many(300), TrialItems(ownTrial())...), Keep(practiceOf("steam-rinse")))...)
	after := said(b)
	undo := func(change int64, want map[Touched]string) {
		t.Helper()
		if _, err := b.Undo(by("Bo", 0), change); err != nil {
			t.Fatal(err)
		}
		if !maps.Equal(said(b), want) {
			t.Errorf("the undo of %d leaves %d things, wanted %d", change, len(said(b)), len(want))
		}
	}
	undo(2, before)
	undo(3, after)
	undo(4, before)
	save(t, b, by("Ada", 5), Keep(input.Exclusion{Study: "Kept", Reason: "the pump failed"}))
	out := said(b)
	save(t, b, by("Ada", 6), Remove(Study, "Kept"), Remove(Excluded, "Kept"))
	undo(7, out)
	// What was added can no longer be taken back where something else has come to rest on it.
	save(t, b, by("Ada", 8), Keep(practiceOf("hot-rinse")))
	with := study("With", 20)
	with.Arms = slices.Concat(with.Arms[:1], []evidence.Arm{with.Arms[1]})
	with.Arms[1].Practice = "hot-rinse"
	save(t, b, by("Ada", 9), Keep(with))
	_, err := b.Undo(by("Ada", 0), 9)
	refused(t, "the undo of a practice that a study has", err, "no practice")
	sound(t, b.path)
}
