package sure

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"
	"gonum.org/v1/gonum/stat/distuv"
	"gonum.org/v1/gonum/stat/samplemv"

	"spile/internal/engine/pool"
	"spile/internal/engine/year"
)

// Draws are n draws of what every option brings a tap and season, less what it costs. One index is one state of the
// world: its gains, prices and season are those of all options.
type Draws struct {
	N      int
	Long   [][]float64 // by option and draw, of the first Kept: over the long run, at a site not yet known
	Season [][]float64 // the same in one single season; nil where not asked for

	p    *prepared
	seed uint64
}

// Kept is how many draws are kept one by one, so that memory is bounded: percentiles and dominance rest on the first so
// many. What is summed up is of all; those that are not kept are drawn again for it.
const Kept = 64 * chunk

// chunk is how many draws share a stream of random numbers.
const chunk = 1024

// Draw makes n draws; the same seed gives the same on any number of cores. With season it draws one single season
// beside the long run, from the same gains and prices. The error is note.Faults; that nothing may be chosen is none.
func (m *Model) Draw(n int, seed uint64, season bool) (*Draws, error) {
	p, faults := m.drawable()
	if err := faults.Err(); err != nil {
		return nil, err
	}
	d := &Draws{N: n, p: p, seed: seed, Long: matrix(len(p.Options), min(n, Kept))}
	if season {
		d.Season = matrix(len(p.Options), min(n, Kept))
	}
	d.fill()
	return d, nil
}

// fill makes the draws that are kept.
func (d *Draws) fill() {
	d.p.share(min(d.N, Kept), chunk, func(c *clerk, from, to int) {
		c.draw(d.seed, from, to, columns(d.Long, from, to), columns(d.Season, from, to))
	})
}

// columns is a range of draws.
func columns(margins [][]float64, from, to int) [][]float64 {
	list := make([][]float64, len(margins))
	for k := range margins {
		list[k] = margins[k][from:to]
	}
	return list
}

// at is a range of draws, long run and season, as kept or drawn again; it is good until it is called again.
func (d *Draws) at(c *clerk, from, to int) [2][][]float64 {
	if to <= len(d.Long[0]) {
		return [2][][]float64{columns(d.Long, from, to), columns(d.Season, from, to)}
	}
	if c.long == nil {
		c.long = matrix(len(d.Long), chunk)
		c.season = matrix(len(d.Season), chunk)
	}
	long, season := columns(c.long, 0, to-from), columns(c.season, 0, to-from)
	c.draw(d.seed, from, to, long, season)
	return [2][][]float64{long, season}
}

// draw makes a range of draws; season is empty where it is not asked for.
//
// In the long run a treatment yields Y₀ exp(β + (σ²_u + σ²_v)/2). In one season at a new site every treatment,
// unsanitized too, deviates by e ~ N(−τ²/4, τ²/2) and by what its practice is like there, w ~ N(−σ²_w/4, σ²_w/2), and
// every sanitized one by the site's u ~ N(0, σ²_u) and the season's v ~ N(0, σ²_v). It yields Y₀ exp(β + u + v + w
// + e), whose mean is that of the long run. All variances are those of the member drawn (M7). How good
// a year it is, in yield, sugar and prices, all treatments share.
func (c *clerk) draw(seed uint64, from, to int, long, season [][]float64) {
	p := c.prepared
	s := p.kept(seed, from, to)
	c.reprice() // its plans say what they ask for
	parts := c.parts()
	gains := s.means(p, parts, false)
	var single [][]float64
	var years []factors
	if len(season) > 0 {
		single, years = s.means(p, parts, true), s.yearsOf(p.Year)
	}
	for i := range to - from {
		p.shape(s.x[i*len(p.unsure):], c.y, c.values)
		c.reprice()
		ledger := c.books.Ledger
		for j := range parts {
			c.gains[j] = gains[j][i]
		}
		y0 := ledger.Unsanitized(c.gains[c.baseline])
		c.margins(ledger, y0, i, long)
		if len(season) == 0 {
			continue
		}
		for j := range parts {
			c.gains[j] = single[j][i]
		}
		now := c.inSeason(y0)
		if years != nil {
			f := &years[i]
			now *= f[year.Yield]
			c.dear = ledger.In(f[year.Sugar], f[year.Price])
			ledger = &c.dear
		}
		c.margins(ledger, now, i, season)
	}
}

// seasons and years set the streams of seasons, and of what all options share in them, apart from that of the long run.
const seasons, years = 0x5ea5, 0x7ea2

// inSeason gives the yield without any practice in a season, and makes the clerk's gains over the long-run y0 into
// gains over it: what is added sap, with a sugar and a price of its own, is what is above unsanitized in that very
// season.
func (c *clerk) inSeason(y0 float64) float64 {
	l := c.books.Ledger
	adjust := l.Yield(1, 1) - 1
	if adjust == 0 || c.control < 0 {
		return y0
	}
	now := l.Yield(y0, c.gains[c.untreated])
	for j, g := range c.gains {
		c.gains[j] = (l.Yield(y0, g)/now - 1) / adjust
	}
	return now
}

func matrix(rows, n int) [][]float64 {
	m := make([][]float64, rows)
	for k := range m {
		m[k] = make([]float64, n)
	}
	return m
}

// longRun makes log gains of a member into gains over the long run, as fractions.
func (p *prepared) longRun(member int, logs, gains []float64) {
	shift := p.Gains.Members[member].Spread.LongRun()
	for t, x := range logs {
		if t != p.control {
			x += shift
		}
		gains[t] = math.Exp(x) - 1 // a good deal faster than Expm1, and gains are not tiny
	}
}

// States are n drawn states of the world, one index one state: those in which Draw of the same gains, assumptions and
// seed has its long run.
type States struct {
	Ratios [][]float64   // by treatment, of its yield over unsanitized, over the long run
	Slopes [][]float64   // as Gains has them
	Spread []pool.Spread // by state
	Values [][]float64   // by assumption; nil of one that is fixed
}

// States draws n. Options are not asked for.
func (m *Model) States(n int, seed uint64) (*States, error) {
	p, faults := m.drawable()
	if err := faults.Err(); err != nil {
		return nil, err
	}
	rows := len(m.Gains.Treatments)
	x := &States{Ratios: matrix(rows, n), Slopes: matrix(m.Gains.Slopes, n), Spread: make([]pool.Spread, n),
		Values: make([][]float64, len(m.Assumptions))}
	for _, i := range p.unsure {
		x.Values[i] = make([]float64, n)
	}
	OnCores(n, chunk, func() func(from, to int) {
		values, y := slices.Clone(p.best), make([]float64, len(p.unsure))
		return func(from, to int) {
			s := p.kept(seed, from, to)
			for i := range s.members {
				d := from + i
				for t, g := range s.gains[i*rows : (i+1)*rows] {
					x.Ratios[t][d] = 1 + g
				}
				for j := range x.Slopes {
					x.Slopes[j][d] = s.logs[i*p.lines+rows+j]
				}
				p.shape(s.x[i*len(p.unsure):], y, values)
				for _, i := range p.unsure {
					x.Values[i][d] = values[i]
				}
				x.Spread[d] = p.Gains.Members[s.members[i]].Spread
			}
		}
	})
	return x, nil
}

// stream draws states of the world one after another.
type stream struct {
	*prepared
	random *rand.Rand
	z      []float64 // of the gains
	x, y   []float64 // of the unsure assumptions, independent and correlated
	out    []float64 // log gains
	member int
}

// row is a row of a root without its zeros at either end.
type row struct {
	from int
	c    []float64
}

func (p *prepared) stream(seed uint64, part int) *stream {
	p.open()
	s := &stream{
		prepared: p, random: rand.New(rand.NewPCG(seed, uint64(part))),
		z: make([]float64, p.width), x: make([]float64, len(p.unsure)), y: make([]float64, len(p.unsure)),
		out: make([]float64, p.lines),
	}
	return s
}

// rowed makes the rows of the members ready, and finds where each ends among the weights.
func (p *prepared) rowed() {
	sum := 0.0
	for _, m := range p.Gains.Members {
		sum += m.Weight
		p.below = append(p.below, sum)
		for t := range p.lines {
			c := m.Root.RawRowView(t)
			from, to := 0, len(c)
			for from < to && c[from] == 0 {
				from++
			}
			for from < to && c[to-1] == 0 {
				to--
			}
			p.rows = append(p.rows, row{from, c[from:to]})
		}
	}
}

func (s *stream) drawGains() {
	s.member = 0
	if len(s.Gains.Members) > 1 {
		s.choose(s.random.Float64())
	}
	for j := range s.z {
		s.z[j] = s.random.NormFloat64()
	}
}

// choose takes the member at a point of the weights, from 0 to 1.
func (s *stream) choose(at float64) {
	k, _ := slices.BinarySearchFunc(s.below, at, func(sum, at float64) int {
		if sum <= at {
			return -1
		}
		return 1
	})
	s.member = min(k, len(s.below)-1)
}

func (s *stream) logsAt(member int, z, out []float64) []float64 {
	rows := s.rows[member*len(out):]
	for t, sum := range s.Gains.Members[member].Mean {
		r := &rows[t]
		from := z[r.from:][:len(r.c)]
		for j, v := range r.c {
			sum += v * from[j]
		}
		out[t] = sum
	}
	return out
}

func (s *stream) normals(to []float64) {
	for j := range to {
		to[j] = s.random.NormFloat64()
	}
}

// shape turns the independent normals x into the assumptions v; y is room.
func (p *prepared) shape(x, y, v []float64) {
	if p.copula != nil {
		l := p.copula.RawTriangular()
		for j := range y {
			sum := 0.0
			for k, c := range l.Data[j*l.Stride : j*l.Stride+j+1] {
				sum += c * x[k]
			}
			y[j] = sum
		}
		x = y
	}
	for j, i := range p.unsure {
		v[i] = p.shapers[i].of(x[j])
	}
}

// drawn is a chunk of states of the world: by state the member, log gains and gains over the long run of every
// treatment, and the independent normals of the assumptions.
type drawn struct {
	members        []int
	logs, gains, x []float64
	from           int
	seed           uint64

	mu    sync.Mutex
	kept  [2]map[string][]float64 // means of the long run and of a single season, by part and state
	year  year.Year               // that years are of
	years []factors
}

// latest are the chunks drawn for the latest models, whatever their prices: from one price to the next only they
// change, and from one sugarbush to the next neither does what is drawn of its sections.
var latest struct {
	sync.Mutex
	drawings []drawing
	chunks   []map[[2]int]*drawn
}

// mostLatest is how many models they are of: that of a ranking, and that of plans.
const mostLatest = 2

// drawing is all that states hang on.
type drawing struct {
	gains  *pool.Posterior
	seed   uint64
	unsure int
}

// kept is a range of states, drawn unless they were.
func (p *prepared) kept(seed uint64, from, to int) *drawn {
	of, at := drawing{p.Gains, seed, len(p.unsure)}, [2]int{from, to}
	latest.Lock()
	k := slices.Index(latest.drawings, of)
	if k < 0 {
		if k = len(latest.drawings); k == mostLatest {
			latest.drawings, latest.chunks = latest.drawings[1:], latest.chunks[1:]
			k--
		}
		latest.drawings, latest.chunks = append(latest.drawings, of), append(latest.chunks, map[[2]int]*drawn{})
	}
	chunks := latest.chunks[k]
	d := chunks[at]
	latest.Unlock()
	if d != nil {
		return d
	}
	s, n := p.stream(seed, from), len(p.Gains.Treatments)
	d = &drawn{from: from, seed: seed, members: make([]int, to-from), logs: make([]float64, p.lines*(to-from)),
		gains: make([]float64, n*(to-from)), x: make([]float64, len(p.unsure)*(to-from))}
	for i := range d.members {
		s.drawGains()
		d.members[i] = s.member
		logs := s.logsAt(s.member, s.z, d.logs[i*p.lines:(i+1)*p.lines])
		p.longRun(s.member, logs[:n], d.gains[i*n:])
		s.normals(d.x[i*len(p.unsure) : (i+1)*len(p.unsure)])
	}
	if to <= mostKept {
		latest.Lock()
		chunks[at] = d
		latest.Unlock()
	}
	return d
}

// mostKept is how many states are kept: as many as are usual.
const mostKept = 10 * chunk

// world is a drawn state kept: member and normals of the gains, values of the assumptions.
type world struct {
	member int
	z      []float64
	values []float64
}

// worlds draws n states as a Latin hypercube: of every number each of n equally likely parts is drawn once, so that the
// mean of what adds up from them is known far better than from so many draws at random (McKay, Beckman & Conover 1979,
// Technometrics 21:239).
func (p *prepared) worlds(n int, seed uint64) []world {
	s := p.stream(0, 0)
	u := mat.NewDense(n, 1+p.width+len(p.unsure), nil)
	_, d := u.Dims()
	samplemv.LatinHypercube{Q: distmv.NewUnitUniform(d, nil), Src: rand.NewPCG(seed, latin)}.Sample(u)
	list := make([]world, n)
	for i := range list {
		row := u.RawRowView(i)
		s.choose(row[0])
		for j, x := range row[1:] {
			row[1+j] = distuv.UnitNormal.Quantile(x)
		}
		v := slices.Clone(p.best)
		s.shape(row[1+p.width:], s.y, v)
		list[i] = world{s.member, slices.Clone(row[1 : 1+p.width]), v}
	}
	return list
}

// latin sets the stream of Latin hypercubes apart from that of draws.
const latin = 0x1a71
