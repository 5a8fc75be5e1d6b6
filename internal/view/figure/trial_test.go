package figure_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"spile/internal/view/figure"
)

// Invented trials: enough to see a figure full.

func power(gains int, names []string) figure.Lines {
	f := figure.Lines{Words: words("What a trial of this size can find"), X: "replicates of each practice",
		Y:     "chance that the gain is found, %",
		Level: &figure.Level{Name: "80 %", Gain: 80}}
	for k := range gains {
		gain := 10 * float64(k+1)
		c := figure.Line{Name: fmt.Sprintf("gain of %.0f %%", gain), Strong: k == 1}
		if names != nil {
			c.Name = names[k%len(names)]
		}
		for n := 2; n <= 20; n++ {
			p := 100 * (1 - math.Exp(-0.03*gain*gain/100*float64(n-1)))
			if p >= 80 && c.Needed == 0 {
				c.Needed = n
			}
			c.Points = append(c.Points,
				figure.LinePoint{At: n, Value: p, Range: figure.Range{Low: p, High: p + float64(k%2)*2}})
		}
		f.Curves = append(f.Curves, c)
	}
	return f
}

func season(practices, events int, names []string) figure.Season {
	f := figure.Season{Words: words("The season of 2024, run by run"), Y: "sap a tap so far, gal (95 % band)",
		Key: figure.SeasonKey{Mean: "mean of the units, 95 % band", Reference: "unsanitized",
			Event: "something happened", Out: "run taken out",
			Day: "a day's lowest to highest", FreezeThaw: "freeze-thaw day", Freezing: "freezing",
			End: "95 % at the end"},
		Weather: &figure.Weather{Y: "temperature, °C", Said: "A usual season: 31 freeze-thaw days, and a hot end."}}
	for k := range practices {
		c := figure.SeasonCurve{Name: names[k%len(names)], Reference: k == 0}
		sum := 0.0
		for d := 20.0; d < 75; d += 2.5 {
			sum += (0.6 + 0.4*noise(int(d))) * (1 + 0.2*float64(k)*d/75)
			c.Points = append(c.Points,
				figure.SeasonPoint{Day: d, Mean: sum, Range: figure.Range{Low: sum * 0.9, High: sum * 1.1}})
		}
		c.Value = fmt.Sprintf("%.1f gal (%.1f to %.1f)", sum, sum*0.9, sum*1.1)
		f.Curves = append(f.Curves, c)
	}
	f.Notes = nil
	for e := range events {
		from := 22 + float64(e*7%50)
		f.Notes = append(f.Notes, fmt.Sprintf("leak on B%d, 12 to 14 March", e))
		f.Events = append(f.Events,
			figure.SeasonEvent{From: from, To: from + 2, Curves: []int{e % practices, (e + 1) % practices}, Mark: e + 1,
				Out: e%3 == 2})
	}
	for d := range 90 {
		mean := -6 + 0.14*float64(d) + 4*noise(d)
		f.Weather.Days = append(f.Weather.Days,
			figure.WeatherDay{Day: float64(d), Low: mean - 5, High: mean + 5, FreezeThaw: mean < 5 && mean > -5})
	}
	for m, name := range []string{"Feb.", "mars", "avr."} {
		for _, d := range []int{1, 8, 15, 22} {
			f.Ticks = append(f.Ticks,
				figure.DayTick{Day: float64([]int{0, 29, 60}[m] + d - 1), Name: day(d, name), First: d == 1})
		}
	}
	return f
}

// day names a day: the first of a month with its month.
func day(d int, month string) string {
	if d == 1 {
		return fmt.Sprint(d, " ", month)
	}
	return fmt.Sprint(d)
}

func residuals(n int, long bool) figure.Residuals {
	f := figure.Residuals{Words: words("What the analysis leaves unexplained"),
		Fitted: figure.ResidualPanel{Title: "Over the fitted yields", X: "fitted sap a tap, gal",
			Y: "residual, in standard errors"},
		Normal: figure.ResidualPanel{Title: "Against a normal sample", X: "normal quantile",
			Y: "residual, in standard errors"}}
	if long {
		f.Fitted.Title, f.Fitted.X, f.Fitted.Y = "Selon les rendements ajustés du modèle",
			"rendement ajusté en eau d'érable par entaille, en gallons américains",
			"résidu, en multiples de son erreur type"
	}
	for i := range n {
		z := 3.2 * noise(i)
		r := figure.Residual{Fitted: 14 + 9*noise(i+31), Standardized: z, NormalScore: 2.3 * noise(i)}
		if math.Abs(z) > 2 {
			r.Name = fmt.Sprintf("B%d 2024", i)
		}
		f.Points = append(f.Points, r)
	}
	return f
}

func TestTrialLabelsKeepClear(t *testing.T) {
	for _, s := range sizes {
		for _, n := range []int{1, 2, 4, 8} {
			for which, names := range map[string][]string{"english": english, "french": french} {
				for name, sheet := range map[string]*figure.Sheet{
					"power":     power(n, names).Draw(s.size),
					"season":    season(n, 3*n-3, names).Draw(s.size),
					"residuals": residuals(n*12, which == "french").Draw(s.size),
					"one reading": figure.Season{Words: words("x"),
						Curves: []figure.SeasonCurve{
							{Name: names[0], Points: []figure.SeasonPoint{{Day: 3, Mean: 2}}}}}.Draw(s.size),
					"no residuals": residuals(0, false).Draw(s.size),
					"no curves":    figure.Lines{Words: words("x")}.Draw(s.size),
					"no season":    figure.Season{Words: words("x")}.Draw(s.size),
				} {
					if err := check(sheet, s.size); err != nil {
						t.Errorf("%s, %d, %s, %s: %v", name, n, which, s.name, err)
					}
				}
			}
		}
	}
}

func TestAnyTrialKeepsClear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom(sizes).Draw(t, "size")
		word := rapid.StringOfN(rapid.SampledFrom([]rune("aéèmWllœ  -'ç")), 1, 60, -1)
		number := rapid.OneOf(rapid.Float64Range(-100, 300),
			rapid.SampledFrom([]float64{0, 1e9, -1e9, math.NaN(), math.Inf(1)}))
		span := func() figure.Range { return figure.Range{Low: number.Draw(t, "low"), High: number.Draw(t, "high")} }
		w := figure.Words{Title: word.Draw(t, "title"), Notes: rapid.SliceOfN(word, 12, 12).Draw(t, "notes")}
		p := figure.Lines{Words: w, X: word.Draw(t, "x"), Y: word.Draw(t, "y"),
			Level: &figure.Level{Name: word.Draw(t, "level"), Gain: number.Draw(t, "level")}}
		s := figure.Season{Words: w, Y: p.Y,
			Key: figure.SeasonKey{Mean: word.Draw(t, "key"), Reference: word.Draw(t, "key"), Event: word.Draw(t, "key"),
				Out: word.Draw(t, "key"),
				Day: word.Draw(t, "key"), FreezeThaw: word.Draw(t, "key"), Freezing: word.Draw(t, "key"),
				End: word.Draw(t, "key")}}
		r := figure.Residuals{Words: w, Fitted: figure.ResidualPanel{Title: p.X, X: p.Y, Y: p.X},
			Normal: figure.ResidualPanel{Title: p.Y, X: p.X, Y: p.Y}}
		for i := range rapid.IntRange(0, 7).Draw(t, "curves") {
			c, k := figure.Line{Name: word.Draw(t, "name"), Strong: i == 1, Needed: 3},
				figure.SeasonCurve{Name: word.Draw(t, "name"), Value: word.Draw(t, "value"), Reference: i == 2}
			for n := range rapid.IntRange(0, 9).Draw(t, "points") {
				c.Points = append(c.Points,
					figure.LinePoint{At: n + 2, Value: number.Draw(t, "power"), Range: span()})
				k.Points = append(k.Points,
					figure.SeasonPoint{Day: float64(n) * 3, Mean: number.Draw(t, "mean"), Range: span()})
				r.Points = append(r.Points,
					figure.Residual{Name: word.Draw(t, "unit"), Fitted: number.Draw(t, "fitted"),
						Standardized: number.Draw(t, "residual"), NormalScore: number.Draw(t, "score")})
			}
			p.Curves, s.Curves = append(p.Curves, c), append(s.Curves, k)
		}
		for range rapid.IntRange(0, 9).Draw(t, "events") {
			s.Events = append(s.Events,
				figure.SeasonEvent{From: number.Draw(t, "from"), To: number.Draw(t, "to"),
					Curves: []int{rapid.IntRange(0, 6).Draw(t, "curve")},
					Mark:   rapid.IntRange(0, 12).Draw(t, "mark"), Out: rapid.Bool().Draw(t, "out")})
		}
		for d := range rapid.IntRange(0, 20).Draw(t, "ticks") {
			s.Ticks = append(s.Ticks, figure.DayTick{Day: float64(d) * 7, Name: word.Draw(t, "day"), First: d%4 == 0})
		}
		if rapid.Bool().Draw(t, "weather") {
			s.Weather = &figure.Weather{Y: word.Draw(t, "y"), Said: word.Draw(t, "said"),
				Freeze: number.Draw(t, "freeze")}
			for d := range rapid.IntRange(0, 20).Draw(t, "days") {
				s.Weather.Days = append(s.Weather.Days,
					figure.WeatherDay{Day: float64(d), Low: number.Draw(t, "low"), High: number.Draw(t, "high"),
						FreezeThaw: d%2 == 0})
			}
		}
		for name, sheet := range map[string]*figure.Sheet{"power": p.Draw(size.size), "season": s.Draw(size.size),
			"residuals": r.Draw(size.size)} {
			if err := check(sheet, size.size); err != nil {
				t.Fatalf("%s, %s: %v", name, size.name, err)
			}
		}
	})
}

// Every practice, gain and note is named at every width; only a slide may drop the numbers of events together with
// their notes.
func TestTrialsNameEverything(t *testing.T) {
	for _, s := range sizes {
		for which, names := range map[string][]string{"english": english, "french": french} {
			f := season(4, 5, names)
			text := strings.ReplaceAll(shown(f.Draw(s.size)), "\n", " ")
			for _, c := range f.Curves {
				if !strings.Contains(text, c.Name) {
					t.Errorf("%s, %s: practice %q is not named", s.name, which, c.Name)
				}
			}
			for i, n := range f.Notes {
				if has := strings.Contains(text, n); !has && s.size != figure.Slide {
					t.Errorf("%s, %s: note %d is not there", s.name, which, i+1)
				}
			}
			p := power(5, names)
			text = strings.ReplaceAll(shown(p.Draw(s.size)), "\n", " ")
			for _, c := range p.Curves[:2] {
				if !strings.Contains(text, strings.Fields(c.Name)[0]) {
					t.Errorf("%s, %s: gain %q is not named", s.name, which, c.Name)
				}
			}
		}
	}
}

func TestTrialsSameBytes(t *testing.T) {
	for _, s := range sizes {
		for name, draw := range map[string]func() *figure.Sheet{
			"power":     func() *figure.Sheet { return power(5, nil).Draw(s.size) },
			"season":    func() *figure.Sheet { return season(4, 6, english).Draw(s.size) },
			"residuals": func() *figure.Sheet { return residuals(48, false).Draw(s.size) },
		} {
			if !bytes.Equal(draw().SVGFile(), draw().SVGFile()) {
				t.Errorf("%s, %s: differs when drawn again", name, s.name)
			}
		}
	}
}
