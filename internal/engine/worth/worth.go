// Package worth says what the next trial is worth before it is run: what is known now is updated by every result the
// trial may bring, and each result by the choice it would lead to (M8; Raiffa & Schlaifer 1961, Applied Statistical
// Decision Theory). The variances between studies and sites are held at their estimates; money is what is
// expected over all that prices and work may be.
package worth

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"
	"gonum.org/v1/gonum/stat/samplemv"

	"spile/internal/engine/sure"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Use is who uses the answer.
type Use struct {
	Taps     float64 // of all producers concerned
	Adoption float64 // part of them that does what pays best
	Seasons  int     // of use, after the trial
	Discount float64 // a year
}

// Trial is a candidate. Its first treatment is the reference.
type Trial struct {
	Treatments []practice.Treatment
	Blocks     int     // a season and site
	Units      int     // of each treatment in a block
	Taps       int     // a unit
	Seasons    int     // each a study of its own
	Site       string  // with studies already; "" for new sites
	Sites      int     // how many new ones; 0 means 1
	CV         float64 // of the yield between units of a block
	Cost       Cost
}

// Cost of a trial, money.
type Cost struct {
	Fixed, Season, Unit float64 // once; a season and site; a unit and season
}

// Worth is what a trial is expected to bring.
type Worth struct {
	Trial   Trial
	EVSI    float64 // expected value of sample information, money a tap and season
	Error   float64 // its simulation error
	Changes float64 // chance that its result changes what is best
	Benefit float64 // EVSI × taps × adoption × discounted seasons
	Forgone float64 // sap forgone on the reference taps, in Cost
	Cost    float64
	Net     float64 // expected net benefit of sampling
}

// NetError is the simulation error of the net, money.
func (w Worth) NetError() float64 {
	if w.EVSI == 0 {
		return 0
	}
	return w.Error * w.Benefit / w.EVSI
}

// Faults of a use.
func (u Use) Faults() note.Faults {
	var f note.Faults
	if !(u.Taps > 0) {
		f = append(f, note.New("the taps concerned are %v; allowed: above 0", u.Taps))
	}
	if !(u.Adoption >= 0 && u.Adoption <= 1) {
		f = append(f, note.New("the adoption is %v; allowed: 0 to 1", u.Adoption))
	}
	if u.Seasons < 1 {
		f = append(f, note.New("the seasons of use are %d; allowed: 1 or more", u.Seasons))
	}
	if !(u.Discount > -1) {
		f = append(f, note.New("the discount rate is %v; allowed: above −1", u.Discount))
	}
	return f
}

// Faults of a trial.
func (t Trial) Faults() note.Faults {
	var f note.Faults
	if len(t.Treatments) < 2 {
		f = append(f, note.New("a trial compares at least two treatments"))
	}
	for i, x := range t.Treatments {
		if slices.Contains(t.Treatments[:i], x) {
			f = append(f, note.New("a trial holds %s twice", note.Term(x.Practice)))
		}
	}
	for _, n := range []struct {
		name string
		at   int
	}{{"blocks", t.Blocks}, {"units", t.Units}, {"taps", t.Taps}, {"seasons", t.Seasons}} {
		if n.at < 1 {
			f = append(f, note.New("a trial has %d %s; allowed: 1 or more", n.at, note.Term(n.name)))
		}
	}
	if t.Sites < 0 || t.Site != "" && t.Sites > 1 {
		f = append(f, note.New("a trial runs at %d sites; allowed: 1 or more new ones, or the one that is named",
			t.Sites))
	}
	if !(t.CV > 0 && t.CV < math.Inf(1)) {
		f = append(f, note.New("the CV between units is %v; allowed: above 0", t.CV))
	}
	if !(t.Cost.Fixed >= 0 && t.Cost.Season >= 0 && t.Cost.Unit >= 0) {
		f = append(f, note.New("a trial's costs are %v, %v a season and %v a unit; allowed: 0 or more", t.Cost.Fixed,
			t.Cost.Season, t.Cost.Unit))
	}
	return f
}

// Question is a decision that a trial may change, made ready. It may be shared between goroutines.
type Question struct {
	Use Use

	m      *sure.Model
	books  *sure.Books
	at     map[practice.Treatment]int
	mean   []float64     // of the log gains
	g      *mat.SymDense // their covariance
	fresh  *mat.SymDense // the same with u of a new site
	base   []float64     // how log(1 + base gain) hangs on the log gains
	shift  []float64     // σ²_site/2, 0 for unsanitized
	log0   float64       // log(1 + base gain) at the mean
	adjust float64       // part of a trial's gain that a farm gets
	yield  float64       // baseline
	unsure []float64     // what each margin gains by its assumptions being unsure
	cycles [][]int
	now    []float64 // margins of the options
	best   int
	points int // of each scramble
}

// Of makes a decision ready. The error is note.Faults.
func Of(m *sure.Model, use Use) (*Question, error) {
	if f := append(m.Faults(), use.Faults()...); len(f) > 0 {
		return nil, f
	}
	q := &Question{Use: use, m: m, at: map[practice.Treatment]int{}, points: points,
		unsure: make([]float64, len(m.Options))}
	values := make([]float64, len(m.Assumptions))
	for i, a := range m.Assumptions {
		values[i] = a.Dist.Mean()
	}
	q.books = m.Open()(values)
	mean, cov := m.Gains.At("")
	n := len(m.Gains.Treatments)
	q.mean, q.g, q.fresh = mean[:n], mat.NewSymDense(n, nil), cov
	q.shift = make([]float64, n)
	for i, t := range m.Gains.Treatments {
		q.at[t] = i
		if t.Practice != practice.Unsanitized {
			q.shift[i] = m.Gains.Site / 2
		}
		for j := range i + 1 {
			q.g.SetSym(i, j, cov.At(i, j))
		}
	}
	q.baseline()
	for _, o := range m.Options {
		var cycle []int
		for _, t := range o.Choice.Seasons() {
			cycle = append(cycle, q.at[t])
		}
		q.cycles = append(q.cycles, cycle)
	}
	q.now = q.margins(mat.NewDense(n, 1, nil))(nil)
	q.unsure = q.curvature(values)
	for k, x := range q.unsure {
		q.now[k] += x
	}
	q.best = q.top(q.now)
	return q, nil
}

// curvature is what each margin gains, at the mean gains, by the assumptions being unsure: the sum, over the
// assumptions of which it is no straight line, of the mean margin less that at the mean. Of numbers that are multiplied
// with each other and drawn independently that is all, as long as each product holds one such assumption.
func (q *Question) curvature(means []float64) []float64 {
	sum := make([]float64, len(q.now))
	open, still, values := q.m.Open(), mat.NewDense(len(q.mean), 1, nil), slices.Clone(means)
	z, weight := make([]float64, 9), make([]float64, 9)
	quad.Hermite{}.FixedLocations(z, weight, math.Inf(-1), math.Inf(1))
	for i, a := range q.m.Assumptions {
		at := func(v float64) []float64 {
			other := *q
			values[i] = v
			other.books = open(values)
			other.baseline()
			return other.margins(still)(nil)
		}
		low, high := a.Dist.At(-2.5), a.Dist.At(2.5)
		if !(low < high) {
			continue
		}
		first, last, straight := at(low), at(high), true
		for k, x := range q.now {
			on := first[k] + (means[i]-low)/(high-low)*(last[k]-first[k])
			straight = straight && math.Abs(on-x) <= 1e-9*(1+math.Abs(x))
		}
		if !straight {
			for j, x := range z {
				for k, y := range at(a.Dist.At(math.Sqrt2 * x)) {
					sum[k] += weight[j] / math.Sqrt(math.Pi) * (y - q.now[k])
				}
			}
		}
		values[i] = means[i]
	}
	return sum
}

// baseline reads from the books what the yield without any practice hangs on.
func (q *Question) baseline() {
	l, n := q.books.Ledger, len(q.mean)
	q.base = make([]float64, n)
	q.yield, q.adjust = l.Unsanitized(0), l.Yield(1, 1)-1
	// log(1 + adjust·g) of the baseline is linear in the log gain where adjust is 1 and one treatment is the baseline;
	// else it is made linear at the mean.
	g := 0.0
	for _, t := range q.m.Baseline {
		i := q.at[t]
		e := q.adjust * math.Exp(q.mean[i]+q.shift[i]) / float64(len(q.m.Baseline))
		q.base[i] += e
		g += e - q.adjust/float64(len(q.m.Baseline))
	}
	for i := range q.base {
		q.base[i] /= 1 + g
	}
	q.log0 = math.Log1p(g)
}

// For is the same decision for others who use the answer; what a trial tells, a tap and season, is the same for all.
// The error is note.Faults.
func (q *Question) For(use Use) (*Question, error) {
	if f := use.Faults(); len(f) > 0 {
		return nil, f
	}
	other := *q
	other.Use = use
	return &other, nil
}

// With is the same decision with so many points of each scramble, fewer for a quick look; 0: as many as ever. They come
// in pairs, so that an odd number is one more.
func (q *Question) With(n int) *Question {
	other := *q
	other.points = cmp.Or(n+n%2, points)
	return &other
}

// top is the best open option.
func (q *Question) top(margins []float64) int {
	best := -1
	for k, o := range q.m.Options {
		if o.Open && (best < 0 || margins[k] > margins[best]) {
			best = k
		}
	}
	return best
}

// margins gives the expected margins of all options after a result: z standard normal moves the mean to m₁ = m + Bz,
// and G − BB' remains unknown, so that
//
//	E[exp(a'ζ) | m₁] = exp(a'm₁ + ½a'(G − Ω)a).
//
// Margins are worked out at the expected yields, which is exact as long as money is linear in sap, and at the means of
// the assumptions, to which is added what curvature gives (things that last cost their price over a life, which is no
// straight line).
func (q *Question) margins(b *mat.Dense) func(z []float64) []float64 {
	n, width := b.Dims()
	var omega mat.Dense
	omega.Mul(b, b.T())
	rest := func(a []float64) float64 { // ½a'(G − Ω)a
		s := 0.0
		for i, x := range a {
			if x != 0 {
				for j, y := range a {
					s += x * y * (q.g.At(i, j) - omega.At(i, j))
				}
			}
		}
		return s / 2
	}
	// Row n is unsanitized: −c'ζ; row i is treatment i over it: (e_i − c)'ζ.
	at, slope := make([]float64, n+1), make([][]float64, n+1)
	for i := range n + 1 {
		a := make([]float64, n)
		for j, c := range q.base {
			a[j] = -c
		}
		at[i] = math.Log(q.yield) - q.log0
		if i < n {
			a[i]++
			at[i] += q.mean[i] + q.shift[i]
		}
		at[i] += rest(a)
		slope[i] = make([]float64, width)
		for k := range width {
			s := 0.0
			for j, x := range a {
				s += x * b.At(j, k)
			}
			slope[i][k] = s
		}
	}
	gains, out := make([]float64, n), make([]float64, len(q.m.Options))
	cycle := make([]float64, 64)
	expected := func(i int, z []float64) float64 {
		x := at[i]
		for k, v := range z {
			x += slope[i][k] * v
		}
		return math.Exp(x)
	}
	return func(z []float64) []float64 {
		y0 := expected(n, z)
		for i := range gains {
			gains[i] = expected(i, z)/y0 - 1 // as a trial has it: the ledger makes the farm adjustment
		}
		for k := range out {
			c := cycle[:len(q.cycles[k])]
			for a, t := range q.cycles[k] {
				c[a] = gains[t]
			}
			out[k] = q.books.Ledger.Margin(&q.books.Plans[k], y0, c) + q.unsure[k]
		}
		return out
	}
}

// Quasi-random points: scrambles of so many points each, whose spread gives the error.
const (
	scrambles = 8
	points    = 128
)

// value is the mean, over results, of the best expected margin less that of now, which is best without any result: with
// its error, and the chance that the best is not now. That now is known and not looked for among few points keeps it
// unbiased.
func value(width, n, now int, margins func(z []float64) []float64,
	top func([]float64) int) (worth, err, changes float64) {
	each := make([]float64, scrambles)
	for s, z := range normals(width, n) {
		for i := range n {
			m := margins(z.RawRowView(i))
			best := top(m)
			each[s] += (m[best] - m[now]) / float64(n)
			if best != now {
				changes += 1 / float64(n*scrambles)
			}
		}
	}
	for _, x := range each {
		worth += x / scrambles
	}
	for _, x := range each {
		err += (x - worth) * (x - worth)
	}
	return worth, math.Sqrt(err / (scrambles * (scrambles - 1))), changes
}

// drawn keeps the scrambles by their width and number: every candidate is asked of the same ones.
var drawn sync.Map

// normals are the scrambles of n standard normal points, an even number: half of them, and the same mirrored.
func normals(width, n int) []*mat.Dense {
	key := [2]int{width, n}
	if have, ok := drawn.Load(key); ok {
		return have.([]*mat.Dense)
	}
	normal, _ := distmv.NewNormal(make([]float64, width), identity(width), nil)
	var list []*mat.Dense
	for s := range scrambles {
		z := mat.NewDense(n, width, nil)
		half := z.Slice(0, n/2, 0, width).(*mat.Dense)
		samplemv.Halton{Kind: samplemv.Owen, Q: normal, Src: rand.NewPCG(1, uint64(s))}.Sample(half)
		z.Slice(n/2, n, 0, width).(*mat.Dense).Scale(-1, half)
		list = append(list, z)
	}
	drawn.Store(key, list)
	return list
}

func identity(n int) *mat.SymDense {
	i := mat.NewSymDense(n, nil)
	for k := range n {
		i.SetSym(k, k, 1)
	}
	return i
}

// Perfect is what knowing every long-run gain would be worth, money a tap and season: no trial is worth more.
func (q *Question) Perfect() (evppi, err float64) {
	b := root(q.g)
	_, width := b.Dims()
	evppi, err, _ = value(width, 16*q.points, q.best, q.margins(b), q.top)
	return evppi, err
}

// root is B with BB' = a, which may be singular; it has no columns of nothing.
func root(a *mat.SymDense) *mat.Dense {
	n := a.SymmetricDim()
	var eig mat.EigenSym
	eig.Factorize(a, true)
	values := eig.Values(nil)
	var u mat.Dense
	eig.VectorsTo(&u)
	b := mat.NewDense(n, n, nil)
	width := 0
	for k := n - 1; k >= 0; k-- { // largest first
		if values[k] <= 1e-12*values[n-1] {
			break
		}
		for i := range n {
			b.Set(i, width, u.At(i, k)*math.Sqrt(values[k]))
		}
		width++
	}
	if width == 0 {
		return mat.NewDense(n, 1, nil)
	}
	return mat.DenseCopyOf(b.Slice(0, n, 0, width))
}

// learns is B: the trial's rows A have covariance AGA' + V, V = sampling + τ² between the arms of a season and site,
// and Ω = GA'(AGA' + V)⁻¹AG = BB' with B = GA'L⁻ᵀ, LL' = AGA' + V.
func (q *Question) learns(t Trial) (*mat.Dense, note.Faults) {
	var faults note.Faults
	n := len(q.mean)
	g := mat.NewSymDense(n+1, nil)
	sites := 1.0
	if t.Site != "" {
		_, g = q.m.Gains.At(t.Site)
	} else {
		g.CopySym(q.fresh)
		sites = float64(max(1, t.Sites))
		g.SetSym(n, n, g.At(n, n)/sites) // the mean of several new sites
	}
	rows := len(t.Treatments) - 1
	a := mat.NewDense(rows, n+1, nil)
	for i, x := range t.Treatments {
		k, ok := q.at[x]
		if !ok {
			faults = append(faults, note.New("the studies say nothing yet of %s, so that nothing can be said of a "+
				"trial of it", note.Term(x.Practice)))
			continue
		}
		sanitized := 1.0
		if x.Practice == practice.Unsanitized {
			sanitized = 0
		}
		for r := range rows {
			switch {
			case i == 0:
				a.Set(r, k, -1)
				a.Set(r, n, a.At(r, n)-sanitized)
			case i == r+1:
				a.Set(r, k, 1)
				a.Set(r, n, a.At(r, n)+sanitized)
			}
		}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	arm := (math.Log1p(t.CV*t.CV)/float64(t.Blocks*t.Units) + q.m.Gains.Study/2) / (float64(t.Seasons) * sites)
	var ga, aga mat.Dense
	ga.Mul(g, a.T())
	aga.Mul(a, &ga)
	v := mat.NewSymDense(rows, nil)
	for i := range rows {
		for j := range i + 1 {
			s := arm
			if i == j {
				s += arm
			}
			v.SetSym(i, j, s+(aga.At(i, j)+aga.At(j, i))/2)
		}
	}
	var c mat.Cholesky
	if !c.Factorize(v) {
		return nil, note.Faults{note.New("what the trial would find cannot be worked out: its covariance is singular")}
	}
	var l mat.TriDense
	c.LTo(&l)
	var b mat.Dense // B' = L⁻¹AG
	if err := b.Solve(&l, ga.T()); err != nil {
		return nil, note.Faults{note.New("what the trial would find cannot be worked out: its covariance is singular")}
	}
	return mat.DenseCopyOf(b.Slice(0, rows, 0, n).T()), nil
}

// Trial says what one trial is worth. The error is note.Faults.
func (q *Question) Trial(t Trial) (Worth, error) {
	w := Worth{Trial: t}
	faults := t.Faults()
	if len(faults) > 0 {
		return w, faults
	}
	b, faults := q.learns(t)
	if len(faults) > 0 {
		return w, faults
	}
	w.EVSI, w.Error, w.Changes = value(len(t.Treatments)-1, q.points, q.best, q.margins(b), q.top)
	q.price(&w)
	return w, nil
}

// Priced is a worth worked out before, for the use of this question and at other costs of the trial. The error is
// note.Faults.
func (q *Question) Priced(w Worth, cost Cost) (Worth, error) {
	w.Trial.Cost = cost
	w.Benefit, w.Forgone = 0, 0
	if f := w.Trial.Faults(); len(f) > 0 {
		return w, f
	}
	q.price(&w)
	return w, nil
}

// price lays taps, seasons and costs over the worth a tap. The trial is paid season by season; its use begins after it.
func (q *Question) price(w *Worth) {
	t := w.Trial
	v := 1 / (1 + q.Use.Discount)
	for s := range q.Use.Seasons {
		w.Benefit += w.EVSI * q.Use.Taps * q.Use.Adoption * math.Pow(v, float64(t.Seasons+s))
	}
	sites := 1.0
	if t.Site == "" {
		sites = float64(max(1, t.Sites))
	}
	units := float64(t.Blocks*t.Units) * sites // of one treatment
	reference := 0.0
	for k, o := range q.m.Options {
		if t.Treatments[0].Practice == practice.Unsanitized && o.Choice.Practice == practice.Unsanitized {
			reference = max(0, q.now[q.best]-q.now[k])
		}
	}
	w.Cost = t.Cost.Fixed
	for s := range t.Seasons {
		d := math.Pow(v, float64(s))
		forgone := reference * units * float64(t.Taps)
		w.Forgone += d * forgone
		w.Cost += d * (sites*t.Cost.Season + units*float64(len(t.Treatments))*t.Cost.Unit + forgone)
	}
	w.Net = w.Benefit - w.Cost
}

// Sizes says what a trial is worth with each number of blocks.
func (q *Question) Sizes(t Trial, blocks []int) ([]Worth, error) {
	var list []Worth
	for _, n := range blocks {
		t.Blocks = n
		w, err := q.Trial(t)
		if err != nil {
			return nil, err
		}
		list = append(list, w)
	}
	return list, nil
}

// All gives the sizes of every candidate.
func (q *Question) All(candidates []Trial, blocks []int) ([][]Worth, error) {
	list := make([][]Worth, len(candidates))
	errs := make([]error, len(candidates))
	done := make(chan struct{})
	for i, t := range candidates {
		go func() {
			list[i], errs[i] = q.Sizes(t, blocks)
			done <- struct{}{}
		}()
	}
	for range candidates {
		<-done
	}
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return list, nil
}

// Rank puts candidates, each by its sizes, in the order of what they net at their best size, highest first, and says
// which size that is. To run no trial nets 0: a candidate below that is not worth running.
func Rank(candidates [][]Worth) (ranked []Worth, sizes [][]Worth) {
	best := func(list []Worth) Worth {
		return slices.MaxFunc(list, func(a, b Worth) int { return cmp.Compare(a.Net, b.Net) })
	}
	sizes = slices.Clone(candidates)
	slices.SortStableFunc(sizes, func(a, b []Worth) int { return cmp.Compare(best(b).Net, best(a).Net) })
	for _, s := range sizes {
		ranked = append(ranked, best(s))
	}
	return ranked, sizes
}
