package book

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

func march(day, hour int) time.Time { return time.Date(2026, 3, day, hour, 0, 0, 0, time.UTC) }

// ownTrial is one of two blocks with something of everything, and an earlier season known by its sums.
func ownTrial() trial.Trial {
	r := trial.Record{
		Season: 2026,
		Plots: []trial.Plot{{Unit: "1, left", Block: "a", Practice: practice.Unsanitized, Taps: 10,
			Mainline: "north"}, {Unit: "2", Block: "a", Practice: practice.CheckValve, Taps: 10, Code: "AH66"}},
		Calibrations: []trial.Calibration{{At: march(1, 8), Flow: trial.Slow, Dump: 3},
			{At: march(20, 8), Flow: trial.Slow, Dump: 3.2}},
		Tanks: []trial.Tank{{Unit: "2", Depths: []unit.Length{0, 1}, Volumes: []unit.Volume{0, 500}}},
		Events: []trial.Event{{Kind: trial.Leak, From: march(5, 0), To: march(6, 0), Units: []string{"2"},
			Note: "chewed"}},
		Counts: []trial.Count{{Unit: "2", At: march(1, 0), Taps: 11, Again: 1}},
	}
	for d := 1; d < 6; d++ {
		r.Readings = append(r.Readings,
			trial.Reading{Unit: "1, left", At: march(d, 9), Counter: new(float64(20 * d)),
				Vacuum: new(unit.Pressure(80))},
			trial.Reading{Unit: "2", At: march(d, 0), Depth: new(unit.Length(0.3)), Brix: new(2.1), Note: "clear"})
	}
	return trial.Trial{
		Name: "Own trial", Site: "Upper lot", Caveats: []evidence.Caveat{evidence.FreakSeason}, Note: "by the brook",
		Question: &trial.Question{Practices: []practice.Key{practice.Unsanitized, practice.CheckValve},
			Design: trial.Blocks, Replicates: 1, Taps: 10,
			FirstSeason: 2026, Seed: 7, PlasticAge: new(3),
			Units: []trial.Unit{{Name: "2", Kind: evidence.Mainline, Diameter: 31.5, Species: "sugar maple"}}},
		Records: []trial.Record{r}, Rules: new(weather.Usual()),
		Sums: []trial.UnitSeason{{Unit: "2", Block: "a", Season: 2025, Practice: practice.CheckValve, DropAge: new(2),
			Taps: 10, Volume: 900, AtLeast: true, Brix: new(2.0), Vacuum: new(unit.Pressure(75))}},
		Days: []weather.Day{{Date: march(1, 0), Min: new(unit.Temperature(-4)), Max: new(unit.Temperature(6))},
			{Date: march(2, 0), Max: new(unit.Temperature(3))}},
		Decisions: []trial.Decision{{Season: 2026, Finding: "event/a/2", Out: true, Reason: "the tank stood open",
			Taken: &trial.Exclusion{Block: "a", From: march(4, 0), To: march(5, 0)}}},
		Options: trial.Options{Response: trial.Syrup, Place: "US-VT", Vacuum: true},
	}
}

// Codes that the question tells are not kept beside it, so that workbooks of a blind trial stay what they were.
func TestDrawnCodesAreNotKept(t *testing.T) {
	x := ownTrial()
	x.Question.Blind = true
	b := fresh(t)
	save(t, b, by("Ada", 0), TrialItems(x)...)
	if p := contents(t, b).Trials[0].Records[0].Plots[1]; p.Code != "" {
		t.Errorf("%+v", p)
	}
	x.Records[0].Plots[1].Code = ""
	saved, err := b.Save(by("Ada", 1), TrialItems(x)...)
	if err != nil || len(saved.Added)+len(saved.Replaced) > 0 {
		t.Errorf("the same trial without them is another: %+v, %v", saved, err)
	}
}

func TestTrialComesBack(t *testing.T) {
	b := fresh(t)
	want := ownTrial()
	save(t, b, by("Ada", 0), TrialItems(want)...)
	if d := cmp.Diff([]trial.Trial{want}, contents(t, b).Trials, cmpopts.EquateEmpty()); d != "" {
		t.Error(d)
	}
	b.Close()
	sound(t, b.path)
	again, err := Open(b.path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if d := cmp.Diff([]trial.Trial{want}, contents(t, again).Trials, cmpopts.EquateEmpty()); d != "" {
		t.Error(d)
	}
}

func TestTrialBodiesLoseNothing(t *testing.T) {
	t.Run("reading", identity[Logged[trial.Reading]])
	t.Run("event", identity[Logged[trial.Event]])
	t.Run("calibration", identity[Logged[trial.Calibration]])
	t.Run("tank", identity[Logged[trial.Tank]])
	t.Run("count", identity[Logged[trial.Count]])
	t.Run("temperatures", identity[Logged[[]weather.Day]])
}

func TestKeys(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		parts := rapid.SliceOfN(rapid.StringOf(rapid.SampledFrom([]rune(`a,\ é`))), 1, 4).Draw(t, "parts")
		if got := partsOf(keyOf(parts...)); !cmp.Equal(got, parts) {
			t.Fatalf("%q comes back as %q", parts, got)
		}
	})
}

// A reading that is there says so, one that differs is refused unless it is to be replaced, and a correction is a
// change that can be undone.
func TestReadings(t *testing.T) {
	b := fresh(t)
	own := ownTrial()
	save(t, b, by("Ada", 0), TrialItems(own)...)
	again := own.Records[0].Readings[0]
	item := func(r trial.Reading) Item { return Keep(Logged[trial.Reading]{"Own trial", 2026, r}) }
	if s := save(t, b, by("Bo", 1), item(again)); s.Change != 0 || len(s.Unchanged) != 1 {
		t.Errorf("the same reading: %+v", s)
	}
	again.Counter = new(25.0)
	_, err := b.Save(by("Bo", 1), item(again))
	refused(t, "another reading of the same time", err, "with other content")
	e := by("Bo", 1)
	e.Replace = true
	corrected := save(t, b, e, item(again))
	count := func() float64 { return *contents(t, b).Trials[0].Records[0].Readings[0].Counter }
	if count() != 25 || len(corrected.Replaced) != 1 {
		t.Errorf("corrected to %v, %+v", count(), corrected)
	}
	e.Seen.Change = 1
	again.Counter = new(26.0)
	var conflict *Conflict
	if _, err := b.Save(e, item(again)); !errors.As(err, &conflict) || conflict.Theirs[0].Kind != Reading ||
		conflict.Theirs[0].Who != "Bo" {
		t.Errorf("an unseen correction was overwritten: %v", err)
	}
	if _, err := b.Undo(by("Ada", 2), corrected.Change); err != nil || count() != 20 {
		t.Errorf("undone: %v, %v", count(), err)
	}
	h, err := b.History(0, math.MaxInt)
	if err != nil || len(h) != 3 || len(h[1].That(Step.Replaced)) != 1 ||
		h[1].Steps[0].Kind != Reading || h[1].Undo != Undone {
		t.Errorf("%+v, %v", h, err)
	}
	sound(t, b.path)
}

func TestTrialRefused(t *testing.T) {
	b := fresh(t)
	own := ownTrial()
	save(t, b, by("Ada", 0), TrialItems(own)...)
	at := func(what string, err error, want string) {
		t.Helper()
		refused(t, what, err, want)
	}
	_, err := b.Save(by("Ada", 1), Remove(Trial, "Own trial"))
	at("readings without their trial", err, "not in the workbook")
	stray := trial.Reading{Unit: "9", At: march(9, 0), Volume: new(unit.Volume(3))}
	_, err = b.Save(by("Ada", 1), Keep(Logged[trial.Reading]{"Own trial", 2026, stray}))
	at("a unit that is not there", err, "none of the trial's units")
	_, err = b.Save(by("Ada", 1), Keep(Logged[trial.Reading]{"Own trial", 2031, stray}))
	at("a season that is not there", err, "no units in that season")
	_, err = b.Save(by("Ada", 1),
		Keep(Logged[trial.Decision]{"Own trial", 2026, trial.Decision{Season: 2026, Finding: "gap"}}))
	at("no reason", err, "without a reason")
	own.Records[0].Plots[0].Practice = "magic"
	e := by("Ada", 1)
	e.Replace = true
	_, err = b.Save(e, Keep(own))
	at("an unknown practice", err, "magic")
}

// All that a workbook holds goes out as a data package and comes back to the same state, but for whose things are: who
// has the package sees them.
func TestThroughAPackage(t *testing.T) {
	b := whole(t, somewhere(t))
	defer b.Close()
	c := contents(t, b)
	p := sheet.Package{Input: c.Input}
	files, err := p.Files()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	in, err := sheet.Read(dir)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(c.Trials, in.Trials, cmpopts.EquateEmpty(), cmpopts.IgnoreTypes(note.Where{}),
		cmpopts.SortSlices(func(a, b trial.Reading) bool {
			return a.Unit+a.At.String() < b.Unit+b.At.String()
		})); d != "" {
		t.Error(d)
	}
	again := fresh(t)
	items := Items(in)
	for _, h := range c.Holds {
		items = append(items, Keep(h))
	}
	for _, x := range c.Crossed {
		items = append(items, Keep(x))
	}
	save(t, again, by("Bo", 0), items...)
	if got := contents(t, again); got.Sources[0].Digest != c.Sources[0].Digest {
		t.Errorf("the digest is %s, and was %s", got.Sources[0].Digest, c.Sources[0].Digest)
	}
}
