package evidence

import (
	"strings"
	"testing"
	"time"

	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// Each thing that is possible and unusual is asked about, and nothing else. What is usual is common practice, no
// source.
func TestDoubts(t *testing.T) {
	usual := func() Study {
		arm := func(p practice.Key, mean float64) Arm {
			return Arm{Practice: p, Mean: new(mean), MeanUnit: unit.USGallon, N: new(6.), SD: new(2.), Taps: new(20.),
				DropAge: new(5), Vacuum: new(unit.InchOfMercury.Of(25)),
				Tapped:  Day{time.Date(2019, 2, 10, 0, 0, 0, 0, time.UTC)},
				LastRun: Day{time.Date(2019, 4, 20, 0, 0, 0, 0, time.UTC)}}
		}
		s := Study{Name: "A", Site: "north", Season: 2019,
			Arms: []Arm{arm(practice.Unsanitized, 15), arm(practice.NewSpout, 18)}}
		s.Arms[0].Reference = true
		return s
	}
	gains := func(s *Study, pct ...float64) {
		s.Arms = s.Arms[:1]
		s.Arms[0] = Arm{Practice: practice.Unsanitized, Reference: true}
		for i, g := range pct {
			s.Arms = append(s.Arms, Arm{Practice: practice.Shipped()[i+1].Key, Gain: &Reported{Pct: g}})
		}
	}
	for name, c := range map[string]struct {
		set  func(*Study)
		asks []string
	}{
		"as it is":                 {func(*Study) {}, nil},
		"a season long ago":        {func(s *Study) { s.Season = 1962 }, []string{"season 1962"}},
		"a season to come":         {func(s *Study) { s.Season = 2031 }, []string{"season 2031"}},
		"a hundred thousand units": {func(s *Study) { s.Arms[1].N = new(100_000.) }, []string{", units: beyond"}},
		"a count for a percentage": {func(s *Study) { gains(s, 2400) }, []string{"gain, %: beyond"}},
		"500 gallons a tap": {func(s *Study) { s.Arms[0].Mean, s.Arms[1].Mean = new(500.), new(600.) },
			[]string{"500 gal a tap", "600 gal"}},
		"litres beside gallons": {func(s *Study) { s.Arms[1].Mean = new(68.) }, []string{"in one unit"}},
		"mean and sd changed over": {func(s *Study) {
			s.Arms[0].Mean, s.Arms[0].SD = new(2.), new(15.)
			s.Arms[1].Mean, s.Arms[1].SD = new(2.5), new(18.)
		}, []string{"other way round", "other way round"}},
		"an sd of a thousandth": {func(s *Study) { s.Arms[1].SD = new(0.02) },
			[]string{"the sd of new-spout, 0.02, has units differ by less than 0.5 % of their mean, 18"}},
		"three units that are alike": {func(s *Study) { s.Arms[1].SD, s.Arms[1].N = new(0.02), new(3.) }, nil},
		"an se of six units": {func(s *Study) { s.Arms[1].SD, s.Arms[1].SE = nil, new(0.03) }, // 0.07, below 0.09
			[]string{"the se of new-spout, 0.03"}},
		"an se of units not told": {func(s *Study) { s.Arms[1].SD, s.Arms[1].N, s.Arms[1].SE = nil, nil, new(0.03) },
			nil},
		"a gain all but without an error": {func(s *Study) { gains(s, 22); s.Arms[1].Gain.SEPct = new(0.0001) },
			[]string{"the error of the gain of new-spout, 0.0001 %, is smaller than any that units leave"}},
		"an interval of nothing": {func(s *Study) {
			gains(s, 22)
			s.Arms[1].Gain.LowPct, s.Arms[1].Gain.HighPct = new(21.99), new(22.01)
		}, []string{"the error of the gain of new-spout"}},
		"a gain with a small error": {func(s *Study) { gains(s, 22); s.Arms[1].Gain.SEPct = new(0.1) }, nil},
		"gains that are fractions":  {func(s *Study) { gains(s, 0.2, 0.38) }, []string{"below 1 %"}},
		"one small gain":            {func(s *Study) { gains(s, 0.2, 12) }, nil},
		"no gain at all":            {func(s *Study) { gains(s, 0) }, nil},
		"a vacuum of a vacuum tube": {func(s *Study) { s.Arms[0].Vacuum = new(unit.InchOfMercury.Of(1)) },
			[]string{"vacuum, inHg: beyond"}},
		"tapped in July": {func(s *Study) { s.Arms[1].Tapped.Time = time.Date(2018, 7, 3, 0, 0, 0, 0, time.UTC) },
			[]string{"2018-07-03", "days"}},
		"drops of thirty seasons": {func(s *Study) { s.Arms[1].DropAge = new(30) }, []string{
			"age of drops, seasons: beyond"}},
	} {
		s := usual()
		c.set(&s)
		asked := s.Doubts(2026)
		text := asked.Error()
		for _, want := range c.asks {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is not asked:\n%s", name, want, text)
			}
		}
		if len(asked) != len(c.asks) {
			t.Errorf("%s: %d questions, want %d:\n%s", name, len(asked), len(c.asks), text)
		}
		again := s.Doubts(2026)
		for i := range asked {
			if again[i].ID != asked[i].ID {
				t.Errorf("%s is asked under two names", name)
			}
		}
	}
}
