package pool

import "spile/internal/trade/practice"

// gainOf is the gain that a combination of parts is, without what is counted over rows.
func (r *Result) gainOf(members []member, t practice.Treatment, parts ...part) (Gain, bool) {
	if x := r.integrated; x != nil {
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
