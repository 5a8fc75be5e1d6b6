package pool

import (
	"math"
	"slices"

	"spile/internal/trade/practice"
)

// layout says which column of X belongs to what. The log gain of a treatment over unsanitized is a column of its own,
// or, where ageing is modelled, β_base + δ f(a): base is the practice that a replaced drop ages toward.
type layout struct {
	set        practice.Set
	treatments []practice.Treatment       // with a column of their own, in order
	own        map[practice.Treatment]int // their columns
	ageing     []practice.Key             // practices on the curve
	base       map[practice.Key]practice.Key
	delta      map[practice.Key]int // column of δ
	curve      shape
	halfLife   float64
	slope      int                      // column of ∂μ/∂(half-life), −1 without
	slopeOf    map[practice.Key]float64 // δ of each practice on the curve relative to the largest
	moderator  int                      // first column of the moderators
	moderators []int                    // which of the options' moderators have a column
	columns    int
}

// newLayout gives every linked treatment a column, but those of the practices on the curve.
func newLayout(t *table, linked map[practice.Treatment]bool, base map[practice.Key]practice.Key,
	moderators []int) *layout {
	l := &layout{set: t.set, own: map[practice.Treatment]int{}, base: base, delta: map[practice.Key]int{}, slope: -1,
		moderators: moderators}
	for x := range linked {
		if _, on := base[x.Practice]; !on && x.Practice != practice.Unsanitized {
			l.treatments = append(l.treatments, x)
		}
	}
	slices.SortFunc(l.treatments, func(a, b practice.Treatment) int { return compare(a, b, t.set) })
	for i, x := range l.treatments {
		l.own[x] = i
	}
	l.columns = len(l.treatments)
	for _, p := range t.set {
		if _, on := base[p.Key]; on {
			l.ageing = append(l.ageing, p.Key)
			l.delta[p.Key] = l.columns
			l.columns++
		}
	}
	l.moderator = l.columns
	l.columns += len(moderators)
	return l
}

// at is the layout with a curve; with slope it has the curve's derivative as its last column.
func (l *layout) at(c shape, halfLife float64, slopeOf map[practice.Key]float64) *layout {
	m := *l
	m.curve, m.halfLife, m.slopeOf, m.slope = c, halfLife, slopeOf, -1
	if slopeOf != nil {
		m.slope = m.columns
		m.columns++
	}
	return &m
}

// term adds to x c times the coefficients of a treatment's log gain at an age; false where it has none.
func (l *layout) term(x []float64, key practice.Key, age, c float64) bool {
	if key == practice.Unsanitized {
		return true
	}
	if base, on := l.base[key]; on {
		x[l.delta[key]] += c * l.curve.at(age, l.halfLife)
		if l.slope >= 0 {
			x[l.slope] += c * l.slopeOf[key] * l.curve.slope(age, l.halfLife)
		}
		return l.term(x, base, 0, c)
	}
	k, ok := l.own[practice.Treatment{Practice: key, DropAge: int(age)}]
	if !ok || age != math.Trunc(age) {
		return false
	}
	x[k] += c
	return true
}

// fill writes the row of X of a contrast.
func (l *layout) fill(x []float64, r row, moderators []float64) {
	l.term(x, r.arm.Practice, float64(r.arm.DropAge), 1)
	l.term(x, r.ref.Practice, float64(r.ref.DropAge), -1)
	if z := sanitized(r.arm) - sanitized(r.ref); z != 0 {
		for i, k := range l.moderators {
			x[l.moderator+i] += z * moderators[k]
		}
	}
}

// shape is how the extra gain of a new drop fades: 1 at age 0, one half at the half-life.
type shape string

const (
	exponential shape = "exponential" // e^(−λa), λ = ln 2 / half-life
	linear      shape = "linear"      // max(0, 1 − a/L), L = twice the half-life
)

func (s shape) at(age, halfLife float64) float64 {
	if s == linear {
		return max(0, 1-age/(2*halfLife))
	}
	return math.Exp(-math.Ln2 * age / halfLife)
}

// slope is the derivative by the half-life.
func (s shape) slope(age, halfLife float64) float64 {
	if s == linear {
		if age >= 2*halfLife {
			return 0
		}
		return age / (2 * halfLife * halfLife)
	}
	return math.Ln2 * age / (halfLife * halfLife) * s.at(age, halfLife)
}

// compare orders treatments by the practices' order in the set, then by age.
func compare(a, b practice.Treatment, set practice.Set) int {
	if a.Practice != b.Practice {
		for _, p := range set {
			switch p.Key {
			case a.Practice:
				return -1
			case b.Practice:
				return 1
			}
		}
	}
	return a.DropAge - b.DropAge
}
