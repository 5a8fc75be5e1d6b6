package pool

import (
	"math"

	"spile/internal/trade/practice"
)

// GainAt is Gain where the moderators of the model stand at the values given, in the units of evidence.Moderators;
// one that is not given, or not in the model, stands at its mean over the studies.
func (r *Result) GainAt(t practice.Treatment, at map[string]float64) (Gain, bool) {
	parts := append(r.shifts(at), of(t, 1))
	if t.Practice == practice.Unsanitized || len(parts) == 1 {
		return r.Gain(t)
	}
	g, ok := r.gainOf(r.members, t, parts...)
	if !ok && t.DropAge != 0 {
		g, ok = r.gainOf(r.byAge, t, parts...)
	}
	if !ok {
		return Gain{}, false
	}
	g.Comparisons, g.Studies = r.counts.rows[t], r.counts.studies[t]
	return g, true
}

// gainOf is the gain that a combination of parts is, without what is counted over rows.
func (r *Result) gainOf(members []member, t practice.Treatment, parts ...part) (Gain, bool) {
	if x := r.sourceOf(members); x != nil {
		return x.gain(x.plain, t, parts...)
	}
	e, ok := r.estimate(members, parts...)
	if !ok {
		return Gain{}, false
	}
	return r.asGain(t, e), true
}

// shifts are the parts of a combination that put the moderators of the model at values.
func (r *Result) shifts(at map[string]float64) []part {
	var parts []part
	for i, k := range best(r.members).layout.moderators {
		name := r.table.options.Moderators[k]
		if x, ok := at[name]; ok && x != r.table.means[name] {
			parts = append(parts, part{moderator: i + 1, c: x - r.table.means[name]})
		}
	}
	return parts
}

// LogAt is Log where the moderators of the model stand at the values given, as for GainAt.
func (d *Draws) LogAt(t practice.Treatment, at map[string]float64) []float64 {
	members := d.r.members
	parts := []part{of(t, 1)}
	if t.Practice != practice.Unsanitized {
		parts = append(d.r.shifts(at), parts...)
	}
	if d.r.integrated != nil {
		if t.Practice == practice.Unsanitized {
			return make([]float64, d.N)
		}
		return d.r.integrated.draws(d.N, d.seed, parts...)
	}
	if _, ok := members[0].coefficients(parts...); !ok {
		return nil
	}
	type line struct {
		at      float64
		columns []int
		c       []float64
	}
	lines := make([]line, len(members))
	for i, m := range members {
		c, _ := m.coefficients(parts...)
		e := m.contrast(c, d.r.options.Inference)
		l := line{at: e.Value}
		stretch := 1.0
		if bare := math.Sqrt(quadratic(c, m.phi)); bare > 0 {
			stretch = critical(e.DF) * e.SE / (critical(math.Inf(1)) * bare)
		}
		for j, v := range c {
			if v != 0 {
				l.columns, l.c = append(l.columns, j), append(l.c, v*stretch)
			}
		}
		lines[i] = l
	}
	out := make([]float64, d.N)
	for i := range out {
		l := &lines[d.member[i]]
		z := d.z[i*d.width:]
		x := l.at
		for k, j := range l.columns {
			x += l.c[k] * z[j]
		}
		out[i] = x
	}
	return out
}
