package trust

import (
	"math"
	"runtime"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/mvt"
	"spile/internal/engine/pool"
	"spile/internal/engine/reml"
)

// Foretold is a comparison beside what other studies say of it. Where they say nothing, Told is false and all else but
// its own log gain is 0.
type Foretold struct {
	pool.Contrast
	Y    float64
	Told bool
	// Log, Low and High are the log gain that the others foretell at its site and with its own sampling error, with the
	// 95 % range.
	Log, Low, High float64
	Inside         bool
	// Residual is Y less what the others' effects alone say, and Studentized that over its standard error: the deleted
	// residual; by mixture the standard normal number that lies as far out. Normal is where its rank would stand in a
	// normal sample (Blom 1958).
	Residual, Studentized, Normal float64
}

// Others foretells each study from all others, in the order of the model's rows.
func Others(l pool.Linear) []Foretold {
	list := make([]Foretold, len(l.Rows))
	_, of := groups(l.Rows, study)
	each(len(of), func(k int) { foretell(l, without(len(l.Rows), of[k]), of[k], list) })
	scores(list)
	return list
}

// Before foretells each study from those of earlier seasons: what the pool said before it came.
func Before(l pool.Linear) []Foretold {
	list := make([]Foretold, len(l.Rows))
	var seasons []int
	for _, r := range l.Rows {
		seasons = append(seasons, r.Season)
	}
	slices.Sort(seasons)
	seasons = slices.Compact(seasons)
	each(len(seasons), func(k int) {
		var earlier, own []int
		for i, r := range l.Rows {
			switch {
			case r.Season < seasons[k]:
				earlier = append(earlier, i)
			case r.Season == seasons[k]:
				own = append(own, i)
			}
		}
		foretell(l, earlier, own, list)
	})
	scores(list)
	return list
}

// Year is how many comparisons of a season fell inside the range foretold.
type Year struct {
	Season, Told, Inside int
}

// ByYear counts, by season.
func ByYear(list []Foretold) []Year {
	var years []Year
	for _, f := range list {
		i, ok := slices.BinarySearchFunc(years, f.Season, func(y Year, s int) int { return y.Season - s })
		if !ok {
			years = slices.Insert(years, i, Year{Season: f.Season})
		}
		if f.Told {
			years[i].Told++
		}
		if f.Inside {
			years[i].Inside++
		}
	}
	return years
}

// each calls f for 0 to n−1 on all cores.
func each(n int, f func(int)) {
	var group sync.WaitGroup
	room := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range n {
		group.Go(func() {
			room <- struct{}{}
			f(i)
			<-room
		})
	}
	group.Wait()
}

// foretell fits some rows and foretells others. With W the inverse of the rows' covariance, v that between a row and
// them, and x its effects,
//
//	ŷ = x'β + v'W(y − Xβ),  var = v_ii − v'Wv + d'Φ_A d,  d = x − X'Wv
//
// (Henderson 1975, Biometrics 31:423), with the degrees of freedom of x'β. Where gains are integrated over the
// variances all that is as the mixture says.
func foretell(l pool.Linear, rows, targets []int, list []Foretold) {
	for _, i := range targets {
		list[i] = Foretold{Contrast: l.Rows[i], Y: l.Model.Y[i]}
	}
	if len(rows) == 0 {
		return
	}
	if l.Integrated() {
		for k, x := range l.Foretell(rows, targets) {
			f := &list[targets[k]]
			if f.Told = x.Told; x.Told {
				f.Residual, f.Studentized = f.Y-x.Effects, x.Normal
				f.Log, f.Low, f.High = x.Log, x.Low, x.High
				f.Inside = f.Low <= f.Y && f.Y <= f.High
			}
		}
		return
	}
	p, err := on(l, rows)
	if err != nil {
		return
	}
	for _, i := range targets {
		x := l.Model.X.RawRowView(i)
		if !p.estimable(x) {
			continue
		}
		f := &list[i]
		f.Told = true
		own := p.own(x)
		wald := p.fit.Contrast(own, reml.Wald)
		v := p.covariance([]int{i}, []int{i}).At(0, 0)
		f.Residual = f.Y - wald.Value
		f.Studentized = f.Residual / math.Sqrt(v+wald.SE*wald.SE)

		mean, part, d := p.near(i)
		e := p.fit.Contrast(d, l.Inference())
		df := p.fit.Contrast(own, l.Inference()).DF
		half := mvt.Half(df) * math.Sqrt(v-part+e.SE*e.SE)
		f.Log = e.Value + mean
		f.Low, f.High = f.Log-half, f.Log+half
		f.Inside = f.Low <= f.Y && f.Y <= f.High
	}
}

// near is what the rows that deviate together with a row say of it: v'Wy, v'Wv and d.
func (p *part) near(row int) (mean, part float64, d []float64) {
	d = p.own(p.all.Model.X.RawRowView(row))
	cross := p.covariance([]int{row}, p.rows)
	var at []int
	for j, r := range p.rows {
		if p.all.Rows[r].Site == p.all.Rows[row].Site || cross.At(0, j) != 0 {
			at = append(at, r)
		}
	}
	if len(at) == 0 {
		return 0, 0, d
	}
	v := p.covariance([]int{row}, at).RawRowView(0)
	full := p.covariance(at, at)
	s := mat.NewSymDense(len(at), nil)
	for i := range at {
		for j := range i + 1 {
			s.SetSym(i, j, full.At(i, j))
		}
	}
	var c mat.Cholesky
	var w mat.VecDense
	if !c.Factorize(s) || c.SolveVecTo(&w, mat.NewVecDense(len(v), v)) != nil {
		return 0, 0, d
	}
	for i, r := range at {
		k := w.AtVec(i)
		mean += k * p.all.Model.Y[r]
		part += k * v[i]
		for j, x := range p.own(p.all.Model.X.RawRowView(r)) {
			d[j] -= k * x
		}
	}
	return mean, part, d
}

// scores puts the studentized residuals in order and gives each its place in a normal sample.
func scores(list []Foretold) {
	var order []int
	for i, f := range list {
		if f.Told {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch a, b := list[i].Studentized, list[j].Studentized; {
		case a < b:
			return -1
		case a > b:
			return 1
		}
		return 0
	})
	for rank, i := range order {
		list[i].Normal = distuv.UnitNormal.Quantile((float64(rank+1) - 0.375) / (float64(len(order)) + 0.25))
	}
}
