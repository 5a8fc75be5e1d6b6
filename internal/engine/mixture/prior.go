package mixture

import "math"

// The standard deviations of the random parts, in the order of SD and of every list of them.
const (
	StudySD    = iota // τ: one study from the next
	SiteSD            // σ_u: one site from the next
	SeasonSD          // σ_v: one season from the next
	PracticeSD        // σ_w: a practice at one place from the same at the next
	ShrinkSD          // ω: a practice from the mean of its family
	sds
)

// SD is one of each standard deviation, on the log scale.
type SD [sds]float64

// Prior is what is taken to be known before any study.
type Prior struct {
	// Scale of the half-normal priors on the standard deviations (Röver et al. 2021, Research Synthesis Methods 12:448;
	// Gelman 2006, Bayesian Analysis 1:515).
	Scale  SD
	Family float64 // standard deviation of the families' means around the mean of all
	Delta  float64 // of what new drops gain over a yearly new spout in their first season, as the studies say
	Shrunk float64 // the same where gains are shrunk
	Slope  float64 // of what one standard deviation of a moderator adds to a log gain, where gains are shrunk
	Wild   float64 // chance that a study stands apart
	Shift  float64 // standard deviation of a contrast's shift in a study that stands apart
}

// Default is the prior used unless asked otherwise.
func Default() Prior {
	return Prior{Scale: SD{0.25, 0.15, 0.15, 0.10, 0.20}, Family: 0.25, Delta: 1, Shrunk: 0.35, Slope: 0.1, Wild: 0.05,
		Shift: 0.6}
}

// Times is the prior with all scales of standard deviations multiplied.
func (p Prior) Times(factor float64) Prior {
	for i := range p.Scale {
		p.Scale[i] *= factor
	}
	return p
}

// log is the log density of the half-normal prior of one standard deviation.
func (p Prior) log(which int, sd float64) float64 {
	x := sd / p.Scale[which]
	return math.Log(math.Sqrt(2/math.Pi)/p.Scale[which]) - x*x/2
}

// shrinkage is the prior precision Q of effects that are β_p = m + Family·f + ω b, with m flat, f of the family and b
// standard normal. With Σ = ω²I + Family²FF', and 1 the vector of ones,
//
//	Q = Σ⁻¹ − Σ⁻¹11'Σ⁻¹/(1'Σ⁻¹1),  log density −½(ln|Σ| + ln(1'Σ⁻¹1) + β'Qβ)
//
// where within a family of n, Σ⁻¹ = (I − 11'·Family²/(ω² + n·Family²))/ω². The slope of a moderator is N(0, Slope²) for
// each standard deviation of it, after Gelman et al. 2008 (Annals of Applied Statistics 2:1360).
type shrinkage struct {
	q   []float64 // fixed × fixed: effects, then moderators
	log float64   // of effects −½(ln|Σ| + ln(1'Σ⁻¹1)), of each slope its precision's ½ ln
}

// newShrinkage is that of a table at one ω.
func (p Prior) newShrinkage(t Table, omega float64) shrinkage {
	families, n := t.Families, len(t.Families)+len(t.Moderators)
	s := shrinkage{q: make([]float64, n*n)}
	for k, sd := range t.Moderators {
		precision := square(sd / p.Slope)
		s.q[(len(families)+k)*(n+1)] = precision
		s.log += math.Log(precision) / 2
	}
	one := make([]float64, len(families)) // Σ⁻¹1
	w2, f2 := omega*omega, p.Family*p.Family
	total := 0.0
	for i, f := range families {
		size := 0.0
		for _, g := range families {
			if f == g {
				size++
			}
		}
		for j, g := range families {
			if f == g {
				s.q[i*n+j] = -f2 / (w2 + size*f2) / w2
			}
		}
		s.q[i*n+i] += 1 / w2
		one[i] = 1 / (w2 + size*f2)
		total += one[i]
		s.log -= (math.Log(w2) + math.Log((w2+size*f2)/w2)/size) / 2
	}
	s.log -= math.Log(total) / 2
	for i := range families {
		for j := range families {
			s.q[i*n+j] -= one[i] * one[j] / total
		}
	}
	return s
}
