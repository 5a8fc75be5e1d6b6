package say

import (
	"math"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/language"
	"pgregory.net/rapid"

	"spile/internal/note"
	"spile/internal/trade/unit"
)

func plain(s string) string { return strings.ReplaceAll(s, nbsp, " ") }

func TestText(t *testing.T) {
	v := In("en")
	for _, c := range []struct {
		key  string
		args []any
		want string
	}{
		{"net", nil, "net"},
		{"95 %% interval", nil, "95 % interval"},
		{"%s rests on %d studies", []any{note.Term("check-valve"), 12},
			"check-valve spout each season rests on 12 studies"},
		{"%d studies", []any{1}, "1 study"},
		{"%d studies", []any{0}, "0 studies"},
		{"%d studies", []any{2}, "2 studies"},
		{"every %d seasons", []any{1}, "every season"},
		{"every %d seasons", []any{3}, "every 3 seasons"},
		{"season %d", []any{2014}, "season 2014"},
		{"%s at %v", []any{"100% Hill", note.Percent(31.24)}, "100% Hill at 31 %"},
		{"gain %.1f", []any{note.Percent(-4.26)}, "gain −4.3 %"},
		{"mean %v, at least %.2f", []any{18.349, 0.5}, "mean 18.3, at least 0.50"},
		{"%.3g", []any{0.00012345}, "0.000123"},
		{"CV %v", []any{math.NaN()}, "CV –"},
		{"see %v", []any{[]note.Term{"shop", "tapping"}}, "see in the shop and tapping"},
		{"of: %v", []any{[]string{"a", "b", "c"}}, "of: a, b and c"},
		{"%q is not a number", []any{"12 %"}, `"12 %" is not a number`},
	} {
		if got := plain(v.Text(c.key, c.args...)); got != c.want {
			t.Errorf("Text(%q, %v) = %q, want %q", c.key, c.args, got, c.want)
		}
	}
}

func TestTermOfTheUserStandsAsTyped(t *testing.T) {
	if got := In("en").Term("ozone 5 % flush"); got != "ozone 5 % flush" {
		t.Errorf("got %q", got)
	}
}

// What a person wrote stands in the quotes of the language.
func TestWhatWasTypedStandsInQuotes(t *testing.T) {
	n := note.New("%s is not a number; allowed: a plain number such as 18.5", note.Quote("x"))
	for lang, want := range map[string]string{
		"en": `"x" is not a number; allowed: a plain number such as 18.5`,
		"fr": "«\u00a0x\u00a0» n’est pas un nombre; admis\u00a0: un nombre simple comme 18",
	} {
		if got := In(lang).Note(n); got != want {
			t.Errorf("%s: %q, want %q", lang, got, want)
		}
	}
}

func TestNoteSaysWhereFirst(t *testing.T) {
	n := note.New("%q is not a number; allowed: 1.5", "much").
		At(note.Where{File: "evidence.csv", Row: 3, Column: "mean"})
	if got, want := In("en").Note(n),
		`evidence.csv, row 3, column mean: "much" is not a number; allowed: 1.5`; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestWhere(t *testing.T) {
	v := In("en")
	for want, w := range map[string]note.Where{
		"":                              {},
		"prices.toml, row 4, key wage":  {File: "prices.toml", Row: 4, Column: "wage"},
		"table.xlsx, sheet 2019, row 7": {File: "table.xlsx", Sheet: "2019", Row: 7},
		"evidence.csv, column drop_age": {File: "evidence.csv", Column: "drop_age"},
	} {
		if got := v.Where(w); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestPseudoLanguageMarksEveryMessage(t *testing.T) {
	v := In(Pseudo)
	for got, want := range map[string]string{
		v.Text("net"):             "⟦net⟧",
		v.Text("%d studies", 1):   "⟦1 study⟧",
		v.Term("unsanitized"):     "⟦unsanitized⟧",
		plain(v.Percent(31)):      "31 %",
		v.Money(1.2, "USD"):       "$1.20",
		plain(v.Volume(37.85)):    "⟦10.0 gal⟧",
		v.Note(note.New("empty")): "⟦empty⟧",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestNumbers(t *testing.T) {
	v := In("en")
	for got, want := range map[string]string{
		v.Number(18.349):                "18.3",
		v.Number(2):                     "2",
		v.Number(0.04321):               "0.0432",
		v.Number(1234567):               "1,234,567",
		v.Decimal(-0.001, 2):            "0.00",
		v.Decimal(-1.25, 2):             "−1.25",
		v.Decimal(math.Inf(1), 1):       "–",
		v.Percent(4.26):                 "4.3 %",
		v.Percent(9.96):                 "10 %",
		v.Percent(-31.6):                "−32 %",
		v.PercentRange(-4.1, 22.5):      "−4 to 22 %",
		v.PercentRange(1.24, 8.9):       "1.2 to 8.9 %",
		v.PercentRange(math.NaN(), 8):   "–",
		v.Range(0.5, 1, 2):              "0.50 to 1.00",
		v.P(0.0321):                     "0.032",
		v.P(0.00001):                    "< 0.001",
		v.PIs(0.0321):                   "p = 0.032",
		v.PIs(0.00001):                  "p < 0.001",
		v.Money(1.239, "USD"):           "$1.24",
		v.Money(-0.314, "CAD"):          "−CA$0.31",
		v.Money(-0.004, "USD"):          "$0.00",
		v.Money(1234.5, "SEK"):          "SEK 1,234.50",
		v.MoneyRange(-0.1, 0.34, "USD"): "−$0.10 to $0.34",
		v.Minutes(0.44):                 "0.4 min",
		v.Grams(12.4):                   "12 g",
		v.Year(2014):                    "2014",
		v.Count(10000):                  "10,000",
		v.List([]string{"a", "b"}):      "a and b",
		v.List(nil):                     "",
		v.Mass(97522):                   "215,000 lb",
		v.Mass(0.9072):                  "2.0 lb",
		v.PerMass(4.85, "USD"):          "$2.20 a lb",
		v.PerVolume(1, "USD"):           "$3.79 a gal",
		v.Date(time.Date(2025, 3, 5, 0, 0, 0, 0, time.UTC)): "March 5, 2025",
	} {
		if plain(got) != want {
			t.Errorf("got %q, want %q", plain(got), want)
		}
	}
}

// The conversions are those of package unit; NIST Special Publication 811, appendix B.8: 1 US gallon is 3.785412 L,
// 1 inHg is 3.386389 kPa.
func TestUnitsOfTheReader(t *testing.T) {
	us, metric := In("en"), In("en").With(Metric)
	for got, want := range map[string]string{
		us.Volume(unit.Volume(37.85412)):        "10.0 gal",
		metric.Volume(unit.Volume(37.85412)):    "37.9 L",
		us.Vacuum(unit.Pressure(81.273336)):     "24.0 inHg",
		metric.Vacuum(unit.Pressure(81.273336)): "81 kPa",
		us.VolumeUnit():                         "gal",
		metric.VolumeUnit():                     "L",
	} {
		if plain(got) != want {
			t.Errorf("got %q, want %q", plain(got), want)
		}
	}
	for lang, want := range map[string]Units{"en": US, "en-US": US, "en-CA": Metric, "en-GB": Metric, Pseudo: US} {
		if got := In(lang).Units(); got != want {
			t.Errorf("%s speaks in %s, want %s", lang, got, want)
		}
	}
}

// Numbers follow the Unicode Common Locale Data Repository, as golang.org/x/text has it: a decimal comma and a space
// between thousands in French. No French catalogue is needed to see that the voice asks it.
func TestNumbersFollowTheLanguage(t *testing.T) {
	v := speak("fr", language.CanadianFrench, nil)
	if got := strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(v.Text("%.2f", 1234.5)); got != "1 234,50" {
		t.Errorf("got %q", got)
	}
	if got := plain(v.Money(-1.5, "CAD")); got != "−1,50 $" {
		t.Errorf("got %q", got)
	}
}

// A catalogue's entry for one language in another's order of words, and with its plurals.
func TestCatalogue(t *testing.T) {
	v := speak("fr", language.CanadianFrench, newCatalogue("fr", `{
		"%s of %s": "%[2]s's %[1]s",
		"%d \"new\": %s": "\"%[2]s\" : %[1]d",
		"%d studies": {"one": "%d étude", "many": "%d d’études", "other": "%d études"}
	}`))
	for got, want := range map[string]string{
		v.Text("%s of %s", "gain", "drop"):    "drop's gain",
		plain(v.Text(`%d "new": %s`, 2, "x")): `"x" : 2`,
		v.Text("%d studies", 0):               "0 étude", // French counts nought as one (CLDR plural rules)
		v.Text("%d studies", 2):               "2 études",
		plain(v.Text("%d studies", 1000000)):  "1 000 000 d’études",
		v.Text("not there"):                   "not there",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestLanguages(t *testing.T) {
	if !Known("en") || !Known("en-CA") || Known("xx") || Known("not a tag") {
		t.Error("Known is wrong")
	}
	if got := In("xx").Text("net"); got != "net" {
		t.Errorf("an unknown language says %q", got)
	}
	if Languages()[0] != "en" {
		t.Error("English is not first")
	}
}

func TestDecimalNeverShowsMinusZeroNorAHyphen(t *testing.T) {
	v := In("en")
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-1e6, 1e6).Draw(t, "x")
		d := rapid.IntRange(0, 4).Draw(t, "digits")
		got := v.Decimal(x, d)
		if strings.Contains(got, "-") || (strings.HasPrefix(got, "−") && strings.Trim(got, "−0.") == "") {
			t.Fatalf("Decimal(%v, %d) = %q", x, d, got)
		}
	})
}

// Sums of many taps are told in three digits: nobody knows them closer.
func TestSum(t *testing.T) {
	for _, c := range []struct {
		amount float64
		want   string
	}{
		{164052.12, "$164,000"}, {1001298, "$1,000,000"}, {935.4, "$935"}, {-2177, "−$2,180"}, {92.17, "$92"},
		{9.994, "$9.99"}, {9.996, "$10"}, {0, "$0"}, {math.Inf(1), "–"},
	} {
		if got := In("en-US").Sum(c.amount, "USD"); got != c.want {
			t.Errorf("%v: %s, want %s", c.amount, got, c.want)
		}
	}
}

// De and que lose their e before a vowel; a code and a word with an h keep it whole.
func TestFrenchElidesBeforeAnArgument(t *testing.T) {
	v := In("fr")
	for _, c := range []struct {
		key  string
		args []any
		want string
	}{
		{"take away the reading of %s", []any{"Aldervale"}, "retirer le relevé d’Aldervale"},
		{"take away the reading of %s", []any{"Écluse"}, "retirer le relevé d’Écluse"},
		{"take away the reading of %s", []any{"Fen"}, "retirer le relevé de Fen"},
		{"take away the reading of %s", []any{"A1"}, "retirer le relevé de A1"},
		{"take away the reading of %s", []any{"Harrow"}, "retirer le relevé de Harrow"},
		{"kept as change %d of %s, by %s", []any{3, "own.spile", "Ada"},
			"conservé comme changement 3 d’own.spile, par Ada"},
		{"the arm %s of %s has neither a mean nor a gain", []any{note.Term("new-drop"), "Otter Hill"},
			"le traitement chute neuve d’Otter Hill n’a ni moyenne ni gain"},
		{"In about %d of 100 cases it nets less than %s.", []any{4, note.Term("as last season")},
			"Environ 4 fois sur 100, il rapporte moins que comme la saison passée."},
	} {
		if got := v.Text(c.key, c.args...); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
