package figure_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/view/figure"
)

// Invented outlooks: enough to see a figure full.

func outlook(n int, names []string) figure.Outlook {
	f := figure.Outlook{Words: words("What each practice is likely to net"),
		Axis: "net against today's practice per tap and season, $",
		Key: figure.OutlookKey{Middle: "the middle half of all draws", Wide: "90 of 100",
			Median: "half below, half above",
			Closed: "not to be chosen: not permitted, or not studied",
			Rest:   "best among the rotations not drawn: 22 %"}}
	f.Notes = nil
	for k, title := range []string{"over the long run", "in one single season"} {
		p := figure.OutlookPanel{Title: title, Head: "best, %"}
		for i := range n {
			mid, wide := 1-0.2*float64(i)+noise(i), (0.3+math.Abs(noise(i+3)))*float64(1+k)
			p.Rows = append(p.Rows, figure.OutlookRow{Name: names[i%len(names)], P5: mid - 2*wide, P25: mid - wide,
				P50: mid, P75: mid + 0.8*wide, P95: mid + 2.2*wide,
				Value: fmt.Sprint(i), Best: i == 0, Closed: i%5 == 4})
		}
		f.Panels = append(f.Panels, p)
	}
	return f
}

func swings(n int, names []string) figure.Swings {
	f := figure.Swings{Words: words("What moves the net"), Axis: "net per tap and season, $", Now: 0.9,
		Key: figure.SwingsKey{Low: "at its low end", High: "at its high end",
			Other: "another practice comes first there", Now: "all at their best guesses"}}
	f.Notes = nil
	for i := range n {
		d := 1.2/float64(i+1) + 0.05
		f.Rows = append(f.Rows, figure.Swing{Name: "gain of " + names[i%len(names)] + ", %", Low: 0.9 - d,
			High: 0.9 + d*0.8, Value: "13 to 37", OtherLow: i%4 == 0, OtherHigh: i%4 == 2})
	}
	return f
}

func contest(choices int, names []string) figure.Contest {
	f := figure.Contest{Words: words("Which practice pays best where"), X: "price of one check-valve-spout, USD each",
		Y:   "baseline yield of sap, gal a tap and season",
		Now: [2]float64{0.7, 20}, NowName: "the best guesses",
		Figures: "numbers: by how much it leads, USD a tap and season"}
	f.Notes = nil
	const nx, ny = 41, 31
	for i := range nx {
		f.At[0] = append(f.At[0], 0.3+0.02*float64(i))
	}
	for j := range ny {
		f.At[1] = append(f.At[1], 8+float64(j))
		row, lead := make([]int, nx), make([]float64, nx)
		for i := range nx {
			row[i] = (i*choices/nx + j*j*choices/ny/ny) % choices
			lead[i] = math.Abs(noise(i + j))
		}
		f.Winner, f.Lead = append(f.Winner, row), append(f.Lead, lead)
	}
	for k := range choices {
		f.Names = append(f.Names, names[k%len(names)])
	}
	return f
}

func trialSizes(n int) figure.Sizes {
	f := figure.Sizes{Words: words("What a trial is worth by its size"), X: "blocks",
		Y: "money over all taps and seasons, $", Best: 8, BestName: "best: 8 blocks, 21,871 USD left",
		Key: figure.SizesKey{Benefit: "expected benefit", Cost: "cost", Net: "what is left"}}
	f.Notes = nil
	for i := range n {
		size := 2 + i*i
		benefit, cost := 35000*(1-math.Exp(-float64(size)/5)), 5000+450*float64(size)
		f.Points = append(f.Points, figure.SizePoint{Size: size, Benefit: benefit, Cost: cost, Net: benefit - cost})
	}
	return f
}

func TestProspectLabelsKeepClear(t *testing.T) {
	for _, s := range sizes {
		for _, n := range []int{1, 2, 6, 12, 40} {
			for which, names := range map[string][]string{"english": english, "french": french} {
				for name, sheet := range map[string]*figure.Sheet{
					"outlook":    outlook(n, names).Draw(s.size),
					"swings":     swings(n, names).Draw(s.size),
					"map":        contest(min(n, 8), names).Draw(s.size),
					"trial size": trialSizes(n).Draw(s.size),
					"no outlook": figure.Outlook{Words: words("x")}.Draw(s.size),
					"no swings":  figure.Swings{Words: words("x")}.Draw(s.size),
					"no map":     figure.Contest{Words: words("x")}.Draw(s.size),
					"no sizes":   figure.Sizes{Words: words("x")}.Draw(s.size),
				} {
					if err := check(sheet, s.size); err != nil {
						t.Errorf("%s, %d, %s, %s: %v", name, n, which, s.name, err)
					}
				}
			}
		}
	}
}

// Whatever the words and numbers, nothing overlaps and nothing leaves the sheet.
func TestAnyProspectKeepsClear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom(sizes).Draw(t, "size")
		word := rapid.StringOfN(rapid.SampledFrom([]rune("aéèmWllœ  -'ç")), 1, 60, -1)
		number := rapid.OneOf(rapid.Float64Range(-100, 300),
			rapid.SampledFrom([]float64{0, 1e9, -1e9, math.NaN(), math.Inf(1)}))
		w := figure.Words{Title: word.Draw(t, "title"), Left: func(n int) string { return fmt.Sprint(n, " more") }}
		o := figure.Outlook{Words: w, Axis: word.Draw(t, "axis"),
			Panels: []figure.OutlookPanel{{Title: word.Draw(t, "panel"), Head: word.Draw(t, "head")},
				{Title: word.Draw(t, "panel"), Head: word.Draw(t, "head")}},
			Key: figure.OutlookKey{Wide: word.Draw(t, "key"), Middle: word.Draw(t, "key"), Median: word.Draw(t, "key"),
				Closed: word.Draw(t, "key"), Rest: word.Draw(t, "key")}}
		s := figure.Swings{Words: w, Axis: o.Axis, Now: number.Draw(t, "now"),
			Key: figure.SwingsKey{Low: o.Key.Wide, High: o.Key.Middle, Other: o.Key.Median, Now: o.Key.Closed}}
		z := figure.Sizes{Words: w, X: word.Draw(t, "x"), Y: word.Draw(t, "y"), Best: 3, BestName: word.Draw(t, "best"),
			Key: figure.SizesKey{Benefit: o.Key.Wide, Cost: o.Key.Middle, Net: o.Key.Median}}
		for i := range rapid.IntRange(0, 9).Draw(t, "rows") {
			for k := range o.Panels {
				o.Panels[k].Rows = append(o.Panels[k].Rows,
					figure.OutlookRow{Name: word.Draw(t, "name"), P5: number.Draw(t, "p5"), P25: number.Draw(t, "p25"),
						P50: number.Draw(t, "p50"),
						P75: number.Draw(t, "p75"), P95: number.Draw(t, "p95"), Value: word.Draw(t, "value"),
						Best:   i == 0,
						Closed: i == 2})
			}
			s.Rows = append(s.Rows, figure.Swing{Name: word.Draw(t, "name"), Low: number.Draw(t, "low"),
				High: number.Draw(t, "high"), Value: word.Draw(t, "value"), OtherLow: i == 1})
			z.Points = append(z.Points,
				figure.SizePoint{Size: 1 + i*rapid.IntRange(1, 40).Draw(t, "size"), Benefit: number.Draw(t, "benefit"),
					Cost: number.Draw(t, "cost"), Net: number.Draw(t, "net")})
		}
		c := contest(rapid.IntRange(1, 9).Draw(t, "choices"), []string{word.Draw(t, "name"), word.Draw(t, "name")})
		c.Words, c.X, c.Y, c.NowName, c.Figures = w, z.X, z.Y, word.Draw(t, "now"), word.Draw(t, "figures")
		c.Now, c.Lead[3][4] = [2]float64{number.Draw(t, "x"), number.Draw(t, "y")}, number.Draw(t, "lead")
		for name, x := range map[string]*figure.Sheet{"outlook": o.Draw(size.size), "swings": s.Draw(size.size),
			"map": c.Draw(size.size), "sizes": z.Draw(size.size)} {
			if err := check(x, size.size); err != nil {
				t.Fatalf("%s, %s: %v", name, size.name, err)
			}
		}
	})
}

// Every choice that wins somewhere has its letter on the map and in the key, so that no ground is told by its look
// alone.
func TestMapNamesItsGrounds(t *testing.T) {
	f := contest(4, english)
	for _, s := range sizes {
		text := "\n" + shown(f.Draw(s.size)) + "\n"
		for k, letter := range []string{"A", "B", "C", "D"} {
			if n := strings.Count(text, "\n"+letter+"\n"); n < 2 {
				t.Errorf("%s: %s (%s) stands there %d times, want the key and the map", s.name, letter, f.Names[k], n)
			}
		}
	}
}

// On a slide that has no room for some rows, key and axis are of the rows that are shown.
func TestASlideSpeaksOfItsRows(t *testing.T) {
	f := net(30, english)
	o := outlook(30, english)
	for i := range f.Panels {
		for j := range f.Panels[i].Rows {
			r := &f.Panels[i].Rows[j]
			r.HeldBack, r.NotStudied = j > 20, j > 25
			if j > 20 {
				r.AddedCosts, r.Net, r.Range.Low = 60, -60, -61
			}
			o.Panels[i].Rows[j].Closed = j > 20
			if j > 20 {
				o.Panels[i].Rows[j].P5, o.Panels[i].Rows[j].P25, o.Panels[i].Rows[j].P50 = -90, -80, -70
			}
		}
	}
	for name, x := range map[string]struct {
		whole, slide *figure.Sheet
		keys         []string
	}{
		"net":     {f.Draw(figure.Page), f.Draw(figure.Slide), []string{f.Key.HeldBack, f.Key.NotStudied}},
		"outlook": {o.Draw(figure.Page), o.Draw(figure.Slide), []string{o.Key.Closed}},
	} {
		for _, key := range append(x.keys, "−60") {
			if !strings.Contains(shown(x.whole), key) {
				t.Errorf("%s: %q is not on the page", name, key)
			}
			if strings.Contains(shown(x.slide), key) {
				t.Errorf("%s: %q is on the slide, which shows nothing of it", name, key)
			}
		}
	}
}

// A choice that comes first in nothing but a strip along the edge is left out of the map and of its key.
func TestAMapLeavesOutAStrip(t *testing.T) {
	f := contest(2, english)
	f.Names = append(f.Names, "a choice of the edge", "a choice of a corner")
	for i := range f.At[0] {
		f.Winner[30][i] = 2
	}
	for j := range 9 {
		for i := range 9 {
			f.Winner[j][i] = 3
		}
	}
	said := shown(f.Draw(figure.Page))
	if strings.Contains(said, "a choice of the edge") || !strings.Contains(said, "a choice of a corner") {
		t.Errorf("the map speaks of %s", said)
	}
	f.Now = [2]float64{f.At[0][20], f.At[1][30]} // unless it comes first at the best guesses
	if said := shown(f.Draw(figure.Page)); !strings.Contains(said, "a choice of the edge") {
		t.Errorf("the map is silent of what comes first: %s", said)
	}
}

// Text is at least 13 CSS px on a page and 12 on a phone, of 360 px, 6 of which are margins of the page.
func TestTypeCanBeRead(t *testing.T) {
	for size, least := range map[figure.Size]float64{figure.Page: 13, figure.Phone: 12 * 360 / 354.} {
		for name, s := range map[string]*figure.Sheet{"bars": bars(20, english).Draw(size),
			"intervals": intervals(20, english).Draw(size), "ageing": ageing(20, false).Draw(size),
			"net": net(12, english).Draw(size), "outlook": outlook(12, english).Draw(size),
			"swings": swings(9, english).Draw(size), "map": contest(4, english).Draw(size)} {
			all, _ := record(s)
			for _, b := range all {
				if b.size*4/3 < least {
					t.Errorf("%s: %q is set in %.1f px", name, b.text, b.size*4/3)
					break
				}
			}
		}
	}
}
