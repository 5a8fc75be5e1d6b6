package say

import (
	"strings"
	"testing"
	"time"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

// Values of the Unicode Common Locale Data Repository, version 48, as JSON (cldr-json 48): currency patterns of
// cldr-numbers-full/main/{fr-CA,en,en-CA}/numbers.json ("#,##0.00 ¤", "¤#,##0.00"), signs of currencies.json there,
// date patterns of cldr-dates-full/main/{fr-CA,en,en-CA}/ca-gregorian.json (long: "d MMMM y", "MMMM d, y"; MMMMd: "d
// MMMM", "MMMM d"). Spaces in the French ones are U+00A0. Another reader of the same data, ICU in Chromium 156
// (Intl.NumberFormat, Intl.DateTimeFormat), gives these texts. Ours has a true minus, and a percent sign a space off in
// English as well.
func TestMoneyAndDatesAreCLDRs(t *testing.T) {
	day := time.Date(2025, 3, 5, 0, 0, 0, 0, time.UTC)
	for lang, want := range map[string]map[string]string{
		"fr-CA": {
			"CAD": "−1 234,50 $", "USD": "−1 234,50 $ US", "EUR": "−1 234,50 €", "GBP": "−1 234,50 £",
			"SEK":  "−1 234,50 SEK",
			"date": "5 mars 2025", "day": "5 mars", "percent": "31 %",
		},
		"en-US": {
			"CAD": "−CA$1,234.50", "USD": "−$1,234.50", "EUR": "−€1,234.50", "GBP": "−£1,234.50",
			"SEK":  "−SEK 1,234.50",
			"date": "March 5, 2025", "day": "March 5",
		},
		"en-CA": {
			"CAD": "−$1,234.50", "USD": "−US$1,234.50", "EUR": "−€1,234.50", "GBP": "−£1,234.50",
			"SEK":  "−SEK 1,234.50",
			"date": "March 5, 2025", "day": "March 5",
		},
	} {
		v := In(lang)
		for what, want := range want {
			got := ""
			switch what {
			case "date":
				got = v.Date(day)
			case "day":
				got = v.DayOf(day)
			case "percent":
				got = v.Percent(31)
			default:
				got = v.Money(-1234.5, what)
			}
			if what != "date" && what != "day" { // what belongs to a number is not torn from it
				want = strings.ReplaceAll(want, " ", nbsp)
			}
			if got != want {
				t.Errorf("%s, %s: %q, want %q", lang, what, got, want)
			}
		}
	}
}

// The months of cldr-dates-full/main/fr-CA/ca-gregorian.json, months, format, wide (CLDR 48). The first of a month is
// written 1ᵉʳ, as in Québec (common practice, no source), where CLDR's pattern has the bare number.
func TestMonthsOfTheYearInFrench(t *testing.T) {
	months := strings.Fields("janvier février mars avril mai juin juillet août septembre octobre novembre décembre")
	for i, want := range months {
		day := time.Date(2025, time.Month(i+1), 1, 0, 0, 0, 0, time.UTC)
		if got := In("fr").DayOf(day); got != "1ᵉʳ "+want {
			t.Errorf("got %q, want %q", got, "1ᵉʳ "+want)
		}
	}
}

// Rules for whole numbers of cldr-core/supplemental/plurals.json (CLDR 48), and as Intl.PluralRules of Chromium 156 has
// them: French counts nought as one, and whole millions as many ("1 000 000 de jours").
func TestPluralCategoriesAreCLDRs(t *testing.T) {
	for lang, want := range map[string]map[int]string{
		"fr": {0: "one", 1: "one", 2: "other", 1_000_000: "many", 2_000_000: "many", 1_000_001: "other"},
		"en": {0: "other", 1: "one", 2: "other", 1_000_000: "other", 1_000_001: "other"},
	} {
		for n, want := range want {
			if got := In(lang).category([]any{n}); got != want {
				t.Errorf("%s, %d: %s, want %s", lang, n, got, want)
			}
		}
	}
}

// How Québec mixes units, common practice, no source: litres of sap, pounds of syrup, inches of mercury, degrees
// Celsius.
func TestUnitsOfQuebec(t *testing.T) {
	v := In("fr")
	for got, want := range map[string]string{
		v.Volume(37.85412):        "37,9 L",
		v.Vacuum(81.273336):       "24,0 po Hg",
		v.Temperature(5):          "5,0 °C",
		v.PerMass(4.85, "CAD"):    "2,20 $/lb",
		v.PercentRange(1.2, 8.94): "1,2 à 8,9 %",
		v.Lang():                  "fr-CA",
	} {
		if plain(got) != want {
			t.Errorf("got %q, want %q", plain(got), want)
		}
	}
	for place, want := range map[string]Units{"US-VT": US, "US": US, "CA-QC": Quebec, "CA-ON": Metric, "CA": Metric,
		"": Metric} {
		if got := UnitsOf(place); got != want {
			t.Errorf("%q: %s, want %s", place, got, want)
		}
	}
}

// The time of day of cldr-dates-full/main/fr-CA/ca-gregorian.json (CLDR 48), timeFormats, short: "HH 'h' mm";
// Intl.DateTimeFormat of Chromium 156 gives this text. In English ours is of 24 hours, as a crew writes it.
func TestTheTimeOfDayIsCLDRs(t *testing.T) {
	at := time.Date(2025, 3, 5, 17, 5, 0, 0, time.UTC)
	for lang, want := range map[string]string{"fr-CA": "17 h 05", "en": "17:05"} {
		if got := plain(In(lang).Clock(at)); got != want {
			t.Errorf("%s: %q, want %q", lang, got, want)
		}
	}
}

// Whole numbers as golang.org/x/text/number writes them for fr-CA and en, from CLDR 32, and the categories of its
// plural rules. They differ from CLDR 48 in nothing but the "many" of whole millions, which version 32 had not yet.
func TestNumbersAndPluralsAreThoseOfXText(t *testing.T) {
	names := map[plural.Form]string{plural.One: "one", plural.Other: "other", plural.Many: "many"}
	for lang, tag := range map[string]language.Tag{"fr": language.CanadianFrench, "en": language.AmericanEnglish} {
		v, p := In(lang), message.NewPrinter(tag)
		for _, n := range []int{0, 1, 2, 11, 21, 100, 999, 1000, 12_345, 999_999, 1_000_001, 123_456_789} {
			if got, want := v.Count(n), p.Sprint(number.Decimal(n)); got != want {
				t.Errorf("%s: %q, want %q", lang, got, want)
			}
			if got, want := v.category([]any{n}), names[plural.Cardinal.MatchPlural(tag, n, 0, 0, 0, 0)]; got != want {
				t.Errorf("%s, %d: %s, want %s", lang, n, got, want)
			}
		}
		if got, want := plain(v.Decimal(1234.5, 2)),
			plain(p.Sprint(number.Decimal(1234.5, number.Scale(2)))); got != want {
			t.Errorf("%s: %q, want %q", lang, got, want)
		}
	}
}
