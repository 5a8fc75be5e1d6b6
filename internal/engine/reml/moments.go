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

// add adds one block.
func (s *moments) add(b *block, ws *workspace, theta []float64, deep bool) bool {
	if len(b.rows) == 1 {
		return s.addRow(b, theta, deep)
	}
	n, wide, w := len(b.rows), len(b.at), s.w
	d := ws.d[:n*n]
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
	if !deep {
		return true
	}
	q := len(b.z)
	zs, ze, a, ab := ws.b[:q*wide], ws.e[:q*n], ws.a[:q*q], ws.ab[:q*wide]
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
	for first := 0; first < q; {
		k := b.z[first].k
		last := first
		for last < q && b.z[last].k == k {
			s.t[k] += a[last*q+last]
			last++
		}
		h := s.h[k]
		for i := first; i < last; i++ {
			row := zs[i*wide : (i+1)*wide]
			for c, v := range row {
				to := h[b.at[c]*w : (b.at[c]+1)*w]
				for o, u := range row {
					to[b.at[o]] += v * u
				}
			}
		}
		for from := 0; from < last; { // every component l up to k
			l := b.z[from].k
			to := from
			for to < q && b.z[to].k == l {
				to++
			}
			kl := pair(k, l)
			j, half := s.j[kl], 0.5
			for i := first; i < last; i++ {
				r := ab[i*wide : (i+1)*wide]
				clear(r)
				for o := from; o < to; o++ {
					v := a[i*q+o]
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
			from = to
		}
		first = last
	}
	return true
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
	own := ws.super
	w, q := own.w, len(s.link)
	a := w - q // X and y
	c, g := ws.c[:q*q], ws.g[:q*q]
	for i := range q {
		for j := range q {
			c[i*q+j] = math.Sqrt(theta[s.link[i]]*theta[s.link[j]]) * own.m0[(a+i)*w+a+j]
		}
		c[i*q+i]++
	}
	if !cholesky(c, q) {
		return false
	}
	total.logdet += own.logdet + 2*logDiagonal(c, q)
	invert(c, ws.x, q)
	for i := range q {
		for j := range q {
			g[i*q+j] = math.Sqrt(theta[s.link[i]]*theta[s.link[j]]) * c[i*q+j]
		}
	}
	f := ws.f[:q*w] // G·U'D⁻¹W
	multiply(f, g, own.m0[a*w:], q, q, w)
	v := ws.m[:w*w] // W'V⁻¹W
	copy(v, own.m0)
	subtractCross(v, own.m0[a*w:], f, q, w)
	at := func(i int) int { // place of a data column in the whole
		if i == a-1 {
			return pl.p
		}
		return s.x[i]
	}
	scatter := func(to, from []float64) {
		for i := range a {
			row := to[at(i)*total.w : (at(i)+1)*total.w]
			for j := range a {
				row[at(j)] += from[i*w+j]
			}
		}
	}
	scatter(total.m0, v)
	if !deep {
		return true
	}

	// Components inside the blocks.
	for k := range pl.k {
		h, ht := own.h[k], ws.ht[k][:w*w] // ht = h·T
		copy(ht, h)
		for i := range w {
			for u := range q {
				axpy(-h[i*w+a+u], f[u*w:(u+1)*w], ht[i*w:(i+1)*w])
			}
		}
		gh := ws.gh[k][:q*q]
		for i := range q {
			for j := range q {
				x := 0.0
				for u := range q {
					x += g[i*q+u] * h[(a+u)*w+a+j]
				}
				gh[i*q+j] = x
			}
		}
		total.t[k] += own.t[k]
		for u := range q {
			total.t[k] -= gh[u*q+u]
		}
	}
	r, gu := ws.r[:w*w], ws.gf[:q*w]
	for k := range pl.k {
		multiply(gu, g, ws.ht[k][a*w:], q, q, w)
		for l := range k + 1 {
			kl := pair(k, l)
			j := own.j[kl]
			tt := own.tt[kl]
			for i := range q {
				for u := range q {
					tt += ws.gh[k][i*q+u]*ws.gh[l][u*q+i] - 2*g[i*q+u]*j[(a+u)*w+a+i]
				}
			}
			total.tt[kl] += tt
			// T'jT, then the part that V⁻¹ between the components takes off.
			copy(r, j[:w*w])
			transform(r, f, ws.x, q, w)
			other := ws.ht[l][a*w:]
			for u := range q {
				for i := range a {
					x := gu[u*w+i] / 2
					y := other[u*w+i] / 2
					for o := range a {
						r[i*w+o] -= x*other[u*w+o] + y*gu[u*w+o]
					}
				}
			}
			scatter(total.j[kl], r)
		}
	}
	// ht becomes T'hT, all columns.
	for k := range pl.k {
		ht := ws.ht[k][:w*w]
		copy(ws.x[:q*w], ht[a*w:])
		for u := range q {
			for i := range w {
				axpy(-f[u*w+i], ws.x[u*w:(u+1)*w], ht[i*w:(i+1)*w])
			}
		}
		scatter(total.h[k], ht)
	}

	// Components of the linking columns: K_l = U_lU_l', so a moment is a product of rows of U'V⁻¹W.
	for u, k := range s.link {
		row := v[(a+u)*w : (a+u+1)*w]
		total.t[k] += row[a+u]
		for i := range a {
			to := total.h[k][at(i)*total.w : (at(i)+1)*total.w]
			for o := range a {
				to[at(o)] += row[i] * row[o]
			}
		}
		for u2, l := range s.link[:u+1] {
			kl := pair(k, l)
			other := v[(a+u2)*w : (a+u2+1)*w]
			x := row[a+u2]
			times := 1.0
			if k == l && u != u2 {
				times = 2 // both orders
			}
			total.tt[kl] += times * x * x
			for i := range a {
				to := total.j[kl][at(i)*total.w : (at(i)+1)*total.w]
				for o := range a {
					to[at(o)] += times * x * (row[i]*other[o] + other[i]*row[o]) / 2
				}
			}
		}
		for l := range pl.k { // a component inside the blocks beside it
			kl := pair(k, l)
			times := 1.0
			if k == l {
				times = 2
			}
			ht := ws.ht[l][(a+u)*w : (a+u+1)*w]
			total.tt[kl] += times * ht[a+u]
			for i := range a {
				to := total.j[kl][at(i)*total.w : (at(i)+1)*total.w]
				for o := range a {
					to[at(o)] += times * (row[i]*ht[o] + ht[i]*row[o]) / 2
				}
			}
		}
	}
	return true
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
