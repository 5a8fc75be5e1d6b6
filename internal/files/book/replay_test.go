package book

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/internal/note"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// Played again, a workbook ends as it is, from whatever change, in no more moments than are asked for where days can be
// put together, and each holds what it held when that change was the last.
func TestReplayProperty(t *testing.T) {
	outer := t
	rapid.Check(t, func(t *rapid.T) {
		b, err := Create(somewhere(outer))
		if err != nil {
			t.Fatal(err)
		}
		b.hurry()
		defer b.Close()
		digests := []string{mustDigest(t, b)}
		at := time.Date(2025, 3, 1, 9, 0, 0, 0, time.UTC)
		for i := range rapid.IntRange(1, 15).Draw(t, "changes") {
			at = at.Add(time.Duration(rapid.IntRange(0, 400).Draw(t, "hours")) * time.Hour)
			e := Edit{At: at, Who: "Ada", What: "x", Seen: Sight{Change: int64(i)}, Replace: true}
			s := study(fmt.Sprint("Study ", rapid.IntRange(0, 3).Draw(t, "study")), float64(20+i))
			if _, err := b.Save(e, Keep(s)); err != nil {
				t.Fatal(err)
			}
			digests = append(digests, mustDigest(t, b))
		}
		from := rapid.IntRange(0, len(digests)-1).Draw(t, "from")
		most := rapid.IntRange(3, 20).Draw(t, "most")
		count, last := 0, Moment{}
		for m, err := range b.Replay(int64(from), most) {
			if err != nil {
				t.Fatal(err)
			}
			if got := m.Sources[0].Digest; got != digests[m.Last.ID] {
				t.Fatalf("after change %d it held %s, and is played again as %s", m.Last.ID, digests[m.Last.ID], got)
			}
			if count > 0 && (len(m.Came) == 0 || len(m.Who) != 1) {
				t.Fatalf("of change %d nothing is said to have come, or of nobody: %+v", m.Last.ID, m)
			}
			count, last = count+1, m
		}
		if last.Left != 0 || last.Last.ID != int64(len(digests)-1) {
			t.Fatalf("it ends at change %d of %d, with %d left", last.Last.ID, len(digests)-1, last.Left)
		}
		if count > most+1 {
			t.Fatalf("%d moments, and %d were asked for", count, most) // all are of two years at the most
		}
	})
}

func mustDigest(t *rapid.T, b *Book) string {
	c, err := b.Contents()
	if err != nil {
		t.Fatal(err)
	}
	return c.Sources[0].Digest
}

// What came is said in a few words: what a trial is new with is not said again, readings one after the other are one
// moment, and what no answer rests on is none.
func TestWhatCame(t *testing.T) {
	b, err := Create(somewhere(t))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	days := 0
	keep := func(items ...Item) {
		t.Helper()
		days++
		e := Edit{At: time.Date(2025, 10, 30+days, 9, 0, 0, 0, time.UTC), Who: "Ada", What: "x",
			Seen: Sight{Change: b.now.head}, Replace: true}
		if _, err := b.Save(e, items...); err != nil {
			t.Fatal(err)
		}
	}
	own := ownTrial()
	reading := func(day int, x float64) Item {
		return Keep(Logged[trial.Reading]{own.Name, 2026, trial.Reading{Unit: "2", At: march(day, 0), Brix: &x}})
	}
	keep(Keep(study("A", 20)), Keep(study("B", 20))) // October 31
	keep(TrialItems(own)...)                         // November 1
	keep(reading(20, 2))                             // …
	keep(reading(21, 2), reading(20, 3))
	keep(Keep(input.Exclusion{Study: "B", Reason: "frozen"}))
	for i := range 6 {
		keep(Keep(study(fmt.Sprint("C", i), 20)))
	}
	keep(Remove(Excluded, "B"))

	since, err := b.Since("")
	if err != nil || since != 1 {
		t.Fatalf("the last winter began after change %d: %v", since, err)
	}
	var got []string
	for m, err := range b.Replay(since, 24) {
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, fmt.Sprintf("%d %s", m.Last.ID, strings.Join(english(m.Came), "; ")))
	}
	want := []string{"1 ", "2 new: the trial Own", "4 new: 2 readings (Own); changed: 1 reading (Own)",
		"5 left out: the study B", "6 new: the study C0", "7 new: the study C1", "8 new: the study C2",
		"9 new: the study C3", "10 new: the study C4", "11 new: the study C5", "12 counted again: the study B"}
	for i := range want {
		want[i] = strings.ReplaceAll(want[i], "Own", own.Name)
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}

	for text, want := range map[string]int64{"0": 0, "3": 3, "2025-10-31": 0, "2025-11-01": 1, "2025-11-04": 4,
		"2030-01-01": 12} {
		if got, err := b.Since(text); err != nil || got != want {
			t.Errorf("since %s is change %d, %v; want %d", text, got, err, want)
		}
	}
	for _, text := range []string{"13", "-1", "yesterday", "2025-13-01"} {
		if _, err := b.Since(text); err == nil || !strings.Contains(err.Error(), "allowed: a day") {
			t.Errorf("since %s: %v", text, err)
		}
	}
}

// Where another workbook is put in the place of one that is played again, that is said: what it holds is not told as
// what came to the first.
func TestReplayOfWhatIsReplaced(t *testing.T) {
	ofFiles(t)
	for others := range 4 { // fewer changes than were listed, or as many
		b, o := fresh(t), fresh(t)
		for i := range 4 {
			save(t, b, by("Ada", int64(i)), Keep(study(fmt.Sprint("A", i), 20)))
			if i <= others {
				save(t, o, by("Ada", int64(i)), Keep(study(fmt.Sprint("Z", i), 20)))
			}
		}
		o.Close()
		moments := 0
		var last error
		for m, err := range b.Replay(2, Moments) {
			if moments++; moments == 1 {
				if err := os.Rename(o.path, b.path); err != nil {
					t.Fatal(err)
				}
			} else if last = err; err == nil {
				t.Errorf("%d changes in the other: moment %d is told: %v", others+1, m.Last.ID, english(m.Came))
			}
		}
		refused(t, "what is replaced", last, "another workbook was put in this one's place")
	}
}

// english are notes in English, the notes in them too.
func english(list []note.Note) (texts []string) {
	for _, n := range list {
		args := slices.Clone(n.Args)
		for i, a := range args {
			if inner, is := a.(note.Note); is {
				args[i] = strings.ReplaceAll(english([]note.Note{inner})[0], "1 readings", "1 reading")
			}
		}
		texts = append(texts, fmt.Sprintf(n.Key, args...))
	}
	return texts
}

// Whatever is done one after the other, the workbook can be proved, is the same to who opens it anew, an undo brings
// back what was there, and the history has every change once.
func FuzzHistory(f *testing.F) {
	f.Add([]byte{0x10, 0x11, 0x21, 0x31, 0x40})
	f.Add([]byte{0x10, 0x20, 0x40, 0x40, 0x30, 0x40, 0x50, 0x11, 0x62})
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, steps []byte) {
		path := filepath.Join(dir, fmt.Sprint("h-", os.Getpid(), ".spile"))
		os.Remove(path)
		b, err := Create(path)
		if err != nil {
			t.Fatal(err)
		}
		defer func() { b.Close() }()
		b.db.Exec(`PRAGMA synchronous = OFF`) // to be done sooner
		before := map[int64]string{0: contents(t, b).Sources[0].Digest}
		for i, step := range steps[:min(len(steps), 24)] {
			head := b.now.head
			name, mean := fmt.Sprint("Study ", step&3), float64(10+step&15)
			e := Edit{At: day.AddDate(0, 0, i), Who: "Ada", What: "x", Seen: Sight{Change: head}, Replace: step&8 == 0}
			var err error
			switch step >> 4 {
			case 1, 2:
				_, err = b.Save(e, Keep(study(name, mean)))
			case 3:
				_, err = b.Save(e, Remove(Study, name))
			case 4, 5:
				was := head - int64(step&7)
				var s Saved
				if s, err = b.Undo(e, was); err == nil && s.Change > 0 && was == head &&
					contents(t, b).Sources[0].Digest != before[head-1] {
					t.Fatalf("undoing the last change, %d, does not bring back what was before", head)
				}
			case 6:
				_, err = b.Save(e, Keep(study(name, mean)), Keep(practiceOf(practice.Key(fmt.Sprint("steam-",
					step&3)))))
			case 7:
				b.Close()
				again, err := Open(path)
				if err != nil {
					t.Fatal(err) // and not by closing what is none, which loses the words
				}
				b = again
			default:
				e.Seen.Change = int64(step&15) - 4
				_, err = b.Save(e, Keep(study(name, mean)), Remove(Study, "Study 0"))
			}
			if err != nil && err.Error() == "" {
				t.Fatalf("no words: %T", err)
			}
			if now := contents(t, b); now.Change == head+1 {
				before[now.Change] = now.Sources[0].Digest
			} else if now.Change != head {
				t.Fatalf("one step went from change %d to %d", head, now.Change)
			}
		}
		all, err := b.History(0, math.MaxInt)
		if err != nil || int64(len(all)) != b.now.head {
			t.Fatalf("%d entries of %d changes: %v", len(all), b.now.head, err)
		}
		for m, err := range b.Replay(0, 30) {
			if err != nil || m.Sources[0].Digest != before[m.Last.ID] {
				t.Fatalf("played again, change %d gives something else: %v", m.Last.ID, err)
			}
		}
		if _, err := Check(path); err != nil {
			t.Fatal(err)
		}
	})
}
