package evidence

import (
	"slices"
	"testing"

	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

func measured(k practice.Key, mean, sd, n float64) Arm {
	return Arm{Practice: k, Mean: &mean, SD: &sd, N: &n}
}

func TestCaveats(t *testing.T) {
	base := func() Study {
		return Study{Name: "A", Site: "hill", Season: 2020,
			Arms: []Arm{measured(practice.Unsanitized, 20, 4, 4), measured(practice.NewSpout, 26, 4, 4)}}
	}
	with := func(change func(*Study)) Study {
		s := base()
		change(&s)
		return s
	}
	for _, c := range []struct {
		study Study
		want  []Caveat
	}{
		{base(), nil},
		{with(func(s *Study) { s.Caveats = []Caveat{"short-run", Gravity} }), []Caveat{"short-run", Gravity}},
		{with(func(s *Study) { s.Kind = Unreplicated }), []Caveat{NoReplication}},
		{with(func(s *Study) { s.Weather = "A freak warm March" }), []Caveat{FreakSeason}},
		{with(func(s *Study) { s.Arms[0].Vacuum = new(unit.Pressure(0)) }), []Caveat{Gravity}},
		{with(func(s *Study) { s.Arms[0].Vacuum = new(unit.InchOfMercury.Of(0.5)) }), []Caveat{Gravity}},
		{with(func(s *Study) { s.Arms[0].Vacuum = new(unit.InchOfMercury.Of(1)) }), nil},
		{with(func(s *Study) { s.Arms[0].Pump = "none" }), []Caveat{Gravity}},
		{with(func(s *Study) { s.Arms[1].TubingIn = new(0.1875) }), []Caveat{Tubing316}},
		{with(func(s *Study) { s.Arms[1].TubingIn = new(0.3125) }), nil},
		{with(func(s *Study) { s.Arms[0].DropAge = new(2) }), []Caveat{YoungReference}},
		{with(func(s *Study) { s.Arms[0].DropAge = new(3) }), nil},
		{with(func(s *Study) { s.Arms[1].DropAge = new(0) }), nil},
		{with(func(s *Study) { s.Funding = "the maker of the spouts" }), []Caveat{Interest}},
	} {
		if got := Caveats(Settings([]Study{c.study}))[0]; !slices.Equal(got, c.want) {
			t.Errorf("%+v: %v, want %v", c.study, got, c.want)
		}
	}

	// low-yield is relative to the others' references, in litres; a freak season is one for the whole site.
	var all []Study
	for i, l := range []float64{60, 70, 80, 90, 39} {
		s := base()
		s.Name, s.Site = string(rune('A'+i)), "hill"
		if i == 1 {
			s.Weather = "abnormal"
		}
		if i > 2 {
			s.Season = 2021
		}
		s.Arms[0].Mean, s.Arms[0].MeanUnit = &l, unit.Litre
		all = append(all, s)
	}
	for i, want := range [][]Caveat{{FreakSeason}, {FreakSeason}, {FreakSeason}, nil, nil} {
		if got := Caveats(Settings(all))[i]; !slices.Equal(got, want) {
			t.Errorf("study %d: %v, want %v", i, got, want)
		}
	}
	all[4].Arms[0].Mean = new(34.) // the median is 70
	if got := Caveats(Settings(all))[4]; !slices.Equal(got, []Caveat{LowYield}) {
		t.Errorf("half of the usual yield: %v", got)
	}
	all[4].Arms[0].MeanUnit = unit.USGallon
	if got := Caveats(Settings(all))[4]; got != nil {
		t.Errorf("34 gallons are not few: %v", got)
	}
}
