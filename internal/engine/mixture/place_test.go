package mixture

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// What is known of a site's u and w, and of them with the gains, by the dense covariance of all contrasts: with C their
// covariance with y and P = V⁻¹ − V⁻¹XΦX'V⁻¹,
//
//	E = CPy,  Var = D − CPC',  Cov(β, ·) = −ΦX'V⁻¹C'
//
// (Henderson 1975, Biometrics 31:423). Site 0 has two studies that share a practice, and one that stands alone.
func TestPlaceAgainstDense(t *testing.T) {
	table := six()
	a, err := Of(table, calm())
	if err != nil {
		t.Fatal(err)
	}
	lines := []Line{lineOf(0), lineOf(1), lineOf(2)}
	s := a.Studies.Sampler(lines)
	practices := []int{1, 2, 3, 0} // 3 was never there
	place := s.Place("site 0", practices)
	for _, part := range []int{0, len(a.Studies.parts) / 3, len(a.Studies.parts) - 1} {
		mean, cov := place.Normal(part)
		at := s.SD(part)
		d := newDense(table, at, nil, func(int) bool { return false }, 0)
		c := mat.NewDense(1+len(practices), len(d.y), nil)
		row := 0
		for _, study := range table.Studies {
			for _, arm := range study.Arms[1:] {
				for sign, x := range map[float64]Arm{1: arm, -1: study.Arms[0]} {
					if study.Site != "site 0" {
						continue
					}
					if x.Effect >= 0 {
						c.Set(0, row, c.At(0, row)+sign*at[SiteSD]*at[SiteSD])
					}
					for k, p := range practices {
						if p == x.Practice {
							c.Set(1+k, row, c.At(1+k, row)+sign*at[PracticeSD]*at[PracticeSD]/2)
						}
					}
				}
				row++
			}
		}
		var vi, vix, info, phi, p, cp, known, spread, cross, xvic mat.Dense
		check := func(err error) {
			if err != nil {
				t.Fatal(err)
			}
		}
		check(vi.Inverse(d.v))
		vix.Mul(&vi, d.x)
		info.Mul(d.x.T(), &vix)
		check(phi.Inverse(&info))
		var left mat.Dense
		left.Mul(&vix, &phi)
		p.Mul(&left, vix.T())
		p.Sub(&vi, &p)
		cp.Mul(c, &p)
		known.Mul(&cp, mat.NewDense(len(d.y), 1, d.y))
		spread.Mul(&cp, c.T())
		xvic.Mul(vix.T(), c.T())
		cross.Mul(&phi, &xvic)
		same := func(what string, got, want float64) {
			if math.Abs(got-want) > 1e-9 {
				t.Errorf("part %d, %s: %v, dense %v", part, what, got, want)
			}
		}
		for i := range 1 + len(practices) {
			same("mean", mean[3+i], known.At(i, 0))
			for j := range i + 1 {
				before := 0.0
				if i == j {
					before = at[PracticeSD] * at[PracticeSD] / 2
				}
				if i == 0 {
					before = at[SiteSD] * at[SiteSD]
				}
				same("covariance", cov.At(3+i, 3+j), before-spread.At(i, j))
			}
			for b := range 3 {
				same("covariance with a gain", cov.At(b, 3+i), -cross.At(b, i))
			}
		}
		for i := range lines {
			m, r := s.Normal(part, i)
			v := 0.0
			for _, x := range r {
				v += x * x
			}
			same("gain", mean[i], m)
			same("variance of a gain", cov.At(i, i), v)
		}
	}
}

// Gains are the same seen with a site as without, where drops age and gains are shrunk too, and a site without studies
// has the variances of a new one.
func TestPlaceKeepsGains(t *testing.T) {
	table := trade(24, 6, 5, true, 3)
	table.Studies[3].Trial, table.Studies[4].Trial = "t", "t"
	a, err := Of(table, Default())
	if err != nil {
		t.Fatal(err)
	}
	lines := []Line{lineOf(0), lineOf(3), {Fixed: []float64{1}, Drops: []Bend{{Drop: 1, Age: 1.5, C: 1}}}}
	s := a.Shrunk.Sampler(lines)
	for _, name := range []string{"site 0", "site 1", "nowhere"} {
		place := s.Place(name, []int{0, 1, 4})
		for part := 0; part < len(a.Shrunk.parts); part += 1 + len(a.Shrunk.parts)/40 {
			mean, cov := place.Normal(part)
			at := s.SD(part)
			if u := cov.At(3, 3); u < 0 || u > square(at[SiteSD])*(1+1e-9) {
				t.Errorf("%s: u has variance %v, before any study %v", name, u, square(at[SiteSD]))
			} else if name == "nowhere" && u != square(at[SiteSD]) {
				t.Errorf("a new site's u has variance %v, want %v", u, square(at[SiteSD]))
			}
			for i := range lines {
				m, r := s.Normal(part, i)
				v := 0.0
				for _, x := range r {
					v += x * x
				}
				if math.Abs(mean[i]-m) > 1e-7 || math.Abs(cov.At(i, i)/v-1) > 1e-6 {
					t.Errorf("%s, part %d, line %d: %v (%v), by itself %v (%v)", name, part, i, mean[i], cov.At(i, i),
						m, v)
				}
			}
		}
	}
}
