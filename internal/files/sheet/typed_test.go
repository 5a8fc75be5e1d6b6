package sheet

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

func TestTypedTextIsChangedInPlace(t *testing.T) {
	number := func(key string, v price.Value) setting {
		return setting{key: strings.Split(key, "."), value: v, named: strings.HasPrefix(key, "use.")}
	}
	one := func(x float64) price.Value { return price.Value{Best: x} }
	low := func(x, low float64) price.Value { return price.Value{Best: x, Low: &low} }
	for name, c := range map[string]struct {
		text     string
		was, now []setting
		want     string
	}{
		"a number": {"a = 1\nwage = 18.50   # an hour\r\nb = 2", []setting{number("wage", one(18.5))},
			[]setting{number("wage", one(19))}, "a = 1\nwage = 19   # an hour\r\nb = 2"},
		"a best guess in an inline table": {"wage = { low = 16.00, best = 18 } # x\n",
			[]setting{number("wage", low(18, 16))}, []setting{number("wage", low(20, 16))},
			"wage = { low = 16.00, best = 20 } # x\n"},
		"a low that was not there": {"wage = { best = 18 }\n", []setting{number("wage", one(18))},
			[]setting{number("wage", low(18, 16))}, "wage = { best = 18, low = 16 }\n"},
		"a low that goes": {"wage = { low = 16, best = 18 }\n", []setting{number("wage", low(18, 16))},
			[]setting{number("wage", one(18))}, "wage = { best = 18 }\n"},
		"a low beside a number": {"wage = 18 # x\n", []setting{number("wage", one(18))},
			[]setting{number("wage", low(18, 16))}, "wage = { best = 18, low = 16 } # x\n"},
		"a table of its own": {"[wage] # of the crew\n  best = 18\n\n[units]\nsap = \"l\"\n",
			[]setting{number("wage", one(18))}, []setting{number("wage", low(18, 16))},
			"[wage] # of the crew\n  best = 18\n  low = 16\n\n[units]\nsap = \"l\"\n"},
		"beside its like": {"[use.a]\nminutes.tapping = 1\nrepairs = 2\n",
			[]setting{number("use.a.minutes.tapping", one(1))},
			[]setting{number("use.a.minutes.tapping", one(1)), number("use.a.minutes.shop", one(3))},
			"[use.a]\nminutes.tapping = 1\nminutes.shop = 3\nrepairs = 2\n"},
		"a table that is not there": {"wage = 18", nil, []setting{number("use.a.repairs", one(3))},
			"wage = 18\n\n[use.a]\nrepairs = 3\n"},
		"the root above tables": {"# mine\n\n[units]\nsap = \"l\"\n", nil, []setting{number("wage", one(18))},
			"# mine\n\nwage = 18\n\n[units]\nsap = \"l\"\n"},
		"a line that goes": {"wage = 18 # x\nhauling = 2\n", []setting{number("wage", one(18))}, nil, "hauling = 2\n"},
		"a table that goes": {"wage = 18\n\n[use.a]\nrepairs = 3\n\n[use.b]\nrepairs = 3\n",
			[]setting{number("use.a.repairs", one(3)), number("use.b.repairs", one(3)), number("use.a", one(0))},
			[]setting{number("use.b.repairs", one(3))}, "wage = 18\n\n[use.b]\nrepairs = 3\n"},
		"one of several inline": {"material = { a = { price = 1 }, b = { price = 2 } }\n",
			[]setting{number("material.a.price", one(1)), number("material.b.price", one(2))},
			[]setting{number("material.b.price", one(2))}, "material = { b = { price = 2 } }\n"},
		"behind the mark of Windows": {bom + "wage = 18\r\n", []setting{number("wage", one(18))},
			[]setting{number("wage", one(19)), number("hauling", one(1))}, bom + "wage = 19\r\nhauling = 1\r\n"},
	} {
		if got := retyped(c.text, c.was, c.now); got != c.want {
			t.Errorf("%s:\n%q, want\n%q", name, got, c.want)
		}
	}
}

// Whatever changes in prices, the text then says it, and every line that speaks of something else is there as it was.
func TestRetypedPrices(t *testing.T) {
	text := demoFile(t, "prices.toml")
	rapid.Check(t, func(t *rapid.T) {
		was, _, err := Prices("p.toml", text, practice.Shipped())
		if err != nil {
			t.Fatal(err)
		}
		now := was.Clone()
		changed := map[string]bool{}
		slots := now.Slots()
		for range rapid.IntRange(1, 6).Draw(t, "changes") {
			s := rapid.SampledFrom(slots).Draw(t, "slot")
			v := s.Value()
			if v == nil || *v == (price.Value{}) {
				continue
			}
			changed[s.Key] = true
			x := math.Round(v.Best*rapid.Float64Range(1, 1.02).Draw(t, "by")*1e6) / 1e6
			next := price.Value{Best: x}
			next.Source = rapid.SampledFrom([]string{"", "asked \"her\" # twice"}).Draw(t, "source")
			if rapid.Bool().Draw(t, "low") {
				next.Low = new(x / 2)
			}
			if s.Bounds.Has(x) && s.Bounds.Has(x/2) {
				s.Put(next)
			}
		}
		if len(now.Uses) > 1 && rapid.Bool().Draw(t, "a practice goes") {
			changed["use."+string(now.Uses[0].Practice)] = true
			now.Uses = now.Uses[1:]
		}
		out := Retyped(*was, *now)
		back, _, err := Prices("p.toml", out, practice.Shipped())
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		if d := cmp.Diff(now.Said(), back.Said(), cmpopts.EquateApprox(1e-14, 0), cmpopts.EquateEmpty()); d != "" {
			t.Fatalf("%s\n%s", d, out)
		}
		lines := strings.SplitAfter(string(out), "\n")
		at := ""
		for line := range strings.Lines(string(text)) {
			if table, ok := strings.CutPrefix(strings.TrimSpace(line), "["); ok {
				at, _, _ = strings.Cut(table, "]")
				at += "."
			}
			name, _, _ := strings.Cut(line, " = ")
			touched := false
			for key := range changed {
				touched = touched || strings.HasPrefix(key, at+strings.TrimSpace(name)) ||
					strings.HasPrefix(at, key+".")
			}
			if !touched && strings.TrimSpace(line) != "" && !slices.Contains(lines, line) {
				t.Fatalf("the line %q is gone:\n%s", line, out)
			}
		}
	})
}

// A sugarbush that is changed in a form keeps its comments and layout.
func TestRetypedSugarbush(t *testing.T) {
	for _, name := range []string{"sugarbush-organic.toml", "sugarbush-quebec.toml"} {
		text := demoFile(t, name)
		was, err := SugarbushDraft(name, text)
		if err != nil {
			t.Fatal(err)
		}
		if got := RetypedSugarbush(was, was); got != string(text) {
			t.Errorf("%s: nothing was changed, and another text:\n%s", name, got)
		}
		now := was
		now.Keys = slices.Clone(was.Keys)
		for i, e := range now.Keys {
			switch e.Key {
			case "spare":
				now.Keys[i].Value = "0.12"
			case "organic":
				now.Keys[i].Value = "yes"
			}
		}
		want := strings.NewReplacer("spare = 0.05", "spare = 0.12", "spare = 0.03", "spare = 0.12").
			Replace(string(text))
		if got := RetypedSugarbush(was, now); got != want {
			t.Errorf("%s:\n%s", name, cmp.Diff(want, got))
		}
	}
}
