package figure_test

import (
	"fmt"
	"math"

	"spile/internal/view/figure"
)

// Invented practices, stations and numbers: enough to see a figure full.
var (
	english = []string{"new spout each season", "check-valve spout each season", "new drop", "new lateral and drops",
		"chlorine rinse", "peroxide rinse", "alcohol flush", "silver-bearing spout"}
	french = []string{
		"chalumeau antiretour neuf à chaque saison, chutes de deux ans",
		"remplacement de la chute, du té et du chalumeau aux 3 ans",
		"rinçage au peroxyde d'hydrogène après le désentaillage",
		"assainissement à l'hypochlorite de sodium (maître-ligne et latéraux)",
		"chalumeau à l'argent anticonstitutionnellement réutilisé", "latéral et chutes neufs", "alcool isopropylique",
		"chalumeau neuf",
	}
	stations = []string{"Otter Hill", "Brûlé Station", "Nine Pines", "Lac-aux-Hiboux",
		"Station Sainte-Loutre-du-Nord-Est",
		"Kettle Run"}
	truth = []float64{31, 63, 72, 78, 22, 15, 48, 47}
)

// noise is a fixed sequence between −1 and 1.
func noise(i int) float64 { return math.Sin(float64(i) * 12.9898) }

func words(title string) figure.Words {
	return figure.Words{
		Title: title,
		Desc:  "An example with invented numbers.",
		Many:  "several studies",
		Left:  func(n int) string { return fmt.Sprintf("%d studies are not named here; the report names them.", n) },
		Notes: []string{"not replicated", "low yield on the reference", "season out of the ordinary",
			"reference on young drops", "funded by a maker"},
	}
}

func marks(i int) []int {
	switch i % 5 {
	case 1:
		return []int{1}
	case 3:
		return []int{2, 4}
	case 4:
		return []int{3}
	}
	return nil
}

func study(i int) string {
	return fmt.Sprintf("%s %d", stations[i%len(stations)], 2014+i%12)
}

// spread gives n studies to the practices, the first taking the most.
func spread(n int, names []string) []int {
	of := make([]int, min(n, len(names)))
	for i := range n {
		j := int(float64(len(of)) * math.Pow(float64(i)/float64(n), 1.3))
		of[j]++
	}
	return of
}

func bars(n int, names []string) figure.Bars {
	f := figure.Bars{Words: words("Every study of a clean tap hole"), Axis: "more sap per tap than unsanitized, %",
		Key: figure.BarsKey{Study: "one study", Weak: "not replicated", Mean: "mean of the practice",
			Part: "of it, the new spout alone"}}
	i := 0
	for p, many := range spread(n, names) {
		g := figure.BarGroup{Name: names[p], Mean: new(truth[p]), Value: fmt.Sprintf("%.0f %%", truth[p])}
		if p > 0 && truth[p] > 31 {
			g.Part = new(31.0)
		}
		for range many {
			gain := truth[p] + 38*noise(i)
			g.Studies = append(g.Studies,
				figure.Bar{Name: study(i), Gain: gain, Value: fmt.Sprintf("%.0f", gain), Weak: i%5 == 1,
					Marks: marks(i)})
			i++
		}
		f.Groups = append(f.Groups, g)
	}
	return f
}

func intervals(n int, names []string) figure.Intervals {
	f := figure.Intervals{Words: words("How sure each study is, and all of them together"), Ticks: "Studies as ticks",
		Axis: "more sap per tap than unsanitized, %",
		Head: figure.IntervalsHead{Study: "study", Gain: "gain, % (95 %)", Weight: "weight, %"},
		Key: figure.IntervalsKey{Study: "one study and its 95 % interval; thicker: more weight",
			Weak: "not replicated", Pooled: "pooled gain, 95 % interval",
			Season: "range for one new season at a new site"}}
	i := 0
	for p, many := range spread(n, names) {
		g := figure.IntervalGroup{Name: names[p],
			Pooled: &figure.Pooled{Name: fmt.Sprintf("pooled, %d studies", many), Gain: truth[p],
				Range:  figure.Range{Low: truth[p] - 11, High: truth[p] + 12},
				Season: figure.Range{Low: truth[p] - 40, High: truth[p] + 46},
				Value:  fmt.Sprintf("%.0f (%.0f to %.0f)", truth[p], truth[p]-11, truth[p]+12)}}
		for range many {
			gain := truth[p] + 30*noise(i)
			half := 20 + 25*math.Abs(noise(i+7)) + map[bool]float64{true: 160}[i%9 == 4]
			g.Studies = append(g.Studies,
				figure.Study{Name: study(i), Gain: gain, Range: figure.Range{Low: gain - half*0.9, High: gain + half},
					Value:  fmt.Sprintf("%.0f (%.0f to %.0f)", gain, gain-half*0.9, gain+half),
					Weight: 3000 / half / half, Share: fmt.Sprintf("%.1f", 3000/half/half), Weak: i%5 == 1,
					Out:   i%11 == 7,
					Marks: marks(i)})
			i++
		}
		f.Groups = append(f.Groups, g)
	}
	return f
}

func ageing(n int, long bool) figure.Ageing {
	f := figure.Ageing{Words: words("How drops age, and when replacing them pays"),
		Gain: figure.AgePanel{Title: "Gain by age of the drop", X: "age of the drop, seasons",
			Y: "more sap per tap than unsanitized, %", Oldest: 4,
			NoEvidence: "no evidence here", Point: "one study, 95 % interval"},
		Profit: &figure.LengthPanel{Title: "Profit by rotation", X: "seasons between replacements",
			Y: "net per tap and season, $ (95 %)", Best: 3,
			BestName: "pays best: every 3 seasons", FlatFrom: 2, FlatTo: 5, FlatName: "within $0.20 of the best"}}
	if long {
		f.Gain.NoEvidence = "aucune donnée probante à cet endroit"
		f.Gain.X, f.Gain.Y = "âge de la chute depuis son remplacement, en saisons",
			"surplus de sève par entaille par rapport à l'entaille non assainie, en %"
		f.Profit.Title = "Bénéfice net selon la durée de la rotation des chutes, des tés et des chalumeaux"
		f.Profit.BestName = "le plus payant : remplacement aux 3 ans"
	}
	for i := range n {
		age := float64(i % 5)
		gain := 31 + 41*math.Exp(-0.4*age) + 12*noise(i)
		f.Gain.Points = append(f.Gain.Points,
			figure.AgePoint{Age: age, Gain: gain, Range: figure.Range{Low: gain - 14, High: gain + 16}, Weak: i%5 == 1})
	}
	one, two := figure.AgeCurve{Name: "fades by half every 1.7 seasons"},
		figure.AgeCurve{Name: "fades in a straight run over 6 seasons"}
	for a := 0.0; a <= 8; a += 0.25 {
		g := 31 + 41*math.Exp(-0.4*a)
		one.At = append(one.At, figure.AgeGain{Age: a, Gain: g, Range: figure.Range{Low: g - 8 - a, High: g + 8 + a}})
		two.At = append(two.At, figure.AgeGain{Age: a, Gain: 31 + 41*max(0, 1-a/6)})
	}
	f.Gain.Curves = []figure.AgeCurve{one, two}
	for n := 1; n <= 10; n++ {
		net := 1.9 - 0.08*float64((n-3)*(n-3))/float64(n)*2 - 0.3*math.Abs(float64(n-3))/2
		f.Profit.Lengths = append(f.Profit.Lengths,
			figure.Length{Every: n, Net: net, Range: figure.Range{Low: net - 1.1, High: net + 1.2}, Studied: n <= 5})
	}
	return f
}

func net(n int, names []string) figure.Net {
	f := figure.Net{Words: words("What each practice leaves per tap"), Axis: "per tap and season, $",
		Key: figure.NetKey{AddedReturns: "added returns", ReducedCosts: "reduced costs", AddedCosts: "added costs",
			ReducedReturns: "reduced returns",
			Net:            "net, 95 % interval", HeldBack: "held back here", NotStudied: "not studied"}}
	f.Notes = nil
	for k, title := range []string{"against unsanitized", "against today's practice: new spout each season"} {
		p := figure.NetPanel{Title: title}
		for i := range n {
			r := figure.NetRow{Name: names[i%len(names)], AddedReturns: 4.2 - 0.1*float64(i) - 1.7*float64(k),
				AddedCosts:   0.9 + 0.5*math.Abs(noise(i)),
				ReducedCosts: 0.3 * float64(i%3), ReducedReturns: 0.25 * float64(i%2), Best: i == 0, HeldBack: i%6 == 4,
				NotStudied: i%5 == 3}
			if i >= len(names) {
				r.Name = fmt.Sprintf("%s, %d", r.Name, i/len(names))
			}
			r.AddedReturns = max(r.AddedReturns, 0)
			r.Net = r.AddedReturns + r.ReducedCosts - r.AddedCosts - r.ReducedReturns
			r.Range = figure.Range{Low: r.Net - 0.9, High: r.Net + 1}
			r.Value = "$" + fmt.Sprintf("%.2f", r.Net)
			if r.Net < 0 {
				r.Value = "−$" + fmt.Sprintf("%.2f", -r.Net)
			}
			p.Rows = append(p.Rows, r)
		}
		f.Panels = append(f.Panels, p)
	}
	return f
}
