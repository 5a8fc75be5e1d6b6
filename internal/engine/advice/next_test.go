package advice_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/engine/sure"
	"spile/internal/engine/worth"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

func only(k practice.Key) practice.Treatment { return practice.Treatment{Practice: k} }

// What a trial is worth, against brute force that shares nothing but the components: gains, sites, seasons and errors
// are drawn reading by reading from one component; every component then says how likely all readings are, by their
// whole covariance, and what is left unknown; gains are drawn from that, and priced by the ledger at drawn prices.
func TestWorthAgainstNestedSimulation(t *testing.T) {
	a := scenario(t)
	limited := a.Input
	limited.Prices = limited.Prices.Clone()
	limited.Prices.Sells.Quota = &price.Quota{SyrupKg: price.Value{Best: 2.6}, PriceBeyond: price.Value{Best: 0.5},
		DelaySeasons: price.Value{Best: 1}}
	under, err := memo.Of(limited)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		a     *advice.Advice
		trial worth.Trial
	}{
		"three practices at two new sites over two seasons": {a, worth.Trial{
			Treatments: []practice.Treatment{only(practice.CheckValve), only(practice.SilverSpout),
				only(practice.NewDrop)}, Blocks: 8, Seasons: 2, Sites: 2}},
		"a site that has studies, against unsanitized": {a, worth.Trial{
			Treatments: []practice.Treatment{only(practice.Unsanitized), only(practice.SilverSpout),
				only(practice.CheckValve)}, Blocks: 12, Seasons: 1, Site: "Larkmoor"}},
		"one new site, under a quota": {under, worth.Trial{
			Treatments: []practice.Treatment{only(practice.CheckValve), only(practice.SilverSpout)}, Blocks: 16,
			Seasons: 1, Sites: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			x := c.trial
			x.Units, x.Taps, x.CV = 1, 10, .15
			m, assumptions, err := advice.SureModel(c.a, advice.DrawOptions{})
			if err != nil {
				t.Fatal(err)
			}
			var average []float64
			for _, o := range m.Options {
				x, _ := c.a.Find(o.Choice)
				average = append(average, x.Unsanitized.Average())
			}
			q, err := worth.Of(m, worth.Use{Taps: 1, Adoption: 1, Seasons: 1}, 0, average)
			if err != nil {
				t.Fatal(err)
			}
			w, err := q.Trial(x)
			if err != nil {
				t.Fatal(err)
			}
			evsi, se := nested(m, assumptions, x)
			t.Logf("%.4f ± %.4f, by brute force %.4f ± %.4f", w.EVSI, w.Error, evsi, se)
			if math.Abs(w.EVSI-evsi) > 3.5*math.Hypot(se, w.Error) {
				t.Errorf("worth %v ± %v, by brute force %v ± %v", w.EVSI, w.Error, evsi, se)
			}
			if p, err := q.Perfect(); w.EVSI > p+4*math.Hypot(err, w.Error) {
				t.Errorf("worth %v, knowing the gains %v", w.EVSI, p)
			}
		})
	}
}

// believed is a component with the readings of a trial: y ~ N(mean, SS'), and gains ~ N(at, RR') once y is known.
type believed struct {
	mean, y  *mat.VecDense
	root     mat.TriDense
	chol     mat.Cholesky
	gain     mat.Dense // of the log gains by y
	left     *mat.Dense
	gains    []float64
	readings int
}

// readings are the contrasts of a trial with its first arm, site by site and season by season.
func believe(m *sure.Model, c pool.Component, t worth.Trial) *believed {
	n, sites := len(m.Gains.Treatments), max(1, t.Sites)
	// Columns: gains, then u and w of each site in turn, then v of each season, then e of each reading.
	size := n + sites*(1+n) + t.Seasons + sites*t.Seasons*len(t.Treatments)
	cov, mean := mat.NewSymDense(size, nil), mat.NewVecDense(size, nil)
	for s := range sites {
		at := func(i int) int {
			if i < n {
				return i
			}
			return i + s*(1+n)
		}
		for i := range 2*n + 1 {
			mean.SetVec(at(i), c.Mean[i])
			for j := range i + 1 {
				cov.SetSym(at(i), at(j), c.Cov.At(i, j))
			}
		}
	}
	v0 := n + sites*(1+n)
	for i := v0; i < size; i++ {
		cov.SetSym(i, i, c.Season)
		if i >= v0+t.Seasons {
			cov.SetSym(i, i, math.Log1p(t.CV*t.CV)/float64(t.Blocks*t.Units)+c.Study/2)
		}
	}
	rows := sites * t.Seasons * (len(t.Treatments) - 1)
	a := mat.NewDense(rows, size, nil)
	row := 0
	for s := range sites {
		for k := range t.Seasons {
			for j := 1; j < len(t.Treatments); j++ {
				for arm, sign := range map[int]float64{j: 1, 0: -1} {
					i := slices.Index(m.Gains.Treatments, t.Treatments[arm])
					a.Set(row, i, sign)
					a.Set(row, n+s*(1+n)+1+i, sign)
					if t.Treatments[arm].Practice != practice.Unsanitized {
						a.Set(row, n+s*(1+n), a.At(row, n+s*(1+n))+sign)
						a.Set(row, v0+k, a.At(row, v0+k)+sign)
					}
					a.Set(row, v0+t.Seasons+(s*t.Seasons+k)*len(t.Treatments)+arm, sign)
				}
				row++
			}
		}
	}
	b := &believed{mean: mat.NewVecDense(rows, nil), y: mat.NewVecDense(rows, nil), gains: c.Mean[:n], readings: rows}
	b.mean.MulVec(a, mean)
	var ga, aga, known mat.Dense
	ga.Mul(cov, a.T())
	aga.Mul(a, &ga)
	if !b.chol.Factorize(symmetric(&aga)) {
		panic("covariance of readings")
	}
	b.chol.LTo(&b.root)
	top := ga.Slice(0, n, 0, rows)
	if err := b.chol.SolveTo(&known, top.T()); err != nil {
		panic(err)
	}
	b.gain.CloneFrom(known.T())
	var left mat.Dense
	left.Mul(&b.gain, top.T())
	left.Sub(cov.SliceSym(0, n), &left)
	var e mat.EigenSym
	e.Factorize(symmetric(&left), true)
	b.left = mat.NewDense(n, n, nil)
	e.VectorsTo(b.left)
	for k, l := range e.Values(nil) {
		for i := range n {
			b.left.Set(i, k, b.left.At(i, k)*math.Sqrt(max(0, l)))
		}
	}
	return b
}

func symmetric(a *mat.Dense) *mat.SymDense {
	n, _ := a.Dims()
	s := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			s.SetSym(i, j, (a.At(i, j)+a.At(j, i))/2)
		}
	}
	return s
}

func nested(m *sure.Model, assumptions []price.Assumption, t worth.Trial) (evsi, se float64) {
	const components, outer, inner = 300, 800, 100
	random := rand.New(rand.NewPCG(5, 5))
	var all []*believed
	for _, c := range m.Gains.Components(t.Site, components) {
		all = append(all, believe(m, c, t))
	}
	open := m.Open()
	priced := func() *sure.Books { // every assumption by its own PERT
		values := make([]float64, len(assumptions))
		for i, l := range assumptions {
			values[i] = l.Value.Best
			if l.Value.Low != nil && *l.Value.High > *l.Value.Low {
				low, high := *l.Value.Low, *l.Value.High
				part := (l.Value.Best - low) / (high - low)
				values[i] = low + (high-low)*distuv.Beta{Alpha: 1 + 4*part, Beta: 5 - 4*part, Src: random}.Rand()
			}
		}
		return open(values)
	}
	normals := func(n int) *mat.VecDense {
		z := mat.NewVecDense(n, nil)
		for i := range n {
			z.SetVec(i, random.NormFloat64())
		}
		return z
	}
	at := map[practice.Treatment]int{}
	for i, x := range m.Gains.Treatments {
		at[x] = i
	}
	add := func(sum []float64, books *sure.Books, logs func(i int) float64) {
		gain := func(x practice.Treatment) float64 {
			if x.Practice == practice.Unsanitized {
				return 0
			}
			return math.Expm1(logs(at[x]) + m.Gains.Spread().LongRun())
		}
		base := 0.0
		for _, x := range m.Baseline {
			base += gain(x) / float64(len(m.Baseline))
		}
		y0 := books.Ledger.Unsanitized(base)
		for k, o := range m.Options {
			var cycle []float64
			for _, x := range o.Choice.Seasons() {
				cycle = append(cycle, gain(x))
			}
			sum[k] += books.Ledger.Margin(&books.Plans[k], y0, cycle) / inner
		}
	}
	var rows [][]float64
	total := make([]float64, len(m.Options))
	below := make([]float64, len(all))
	moved := make([]*mat.VecDense, len(all))
	for range outer {
		truth := all[random.IntN(len(all))]
		y := mat.NewVecDense(truth.readings, nil)
		y.MulVec(&truth.root, normals(truth.readings))
		y.AddVec(y, truth.mean)
		top := math.Inf(-1)
		for k, b := range all {
			var x, d mat.VecDense
			d.SubVec(y, b.mean)
			_ = b.chol.SolveVecTo(&x, &d)
			below[k] = -(mat.Dot(&x, &d) + b.chol.LogDet()) / 2
			top = max(top, below[k])
			moved[k] = nil
		}
		whole := 0.0
		for k := range below {
			whole += math.Exp(below[k] - top)
			below[k] = whole
		}
		sum := make([]float64, len(m.Options))
		for range inner / 2 { // in opposite pairs
			k := min(len(all)-1, sortedAt(below, random.Float64()*whole))
			b := all[k]
			if moved[k] == nil {
				var d mat.VecDense
				d.SubVec(y, b.mean)
				moved[k] = new(mat.VecDense)
				moved[k].MulVec(&b.gain, &d)
			}
			var z mat.VecDense
			z.MulVec(b.left, normals(len(b.gains)))
			books := priced()
			for _, sign := range []float64{1, -1} {
				add(sum, books, func(i int) float64 { return b.gains[i] + moved[k].AtVec(i) + sign*z.AtVec(i) })
			}
		}
		rows = append(rows, sum)
		for k, x := range sum {
			total[k] += x
		}
	}
	best := func(x []float64) int {
		top := -1
		for k, o := range m.Options {
			if o.Open && (top < 0 || x[k] > x[top]) {
				top = k
			}
		}
		return top
	}
	now := best(total)
	s, ss := 0.0, 0.0
	for _, r := range rows {
		d := r[best(r)] - r[now]
		s, ss = s+d/outer, ss+d*d/outer
	}
	return s, math.Sqrt((ss - s*s) / outer)
}

func sortedAt(below []float64, x float64) int {
	i, _ := slices.BinarySearch(below, x)
	return i
}

// What is ranked is sorted, no trial is worth more than knowing every gain, and that no more than knowing everything.
func TestNext(t *testing.T) {
	a := scenario(t)
	o := a.TrialDefaults()
	o.Design.Points = 16
	n, err := a.Next(o)
	if err != nil {
		t.Fatal(err)
	}
	r, err := a.Prospect(advice.DrawOptions{Draws: 100_000})
	if err != nil {
		t.Fatal(err)
	}
	if s := r.Summary; n.Perfect > s.EVPI+4*math.Hypot(n.Error, s.EVPIError) {
		t.Errorf("knowing the gains is worth %v, everything %v", n.Perfect, s.EVPI)
	}
	for i, w := range n.Ranked {
		if i > 0 && w.Net > n.Ranked[i-1].Net {
			t.Error("the trials are not sorted")
		}
		if w.EVSI > n.Perfect+4*math.Hypot(n.Error, w.Error) {
			t.Errorf("a trial is worth %v, knowing the gains %v", w.EVSI, n.Perfect)
		}
		if w.Trial.Sites < 1 || w.Trial.Seasons < 1 {
			t.Errorf("a trial at %d sites over %d seasons", w.Trial.Sites, w.Trial.Seasons)
		}
	}
	o.Design.Sites, o.Design.Seasons = 2, 3
	if n, err = a.Next(o); err != nil {
		t.Fatal(err)
	}
	for _, w := range n.Ranked {
		if w.Trial.Sites != 2 || w.Trial.Seasons != 3 {
			t.Errorf("a trial at %d sites over %d seasons, where 2 and 3 are asked", w.Trial.Sites, w.Trial.Seasons)
		}
	}
}

// What leads on one study is named, and so is a trial that gives it another.
func TestNextNamesWhatIsPromising(t *testing.T) {
	in := asked()
	for i := range in.Studies[1:] {
		s := &in.Studies[1+i]
		s.Arms = slices.DeleteFunc(s.Arms, func(x evidence.Arm) bool { return x.Practice == practice.CheckValve })
	}
	a := answer(t, in)
	o := a.TrialDefaults()
	o.Design.Points = 16
	n, err := a.Next(o)
	if err != nil {
		t.Fatal(err)
	}
	if n.Promising == nil || n.Promising.Practice != practice.CheckValve {
		t.Fatalf("%v is named as promising", n.Promising)
	}
	if !slices.ContainsFunc(n.Ranked, func(w worth.Worth) bool {
		return slices.Contains(w.Trial.Treatments, only(practice.CheckValve))
	}) {
		t.Error("no trial that is ranked holds it")
	}
}

// The ranked candidates of the next trial, on the demo: all that is worked out once, too.
func BenchmarkNext(b *testing.B) {
	a := scenario(b)
	for b.Loop() {
		if _, err := a.Next(a.TrialDefaults()); err != nil {
			b.Fatal(err)
		}
	}
}
