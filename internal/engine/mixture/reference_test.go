package mixture

import (
	"math"
	"testing"
)

func near(t testing.TB, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s = %.5f, want %.5f within %g", what, got, want, within)
	}
}

func integrated(t testing.TB, table Table, p Prior) *Answer {
	t.Helper()
	a, err := Of(table, p)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// lineOf is the line of one effect.
func lineOf(i int) Line {
	l := Line{Fixed: make([]float64, i+1)}
	l.Fixed[i] = 1
	return l
}

// want is what is known of one effect.
type want struct{ mean, sd, low, high, seasonLow, seasonHigh float64 }

func (w want) hold(t *testing.T, p *Posterior, i int, within float64) {
	t.Helper()
	d, s := p.Of(lineOf(i)), p.Season(lineOf(i))
	for _, x := range []struct {
		what      string
		got, want float64
	}{
		{"mean", d.Mean(), w.mean}, {"sd", d.SD(), w.sd},
		{"low", d.Quantile(.025), w.low}, {"high", d.Quantile(.975), w.high},
		{"low in a season", s.Quantile(.025), w.seasonLow}, {"high in a season", s.Quantile(.975), w.seasonHigh},
	} {
		if x.want != 0 {
			near(t, x.what, x.got, x.want, within)
		}
	}
}

// The values of six were worked out by three programs that share no code, one of them JAGS.
func TestSix(t *testing.T) {
	a := integrated(t, six(), calm())
	for i, w := range []want{
		{.3243, .1334, .0570, .5937, -.1839, .8342},
		{.4439, .1449, .1591, .7404, -.0697, .9720},
		{.5869, .1671, .2617, .9290, .0517, 1.1421},
	} {
		w.hold(t, a.Studies, i, .0006)
	}
	near(t, "log evidence", a.Evidence, 6.2920, .0005)
	for i, gain := range []float64{41.5, 59.7, 84.9} {
		near(t, "long-run gain", 100*math.Expm1(a.Studies.LongRun(lineOf(i)).Exp()), gain, .06)
	}
	for i, w := range []want{{mean: .3463, sd: .1297}, {mean: .4245, sd: .1362}, {mean: .5006, sd: .1571}} {
		w.hold(t, a.Shrunk, i, .001)
	}
	lines := []Line{lineOf(0), lineOf(1), lineOf(2)}
	plain, shrunk := largest(a.Studies, lines, 1<<16, 1), largest(a.Shrunk, lines, 1<<16, 1)
	for i, want := range []float64{.0081, .1252, .8667} { // four standard errors of the simulation, at most
		near(t, "chance of being largest", plain[i], want, .004)
	}
	for i, want := range []float64{.047, .207, .746} {
		near(t, "chance of being largest, shrunk", shrunk[i], want, .005)
	}
}

// The same table in JAGS under other scales.
func TestOtherScales(t *testing.T) {
	p := calm()
	p.Scale = SD{.2, .1, .1, .1, .2}
	a := integrated(t, six(), p)
	for i, w := range []want{{mean: .3240, sd: .1160}, {mean: .4389, sd: .1278}, {mean: .5831, sd: .1515}} {
		w.hold(t, a.Studies, i, .0003)
	}
}

// One study says little, and what it says is mostly assumed. Shrinking has nothing to shrink toward.
func TestOneStudy(t *testing.T) {
	a := integrated(t, lone(), Default())
	for _, p := range []*Posterior{a.Studies, a.Shrunk} {
		want{mean: math.Log(1.48), low: -.3347, high: 1.1188}.hold(t, p, 0, .0005)
	}
	if a.Apart != nil {
		t.Errorf("a study cannot stand apart from none: %v", a.Apart)
	}
}

func TestStandingApart(t *testing.T) {
	a := integrated(t, six(), Default())
	for i, want := range []float64{.0080, .0178, .0139, .0247, .0101, .0292} {
		near(t, "chance of standing apart", a.Apart[i], want, .0003)
	}
	a = integrated(t, twelve(), Default())
	want{mean: .361, low: .245, high: .479}.hold(t, a.Studies, 0, .0006)
	for i, p := range a.Apart[:11] {
		if p > .02 {
			t.Errorf("study %d of eleven that agree stands apart with chance %v", i, p)
		}
	}
	near(t, "chance of the twelfth", a.Apart[11], .999, .0005)
	want{mean: .452, low: .196, high: .706}.hold(t, integrated(t, twelve(), calm()).Studies, 0, .001)
}

// largest is the chance that each of some lines is the largest of them, by n draws.
func largest(p *Posterior, lines []Line, n int, seed uint64) []float64 {
	draws, _ := p.Draws(lines, n, seed)
	chance := make([]float64, len(lines))
	for i := range n {
		best := 0
		for k := range draws {
			if draws[k][i] > draws[best][i] {
				best = k
			}
		}
		chance[best] += 1 / float64(n)
	}
	return chance
}
