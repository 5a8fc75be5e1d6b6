package practice

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/note"
	"spile/internal/trade/place"
)

func TestShippedRules(t *testing.T) {
	set := Shipped()
	of := func(k Key) Practice {
		p, ok := set.Find(k)
		if !ok {
			t.Fatalf("no practice %s", k)
		}
		return p
	}
	tests := []struct {
		name string
		Case
		want   Verdict
		reason string
	}{
		{"alcohol in the United States", Case{Practice: of(AlcoholFlush), Place: "US-VT"}, HeldBack, "United States"},
		{"alcohol in the United States, labelled", Case{Practice: of(AlcoholFlush), Place: "US", Labelled: true},
			HeldBack, "United States"},
		{"alcohol in Québec without a label for tubing", Case{Practice: of(AlcoholFlush), Place: "CA-QC"}, HeldBack,
			"label"},
		{"alcohol in Québec with one", Case{Practice: of(AlcoholFlush), Place: "CA-QC", Labelled: true}, Permitted,
			"label"},
		{"alcohol at a place that no rule knows", Case{Practice: of(AlcoholFlush), Place: "JP-01", Labelled: true},
			HeldBack, "no rule"},
		{"chlorine without a label for tubing", Case{Practice: of(ChlorineRinse), Place: "US-VT"}, HeldBack, "label"},
		{"chlorine with one", Case{Practice: of(ChlorineRinse), Place: "US-VT", Labelled: true}, Permitted, "label"},
		{"peroxide without", Case{Practice: of(PeroxideRinse), Place: "CA-QC"}, HeldBack, "label"},
		{"peroxide with", Case{Practice: of(PeroxideRinse), Place: "CA-QC", Labelled: true}, Permitted, "label"},
		{"silver", Case{Practice: of(SilverSpout), Place: "US-VT"}, Permitted, ""},
		{"silver under a certificate", Case{Practice: of(SilverSpout), Place: "US-VT", Organic: true}, HeldBack,
			"certif"},
		{"paraformaldehyde", Case{Practice: of(NewSpout), Place: "US-VT", Product: "Paraformaldehyde pellets"}, Never,
			"never"},
		{"paraformaldehyde years later",
			Case{Practice: of(NewSpout), Place: "US-VT", Product: "paraformaldehyde", AsOf: "2040-01-01"}, Never,
			"never"},
		{"chlorine nowhere", Case{Practice: of(ChlorineRinse), Labelled: true}, HeldBack, "place is not known"},
		{"new spout nowhere", Case{Practice: of(NewSpout)}, Permitted, ""},
		{"check valve", Case{Practice: of(CheckValve), Place: "US-VT", Organic: true}, Permitted, ""},
		{"labelled chlorine on the last day",
			Case{Practice: of(ChlorineRinse), Place: "US-VT", Labelled: true, AsOf: "2027-09-30"}, Permitted, "label"},
		{"labelled chlorine after 12 months",
			Case{Practice: of(ChlorineRinse), Place: "US-VT", Labelled: true, AsOf: "2027-10-01"}, HeldBack,
			"to be confirmed"},
		{"a day that is no date", Case{Practice: of(ChlorineRinse), Place: "US-VT", Labelled: true, AsOf: "soon"},
			HeldBack, "to be confirmed"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if tt.AsOf == "" {
				tt.AsOf = "2026-11-01"
			}
			got, reasons := Permission(ShippedRules(), tt.Case)
			if got != tt.want {
				t.Fatalf("got %s %v, want %s", got, words(reasons), tt.want)
			}
			if (tt.reason == "") != (len(reasons) == 0) || !strings.Contains(words(reasons), tt.reason) {
				t.Errorf("reasons %q, want %q", words(reasons), tt.reason)
			}
		})
	}
	for _, p := range set {
		if verdict, _ := Permission(ShippedRules(),
			Case{Practice: p, AsOf: "2026-11-01", Labelled: true}); p.Chemical() && verdict != HeldBack {
			t.Errorf("%s is not held back at an unknown place", p.Key)
		}
	}
}

func TestWithShipped(t *testing.T) {
	shipped := ShippedRules()
	if got := WithShipped(nil); len(got) != len(shipped) {
		t.Errorf("without rules of one's own: %d rules, shipped are %d", len(got), len(shipped))
	}
	alcohol, _ := Shipped().Find(AlcoholFlush)
	ask := Case{Practice: alcohol, Place: "US-VT", Labelled: true, AsOf: "2030-01-01"}
	for _, tt := range []struct {
		name string
		own  Rule
		more int
		want Verdict
	}{
		{"the same case, decided otherwise and checked anew",
			Rule{Wash: WashAlcohol, Place: "US", Verdict: Permitted, Reason: "a label names it", Checked: "2029-06-01"},
			0, Permitted},
		{"a case of its own beside a stricter one",
			Rule{Wash: WashAlcohol, Place: "US-VT", Verdict: Permitted, Reason: "a label names it",
				Checked: "2029-06-01"}, 1, HeldBack},
	} {
		rules := WithShipped([]Rule{tt.own})
		if len(rules) != len(shipped)+tt.more {
			t.Errorf("%s: %d rules", tt.name, len(rules))
		}
		if got, why := Permission(rules, ask); got != tt.want {
			t.Errorf("%s: %s %v", tt.name, got, words(why))
		}
	}
}

// The case that a rule decides is named by what it speaks of, and by nothing else.
func TestCases(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range ShippedRules() {
		k := r.Case()
		if seen[k] || k == "" {
			t.Errorf("%q stands for two rules", k)
		}
		seen[k] = true
		r.Verdict, r.Reason, r.Checked = Never, "another", "2030-01-01"
		if r.Case() != k {
			t.Errorf("%q is not the case alone", k)
		}
		if len(WithShipped([]Rule{r})) != len(ShippedRules()) {
			t.Errorf("%q: a rule for the same case does not take its place", k)
		}
	}
}

func TestPlaces(t *testing.T) {
	for _, tt := range []struct {
		place, of string
		want      bool
	}{{"US-VT", "US", true}, {"US", "US-VT", false}, {"US-VT", "US-VT", true}, {"USA", "US", false}, {"", "US", false},
		{"", place.Unknown, true}, {"CA-QC", place.Unknown, false}, {"", "", true}} {
		if got := (Rule{Place: tt.of}).covers(tt.place); got != tt.want {
			t.Errorf("%q within %q: %v", tt.place, tt.of, got)
		}
	}
}

// Another rule never makes a verdict milder, save that a chemical needs one that says yes; and their order says
// nothing.
func TestMostSevereWins(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rule := rapid.Custom(func(t *rapid.T) Rule {
			return Rule{
				Wash:    rapid.SampledFrom([]Wash{"", WashNone, WashChlorine}).Draw(t, "wash"),
				Place:   rapid.SampledFrom([]string{"", "US", "US-VT", "CA", place.Unknown}).Draw(t, "place"),
				Verdict: rapid.SampledFrom([]Verdict{Permitted, HeldBack, Never}).Draw(t, "verdict"),
				Checked: rapid.SampledFrom([]string{"2026-01-01", "2020-01-01"}).Draw(t, "checked"),
				Reason:  "a reason",
			}
		})
		rules := rapid.SliceOfN(rule, 1, 6).Draw(t, "rules")
		c := Case{
			Practice: rapid.SampledFrom(Shipped()).Draw(t, "practice"),
			Place:    rapid.SampledFrom([]string{"", "US-VT", "CA-QC"}).Draw(t, "of"), AsOf: "2026-11-01",
		}
		all, _ := Permission(rules, c)
		for i, r := range rules {
			if !r.applies(c) {
				continue
			}
			one, _ := Permission(rules[i:i+1], c)
			if severity(one) > severity(all) {
				t.Fatalf("rule %+v alone says %s, all say %s", r, one, all)
			}
		}
		slices.Reverse(rules)
		if back, _ := Permission(rules, c); back != all {
			t.Fatalf("%s one way, %s the other", all, back)
		}
	})
}

// The cautions that no chemical may go without (common practice, no source).
func TestCautions(t *testing.T) {
	must := map[Key][]string{
		AlcoholFlush: {"vapour burns", "vacuum pump", "never mix", "gloves", "discard the first run", "label is law",
			"authorities"},
		ChlorineRinse: {"never mix", "membranes", "releasers", "squirrels", "neighbours", "gloves",
			"discard the first run", "label is law", "authorities"},
		PeroxideRinse: {"gloves", "eye", "discard the first run", "label is law", "authorities"},
		SilverSpout:   {"authorities"},
	}
	for _, p := range Shipped() {
		got := words(Cautions(p))
		for _, word := range must[p.Key] {
			if !strings.Contains(got, word) {
				t.Errorf("%s: no caution says %q", p.Key, word)
			}
		}
		if p.Chemical() && must[p.Key] == nil {
			t.Errorf("%s: a chemical without checked cautions", p.Key)
		}
	}
	if got := Cautions(Shipped()[0]); len(got) != 0 {
		t.Errorf("cautions for doing nothing: %v", words(got))
	}
}

func TestCombines(t *testing.T) {
	set := Shipped()
	var pairs []string
	for _, a := range set {
		for _, b := range set {
			if Combines(a, b) {
				pairs = append(pairs, string(a.Key)+"+"+string(b.Key))
			}
		}
	}
	if want := []string{"new-drop+check-valve", "new-drop+silver-spout"}; !slices.Equal(pairs, want) {
		t.Errorf("got %v, want %v", pairs, want)
	}
}

func words(notes note.List) string {
	var list []string
	for _, n := range notes {
		list = append(list, n.English())
	}
	return strings.Join(list, "; ")
}
