package book

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"testing"
	"time"

	"spile/internal/trade/evidence"
	"spile/internal/trade/trial"
)

// What was read stays in the database: neither the front page, which asks for the latest changes, nor a page of the
// history holds on to it. Of a change of very many readings so many are listed, and the rest are counted.
func TestHistoryIsSmall(t *testing.T) {
	b := fresh(t)
	own := ownTrial()
	save(t, b, by("Ada", 0), TrialItems(own)...)
	const changes, each = 3, readingsTold + 50
	for n := range changes {
		items := make([]Item, each)
		for i := range items {
			items[i] = Keep(Log(own.Name, 2026, trial.Reading{Unit: "2", At: march(1+n, 0).AddDate(0, 0, -100),
				Brix: new(2.0)}))
			items[i].key = keyOf(own.Name, "2", fmt.Sprint("2026-01-01 ", n, " ", i))
		}
		versions := make([]*version, each)
		for i, x := range items {
			versions[i] = &version{ref: x.ref, body: x.body}
		}
		b.mu.Lock()
		tx := must(b.begin())
		if err := b.add(tx, []written{{by("Ada", 0).change(), versions}}); err != nil {
			t.Fatal(err)
		}
		b.mu.Unlock()
	}
	heap := func() uint64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.GC()
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	before := heap()
	latest := must(b.Latest(0, 4))
	if held := (int64(heap()) - int64(before)) / (changes * each); held > 10 {
		t.Errorf("the latest changes hold %d bytes of every reading", held)
	}
	if len(latest) != 4 || latest[0].ID != changes+1 || latest[0].What == "" || latest[0].Steps != nil {
		t.Errorf("%+v", latest)
	}
	shown := must(b.History(0, 100))
	if len(shown) != 2 || len(shown[1].Steps) != readingsTold || shown[1].Beyond != [3]int{50, 0, 0} {
		t.Errorf("%d changes, the last with %d and %v", len(shown), len(shown[1].Steps), shown[1].Beyond)
	}
	rest := must(b.History(shown[1].ID, math.MaxInt))
	if len(rest) != 2 || rest[1].ID != 1 || rest[0].Beyond[0] != 50 {
		t.Errorf("%+v", rest)
	}
}

// A part says whether others lie behind it, of those that are seen; what goes through all of them holds on to none.
func TestPartsOfAHistory(t *testing.T) {
	b := fresh(t)
	now := func() time.Time { return day }
	north, south := b.For("North", now), b.For("South", now)
	for i := range 6 { // of North the first three and the fifth
		whose := north
		if i == 3 || i == 5 {
			whose = south
		}
		save(t, whose, by("Ada", int64(i)), Keep(study(fmt.Sprint("A", i), 20)))
	}
	for _, c := range []struct {
		of     *Book
		before int64
		most   int
		ids    string
		older  bool
	}{
		{b, 0, 100, "[6 5 4 3 2 1]", false}, {b, 0, 2, "[6 5]", true}, {b, 3, 2, "[2 1]", false},
		{b, 4, 2, "[3 2]", true},
		{south, 0, 1, "[6]", true}, {south, 6, 1, "[4]", false}, {south, 4, 1, "[]", false}, {south, 7, 1, "[6]", true},
		{north, 5, 2, "[3 2]", true}, {north, 0, math.MaxInt, "[5 3 2 1]", false}, {b, 2, 1, "[1]", false},
	} {
		for _, list := range [][]Entry{must(c.of.Latest(c.before, c.most)), must(c.of.History(c.before, c.most))} {
			ids := []int64{}
			for _, e := range list {
				ids = append(ids, e.ID)
			}
			n := len(list) - 1
			if fmt.Sprint(ids) != c.ids || n >= 0 && list[n].Older != c.older || n > 0 && !list[0].Older {
				t.Errorf("%d before %d: %v", c.most, c.before, ids)
			}
		}
	}
	for _, of := range []*Book{b, north, south} {
		parts := 0
		of.log.Range(func(_, x any) bool {
			parts++
			if h := x.(*history); h.most > 100 {
				t.Errorf("%d of %d changes are held", len(h.list), h.most)
			}
			return true
		})
		if parts > 8 {
			t.Errorf("%d parts are held", parts)
		}
	}
}

// Several may read the values of one entry at once: they share it, so that nothing is kept in it.
func TestEntriesAreShared(t *testing.T) {
	b := fresh(t)
	save(t, b, by("Ada", 0), Keep(study("A", 20)))
	shown := must(b.History(0, 100))
	var readers sync.WaitGroup
	for range 2 {
		readers.Go(func() {
			if _, after, err := shown[0].Steps[0].Values(); err != nil || after.(evidence.Study).Name != "A" {
				t.Errorf("%v, %v", after, err)
			}
		})
	}
	readers.Wait()
	if v := shown[0].Steps[0].after; v.value != nil {
		t.Error("reading an entry changes it")
	}
}
