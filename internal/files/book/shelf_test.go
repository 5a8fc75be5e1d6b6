package book

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// A shelf holds what a map of the same versions holds, in the same order, whatever is packed and open.
func TestShelf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s shelf
		last, first := map[string]*version{}, []string{}
		for n := range rapid.IntRange(0, 3*packed).Draw(t, "versions") {
			key := fmt.Sprint("k", n%max(1, rapid.IntRange(1, 300).Draw(t, "key")))
			v := &version{ref: ref{Reading, key}, change: int64(n)}
			if n%7 != 0 {
				body := fmt.Sprint("body ", n)
				v.body = &body
			}
			if last[key] == nil {
				first = append(first, key)
			}
			last[key] = v
			s.put(v)
			switch {
			case n%500 == 0:
				s.bundle.reads()
			case n%700 == 0 && s.bundle != nil:
				s.bundle.open.Store(nil)
			}
		}
		var got, want []string
		for _, v := range s.live() {
			got = append(got, v.key+*v.body)
		}
		for _, key := range first {
			if v := last[key]; v.body != nil {
				want = append(want, key+*v.body)
			}
			v := s.find(key)
			if v == nil || v.change != last[key].change || (v.body == nil) != (last[key].body == nil) {
				t.Fatalf("%s: %+v, wanted %+v", key, v, last[key])
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%v, wanted %v", got, want)
		}
	})
}

// readingsOf are readings of a season of a trial, as loggers and hands write them down.
func readingsOf(name string, units, days int) (list []*version) {
	r := rand.New(rand.NewPCG(1, uint64(len(name))))
	day := time.Date(2026, time.March, 1, 8, 0, 0, 0, time.UTC)
	for d := range days {
		for u := range units {
			x := trial.Reading{Unit: fmt.Sprintf("Block %d unit %d", u%4+1, u/4+1),
				At:     day.AddDate(0, 0, d).Add(time.Duration(r.IntN(600)) * time.Minute),
				Volume: new(unit.Volume(float64(r.IntN(6000)) / 10))}
			if u%3 == 0 {
				x.Brix = new(float64(15+r.IntN(15)) / 10)
			}
			x.Where.File, x.Where.Row = "readings.csv", d*units+u+2
			i := Keep(Log(name, 2026, x))
			list = append(list, &version{ref: i.ref, body: i.body, place: i.place, change: int64(d + 1)})
		}
	}
	return list
}

// Where they are packed, readings take no more than 24 bytes each: ten million 240 MB.
func TestShelfIsSmall(t *testing.T) {
	versions := readingsOf("Fen valves 2026", 40, 500)
	var s shelf
	for _, v := range versions {
		s.put(v)
	}
	bytes := 0
	for _, p := range s.bundle.packs {
		bytes += cap(p.data)
	}
	t.Logf("%d packs, %.1f bytes a reading", len(s.bundle.packs), float64(bytes)/float64(s.bundle.size))
	if bytes > 24*s.bundle.size {
		t.Errorf("%d bytes for %d readings", bytes, s.bundle.size)
	}
	began := time.Now()
	live := s.live()
	t.Logf("opened in %v a reading", time.Since(began)/time.Duration(len(live)))
	if !reflect.DeepEqual(*live[7].body, *versions[7].body) || *live[7].place != *versions[7].place {
		t.Errorf("%s, wanted %s", *live[7].body, *versions[7].body)
	}
	runtime.KeepAlive(live)
}
