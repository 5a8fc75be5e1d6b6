package sheet

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/trade/practice"
)

// A number written in any of the allowed ways reads as itself.
func TestNumberProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-most, most).Draw(t, "x")
		text := strconv.FormatFloat(x, rapid.SampledFrom([]byte("efg")).Draw(t, "form"), -1, 64)
		comma := rapid.Bool().Draw(t, "comma")
		if comma {
			text = strings.Replace(text, ".", ",", 1)
		}
		if got, _, ok := parse(text, comma); !ok || got != x {
			t.Fatalf("%s reads as %v, %v", text, got, ok)
		}
		for _, bad := range []string{text + "%", text + " gal", "1 " + text, text + "x", text + ",5,5"} {
			if got, _, ok := parse(bad, comma); ok {
				t.Fatalf("%q reads as %v", bad, got)
			}
		}
	})
}

// The order of columns changes neither the studies nor the digest; the order of a study's rows keeps its arms.
func TestOrderProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		rows := [][]string{{"study", "site", "season", "practice", "mean", "n", "sd", "mean_unit", "remark"}}
		keys := practice.Shipped().Keys()
		for s := range rapid.IntRange(1, 4).Draw(t, "studies") {
			for _, k := range keys[:2+r.IntN(4)] {
				rows = append(rows, []string{fmt.Sprint("S", s), "here", fmt.Sprint(2000 + s), string(k),
					fmt.Sprintf("%.2f", 5+20*r.Float64()), fmt.Sprint(1 + r.IntN(9)),
					fmt.Sprintf("%.2f", 0.1+r.Float64()), "l", "x"})
			}
		}
		text := func(columns []int) []byte {
			var b strings.Builder
			for _, row := range rows {
				for i, c := range columns {
					if i > 0 {
						b.WriteByte(',')
					}
					b.WriteString(row[c])
				}
				b.WriteByte('\n')
			}
			return []byte(b.String())
		}
		straight := make([]int, len(rows[0]))
		for i := range straight {
			straight[i] = i
		}
		one, _, err := Evidence("e.csv", text(straight), practice.Shipped(), nil)
		if err != nil {
			t.Fatal(err)
		}
		mixed := r.Perm(len(straight))
		two, _, err := Evidence("e.csv", text(mixed), practice.Shipped(), nil)
		if err != nil {
			t.Fatal(err)
		}
		if digestOf(string(text(straight))) != digestOf(string(text(mixed))) {
			t.Fatal("the order of columns changed the digest")
		}
		for i := range one {
			if one[i].Name != two[i].Name || len(one[i].Arms) != len(two[i].Arms) {
				t.Fatalf("the order of columns changed study %d", i)
			}
			for j := range one[i].Arms {
				a, b := one[i].Arms[j], two[i].Arms[j]
				if a.Practice != b.Practice || *a.Mean != *b.Mean || *a.SD != *b.SD || *a.N != *b.N ||
					math.IsNaN(*a.Mean) {
					t.Fatalf("the order of columns changed %+v to %+v", a, b)
				}
			}
		}
	})
}

// A number of a sugarbush is a number in a spreadsheet where every digit of it comes back, and else the text that it
// was.
func TestNumberOfProperty(t *testing.T) {
	for text, want := range map[string]any{"15": 15.0, "0.05": 0.05, "-2": -2.0, "007": "007", "1e3": "1e3",
		"5/16": "5/16", "1.50": "1.50", "": "", "NaN": "NaN", "1234567890123456": "1234567890123456"} {
		if got := numberOf(text); got != want {
			t.Errorf("%q is %v, want %v", text, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.SampledFrom([]rune("0123456789.-+eE x"))).Draw(t, "text")
		if got := written(numberOf(text)); got != text {
			t.Fatalf("%q comes back as %q", text, got)
		}
	})
}
