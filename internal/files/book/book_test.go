package book

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/trial"
)

var day = time.Date(2026, 3, 1, 8, 30, 0, 0, time.UTC)

func by(who string, seen int64) Edit {
	return Edit{At: day, Who: who, What: "test", Seen: Sight{Change: seen}}
}

func study(name string, mean float64) evidence.Study {
	return evidence.Study{
		Name: name, Site: "Otter Hill", Season: 2019, Kind: evidence.Replicated, Unit: evidence.Chamber,
		Source:  "station bulletin 4",
		Caveats: []evidence.Caveat{evidence.LowYield}, Where: note.Where{File: "e.csv", Row: 2, Column: "study"},
		Arms: []evidence.Arm{
			{Practice: "unsanitized", Reference: true, Mean: new(15.0), MeanUnit: "gal", N: new(6.0), SD: new(2.0),
				Where: note.Where{File: "e.csv", Row: 2}},
			{Practice: "check-valve", Mean: new(mean), MeanUnit: "gal", N: new(6.0), SD: new(2.5),
				Where: note.Where{File: "e.csv", Row: 3},
				Extra: map[string]string{"colour of the tag": "blå"}},
		},
	}
}

func fresh(t testing.TB) *Book {
	t.Helper()
	b, err := Create(somewhere(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

func save(t testing.TB, b *Book, e Edit, items ...Item) Saved {
	t.Helper()
	s, err := b.Save(e, items...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func contents(t testing.TB, b *Book) Contents {
	t.Helper()
	c, err := b.Contents()
	if err != nil {
		t.Fatal(err)
	}
	return inFull(c)
}

// inFull is contents with all that was read.
func inFull(c Contents) Contents {
	c.Trials = each(c.Trials, trial.Trial.Read)
	return c
}

func sound(t testing.TB, path string) Checked {
	t.Helper()
	c, err := Check(path)
	if err != nil {
		t.Errorf("check: %v", err)
	}
	return c
}

// The files of the demo, through a workbook, are the input that they are by themselves.
func TestFilesAndWorkbookAreTheSameInput(t *testing.T) {
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	b := fresh(t)
	save(t, b, by("Ada", 0), Items(in)...)
	b.Close()
	again, err := Open(b.path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	got, err := again.Contents()
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Sources) != 1 || got.Sources[0].Name != b.name() || len(got.Sources[0].Digest) != 64 {
		t.Errorf("sources: %v", got.Sources)
	}
	got.Sources, in.Sources = nil, nil
	if d := cmp.Diff(in, got.Input, cmpopts.EquateEmpty()); d != "" {
		t.Error(d)
	}
	if c := sound(t, b.path); c.Changes != 1 || c.Things != len(in.Studies)+1+len(in.Rules) {
		t.Errorf("%+v", c)
	}
}

func TestSave(t *testing.T) {
	b := fresh(t)
	first := save(t, b, by("Ada", 0), Keep(study("A", 20)), Keep(study("B", 21)))
	if first.Change != 1 || len(first.Added) != 2 {
		t.Fatalf("%+v", first)
	}

	// The same again, and moved to another row of another file: nothing is added.
	moved := study("A", 20)
	moved.Where = note.Where{File: "other.csv", Row: 9}
	if s := save(t, b, by("Ada", 1), Keep(study("B", 21)), Keep(moved)); s.Change != 0 || len(s.Unchanged) != 2 {
		t.Errorf("%+v", s)
	}

	// Other content under the same name.
	if _, err := b.Save(by("Ada", 1), Keep(study("A", 25)), Keep(study("C", 1))); err == nil ||
		!strings.Contains(err.Error(), "other content") {
		t.Errorf("%v", err)
	}
	if c := contents(t, b); len(c.Studies) != 2 {
		t.Errorf("%d studies: something was taken from what was refused", len(c.Studies))
	}
	e := by("Ada", 1)
	e.Replace = true
	if s := save(t, b, e, Keep(study("A", 25)), Keep(study("B", 21))); s.Change != 2 || len(s.Replaced) != 1 ||
		len(s.Unchanged) != 1 {
		t.Errorf("%+v", s)
	}

	// Somebody who looked before that does not overwrite it unseen.
	e = by("Bo", 1)
	e.Replace = true
	_, err := b.Save(e, Keep(study("A", 30)))
	var c *Conflict
	if !errors.As(err, &c) || len(c.Theirs) != 1 || c.Theirs[0].Who != "Ada" || c.Theirs[0].ID != 2 ||
		*c.Theirs[0].Value.(evidence.Study).Arms[1].Mean != 25 {
		t.Fatalf("%v", err)
	}
	var words note.Faults
	if !errors.As(err, &words) {
		t.Error("a conflict has no words")
	}
	// What nobody touched since can be changed.
	e.What = "another mean"
	save(t, b, e, Keep(study("B", 22)))

	// Removing, and what is there then.
	save(t, b, by("Bo", 3), Remove(Study, "A"))
	got := contents(t, b)
	if len(got.Studies) != 1 || got.Studies[0].Name != "B" || got.Change != 4 {
		t.Errorf("%+v", got)
	}
	// Undo it: as before, in its old place.
	if s, err := b.Undo(by("Ada", 0), 4); err != nil || s.Change != 5 {
		t.Fatal(s, err)
	}
	got = contents(t, b)
	if len(got.Studies) != 2 || got.Studies[0].Name != "A" || *got.Studies[0].Arms[1].Mean != 25 {
		t.Errorf("%+v", got)
	}
	// Change 2 can no longer be undone: A was touched since.
	if _, err := b.Undo(by("Ada", 0), 2); !errors.As(err, &c) {
		t.Errorf("%v", err)
	}
	// The first added: undoing the undo takes it out again.
	if _, err := b.Undo(by("Ada", 0), 5); err != nil {
		t.Fatal(err)
	}
	if got = contents(t, b); len(got.Studies) != 1 {
		t.Errorf("%d studies", len(got.Studies))
	}

	h, err := b.History(0, math.MaxInt)
	if err != nil {
		t.Fatal(err)
	}
	if len(h) != 6 || h[0].ID != 6 || !h[0].At.Equal(day) || h[3].Who != "Bo" || h[3].What != "another mean" ||
		len(h[5].That(Step.Added)) != 2 || len(h[4].That(Step.Replaced)) != 1 ||
		len(h[2].That(Step.Removed)) != 1 || len(h[1].That(Step.Added)) != 1 {
		t.Errorf("%+v", h)
	}
	if c := sound(t, b.path); c.Changes != 6 || c.Things != 1 {
		t.Errorf("%+v", c)
	}
}

// What may not be kept, each with a word that its fault must say.
func TestRefused(t *testing.T) {
	b := fresh(t)
	own := practiceOf("steam-rinse")
	with := study("S", 20)
	with.Arms[1].Practice = "steam-rinse"
	save(t, b, by("Ada", 0), Keep(own), Keep(with), Keep(study("A", 20)))
	odd := func(change func(s *evidence.Study)) Item {
		s := study("odd", 20)
		change(&s)
		return Keep(s)
	}
	for _, tt := range []struct {
		name, want string
		items      []Item
	}{
		{"no name", "without a name", []Item{Keep(study(" ", 20))}},
		{"no site", "no site", []Item{odd(func(s *evidence.Study) { s.Site = "" })}},
		{"no season", "season", []Item{odd(func(s *evidence.Study) { s.Season = 19 })}},
		{"not UTF-8", "UTF-8", []Item{odd(func(s *evidence.Study) { s.Source = "b\xe9" })}},
		{"not a number", "NaN", []Item{odd(func(s *evidence.Study) { s.Arms[1].Mean = new(nan()) })}},
		{"no such practice", "practice prayer", []Item{odd(func(s *evidence.Study) { s.Arms[1].Practice = "prayer" })}},
		{"twice", "twice", []Item{Keep(study("X", 20)), Keep(study("X", 20))}},
		{"a practice that a study has", "no practice steam-rinse", []Item{Remove(Practice, "steam-rinse")}},
		{"an exclusion of nothing", "not in the workbook",
			[]Item{Keep(input.Exclusion{Study: "nobody", Reason: "why not"})}},
		{"an exclusion without a reason", "without a reason", []Item{Keep(input.Exclusion{Study: "A", Reason: " "})}},
	} {
		if _, err := b.Save(by("Ada", 1), tt.items...); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
	if _, err := b.Save(Edit{At: day}, Keep(study("N", 20))); err == nil {
		t.Error("a change by nobody was kept")
	}
	if c := contents(t, b); c.Change != 1 {
		t.Errorf("something was kept: change %d", c.Change)
	}
	// An exclusion with a reason; the study then cannot go without it.
	save(t, b, by("Ada", 1), Keep(input.Exclusion{Study: "A", Reason: "the pump failed"}))
	if got := contents(t, b).Excluded; !slices.Equal(got, []input.Exclusion{{Study: "A", Reason: "the pump failed"}}) {
		t.Errorf("excluded: %v", got)
	}
	if _, err := b.Save(by("Ada", 2), Remove(Study, "A")); err == nil {
		t.Error("an exclusion stands for nothing")
	}
	save(t, b, by("Ada", 2), Remove(Study, "A"), Remove(Excluded, "A"))
	sound(t, b.path)
}

// The digest is of what the workbook says, not of how it came to say it.
func TestDigestIsOfContent(t *testing.T) {
	digest := func(b *Book) string { return contents(t, b).Sources[0].Digest }
	a, b := fresh(t), fresh(t)
	save(t, a, by("Ada", 0), Keep(study("A", 20)), Keep(study("B", 21)))
	save(t, b, by("Bo", 0), Keep(study("B", 20)))
	e := by("Bo", 1)
	e.Replace, e.At = true, day.AddDate(0, 1, 0)
	save(t, b, e, Keep(study("B", 21)), Keep(study("A", 20)))
	if digest(a) != digest(b) {
		t.Error("the same content has two digests")
	}
	save(t, b, by("Bo", 2), Remove(Study, "A"))
	if digest(a) == digest(b) {
		t.Error("other content has the same digest")
	}
}

// Two that hold the same file see each other's changes.
func TestTwoHold(t *testing.T) {
	a := fresh(t)
	b, err := Open(a.path)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	save(t, a, by("Ada", 0), Keep(study("A", 20)))
	if c := contents(t, b); len(c.Studies) != 1 {
		t.Error("the second does not see what the first kept")
	}
	save(t, b, by("Bo", 1), Keep(study("B", 20)))
	if c := contents(t, a); len(c.Studies) != 2 {
		t.Error("the first does not see what the second kept")
	}
}

// A workbook that several goroutines hold, as those of a server do.
func TestShared(t *testing.T) {
	b := fresh(t)
	var all sync.WaitGroup
	for who := range 4 {
		all.Go(func() {
			for n := range 5 {
				if _, err := b.Save(by("Ada", 0), Keep(study(fmt.Sprint(who, "-", n), 20))); err != nil {
					t.Error(err)
				}
				if in, err := b.Contents(); err != nil || len(in.Studies) == 0 {
					t.Error(err)
				}
				if _, err := b.History(0, math.MaxInt); err != nil {
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	if c := contents(t, b); len(c.Studies) != 20 || c.Change != 20 {
		t.Errorf("%d studies, change %d", len(c.Studies), c.Change)
	}
	sound(t, b.path)
}

func TestCreateKeepsWhatIsThere(t *testing.T) {
	b := fresh(t)
	if _, err := Create(b.path); err == nil || !strings.Contains(err.Error(), "already") {
		t.Errorf("%v", err)
	}
	ofFiles(t)
	if _, err := Create(filepath.Join(t.TempDir(), "no", "such", "folder.spile")); err == nil {
		t.Error("made in a folder that is not there")
	}
	// Names that a file may have and an address may not.
	name := filepath.Join(t.TempDir(), "50 % ?a=b&c #1 érable.spile")
	odd, err := Create(name)
	if err != nil {
		t.Fatal(err)
	}
	odd.Close()
	if _, err := os.Stat(name); err != nil {
		t.Error(err)
	}
	sound(t, name)
}

// Why a change was made is kept beside what it did, and is under its digest.
func TestReasons(t *testing.T) {
	path := filepath.Join(t.TempDir(), "b.spile")
	b := whole(t, path)
	all, err := b.History(0, math.MaxInt)
	if err != nil || all[2].What != "test" || all[2].Why != "as told at the winter meeting" || all[3].Why != "" {
		t.Fatalf("%v: %+v %+v", err, all[2].Change, all[3].Change)
	}
	if _, err := b.db.Exec(`DROP TRIGGER change_stays; UPDATE change SET why = 'for no reason' WHERE why <> ''`); err != nil {
		t.Fatal(err)
	}
	b.Close()
	if _, err := Check(path); err == nil || !strings.Contains(err.Error(), "change 8 (") {
		t.Errorf("a changed reason: %v", err)
	}
}

// The clock of who writes is put back: changes stay in the order in which they came, what came since a day holds those
// behind it, and each can be undone.
func TestAClockThatIsPutBack(t *testing.T) {
	b := fresh(t)
	at := func(text string) time.Time {
		x, err := time.Parse(time.DateOnly, text)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for i, on := range []string{"2025-03-01", "2025-10-30", "2025-12-01", "2010-01-01", "2026-01-05"} {
		save(t, b, Edit{At: at(on), Who: "Ann", What: on}, Keep(study(on, 20+float64(i))))
	}
	for since, want := range map[string]int64{
		"": 2, "2025-11-01": 2, "2025-12-02": 4, "2025-02-01": 0, "2026-02-01": 5,
	} {
		if got, err := b.Since(since); err != nil || got != want {
			t.Errorf("since %q: change %d, not %d; %v", since, got, want, err)
		}
	}
	shown := must(b.History(0, 100))
	if again := must(b.History(0, 100)); &again[0] != &shown[0] {
		t.Error("the history is read anew though nothing came")
	}
	for _, err := range b.Replay(0, Moments) {
		if err != nil {
			t.Error(err)
		}
	}
	if len(shown) != 5 || shown[0].What != "2026-01-05" || shown[1].What != "2010-01-01" {
		t.Errorf("the history goes otherwise: %v", shown)
	}
	if _, err := b.Undo(Edit{At: at("2009-01-01"), Who: "Ann", What: "undo"}, 4); err != nil {
		t.Error(err)
	}
	if n := len(contents(t, b).Studies); n != 4 {
		t.Errorf("%d studies", n)
	}
	sound(t, b.Path())
}
