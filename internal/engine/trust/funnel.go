package trust

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/mvt"
	"spile/internal/engine/pool"
	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
)

// Point is a comparison with unsanitized in the funnel: its log gain, the standard error that it states, and what the
// pool says of its practice.
type Point struct {
	Study     string
	Treatment practice.Treatment
	Y, SE     float64
	Pooled    float64
}

// Funnel are the comparisons with unsanitized.
func Funnel(l pool.Linear) []Point {
	var points []Point
	for i, r := range l.Rows {
		if r.Ref.Practice != practice.Unsanitized {
			continue
		}
		pooled := l.Fit.Contrast(l.Model.X.RawRowView(i), reml.Wald).Value
		points = append(points, Point{r.Study, r.Arm, l.Model.Y[i], stated(l, i), pooled})
	}
	return points
}

// Contour is the least log gain over 0 that a comparison of a standard error finds at a two-sided p: the edge of a
// funnel's region (Peters et al. 2008, Journal of Clinical Epidemiology 61:991).
func Contour(p, se float64) float64 { return se * distuv.UnitNormal.Quantile(1-p/2) }

// Egger is a test whether small studies find larger gains: the slope of the log gain on a comparison's standard error,
// as one more column of the joint model (Egger et al. 1997, BMJ 315:629; in a model with other effects, Sterne & Egger
// 2005). Rows between two sanitized practices have 0 there: nothing says which of the two a bias would favour.
type Egger struct {
	Slope, SE, DF, P float64
	Low, High        float64 // 95 %
	Comparisons      int
	// Bias is the overstatement of the comparison of largest error beside that of least, in percent, that Power is for;
	// Power is the chance that a test at 5 % finds it. Found is the bias that it finds in four of five cases.
	BiasPct, Power, FoundPct float64
}

// namedBias is the overstatement whose finding is asked after: it would make a gain of 40 % of one of 17.
const namedBias = 20.

// apart is how many times the least error the largest is where the test is asked. Errors that differ by less do so for
// the gains that they are errors of: of arms with one spread, what gives more has the smaller error of its logarithm.
const apart = 1.25

// SmallStudies fits the test; false where the errors hardly differ, or no freedom is left.
func SmallStudies(l pool.Linear) (Egger, bool) {
	errors := make([]float64, len(l.Rows))
	low, high := math.Inf(1), 0.
	e := Egger{BiasPct: namedBias}
	for i, r := range l.Rows {
		if r.Ref.Practice == practice.Unsanitized {
			se := stated(l, i)
			errors[i] = se
			low, high = min(low, se), max(high, se)
			e.Comparisons++
		}
	}
	if !(high > apart*low) {
		return e, false
	}
	f, p, ok := besides(l, errors)
	if !ok {
		return e, false
	}
	est := f.Effect(p, l.Inference())
	e.Slope, e.SE, e.DF = est.Value, est.SE, est.DF
	half := mvt.Half(e.DF) * e.SE
	e.Low, e.High, e.P = e.Slope-half, e.Slope+half, mvt.TwoSided(e.Slope/e.SE, e.DF)
	e.Power = power(math.Log1p(namedBias/100)/(high-low)/e.SE, e.DF)
	e.FoundPct = 100 * math.Expm1(found(0.8, e.DF)*e.SE*(high-low))
	return e, true
}

// stated is the standard error of a row by itself: its sampling variance.
func stated(l pool.Linear, row int) float64 {
	for _, b := range l.Model.V0 {
		if k := slices.Index(b.Rows, row); k >= 0 {
			return math.Sqrt(b.V.At(k, k))
		}
	}
	return 0
}

// power is the chance that a two-sided test at 5 % finds an effect of some standard errors: by the noncentral t.
func power(errors, df float64) float64 {
	t := mvt.Half(df)
	if math.IsInf(df, 1) {
		return distuv.UnitNormal.CDF(errors-t) + distuv.UnitNormal.CDF(-errors-t)
	}
	return 1 - mvt.Noncentral(t, df, errors) + mvt.Noncentral(-t, df, errors)
}

// found is the effect, in standard errors, that is found with a chance.
func found(chance, df float64) float64 {
	low, high := 0., 1.
	for power(high, df) < chance {
		high *= 2
	}
	for range 60 {
		if mid := (low + high) / 2; power(mid, df) < chance {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}
