package mixture

import "math"

// Line is a combination of what is estimated: Fixed'(effects, moderators) + Σ C·δ_Drop·f(Age). Fixed may be shorter.
type Line struct {
	Fixed []float64
	Drops []Bend
}

// Bend is C times what new drops gain over their effect, at an age.
type Bend struct {
	Drop   int // counted from 1, as in Arm
	Age, C float64
}

// Mean is the mean of a combination.
func (p *Posterior) Mean(l Line) float64 {
	m := p.means()
	mean := 0.0
	for j, c := range l.Fixed {
		mean += c * m.fixed[j]
	}
	for _, b := range l.Drops {
		for k, c := range p.f.curves {
			mean += b.C * c.at(b.Age) * m.delta[k*p.f.m.drops+b.Drop-1]
		}
	}
	return mean
}

// LongRunMean is the mean of LongRun.
func (p *Posterior) LongRunMean(l Line) float64 {
	return p.Mean(l) + (p.Variance(SiteSD)+p.Variance(SeasonSD))/2
}

// means is what the mean of every combination is made of.
type means struct {
	fixed    []float64
	delta    []float64    // curves × drops, each times the weight of its curve
	variance [sds]float64 // E σ²
}

func (p *Posterior) newMeans() means {
	m := p.f.m
	x := means{fixed: make([]float64, m.fixed), delta: make([]float64, len(p.f.curves)*m.drops)}
	whole := 0.0
	for _, part := range p.parts {
		whole += part.weight
	}
	for _, part := range p.parts {
		y, w := &p.points[part.point], part.weight/whole
		for k, sd := range y.at {
			x.variance[k] += w * sd * sd
		}
		for d, v := range part.delta {
			x.delta[part.curve*m.drops+d] += w * v
		}
		bends := p.f.bends[part.curve*len(m.ages):]
		for j := range x.fixed {
			v := y.mean[j]
			for a, arm := range m.ages {
				v -= y.age[j*len(m.ages)+a] * bends[a] * part.delta[arm.Drop-1]
			}
			x.fixed[j] += w * v
		}
	}
	return x
}

// Of is the distribution of a combination.
func (p *Posterior) Of(l Line) Marginal { return p.of(l, itself)[0] }

// Season is the distribution of a sanitized practice's log gain in one season at a place not yet studied: its variance
// has τ² + σ_u² + σ_v² + σ_w² besides.
func (p *Posterior) Season(l Line) Marginal { return p.of(l, oneSeason)[0] }

// LongRun is the distribution of the logarithm of the ratio of expected yields over places and seasons,
// β + (σ_u² + σ_v²)/2.
func (p *Posterior) LongRun(l Line) Marginal { return p.of(l, longRun)[0] }

// Sights is Of, Season and LongRun, looked at together.
func (p *Posterior) Sights(l Line) (own, season, long Marginal) {
	all := p.of(l, itself, oneSeason, longRun)
	return all[0], all[1], all[2]
}

func itself(SD) (shift, variance float64) { return 0, 0 }

func oneSeason(at SD) (shift, variance float64) {
	return 0, square(at[StudySD]) + square(at[SiteSD]) + square(at[SeasonSD]) + square(at[PracticeSD])
}

func longRun(at SD) (shift, variance float64) {
	return (square(at[SiteSD]) + square(at[SeasonSD])) / 2, 0
}

func square(x float64) float64 { return x * x }

// of is the distributions of a combination, each moved and widened by what its standard deviations say.
func (p *Posterior) of(l Line, more ...func(SD) (shift, variance float64)) []Marginal {
	out := make([]Marginal, len(more))
	for j := range out {
		out[j] = make(Marginal, len(p.parts))
	}
	s := p.newSight(l)
	for i := range p.parts {
		x := &p.parts[i]
		if i == 0 || x.point != p.parts[i-1].point {
			s.look(&p.points[x.point])
		}
		mean, variance := s.of(x)
		for j, f := range more {
			shift, wider := f(p.points[x.point].at)
			out[j][i] = Normal{Weight: x.weight, Mean: mean + shift, SD: math.Sqrt(variance + wider)}
		}
	}
	for j := range out {
		out[j] = out[j].merged()
	}
	return out
}

// sight is a line seen from one point after the other: with ages, c'(mean, δ) = mean + turn'δ.
type sight struct {
	p              *Posterior
	line           Line
	bends          []float64 // curves × line.Drops: C·f(Age)
	mean, variance float64   // given δ = 0
	ages           []float64 // c'age of the point
	turn           []float64 // drops
	row            []float64 // c'root of the point
}

func (p *Posterior) newSight(l Line) *sight {
	m := p.f.m
	s := &sight{p: p, line: l, ages: make([]float64, len(m.ages)), turn: make([]float64, m.drops),
		row: make([]float64, m.fixed)}
	for _, k := range p.f.curves {
		for _, b := range l.Drops {
			s.bends = append(s.bends, b.C*k.at(b.Age))
		}
	}
	return s
}

// look takes a new point.
func (s *sight) look(x *point) {
	fixed := s.p.f.m.fixed
	s.mean, s.variance = 0, 0
	clear(s.ages)
	for j, c := range s.line.Fixed {
		if c == 0 {
			continue
		}
		s.mean += c * x.mean[j]
		for a := range s.ages {
			s.ages[a] += c * x.age[j*len(s.ages)+a]
		}
	}
	clear(s.row)
	for j, c := range s.line.Fixed {
		if c != 0 {
			for k, r := range x.root[j*fixed+j : (j+1)*fixed] {
				s.row[j+k] += c * r
			}
		}
	}
	for _, z := range s.row {
		s.variance += z * z
	}
}

// of is the mean and the variance in one part.
func (s *sight) of(x *part) (mean, variance float64) {
	mean, variance = s.mean, s.variance
	if len(s.turn) == 0 {
		return mean, variance
	}
	s.bend(x.curve)
	n := len(s.turn)
	for k := range n {
		mean += s.turn[k] * x.delta[k]
		z := 0.0
		for j := range k + 1 {
			z += s.turn[j] * x.spread[j*n+k]
		}
		variance += z * z
	}
	return mean, variance
}

// bend sets what a unit of each δ moves the line by, under one curve.
func (s *sight) bend(curve int) {
	clear(s.turn)
	n := len(s.line.Drops)
	for j, b := range s.line.Drops {
		s.turn[b.Drop-1] += s.bends[curve*n+j]
	}
	bends := s.p.f.bends[curve*len(s.ages):]
	for a, arm := range s.p.f.m.ages {
		s.turn[arm.Drop-1] -= s.ages[a] * bends[a]
	}
}
