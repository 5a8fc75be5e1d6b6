package mixture

import (
	"math/rand/v2"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// Sampler draws some combinations together: a part of the mixture is chosen by a number from 0 to 1, and independent
// standard normals do the rest.
type Sampler struct {
	p     *Posterior
	lines []Line
	below []float64 // weight of a part and those before it, of all
	bends [][]float64
}

// Sampler makes one of some lines. It may be shared by goroutines.
func (p *Posterior) Sampler(lines []Line) *Sampler {
	s := &Sampler{p: p, lines: lines, below: make([]float64, len(p.parts))}
	sum := 0.0
	for i, x := range p.parts {
		sum += x.weight
		s.below[i] = sum
	}
	for i := range s.below {
		s.below[i] /= sum
	}
	for _, l := range lines {
		s.bends = append(s.bends, p.newSight(l).bends)
	}
	return s
}

// Part is the part that holds a point of the weights, from 0 to 1.
func (s *Sampler) Part(u float64) int { return min(sort.SearchFloat64s(s.below, u), len(s.below)-1) }

// Parts is how many parts there are, and Weight the part of the whole that one is.
func (s *Sampler) Parts() int { return len(s.below) }

// Weight is that of a part.
func (s *Sampler) Weight(part int) float64 {
	if part == 0 {
		return s.below[0]
	}
	return s.below[part] - s.below[part-1]
}

// Width is the number of standard normals that a draw takes.
func (s *Sampler) Width() int { return s.p.f.m.fixed + s.p.f.m.drops }

// SD is the standard deviations in a part.
func (s *Sampler) SD(part int) SD { return s.p.points[s.p.parts[part].point].at }

// Room is what At works in: one for each goroutine.
func (s *Sampler) Room() []float64 { return make([]float64, s.Width()) }

// At gives the lines in a part at the normals z.
func (s *Sampler) At(part int, z, to, room []float64) {
	m := s.p.f.m
	x := &s.p.parts[part]
	y := &s.p.points[x.point]
	delta, beta := room[:m.drops], room[m.drops:]
	for k := range delta {
		delta[k] = x.delta[k]
		for j := k; j < m.drops; j++ {
			delta[k] += x.spread[k*m.drops+j] * z[j]
		}
	}
	z = z[m.drops:]
	for i := range beta {
		v := y.mean[i]
		for j, r := range y.root[i*m.fixed+i : (i+1)*m.fixed] {
			v += r * z[i+j]
		}
		for a, arm := range m.ages {
			v -= y.age[i*len(m.ages)+a] * s.p.f.bends[x.curve*len(m.ages)+a] * delta[arm.Drop-1]
		}
		beta[i] = v
	}
	for i, l := range s.lines {
		v := 0.0
		for j, c := range l.Fixed {
			v += c * beta[j]
		}
		for j, b := range l.Drops {
			v += s.bends[i][x.curve*len(l.Drops)+j] * delta[b.Drop-1]
		}
		to[i] = v
	}
}

// Draws gives n draws of some lines together, by line, each with the standard deviations of its part. The parts are
// drawn in proportion to their weights, without luck, and of each normal every one of n equally likely pieces is drawn
// once, in an order of its own (McKay, Beckman & Conover 1979, Technometrics 21:239).
func (p *Posterior) Draws(lines []Line, n int, seed uint64) (draws [][]float64, sds []SD) {
	s := p.Sampler(lines)
	random := rand.New(rand.NewPCG(seed, 0))
	pieces := make([]float64, n)
	for i := range pieces {
		pieces[i] = distuv.UnitNormal.Quantile((float64(i) + 0.5) / float64(n))
	}
	z := make([][]float64, s.Width())
	for k := range z {
		z[k] = slices.Clone(pieces)
		random.Shuffle(n, func(i, j int) { z[k][i], z[k][j] = z[k][j], z[k][i] })
	}
	draws, sds = make([][]float64, len(lines)), make([]SD, n)
	for k := range draws {
		draws[k] = make([]float64, n)
	}
	own, to, room := make([]float64, s.Width()), make([]float64, len(lines)), s.Room()
	for i, at := range random.Perm(n) {
		part := s.Part((float64(at) + 0.5) / float64(n))
		for k := range own {
			own[k] = z[k][i]
		}
		s.At(part, own, to, room)
		for k, x := range to {
			draws[k][i] = x
		}
		sds[i] = s.SD(part)
	}
	return draws, sds
}

// Normal is a line in a part: its mean, and what each standard normal of a draw adds to it.
func (s *Sampler) Normal(part, line int) (mean float64, row []float64) {
	row = make([]float64, s.Width())
	return s.Normals(line)(part, row), row
}

// Normals is Normal of a line in one part after the other, into a row.
func (s *Sampler) Normals(line int) func(part int, row []float64) (mean float64) {
	m := s.p.f.m
	own, at := s.p.newSight(s.lines[line]), -1
	return func(part int, row []float64) float64 {
		x := &s.p.parts[part]
		root := s.p.points[x.point].root
		if at != x.point {
			at = x.point
			own.look(&s.p.points[at])
		}
		mean, _ := own.of(x)
		for k := range m.drops {
			row[k] = 0
			for j := range k + 1 {
				row[k] += own.turn[j] * x.spread[j*m.drops+k]
			}
		}
		clear(row[m.drops:])
		for j, c := range s.lines[line].Fixed {
			if c == 0 {
				continue
			}
			for k := j; k < m.fixed; k++ {
				row[m.drops+k] += c * root[j*m.fixed+k]
			}
		}
		return mean
	}
}
