package reml

import "math"

// moments are sums over blocks from which everything else is made. With W the data columns and K_k = Z_k Z_k':
//
//	m0    W'V⁻¹W
//	h[k]  W'V⁻¹K_kV⁻¹W
//	j[kl] W'V⁻¹K_kV⁻¹K_lV⁻¹W, made symmetric
//	t[k]  tr V⁻¹K_k
//	tt[kl] tr V⁻¹K_kV⁻¹K_l
//
// Every matrix is w × w with its row-major values; kl is pair(k, l). No n × n matrix is ever formed.
type moments struct {
	w      int
	m0     []float64
	h, j   [][]float64
	t, tt  []float64
	logdet float64 // log|V|
}

func pair(k, l int) int {
	if k < l {
		k, l = l, k
	}
	return k*(k+1)/2 + l
}

func newMoments(w, k int) *moments {
	pairs := k * (k + 1) / 2
	all := make([]float64, w*w*(1+k+pairs)+k+pairs)
	take := func(n int) []float64 {
		part := all[:n:n]
		all = all[n:]
		return part
	}
	s := &moments{w: w, m0: take(w * w), h: make([][]float64, k), j: make([][]float64, pairs)}
	for i := range s.h {
		s.h[i] = take(w * w)
	}
	for i := range s.j {
		s.j[i] = take(w * w)
	}
	s.t, s.tt = take(k), take(pairs)
	return s
}

// reset clears, for w columns, which may be fewer than those made.
func (s *moments) reset(w int, deep bool) {
	s.w, s.logdet = w, 0
	clear(s.m0[:w*w])
	if !deep {
		return
	}
	for _, h := range s.h {
		clear(h[:w*w])
	}
	for _, j := range s.j {
		clear(j[:w*w])
	}
	clear(s.t)
	clear(s.tt)
}

// workspace is scratch for one evaluation, sized by the plan.
type workspace struct {
	d, inv  []float64 // block rows²
	s       []float64 // D⁻¹W
	b       []float64 // Z'D⁻¹W
	e       []float64 // Z'D⁻¹
	a       []float64 // Z'D⁻¹Z
	ab      []float64 // a·b
	super   *moments
	c, g, f []float64 // Woodbury
	gf      []float64
	ht      [][]float64
	m, x, r []float64
	gh      [][]float64
}

func newWorkspace(pl *plan) *workspace {
	n, q, w := pl.maxBlock, pl.maxLocal, pl.maxWide
	ws := &workspace{
		d: make([]float64, n*n), inv: make([]float64, n*n), s: make([]float64, n*w),
		b: make([]float64, q*w), e: make([]float64, q*n), a: make([]float64, q*q), ab: make([]float64, q*w),
	}
	if ms := pl.maxSuper; ms > 0 {
		ws.super = newMoments(ms, pl.k)
		take := func() []float64 { return make([]float64, ms*ms) }
		ws.c, ws.g, ws.f, ws.gf, ws.m, ws.x, ws.r = take(), take(), take(), take(), take(), take(), take()
		for range pl.k {
			ws.ht = append(ws.ht, take())
			ws.gh = append(ws.gh, take())
		}
	}
	return ws
}

// sum adds one super-block at θ to total; deep also the moments that derivatives need. False where V is not positive
// definite.
func (pl *plan) sum(total *moments, ws *workspace, s *super, theta []float64, deep bool) bool {
	if len(s.link) == 0 {
		for i := range s.blocks {
			if !total.add(&s.blocks[i], ws, theta, deep) {
				return false
			}
		}
		return true
	}
	own := ws.super
	own.reset(len(s.x)+1+len(s.link), deep)
	for i := range s.blocks {
		if !own.add(&s.blocks[i], ws, theta, deep) {
			return false
		}
	}
	return pl.woodbury(total, ws, s, theta, deep)
}

// add adds one block; false where V is not positive definite.
func (s *moments) add(b *block, ws *workspace, theta []float64, deep bool) bool {
	if len(b.rows) == 1 {
		return s.addRow(b, theta, deep)
	}
	n, wide, w := len(b.rows), len(b.at), s.w
	d := ws.d[:n*n]
	b.variance(d, theta)
	if !cholesky(d, n) {
		return false
	}
	s.logdet += 2 * logDiagonal(d, n)
	invert(d, ws.inv, n)
	sol := ws.s[:n*wide]
	clear(sol)
	for i := range n {
		to := sol[i*wide : (i+1)*wide]
		for r := range n {
			axpy(d[i*n+r], b.w[r*wide:(r+1)*wide], to)
		}
	}
	for r := range n {
		from := sol[r*wide : (r+1)*wide]
		for i, v := range b.w[r*wide : (r+1)*wide] {
			if v == 0 {
				continue
			}
			row := s.m0[b.at[i]*w : (b.at[i]+1)*w]
			for c, u := range from {
				row[b.at[c]] += v * u
			}
		}
	}
	if deep {
		s.addDeep(b, ws, d, sol)
	}
	return true
}

// variance sets d to the variance of the block at θ.
func (b *block) variance(d, theta []float64) {
	n := len(b.rows)
	if b.v0 != nil {
		copy(d, b.v0)
	} else {
		clear(d)
	}
	for i := range b.z {
		z := &b.z[i]
		t := theta[z.k]
		if t == 0 {
			continue
		}
		for a, r := range z.rows {
			row := d[r*n : (r+1)*n]
			v := t * z.vals[a]
			for c, q := range z.rows {
				row[q] += v * z.vals[c]
			}
		}
	}
}

// addDeep adds the moments of a block that derivatives need, d being V⁻¹ and sol V⁻¹W.
func (s *moments) addDeep(b *block, ws *workspace, d, sol []float64) {
	n, wide, w, q := len(b.rows), len(b.at), s.w, len(b.z)
	zs, ze, a := ws.b[:q*wide], ws.e[:q*n], ws.a[:q*q]
	clear(zs)
	clear(ze)
	for i := range b.z {
		z := &b.z[i]
		for c, r := range z.rows {
			axpy(z.vals[c], sol[r*wide:(r+1)*wide], zs[i*wide:(i+1)*wide])
			axpy(z.vals[c], d[r*n:(r+1)*n], ze[i*n:(i+1)*n])
		}
	}
	for i := range b.z {
		e := ze[i*n : (i+1)*n]
		for l := range i + 1 {
			z := &b.z[l]
			v := 0.0
			for c, r := range z.rows {
				v += z.vals[c] * e[r]
			}
			a[i*q+l], a[l*q+i] = v, v
		}
	}
	last := 0
	for first := 0; first < q; first = last {
		k := b.z[first].k
		h := s.h[k]
		for last = first; last < q && b.z[last].k == k; last++ {
			s.t[k] += a[last*q+last]
			row := zs[last*wide : (last+1)*wide]
			for c, v := range row {
				to := h[b.at[c]*w : (b.at[c]+1)*w]
				for o, u := range row {
					to[b.at[o]] += v * u
				}
			}
		}
		to := 0
		for from := 0; from < last; from = to { // every component up to k
			for to = from; to < q && b.z[to].k == b.z[from].k; {
				to++
			}
			s.addPair(b, ws, [2]int{first, last}, [2]int{from, to})
		}
	}
}

// addPair adds the moment of two components of a block, of which these columns of Z are: from the first to before the
// last.
func (s *moments) addPair(b *block, ws *workspace, one, other [2]int) {
	wide, w, q := len(b.at), s.w, len(b.z)
	zs := ws.b[:q*wide]
	kl := pair(b.z[one[0]].k, b.z[other[0]].k)
	j, half := s.j[kl], 0.5
	for i := one[0]; i < one[1]; i++ {
		r := ws.ab[i*wide : (i+1)*wide]
		clear(r)
		for o := other[0]; o < other[1]; o++ {
			v := ws.a[i*q+o]
			s.tt[kl] += v * v
			axpy(v, zs[o*wide:(o+1)*wide], r)
		}
		for c, v := range zs[i*wide : (i+1)*wide] {
			for o, u := range r {
				j[b.at[c]*w+b.at[o]] += half * v * u
				j[b.at[o]*w+b.at[c]] += half * v * u
			}
		}
	}
}

// addRow adds a block of one row, where all is scalar.
func (s *moments) addRow(b *block, theta []float64, deep bool) bool {
	d := 0.0
	if b.v0 != nil {
		d = b.v0[0]
	}
	for k, v := range b.kappa {
		d += theta[k] * v
	}
	if !(d > 0) || math.IsInf(d, 0) {
		return false
	}
	s.logdet += math.Log(d)
	inv := 1 / d
	s.outer(s.m0, b, inv)
	if !deep {
		return true
	}
	for k, v := range b.kappa {
		if v == 0 {
			continue
		}
		v *= inv
		s.t[k] += v
		s.outer(s.h[k], b, v*inv)
		for l, u := range b.kappa[:k+1] {
			if u == 0 {
				continue
			}
			kl := pair(k, l)
			u *= v * inv
			s.tt[kl] += u
			s.outer(s.j[kl], b, u*inv)
		}
	}
	return true
}

// outer adds c·ww' for the one row w of a block.
func (s *moments) outer(to []float64, b *block, c float64) {
	for i, v := range b.w {
		v *= c
		row := to[b.at[i]*s.w : (b.at[i]+1)*s.w]
		for j, u := range b.w {
			row[b.at[j]] += v * u
		}
	}
}

// woodbury brings the linking columns U of a super-block into its moments and adds them to total. With D the
// block-diagonal part, C = U'D⁻¹U, S the roots of θ and G = S(I + SCS)⁻¹S:
//
//	V⁻¹ = D⁻¹ − D⁻¹UGU'D⁻¹,  |V| = |D|·|I + SCS|,
//
// so that V⁻¹W = D⁻¹WT with T taking G·U'D⁻¹W off the rows of U: every moment of V is one of D between T' and T.
func (pl *plan) woodbury(total *moments, ws *workspace, s *super, theta []float64, deep bool) bool {
	w, q := ws.super.w, len(s.link)
	l := joined{pl: pl, total: total, own: ws.super, ws: ws, s: s, w: w, q: q, a: w - q,
		g: ws.g[:q*q], f: ws.f[:q*w], v: ws.m[:w*w]}
	if !l.solve(theta) {
		return false
	}
	if deep {
		l.inside()
		l.links()
	}
	return true
}

// joined is a super-block whose linking columns are being brought in.
type joined struct {
	pl         *plan
	total, own *moments // of the whole, and of D
	ws         *workspace
	s          *super
	w, q, a    int       // its columns: all, the linking ones, X and y
	g          []float64 // G
	f          []float64 // G·U'D⁻¹W
	v          []float64 // W'V⁻¹W
}

// solve makes G and what follows of it, and adds W'V⁻¹W and the determinant; false where V is not positive definite.
func (l *joined) solve(theta []float64) bool {
	w, q, a := l.w, l.q, l.a
	c := l.ws.c[:q*q]
	root := func(i, j int) float64 { return math.Sqrt(theta[l.s.link[i]] * theta[l.s.link[j]]) }
	for i := range q {
		for j := range q {
			c[i*q+j] = root(i, j) * l.own.m0[(a+i)*w+a+j]
		}
		c[i*q+i]++
	}
	if !cholesky(c, q) {
		return false
	}
	l.total.logdet += l.own.logdet + 2*logDiagonal(c, q)
	invert(c, l.ws.x, q)
	for i := range q {
		for j := range q {
			l.g[i*q+j] = root(i, j) * c[i*q+j]
		}
	}
	multiply(l.f, l.g, l.own.m0[a*w:], q, q, w)
	copy(l.v, l.own.m0)
	subtractCross(l.v, l.own.m0[a*w:], l.f, q, w)
	l.scatter(l.total.m0, l.v)
	return true
}

// at is the place of a data column in the whole.
func (l *joined) at(i int) int {
	if i == l.a-1 {
		return l.pl.p
	}
	return l.s.x[i]
}

// scatter adds a moment of the super-block to that of the whole.
func (l *joined) scatter(to, from []float64) {
	for i := range l.a {
		row := to[l.at(i)*l.total.w : (l.at(i)+1)*l.total.w]
		for j := range l.a {
			row[l.at(j)] += from[i*l.w+j]
		}
	}
}

// outer adds c·(xy' + yx')/2, of two rows of the super-block, to a moment of the whole.
func (l *joined) outer(to []float64, c float64, x, y []float64) {
	for i := range l.a {
		row := to[l.at(i)*l.total.w : (l.at(i)+1)*l.total.w]
		for j := range l.a {
			row[l.at(j)] += c * (x[i]*y[j] + y[i]*x[j]) / 2
		}
	}
}

// inside adds what derivatives need of the components inside the blocks, and leaves h·T of each in ht.
func (l *joined) inside() {
	w, q, a, f, ws := l.w, l.q, l.a, l.f, l.ws
	for k := range l.pl.k {
		h, ht := l.own.h[k], ws.ht[k][:w*w]
		copy(ht, h)
		for i := range w {
			for u := range q {
				axpy(-h[i*w+a+u], f[u*w:(u+1)*w], ht[i*w:(i+1)*w])
			}
		}
		gh := ws.gh[k][:q*q]
		l.total.t[k] += l.own.t[k]
		for i := range q {
			for j := range q {
				gh[i*q+j] = 0
				for u := range q {
					gh[i*q+j] += l.g[i*q+u] * h[(a+u)*w+a+j]
				}
			}
			l.total.t[k] -= gh[i*q+i]
		}
	}
	for k := range l.pl.k {
		multiply(ws.gf[:q*w], l.g, ws.ht[k][a*w:], q, q, w)
		for o := range k + 1 {
			l.both(k, o)
		}
	}
	for k := range l.pl.k { // ht becomes T'hT
		ht := ws.ht[k][:w*w]
		copy(ws.x[:q*w], ht[a*w:])
		for u := range q {
			for i := range w {
				axpy(-f[u*w+i], ws.x[u*w:(u+1)*w], ht[i*w:(i+1)*w])
			}
		}
		l.scatter(l.total.h[k], ht)
	}
}

// both adds the moment of two components inside the blocks; gf holds G times the first one's rows of h·T. It is T'jT
// less the part that V⁻¹ between the components takes off.
func (l *joined) both(k, o int) {
	w, q, a, ws := l.w, l.q, l.a, l.ws
	ko := pair(k, o)
	j := l.own.j[ko]
	l.total.tt[ko] += l.own.tt[ko]
	for i := range q {
		for u := range q {
			l.total.tt[ko] += ws.gh[k][i*q+u]*ws.gh[o][u*q+i] - 2*l.g[i*q+u]*j[(a+u)*w+a+i]
		}
	}
	r, gu, other := ws.r[:w*w], ws.gf[:q*w], ws.ht[o][a*w:]
	copy(r, j[:w*w])
	transform(r, l.f, ws.x, q, w)
	for u := range q {
		for i := range a {
			x := gu[u*w+i] / 2
			y := other[u*w+i] / 2
			for c := range a {
				r[i*w+c] -= x*other[u*w+c] + y*gu[u*w+c]
			}
		}
	}
	l.scatter(l.total.j[ko], r)
}

// links adds what derivatives need of the components of linking columns: K = UU', so a moment is a product of rows of
// U'V⁻¹W.
func (l *joined) links() {
	w, a := l.w, l.a
	for u, k := range l.s.link {
		row := l.v[(a+u)*w : (a+u+1)*w]
		l.total.t[k] += row[a+u]
		l.outer(l.total.h[k], 1, row, row)
		for u2, o := range l.s.link[:u+1] {
			x, times := row[a+u2], 1.0
			if k == o && u != u2 {
				times = 2 // both orders
			}
			l.total.tt[pair(k, o)] += times * x * x
			l.outer(l.total.j[pair(k, o)], times*x, row, l.v[(a+u2)*w:(a+u2+1)*w])
		}
		for o := range l.pl.k { // a component inside the blocks beside it
			times := 1.0
			if k == o {
				times = 2
			}
			ht := l.ws.ht[o][(a+u)*w : (a+u+1)*w]
			l.total.tt[pair(k, o)] += times * ht[a+u]
			l.outer(l.total.j[pair(k, o)], times, row, ht)
		}
	}
}

// multiply sets to (n × w) to the product of x (n × m) and y (m × w).
func multiply(to, x, y []float64, n, m, w int) {
	clear(to[:n*w])
	for i := range n {
		for k := range m {
			axpy(x[i*m+k], y[k*w:(k+1)*w], to[i*w:(i+1)*w])
		}
	}
}

// subtractCross takes u'f off v (w × w), u and f being q × w.
func subtractCross(v, u, f []float64, q, w int) {
	for k := range q {
		for i := range w {
			axpy(-u[k*w+i], f[k*w:(k+1)*w], v[i*w:(i+1)*w])
		}
	}
}

// transform sets r (w × w) to T'rT, T = I less f (q × w) in its last q rows; work has w² room.
func transform(r, f, work []float64, q, w int) {
	a := w - q
	for i := range w {
		row := r[i*w : (i+1)*w]
		tail := work[:q]
		copy(tail, row[a:])
		for u := range q {
			axpy(-tail[u], f[u*w:(u+1)*w], row)
		}
	}
	tail := work[:q*w]
	copy(tail, r[a*w:])
	for u := range q {
		for i := range w {
			axpy(-f[u*w+i], tail[u*w:(u+1)*w], r[i*w:(i+1)*w])
		}
	}
}
