package worth

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"spile/internal/engine/budget"
	"spile/internal/engine/pool"
	"spile/internal/engine/sure"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// loss is what it is worth to know a difference of two options that is normal with mean d and standard deviation s:
// s·L(|d|/s), with the unit normal loss integral L(x) = φ(x) − x(1 − Φ(x)).
func loss(d, s float64) float64 {
	x := math.Abs(d) / s
	return s * (distuv.UnitNormal.Prob(x) - x*distuv.UnitNormal.Survival(x))
}

// Raiffa & Schlaifer 1961, Applied Statistical Decision Theory, section 5.9, table II.
func TestUnitNormalLoss(t *testing.T) {
	for x, want := range map[float64]float64{0: .39894, .5: .19780, 1: .08332, 1.5: .02931} {
		if got := loss(x, 1); math.Abs(got-want) > 1e-5 {
			t.Errorf("the formula gives %v at %v, the table %v", got, x, want)
		}
	}
}

// One component, gains known so nearly that money is linear in them: two practices that
// bring 0.15 a litre, whose difference D and what a direct trial finds, r, are joint normals. Knowing D is worth
// s·L(|d|/s), and the trial s*·L(|d|/s*) with s* = Cov(D, r)/√Var(r) (Raiffa & Schlaifer 1961, sections 5.9 and 5.10).
func TestNormalDifference(t *testing.T) {
	for _, apart := range []float64{0, .0003, -.0005} { // of the log gains
		root := mat.NewDense(4, 2, []float64{0, 0, 0, 0, 4e-4, 0, 2e-4, 5e-4})
		// One minute more at 24 an hour is 0.40: what the last has to bring more than the one before it.
		valve := .4
		silver := math.Log(math.Exp(valve)+.4/.15/(80/math.Exp(.27))) + apart
		m := decision([]float64{0, .27, valve, silver}, root, 1, 0, 0, held)
		m.Options[0].Open, m.Options[1].Open = false, false
		q, err := Of(m, Use{Taps: 1, Adoption: 1, Seasons: 1}, 8191, nil)
		if err != nil {
			t.Fatal(err)
		}
		y0 := 80 / math.Exp(.27)
		yv, ys := .15*y0*math.Exp(valve), .15*y0*math.Exp(silver)
		vv, ss, vs := 4e-4*4e-4, 2e-4*2e-4+5e-4*5e-4, 4e-4*2e-4
		d := ys*math.Exp(ss/2) - yv*math.Exp(vv/2) - .4
		spread := math.Sqrt(ys*ys*ss + yv*yv*vv - 2*ys*yv*vs)
		got, se := q.Perfect()
		if want := loss(d, spread); math.Abs(got-want) > 4*se+1e-3*want || se > .005*want {
			t.Errorf("%v apart: knowing is worth %v ± %v, want %v", apart, got, se, want)
		}
		x := trial(4, of(practice.CheckValve), of(practice.SilverSpout))
		x.CV = .001
		w, err := q.Trial(x)
		if err != nil {
			t.Fatal(err)
		}
		star := (ys*ss + yv*vv - (ys+yv)*vs) / math.Sqrt(ss+vv-2*vs+2*math.Log1p(x.CV*x.CV)/4)
		if want := loss(d, star); math.Abs(w.EVSI-want) > 4*w.Error+1e-3*want || w.Error > .005*want {
			t.Errorf("%v apart: a trial is worth %v ± %v, want %v", apart, w.EVSI, w.Error, want)
		}
	}
}

func of(k practice.Key) practice.Treatment { return practice.Treatment{Practice: k} }

var keys = []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.SilverSpout}

// decision is four practices that gain what logs say, with the root given, by sap alone at 0.15 a litre.
func decision(logs []float64, root *mat.Dense, adjust, study, site float64, money sure.Dist) *sure.Model {
	p := new(pool.Posterior)
	m := &sure.Model{Today: 1, Spouts: 1, Baseline: []practice.Treatment{of(practice.NewSpout)}, Gains: p,
		Assumptions: []sure.Assumption{{Key: "price", Group: "prices", Dist: money}}}
	prices := price.Default()
	prices.FarmAdjust.Best = adjust
	prices.Baseline = price.Baseline{Yield: price.Value{Best: 80}, Done: price.Done{Treatment: of(practice.NewSpout)},
		Brix: price.Value{Best: 2}}
	prices.Wage.Best = 24
	for i, k := range keys {
		p.Treatments = append(p.Treatments, of(k))
		if i > 0 {
			minutes := price.Value{Best: float64(min(i, 5))}
			prices.Uses = append(prices.Uses,
				price.Use{Practice: k, Minutes: map[price.Window]*price.Value{price.Tapping: &minutes}})
		}
		m.Options = append(m.Options, sure.Option{ID: string(k), Choice: practice.Choice{Practice: k}, Open: true})
	}
	p.Members = []pool.Normal{{Weight: 1, Mean: logs, Root: root, Spread: pool.Spread{Study: study, Site: site}}}
	m.Open = func() func([]float64) *sure.Books {
		own, outlet := prices, price.Outlet{Share: 1, Price: price.Value{Best: money.Best}}
		own.Sells.Sap = &outlet
		b := &sure.Books{Ledger: budget.Of(&own)}
		for _, o := range m.Options {
			b.Plans = append(b.Plans, b.Ledger.Plan(o.Choice))
		}
		return func(v []float64) *sure.Books {
			outlet.Price.Best = v[0]
			b.Ledger.Reprice(b.Plans)
			return b
		}
	}
	return m
}

var held = sure.Dist{Kind: sure.Held, Best: .15}

func roots() *mat.Dense {
	return mat.NewDense(4, 3, []float64{0, 0, 0, .08, 0, 0, .04, .09, 0, .02, .03, .15})
}

func trial(blocks int, t ...practice.Treatment) Trial {
	return Trial{Treatments: t, Blocks: blocks, Units: 1, Taps: 10, Seasons: 1, CV: .15}
}

// The fast method against brute force: true gains and a site are drawn, then a trial's result, then from the posterior
// by precisions, (G⁻¹ + A'V⁻¹A)⁻¹, gains again; each is priced by the ledger, draw by draw, and at a price of its own.
func TestAgainstNestedSimulation(t *testing.T) {
	use := Use{Taps: 1, Adoption: 1, Seasons: 1}
	for name, c := range map[string]struct {
		adjust, study, site float64
		money               sure.Dist
		trial               Trial
	}{
		"one practice against unsanitized": {1, .01, .004, held,
			trial(6, of(practice.Unsanitized), of(practice.SilverSpout))},
		"two sanitized, direct": {1, .005, .01, held,
			trial(12, of(practice.CheckValve), of(practice.SilverSpout))},
		"four arms, a farm gets less": {.8, .01, .004, held,
			trial(8, of(practice.Unsanitized), of(practice.NewSpout), of(practice.CheckValve),
				of(practice.SilverSpout))},
		"a price that leans upward": {1, .01, .004, sure.Dist{Kind: sure.Likely, Low: .05, Best: .07, High: .25},
			trial(8, of(practice.Unsanitized), of(practice.CheckValve), of(practice.SilverSpout))},
	} {
		m := decision([]float64{0, .27, .40, .43}, roots(), c.adjust, c.study, c.site, c.money)
		q, err := Of(m, use, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		w, err := q.Trial(c.trial)
		if err != nil {
			t.Fatal(err)
		}
		got, se := nested(m, c.trial, c.site, c.study)
		if math.Abs(got-w.EVSI) > 3.5*se+w.Error {
			t.Errorf("%s: %v ± %v, by brute force %v ± %v", name, w.EVSI, w.Error, got, se)
		}
		t.Logf("%s: %.4f ± %.4f, by brute force %.4f ± %.4f", name, w.EVSI, w.Error, got, se)
	}
}

func nested(m *sure.Model, t Trial, site, study float64) (evsi, se float64) {
	const outer, inner = 4000, 400
	random := rand.New(rand.NewPCG(7, 7))
	open, money := m.Open(), m.Assumptions[0].Dist
	drawn := func() []float64 { return []float64{money.Best} }
	if money.Kind == sure.Likely {
		part := (money.Best - money.Low) / (money.High - money.Low)
		beta := distuv.Beta{Alpha: 1 + 4*part, Beta: 5 - 4*part, Src: rand.NewPCG(8, 8)}
		drawn = func() []float64 { return []float64{money.Low + (money.High-money.Low)*beta.Rand()} }
	}
	member := m.Gains.Members[0]
	// ζ = (three gains, u); unsanitized is 0.
	g := mat.NewSymDense(4, nil)
	for i := range 3 {
		for j := range i + 1 {
			g.SetSym(i, j, mat.Dot(member.Root.RowView(i+1), member.Root.RowView(j+1)))
		}
	}
	g.SetSym(3, 3, site)
	rows := len(t.Treatments) - 1
	a := mat.NewDense(rows, 4, nil)
	put := func(r int, x practice.Treatment, sign float64) {
		for i, k := range keys[1:] {
			if x.Practice == k {
				a.Set(r, i, a.At(r, i)+sign)
				a.Set(r, 3, a.At(r, 3)+sign)
			}
		}
	}
	one := math.Log1p(t.CV*t.CV)/float64(t.Blocks) + study/2
	v := mat.NewDense(rows, rows, nil)
	for r := range rows {
		put(r, t.Treatments[0], -1)
		put(r, t.Treatments[r+1], 1)
		for s := range rows {
			v.Set(r, s, one)
		}
		v.Set(r, r, 2*one)
	}
	var gi, vi, avi, info, post mat.Dense
	check := func(err error) {
		if err != nil {
			panic(err)
		}
	}
	check(gi.Inverse(g))
	check(vi.Inverse(v))
	avi.Mul(a.T(), &vi)
	info.Mul(&avi, a)
	info.Add(&info, &gi)
	check(post.Inverse(&info))
	lower := func(x mat.Matrix) *mat.TriDense {
		n, _ := x.Dims()
		s := mat.NewSymDense(n, nil)
		for i := range n {
			for j := range i + 1 {
				s.SetSym(i, j, x.At(i, j))
			}
		}
		var c mat.Cholesky
		if !c.Factorize(s) {
			panic("not positive definite")
		}
		var l mat.TriDense
		c.LTo(&l)
		return &l
	}
	lg, lp := lower(g), lower(&post)
	normal := func(l *mat.TriDense) *mat.VecDense {
		n, _ := l.Dims()
		z := mat.NewVecDense(n, nil)
		for i := range n {
			z.SetVec(i, random.NormFloat64())
		}
		z.MulVec(l, z)
		return z
	}
	margins := func(books *sure.Books, z *mat.VecDense, sign float64, mean *mat.VecDense, sum []float64) {
		gain := make([]float64, 4)
		for i := range 3 {
			gain[i+1] = math.Expm1(member.Mean[i+1] + mean.AtVec(i) + sign*z.AtVec(i) + site/2)
		}
		y0 := books.Ledger.Unsanitized(gain[1])
		for k := range sum {
			sum[k] += books.Ledger.Margin(&books.Plans[k], y0, gain[k:k+1]) / inner
		}
	}
	total := make([]float64, 4)
	rowsOf := make([][]float64, outer)
	for i := range outer {
		z := normal(lg)
		y := mat.NewVecDense(rows, nil)
		y.MulVec(a, z)
		shared := math.Sqrt(one) * random.NormFloat64()
		for r := range rows {
			y.SetVec(r, y.AtVec(r)+math.Sqrt(one)*random.NormFloat64()-shared)
		}
		var ay, mean mat.VecDense
		ay.MulVec(&avi, y)
		mean.MulVec(&post, &ay)
		sum := make([]float64, 4)
		for range inner / 2 { // in opposite pairs
			x, books := normal(lp), open(drawn())
			margins(books, x, 1, &mean, sum)
			margins(books, x, -1, &mean, sum)
		}
		rowsOf[i] = sum
		for k, x := range sum {
			total[k] += x
		}
	}
	now := 0
	for k := range total {
		if total[k] > total[now] {
			now = k
		}
	}
	s, ss := 0.0, 0.0
	for _, r := range rowsOf {
		x := max(r[0], r[1], r[2], r[3]) - r[now]
		s += x
		ss += x * x
	}
	s /= outer
	return s, math.Sqrt((ss/outer - s*s) / outer)
}

// Three more decisions against brute force of another kind: gains and variances are drawn, and from them the readings
// of every site and season of a trial one by one; what is expected of each option then is the mean of other draws, each
// by how likely it made these readings.
func TestAgainstWeightedDraws(t *testing.T) {
	logs, valve, silver := []float64{0, .27, .40, .43}, of(practice.CheckValve), of(practice.SilverSpout)
	for name, c := range map[string]struct {
		members []pool.Normal
		trial   Trial
	}{
		"gains of two kinds": {[]pool.Normal{
			{Weight: .6, Mean: []float64{0, .27, .40, .36}, Root: roots(), Spread: pool.Spread{Study: .01, Site: .004}},
			{Weight: .4, Mean: []float64{0, .20, .28, .45}, Root: roots(), Spread: pool.Spread{Study: .02, Site: .004}},
		}, trial(8, valve, silver)},
		"sites and seasons": {[]pool.Normal{{Weight: 1, Mean: logs, Root: roots(),
			Spread: pool.Spread{Study: .01, Site: .004, Season: .006, Practice: .008}}},
			trial(4, of(practice.Unsanitized), valve, silver)},
		"variances little known": {[]pool.Normal{
			{Weight: .5, Mean: logs, Root: roots(), Spread: pool.Spread{Study: .002, Site: .001, Practice: .001}},
			{Weight: .5, Mean: logs, Root: roots(), Spread: pool.Spread{Study: .08, Site: .02, Practice: .04}},
		}, trial(6, valve, silver)},
	} {
		m := decision(logs, roots(), 1, 0, 0, held)
		m.Gains.Members = c.members
		switch x := &c.trial; name {
		case "sites and seasons":
			x.Sites, x.Seasons = 2, 2
		case "variances little known":
			x.Sites = 3
		}
		q, err := Of(m, Use{Taps: 1, Adoption: 1, Seasons: 1}, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		w, err := q.Trial(c.trial)
		if err != nil {
			t.Fatal(err)
		}
		got, se := weighted(m, c.trial)
		if t.Logf("%s: %.4f ± %.4f, by brute force %.4f ± %.4f", name, w.EVSI, w.Error, got, se); math.Abs(
			got-w.EVSI) > 3.5*se+w.Error {
			t.Errorf("%s: %v ± %v, by brute force %v ± %v", name, w.EVSI, w.Error, got, se)
		}
	}
}

func weighted(m *sure.Model, x Trial) (evsi, se float64) {
	const inner, outer = 6000, 3000
	random := rand.New(rand.NewPCG(9, uint64(len(x.Treatments)*x.Blocks)))
	type world struct {
		member        int
		brings, shows []float64 // shows: the means of the readings, by the inverse root of their member
	}
	var roots []*mat.TriDense // of the covariance of the readings, by member
	var inverse []*mat.Dense
	var dense []float64 // logarithm of the determinant of the inverse
	arms := len(x.Treatments)
	rows := max(1, x.Sites) * x.Seasons * (arms - 1)
	for _, member := range m.Gains.Members {
		v := mat.NewSymDense(rows, nil)
		place := func(r int) (site, season, arm int) {
			return r / (arms - 1) / x.Seasons, r / (arms - 1) % x.Seasons, 1 + r%(arms-1)
		}
		for a := range rows {
			for b := range a + 1 {
				s, y, i := place(a)
				s2, y2, j := place(b)
				both := func(i, j int) (sum float64) { // covariance of two arms there
					if x.Treatments[i].Practice != practice.Unsanitized &&
						x.Treatments[j].Practice != practice.Unsanitized {
						if s == s2 {
							sum += member.Spread.Site
						}
						if y == y2 {
							sum += member.Spread.Season
						}
					}
					if s == s2 && i == j {
						if sum += member.Spread.Practice / 2; y == y2 {
							sum += math.Log1p(x.CV*x.CV)/float64(x.Blocks*x.Units) + member.Spread.Study/2
						}
					}
					return sum
				}
				v.SetSym(a, b, both(i, j)-both(i, 0)-both(0, j)+both(0, 0))
			}
		}
		var c mat.Cholesky
		if !c.Factorize(v) {
			panic("not positive definite")
		}
		var l mat.TriDense
		c.LTo(&l)
		var inv mat.Dense
		if err := inv.Inverse(&l); err != nil {
			panic(err)
		}
		roots, inverse, dense = append(roots, &l), append(inverse, &inv), append(dense, -c.LogDet()/2)
	}
	books := m.Open()([]float64{m.Assumptions[0].Dist.Best})
	draw := func() (w world, means *mat.VecDense) {
		u := random.Float64()
		for w.member = 0; u > m.Gains.Members[w.member].Weight; w.member++ {
			u -= m.Gains.Members[w.member].Weight
		}
		member, logs, gains := m.Gains.Members[w.member], make([]float64, len(keys)), make([]float64, len(keys))
		_, wide := member.Root.Dims()
		z := mat.NewVecDense(wide, nil)
		for i := range wide {
			z.SetVec(i, random.NormFloat64())
		}
		for k := range logs {
			if logs[k] = member.Mean[k] + mat.Dot(member.Root.RowView(k), z); k > 0 {
				gains[k] = math.Expm1(logs[k] + member.Spread.LongRun())
			}
		}
		y0 := books.Ledger.Unsanitized(gains[1])
		for k := range keys {
			w.brings = append(w.brings, books.Ledger.Margin(&books.Plans[k], y0, gains[k:k+1]))
		}
		means = mat.NewVecDense(rows, nil)
		gain := func(arm int) float64 { return logs[slices.Index(keys, x.Treatments[arm].Practice)] }
		for r := range rows {
			means.SetVec(r, gain(1+r%(arms-1))-gain(0))
		}
		return w, means
	}
	var worlds []world
	now := make([]float64, len(keys))
	for range inner {
		w, means := draw()
		var shows mat.VecDense
		shows.MulVec(inverse[w.member], means)
		w.shows = shows.RawVector().Data
		worlds = append(worlds, w)
		for k, b := range w.brings {
			now[k] += b
		}
	}
	best := slices.Index(now, slices.Max(now))
	var sum, squares float64
	for range outer {
		w, y := draw()
		noise := mat.NewVecDense(rows, nil)
		for r := range rows {
			noise.SetVec(r, random.NormFloat64())
		}
		noise.MulVec(roots[w.member], noise)
		y.AddVec(y, noise)
		var seen [][]float64 // by the inverse root of each member
		for _, inv := range inverse {
			var s mat.VecDense
			s.MulVec(inv, y)
			seen = append(seen, s.RawVector().Data)
		}
		then := make([]float64, len(keys))
		all := 0.
		for _, o := range worlds {
			log := dense[o.member]
			for r, at := range o.shows {
				log -= (seen[o.member][r] - at) * (seen[o.member][r] - at) / 2
			}
			weight := math.Exp(log)
			all += weight
			for k, b := range o.brings {
				then[k] += weight * b
			}
		}
		gain := (slices.Max(then) - then[best]) / all
		sum += gain
		squares += gain * gain
	}
	evsi = sum / outer
	return evsi, math.Sqrt((squares/outer - evsi*evsi) / outer)
}

// A larger trial is worth no less, knowing the gains no less than any trial, and knowing everything no less than the
// gains.
func TestOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		root := mat.NewDense(4, 3, nil)
		for i := 1; i < 4; i++ {
			for j := range i {
				root.Set(i, j, number("root", -.15, .15))
			}
		}
		logs := []float64{0, number("spout", .1, .4), number("valve", .2, .5), number("silver", .2, .5)}
		money := sure.Dist{Kind: sure.Likely, Low: .1, Best: .15, High: .2}
		study, site := number("study", 0, .05), number("site", 0, .02)
		unsure := decision(logs, root, 1, study, site, money)
		q, err := Of(unsure, Use{Taps: 1, Adoption: 1, Seasons: 1}, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		last := 0.0
		perfect, pe := q.Perfect()
		for _, blocks := range []int{1, 4, 16, 256} {
			w, err := q.Trial(trial(blocks, of(practice.Unsanitized), of(practice.NewSpout), of(practice.CheckValve),
				of(practice.SilverSpout)))
			if err != nil {
				t.Fatal(err)
			}
			slack := 4*(w.Error+pe) + 1e-3
			if w.EVSI < last-slack || w.EVSI > perfect+slack {
				t.Fatalf("%d blocks are worth %v, fewer %v, perfect %v", blocks, w.EVSI, last, perfect)
			}
			last = w.EVSI
		}
		known, err := unsure.Know(nil, 400, 40, 1)
		if err != nil {
			t.Fatal(err)
		}
		d, err := unsure.Draw(4000, 1, false)
		if err != nil {
			t.Fatal(err)
		}
		if s := d.Summary(0); perfect > s.EVPI+5*(pe+s.EVPIError)+1e-3 {
			t.Fatalf("knowing the gains is worth %v ± %v, everything %v ± %v", perfect, pe, s.EVPI, s.EVPIError)
		} else if known[0].EVPPI > s.EVPI+5*(known[0].Error+s.EVPIError)+1e-3 {
			t.Fatalf("the gains are worth %v ± %v, everything %v ± %v", known[0].EVPPI, known[0].Error, s.EVPI,
				s.EVPIError)
		}
	})
}

func TestFaults(t *testing.T) {
	m := decision([]float64{0, .27, .4, .43}, roots(), 1, .01, .01, held)
	var faults note.Faults
	if _, err := Of(m, Use{Taps: 0, Adoption: 2, Seasons: 0, Discount: -1}, 0, nil); !errors.As(err, &faults) ||
		len(faults) != 4 {
		t.Errorf("zero taps, 200 %% adoption, no season and a discount of −1 are four faults: %v", err)
	}
	q, err := Of(m, Use{Taps: 1, Adoption: 1, Seasons: 1}, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	bad := trial(0, of(practice.CheckValve), of(practice.CheckValve))
	bad.Cost.Fixed = -1
	if _, err := q.Trial(bad); !errors.As(err, &faults) || len(faults) != 3 {
		t.Errorf("the same practice twice, no block and a negative cost are three faults: %v", err)
	}
	if _, err := q.Trial(trial(4, of(practice.Unsanitized), of(practice.NewDrop))); !errors.As(err, &faults) {
		t.Errorf("a practice of which nothing is known: %v", err)
	}
}

// A search ranks each set of treatments once, at a size that nothing next to it beats; and what is best of a space is
// what trying every set, site, season and block one by one finds, as one normal tells it.
func TestSearchAgainstEnumeration(t *testing.T) {
	m := decision([]float64{0, .27, .40, .43}, roots(), 1, .01, .004, held)
	q, err := Of(m, Use{Taps: 1e5, Adoption: .2, Seasons: 10}, 16, nil)
	if err != nil {
		t.Fatal(err)
	}
	space := Space{Trial: trial(0), Blocks: []int{2, 4, 8, 16, 32}}
	space.Trial.Seasons, space.Trial.Cost = 0, Cost{Fixed: 3000, Season: 2000, Unit: 60}
	for _, k := range keys {
		space.Treatments = append(space.Treatments, of(k))
	}
	ranked, err := q.Search(space)
	if err != nil {
		t.Fatal(err)
	}
	most := math.Inf(-1)
	var best Trial
	for set := 1; set < 1<<len(keys); set++ {
		x := space.Trial
		for i, k := range keys {
			if set>>i&1 == 1 {
				x.Treatments = append(x.Treatments, of(k))
			}
		}
		for x.Sites = 1; len(x.Treatments) > 1 && x.Sites <= 6; x.Sites++ {
			for x.Seasons = 1; x.Seasons <= 3; x.Seasons++ {
				for _, x.Blocks = range space.Blocks {
					if w, err := q.Trial(x); err != nil {
						t.Fatal(err)
					} else if w.Net > most {
						most, best = w.Net, x
					}
				}
			}
		}
	}
	if ranked[0].Net < most-2*ranked[0].NetError() {
		t.Errorf("found %v with %v, by enumeration %v with %v", ranked[0].Trial, ranked[0].Net, best, most)
	}
	met := map[string]bool{}
	for i, w := range ranked {
		if i > 0 && w.Net > ranked[i-1].Net {
			t.Error("the trials are not sorted")
		}
		if key := fmt.Sprint(w.Trial.Treatments); met[key] {
			t.Errorf("%s stands twice", key)
		} else {
			met[key] = true
		}
	}
}

// A size that pays best at the end of those given is looked at beyond them; what stays at an end says so.
func TestSizesGrow(t *testing.T) {
	m := decision([]float64{0, .27, .40, .43}, roots(), 1, .01, .004, held)
	q, err := Of(m, Use{Taps: 1e7, Adoption: 1, Seasons: 10}, 16, nil)
	if err != nil {
		t.Fatal(err)
	}
	space := Space{Treatments: []practice.Treatment{of(practice.CheckValve), of(practice.SilverSpout)},
		Trial: trial(0), Blocks: []int{2, 3, 4}}
	space.Trial.Sites, space.Trial.Cost.Unit = 1, 60
	ranked, err := q.Search(space)
	if err != nil {
		t.Fatal(err)
	}
	if w := ranked[0]; w.Trial.Blocks <= 4 || w.Edge != (w.Trial.Blocks == 768) {
		t.Errorf("for ten million taps %d blocks, at an end: %v", w.Trial.Blocks, w.Edge)
	}
	if q, err = q.For(Use{Taps: 1, Adoption: 1, Seasons: 1}); err != nil {
		t.Fatal(err)
	}
	if ranked, err = q.Search(space); err != nil || ranked[0].Trial.Blocks != 2 || ranked[0].Edge {
		t.Errorf("for one tap %d blocks, at an end: %v (%v)", ranked[0].Trial.Blocks, ranked[0].Edge, err)
	}
}

// Every arm that brings less than what is best today gives sap away, not the reference alone.
func TestArmsForgo(t *testing.T) {
	m := decision([]float64{0, .27, .40, .43}, roots(), 1, .01, .004, held)
	q, err := Of(m, Use{Taps: 1, Adoption: 1, Seasons: 1, Discount: .05}, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	x := trial(4, of(practice.NewSpout), of(practice.SilverSpout))
	x.Seasons, x.Sites = 2, 3
	w, err := q.Trial(x)
	if err != nil {
		t.Fatal(err)
	}
	// 4 blocks × 10 taps × 3 sites, this season and the next at 5 % a year
	want := (q.now[q.best] - q.now[1] + q.now[q.best] - q.now[3]) * 120 * (1 + 1/1.05)
	if math.Abs(w.Forgone-want) > 1e-9*want || w.Forgone > w.Cost || !(want > 0) {
		t.Errorf("forgone %v of a cost of %v, want %v", w.Forgone, w.Cost, want)
	}
}

// What leads and awaits a study is not chosen before a trial holds it, and is then.
func TestPromising(t *testing.T) {
	m := decision([]float64{0, .27, .40, .60}, roots(), 1, .01, .004, held)
	m.Options[3].Awaits = true
	q, err := Of(m, Use{Taps: 1e5, Adoption: .2, Seasons: 10}, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	if q.Promising() != 3 || q.best != 2 {
		t.Fatalf("%d leads and %d may be chosen: the case does not test what it is to test", q.Promising(), q.best)
	}
	without, err := q.Trial(trial(8, of(practice.NewSpout), of(practice.CheckValve)))
	if err != nil {
		t.Fatal(err)
	}
	with, err := q.Trial(trial(8, of(practice.NewSpout), of(practice.SilverSpout)))
	if err != nil {
		t.Fatal(err)
	}
	if lead := q.now[3] - q.now[2]; with.EVSI < lead || without.EVSI > lead/2 {
		t.Errorf("what leads by %v: a trial of it is worth %v, one without it %v", lead, with.EVSI, without.EVSI)
	}
}

// Held against the library's, to two units in the last place.
func TestExp(t *testing.T) {
	for _, x := range []float64{0, -745, -708, -700, 700, 709, 710, math.Inf(1), math.Inf(-1)} {
		if got, want := exp(x), math.Exp(x); got != want && math.Abs(got-want) > 5e-16*want {
			t.Errorf("e^%v is %v, want %v", x, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-720, 720).Draw(t, "x")
		if got, want := exp(x), math.Exp(x); got != want && !(math.Abs(got-want) <= 5e-16*want) {
			t.Fatalf("e^%v is %v, want %v", x, got, want)
		}
	})
}

// Forty practices, of which most cannot come first.
func BenchmarkForty(b *testing.B) {
	m := forty()
	space := Space{Treatments: m.Gains.Treatments, Trial: trial(0), Blocks: []int{2, 3, 4, 6, 8, 12, 16, 24, 32, 48}}
	space.Trial.Seasons, space.Trial.Cost = 0, Cost{Fixed: 3000, Season: 2000, Unit: 60}
	for b.Loop() {
		q, err := Of(m, Use{Taps: 1e5, Adoption: .2, Seasons: 10}, 0, nil)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := q.Search(space); err != nil {
			b.Fatal(err)
		}
	}
}

// forty is a decision among forty practices, in 256 components.
func forty() *sure.Model {
	const n = 41
	random := rand.New(rand.NewPCG(4, 4))
	was := keys
	defer func() { keys = was }()
	keys = []practice.Key{practice.Unsanitized, practice.NewSpout}
	for i := range n - 2 {
		keys = append(keys, practice.Key(fmt.Sprint("practice-", i)))
	}
	logs := make([]float64, n)
	for i := range n - 1 {
		logs[i+1] = .05 + .4*random.Float64()
	}
	m := decision(logs, nil, 1, .01, .004, held)
	m.Gains.Members = nil
	for range 256 {
		member := pool.Normal{Weight: 1. / 256, Mean: slices.Clone(logs), Root: mat.NewDense(n, n-1, nil)}
		for i := 1; i < n; i++ {
			member.Mean[i] += .03 * random.NormFloat64()
			member.Root.Set(i, i-1, .05+.1*random.Float64())
		}
		m.Gains.Members = append(m.Gains.Members, member)
	}
	return m
}
