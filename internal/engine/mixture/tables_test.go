package mixture

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// six is a table of six studies at four sites in four seasons; practices 1 to 3 are of one family.
func six() Table {
	type arm struct {
		practice int
		log, v   float64
	}
	t := Table{Families: []int{0, 0, 0}}
	for _, s := range []struct {
		site, season int
		arms         []arm
	}{
		{0, 0, []arm{{0, 0, .010}, {1, .28, .010}, {2, .45, .012}}},
		{0, 1, []arm{{0, 0, .006}, {1, .36, .006}}},
		{1, 1, []arm{{0, 0, .02}, {1, .17, .02}, {3, .62, .02}}},
		{1, 2, []arm{{0, 0, .008}, {2, .31, .008}}},
		{2, 2, []arm{{1, 0, .005}, {2, .12, .005}, {3, .21, .005}}},
		{3, 3, []arm{{0, 0, .015}, {1, .50, .015}}},
	} {
		x := Study{Site: fmt.Sprint("site ", s.site), Season: s.season}
		for _, a := range s.arms {
			x.Arms = append(x.Arms, Arm{Practice: a.practice, Effect: a.practice - 1, Log: a.log, V: a.v})
		}
		t.Studies = append(t.Studies, x)
	}
	return t
}

// lone is one study of one practice, its gain 48 %.
func lone() Table {
	arms := []Arm{{Effect: -1, V: .004}, {Practice: 1, Log: math.Log(1.48), V: .004}}
	return Table{Families: []int{0}, Studies: []Study{{Arms: arms}}}
}

// twelve is twelve studies of one practice of which the last is far from the others.
func twelve() Table {
	t := Table{Families: []int{0}}
	for i, y := range []float64{.35, .30, .41, .33, .38, .29, .36, .44, .31, .35, .37, 1.6} {
		t.Studies = append(t.Studies, Study{
			Site: fmt.Sprint("site ", (i+1)%8), Season: (i + 1) % 6,
			Arms: []Arm{{Effect: -1, V: .008}, {Practice: 1, Log: y, V: .008}},
		})
	}
	return t
}

// trade draws a table of so many studies at so many sites in so many seasons, of five practices of two families; with
// ages, a sixth ages toward the first.
func trade(studies, sites, seasons int, ages bool, seed uint64) Table {
	r := rand.New(rand.NewPCG(seed, uint64(studies)))
	designs := [][]int{{0, 1}, {0, 2}, {0, 1, 2}, {0, 3}, {0, 1, 3}, {0, 4}, {0, 2, 5}, {1, 3}, {0, 1, 2, 3}, {0, 5}}
	beta := []float64{0, .27, .49, .54, .14, .2}
	u, v, w := map[int]float64{}, map[int]float64{}, map[[2]int]float64{}
	drawn := func(m map[int]float64, k int) float64 {
		if _, ok := m[k]; !ok {
			m[k] = .1 * r.NormFloat64()
		}
		return m[k]
	}
	t := Table{Families: []int{0, 0, 0, 1, 1}}
	for i := range studies {
		site, season := i*sites/studies, r.IntN(seasons)
		s := Study{Site: fmt.Sprint("site ", site), Season: season}
		design := designs[i%len(designs)]
		if ages && i%2 == 1 {
			t.Drops = 1
			design = append(design[:len(design):len(design)], 6)
		}
		for _, k := range design {
			key := [2]int{site, k}
			if _, ok := w[key]; !ok {
				w[key] = .05 * r.NormFloat64()
			}
			a := Arm{Practice: k, Effect: k - 1, V: .04 / float64(1+r.IntN(8))}
			if k == 6 {
				a.Effect, a.Drop, a.Age = 0, 1, float64(i/2%5)
				a.Log = beta[1] + .28*math.Exp(-math.Ln2*a.Age/2)
			} else {
				a.Log = beta[k]
			}
			a.Log += w[key] + .15/math.Sqrt2*r.NormFloat64() + math.Sqrt(a.V)*r.NormFloat64()
			if k > 0 {
				a.Log += drawn(u, site) + drawn(v, season)
			}
			s.Arms = append(s.Arms, a)
		}
		t.Studies = append(t.Studies, s)
	}
	return t
}

// calm is the default prior under which no study stands apart.
func calm() Prior {
	p := Default()
	p.Wild = 0
	return p
}
