package book

import (
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"spile/internal/trade/bush"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/station"
)

func nan() float64 { return math.NaN() }

func practiceOf(key practice.Key) practice.Practice {
	return practice.Practice{Key: key, Name: "steam", Spout: practice.SpoutReused, Drops: practice.DropsKept,
		Wash: practice.WashNone}
}

// any value of a type, every field of it filled by reflection: a field that a body forgets comes back empty.
func anything[T any]() *rapid.Generator[T] {
	days := rapid.Map(rapid.IntRange(-1, 40000), func(n int) any {
		if n < 0 {
			return time.Time{}
		}
		return time.Date(1950, 1, 1+n, 0, 0, 0, 0, time.UTC)
	})
	return rapid.MakeCustom[T](rapid.MakeConfig{
		Types: map[reflect.Type]*rapid.Generator[any]{reflect.TypeFor[time.Time](): days},
		Kinds: map[reflect.Kind]*rapid.Generator[any]{
			reflect.Float64: rapid.Map(rapid.Float64(), func(x float64) any { return x })},
	})
}

func identity[T Thing](t *testing.T) {
	gen := anything[T]()
	rapid.Check(t, func(t *rapid.T) {
		x := gen.Draw(t, "thing")
		kind, key, body, at, err := encode(x)
		if err != nil {
			t.Fatal(err)
		}
		y, err := decode(kind, body, at)
		if err != nil {
			t.Fatalf("%v in %s", err, body)
		}
		if d := cmp.Diff(any(x), y, cmpopts.EquateEmpty()); d != "" {
			t.Fatal(d)
		}
		if k, key2, body2, at2, err := encodeAny(y); k != kind || key2 != key || body2 != body || at2 != at ||
			err != nil {
			t.Fatalf("written twice: %s and %s", body, body2)
		}
	})
}

func encodeAny(v any) (Kind, string, string, string, error) { return encode(v) }

func TestBodiesLoseNothing(t *testing.T) {
	t.Run("study", identity[evidence.Study])
	t.Run("prices", identity[price.Prices])
	t.Run("practice", identity[practice.Practice])
	t.Run("rule", identity[practice.Rule])
	t.Run("exclusion", identity[input.Exclusion])
	t.Run("station", identity[station.Hold])
	t.Run("sugarbush", identity[bush.Draft])
}

// A body is what a study says in the words of docs/data.md: names that stay.
func TestBodyOfAStudy(t *testing.T) {
	_, key, body, at, err := encode(study("Otter Hill 2019", 24.5))
	if err != nil {
		t.Fatal(err)
	}
	const want = `{"name":"Otter Hill 2019","site":"Otter Hill","season":2019,"kind":"replicated","unit":"chamber",` +
		`"caveats":["low-yield"],"source":"station bulletin 4","arms":[` +
		`{"practice":"unsanitized","reference":true,"mean":15,"mean_unit":"gal","n":6,"sd":2},` +
		`{"practice":"check-valve","mean":24.5,"mean_unit":"gal","n":6,"sd":2.5,"extra":{"colour of the tag":"blå"}}]}`
	const where = `{"at":{"file":"e.csv","row":2,"column":"study"},` +
		`"arms":[{"file":"e.csv","row":2},{"file":"e.csv","row":3}]}`
	if key != "Otter Hill 2019" || body != want || at != where {
		t.Errorf("%s\n%s\n%s", key, body, at)
	}
}
