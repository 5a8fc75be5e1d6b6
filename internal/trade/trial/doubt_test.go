package trial

import (
	"strings"
	"testing"
	"time"

	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
)

// sound is a trial that nobody asks about: common practice, no source, as are all limits here.
func sound() Trial {
	day := func(m time.Month, d int) time.Time { return time.Date(2026, m, d, 9, 0, 0, 0, time.UTC) }
	r := Record{
		Season: 2026,
		Plots: []Plot{{Unit: "1", Practice: practice.Unsanitized, Taps: 20},
			{Unit: "2", Practice: practice.CheckValve, Taps: 20, DropAge: new(3)}},
		Readings: []Reading{{Unit: "1", At: day(3, 1), Volume: new(unit.Volume(80)), Brix: new(2.1)},
			{Unit: "2", At: day(3, 1), Volume: new(unit.Volume(95)), Vacuum: new(unit.InchOfMercury.Of(25))}},
		Counts: []Count{{Unit: "1", At: day(2, 20), Taps: 19}, {Unit: "2", At: day(2, 20), Taps: 22, Again: 2}},
		Events: []Event{{Kind: Leak, From: day(3, 2), To: day(3, 9), Units: []string{"1"}}},
	}
	return Trial{Name: "Fen", Site: "Fen", Records: []Record{r}, Rules: new(weather.Usual()),
		Sums: []UnitSeason{{Unit: "1", Season: 2025, Practice: practice.Unsanitized, Taps: 20, Volume: 1400,
			Brix: new(2.)}},
		Days: []weather.Day{{Date: day(3, 1), Min: new(unit.Temperature(-8)), Max: new(unit.Temperature(6))}}}
}

func TestDoubts(t *testing.T) {
	if q := sound().Doubts(2026); len(q) > 0 {
		t.Fatalf("a sound trial is asked about: %v", q)
	}
	for name, c := range map[string]struct {
		odd  func(*Trial)
		says string
	}{
		"5 taps where 20 were laid out": {func(x *Trial) { x.Records[0].Counts[0].Taps = 5 },
			"5 taps were counted at the unit \"1\", which was laid out with 20"},
		"20,000 taps": {func(x *Trial) { x.Records[0].Counts[0].Taps = 20000 }, "20000 taps"},
		"20 °Brix": {func(x *Trial) { x.Records[0].Readings[0].Brix = new(20.) },
			"in 2026, sugar of the sap: beyond the usual 1 to 4 °Bx, such as 20 (rows: 1)"},
		"a dry counter": {func(x *Trial) { x.Sums[0].Brix = new(0.2) }, "such as 0.2"},
		"500 gal a tap": {func(x *Trial) { x.Sums[0].Volume = unit.USGallon.Of(500 * 20) }, "1893 litres a tap"},
		"°F as °C": {func(x *Trial) { x.Days[0].Max = new(unit.Temperature(45)) },
			"highest temperature: beyond the usual -40 to 35"},
		"readings in July": {func(x *Trial) {
			x.Records[0].Readings[1].At = time.Date(2026, 7, 4, 0, 0, 0, 0, time.UTC)
		},
			"1 readings are of no month from December to May, such as that of 2026-07-04"},
		"a leak of three years": {
			func(x *Trial) { x.Records[0].Events[0].To = x.Records[0].Events[0].From.AddDate(3, 0, 0) },
			"lasts 1096 days"},
		"May to February": {func(x *Trial) { x.Rules.From, x.Rules.To = x.Rules.To, x.Rules.From },
			"from 04-30 to 02-01"},
		"old plastic":   {func(x *Trial) { x.Records[0].Plots[1].DropAge = new(40) }, "age of drops, seasons: beyond"},
		"long ago":      {func(x *Trial) { x.Sums[0].Season = 1925 }, "the season 1925"},
		"still to come": {func(x *Trial) { x.Records[0].Season = 2027 }, "the season 2027"},
	} {
		x := sound()
		c.odd(&x)
		q := x.Doubts(2026)
		if len(q) != 1 || !strings.Contains(q[0].English(), c.says) {
			t.Errorf("%s: %v", name, q)
			continue
		}
		if again := x.Doubts(2026); again[0].ID != q[0].ID {
			t.Errorf("%s: asked anew each time", name)
		}
	}
}

// Of many rows one question is asked, and another when there are more.
func TestOneQuestionForManyRows(t *testing.T) {
	x := sound()
	for d := range 40 {
		x.Days = append(x.Days, weather.Day{Date: time.Date(2026, 3, 2+d, 0, 0, 0, 0, time.UTC),
			Max: new(unit.Temperature(41 + d%5))})
	}
	q := x.Doubts(0)
	if len(q) != 1 || !strings.Contains(q[0].English(), "such as 45 (rows: 40)") {
		t.Fatal(q)
	}
	if fewer := (Trial{Name: x.Name, Days: x.Days[:30]}).Doubts(0); len(fewer) != 1 || fewer[0].ID == q[0].ID {
		t.Error(fewer)
	}
}

// A unit that gave ten times less a tap than its neighbours is asked about, once a season, and where units stray far
// from each other, as single trees do, only what lies beyond that. A decimal slips by a factor of ten; trees of one
// stand range over a factor of about ten (common practice, no source).
func TestAUnitFarFromTheOthers(t *testing.T) {
	season := func(litres ...float64) Trial {
		x := Trial{Name: "Fen"}
		for i, l := range litres {
			x.Sums = append(x.Sums, UnitSeason{Unit: string(rune('A' + i)), Season: 2025, Taps: 1,
				Volume: unit.Volume(l)})
		}
		return x
	}
	for name, c := range map[string]struct {
		litres []float64
		unit   string
	}{
		"a decimal slipped down":      {[]float64{40, 48, 35, 45, 3.6, 40}, "E"},
		"a decimal slipped up":        {[]float64{40, 350, 35, 45, 36, 40}, "B"},
		"two of them":                 {[]float64{40, 350, 35, 45, 2.6, 40, 41}, "E"},
		"units that agree":            {[]float64{40, 48, 35, 45, 36, 40}, ""},
		"a gain of two thirds":        {[]float64{30, 50, 32, 52, 29, 51}, ""},
		"single trees":                {[]float64{12, 30, 60, 110, 22, 45, 70, 15, 38, 90}, ""},
		"single trees, a slipped one": {[]float64{12, 30, 60, 110, 22, 45, 70, 15, 38, 90, 0.3}, "K"},
		"two alone":                   {[]float64{40, 4}, ""},
		"all alike but one":           {[]float64{40, 40, 40, 40, 4}, "E"},
	} {
		q := season(c.litres...).Doubts(0)
		if c.unit == "" && len(q) > 0 || c.unit != "" &&
			(len(q) != 1 || !strings.Contains(q[0].English(), "the unit \""+c.unit+"\" gave")) {
			t.Errorf("%s: %v", name, q)
		}
	}
}
