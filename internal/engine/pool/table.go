package pool

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"spile/internal/engine/effect"
	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// uninformative is the sampling variance of a log contrast from which on it says nothing: an interval from nothing to
// e^(±196) times the reference. Such a row is left out, so that it changes nothing, the degrees of freedom included.
const uninformative = 1e4

// table is the contrasts that enter the model, study by study.
type table struct {
	set     practice.Set
	studies []study
	rows    []row
	options Options
	// of the moderators, over the studies that state them; a deviation is at least evidence.Moderator.Least
	means, deviations map[string]float64
	dropped           map[string]bool // components that the data cannot tell apart
}

type study struct {
	name, site, trial string
	first, end        int // its rows
	v                 *mat.SymDense
	moderators        []float64 // centred, in the order of Options.Moderators; 0 where not stated
	effects           *effect.StudyEffects
}

type row struct {
	study    int
	arm, ref practice.Treatment
	y        float64
	source   effect.Row
}

// newTable takes the rows of the effects that say anything.
func newTable(e effect.Effects, set practice.Set, o Options) (*table, note.List, error) {
	var faults note.Faults
	for _, m := range o.Moderators {
		if !slices.Contains(evidence.ModeratorNames(), m) {
			faults = append(faults, note.Unknown(m, evidence.ModeratorNames()))
		}
	}
	t := &table{set: set, options: o, means: map[string]float64{}, deviations: map[string]float64{}}
	var notes note.List
	for i := range e.Studies {
		s := &e.Studies[i]
		for _, a := range s.Arms {
			if _, ok := set.Find(a.Practice); !ok {
				faults.Add("the practice %s of %s is not known", string(a.Practice), s.Study)
			}
		}
		var keep []int
		for j, r := range s.Rows {
			v := s.V.At(j, j)
			switch {
			case math.IsNaN(r.Y) || math.IsInf(r.Y, 0) || math.IsNaN(v) || v <= 0:
				faults = append(faults, note.New("%s, %s: a log gain of %v with a variance of %v is no number to pool",
					s.Study, note.Term(s.Arms[r.Arm].Practice), r.Y, v).At(r.Where))
			case v > uninformative:
				notes = append(notes, note.New("%s, %s: its error is so wide that it says nothing and is not used",
					s.Study, note.Term(s.Arms[r.Arm].Practice)).At(r.Where))
			default:
				keep = append(keep, j)
			}
		}
		t.add(s, keep)
	}
	if faults != nil {
		return nil, nil, faults
	}
	notes = append(notes, t.centre()...)
	return t, notes, nil
}

// add appends the kept rows of a study.
func (t *table) add(s *effect.StudyEffects, keep []int) {
	if len(keep) == 0 {
		return
	}
	x := study{name: s.Study, site: s.Site, trial: s.Trial, first: len(t.rows), effects: s}
	x.v = mat.NewSymDense(len(keep), nil)
	if x.trial == "" && s.Seasons != nil { // a live trial is repeated by itself
		x.trial = "\x00" + s.Study
	}
	if x.site == "" { // a site of its own: nothing says that it is another study's
		x.site = "\x00" + s.Study
	}
	for i, j := range keep {
		r := s.Rows[j]
		t.rows = append(t.rows, row{study: len(t.studies), arm: s.Arms[r.Arm], ref: s.Arms[r.Ref], y: r.Y, source: r})
		for k := range i + 1 {
			x.v.SetSym(i, k, s.V.At(j, keep[k]))
		}
	}
	x.end = len(t.rows)
	t.studies = append(t.studies, x)
}

// hardly is the part of evidence.Moderator.Least below which studies hardly differ in a property: what is told of it
// would be the rounding of units.
const hardly = 0.1

// centre puts each moderator at its mean over the studies that state it; one that is not stated stands at the mean. One
// in which they hardly differ is left out: it has no deviation.
func (t *table) centre() note.List {
	var notes note.List
	for i := range t.studies {
		t.studies[i].moderators = make([]float64, len(t.options.Moderators))
	}
	for k, name := range t.options.Moderators {
		var stated []float64
		for _, s := range t.studies {
			if x, ok := s.effects.Moderators[name]; ok {
				stated = append(stated, x)
			}
		}
		if stated == nil {
			notes.Add("no study states %s, which is left out of the model", note.Term(name))
			continue
		}
		m, _ := evidence.FindModerator(name)
		sd := stat.PopStdDev(stated, nil)
		if t.means[name] = stat.Mean(stated, nil); sd < hardly*m.Least {
			notes.Add("the studies hardly differ in %s, which is left out of the model", note.Term(name))
			continue
		}
		t.deviations[name] = max(sd, m.Least)
		var missing []string
		for i, s := range t.studies {
			if x, ok := s.effects.Moderators[name]; ok {
				t.studies[i].moderators[k] = x - t.means[name]
			} else {
				missing = append(missing, s.name)
			}
		}
		if missing != nil {
			notes.Add("%s is not stated by %s; there it is taken as the mean of the others, %.3g",
				note.Term(name), names(missing), t.means[name])
		}
	}
	return notes
}

// names joins names, and counts those beyond the sixth.
func names(list []string) string {
	const shown = 6
	if len(list) <= shown {
		return strings.Join(list, ", ")
	}
	return fmt.Sprintf("%s, … (%d)", strings.Join(list[:shown], ", "), len(list))
}

// only is the table with the rows that keep accepts; the moderators stay centred where they were.
func (t *table) only(keep func(row) bool) *table {
	u := &table{set: t.set, options: t.options, means: t.means, deviations: t.deviations, dropped: t.dropped}
	for _, s := range t.studies {
		var in []int
		x := s
		x.first = len(u.rows)
		for i := s.first; i < s.end; i++ {
			if keep(t.rows[i]) {
				r := t.rows[i]
				r.study = len(u.studies)
				u.rows = append(u.rows, r)
				in = append(in, i-s.first)
			}
		}
		if len(in) == 0 {
			continue
		}
		x.end = len(u.rows)
		if len(in) < s.end-s.first {
			v := mat.NewSymDense(len(in), nil)
			for i, p := range in {
				for j, q := range in[:i+1] {
					v.SetSym(i, j, s.v.At(p, q))
				}
			}
			x.v = v
		}
		u.studies = append(u.studies, x)
	}
	return u
}

// links finds what a chain of rows ties to unsanitized. With join given, treatments for which it gives the same node
// count as one.
func (t *table) links(node func(practice.Treatment) practice.Treatment) map[practice.Treatment]bool {
	parent := map[practice.Treatment]practice.Treatment{}
	find := func(x practice.Treatment) practice.Treatment {
		for {
			p, ok := parent[x]
			if !ok || p == x {
				return x
			}
			x = p
		}
	}
	for _, r := range t.rows {
		if a, b := find(node(r.arm)), find(node(r.ref)); a != b {
			parent[a] = b
		}
	}
	root := find(practice.Treatment{Practice: practice.Unsanitized})
	linked := map[practice.Treatment]bool{}
	for _, r := range t.rows {
		for _, x := range []practice.Treatment{r.arm, r.ref} {
			if find(node(x)) == root {
				linked[x] = true
			}
		}
	}
	return linked
}

func sanitized(t practice.Treatment) float64 {
	if t.Practice == practice.Unsanitized {
		return 0
	}
	return 1
}

// The names of the components.
const (
	studyComponent = "study"
	siteComponent  = "site"
	trialComponent = "trial"

	// of inference by mixture
	seasonComponent   = "season"
	practiceComponent = "practice"
)

// components gives the covariance structure of M2. Every arm deviates by N(0, τ²/2), so that a contrast has τ² and two
// contrasts of a study correlate ½; every sanitized arm of a site deviates by the site's own N(0, σ²site), which
// cancels between two of them; and where a trial is repeated over seasons on the same units, every arm of every trial,
// a study of one season too, deviates by N(0, σ²trial/2): else seasons that agree with each other would tell that
// single studies differ as little, and these would outweigh the trial.
func (t *table) components() []reml.Component {
	c := []reml.Component{{Name: studyComponent}}
	for _, s := range t.studies {
		c[0].Z = append(c[0].Z, t.arms([]study{s}, t.ofStudy)...)
	}
	if t.options.Site {
		site := reml.Component{Name: siteComponent}
		for _, group := range t.grouped(func(s study) string { return s.site }) {
			var z reml.Column
			for _, s := range group {
				for i := s.first; i < s.end; i++ {
					if d := sanitized(t.rows[i].arm) - sanitized(t.rows[i].ref); d != 0 {
						z.Rows, z.Values = append(z.Rows, i), append(z.Values, d)
					}
				}
			}
			if z.Rows != nil {
				site.Z = append(site.Z, z)
			}
		}
		if site.Z != nil {
			c = append(c, site)
		}
	}
	trials := t.grouped(study.units)
	if slices.ContainsFunc(trials, func(of []study) bool { return len(of) > 1 || of[0].repeated() }) {
		trial := reml.Component{Name: trialComponent}
		for _, group := range trials {
			trial.Z = append(trial.Z, t.arms(group, t.ofTrial)...)
		}
		c = append(c, trial)
	}
	return slices.DeleteFunc(c, func(c reml.Component) bool { return t.dropped[c.Name] })
}

// integratedOver are the components of inference by mixture: those of M2, with the season, and with the practice at its
// place, which for a repeated trial is its units.
func (t *table) integratedOver() []reml.Component {
	c := slices.DeleteFunc(t.components(), func(c reml.Component) bool { return c.Name == trialComponent })
	season, column := reml.Component{Name: seasonComponent}, map[int]int{}
	for i, r := range t.rows {
		s, parts := t.studies[r.study].effects, map[int]float64{}
		for arm, z := range map[int]float64{r.source.Arm: sanitized(r.arm), r.source.Ref: -sanitized(r.ref)} {
			all := s.SeasonsOf(arm)
			for _, y := range all {
				parts[cmp.Or(y, -1-r.study)] += z / float64(len(all)) // one that is not known is the study's own
			}
		}
		for _, y := range slices.Sorted(maps.Keys(parts)) {
			if parts[y] == 0 {
				continue
			}
			k, met := column[y]
			if !met {
				k, column[y] = len(season.Z), len(season.Z)
				season.Z = append(season.Z, reml.Column{})
			}
			season.Z[k].Rows, season.Z[k].Values = append(season.Z[k].Rows, i), append(season.Z[k].Values, parts[y])
		}
	}
	at := reml.Component{Name: practiceComponent}
	for _, place := range t.grouped(func(s study) string { return s.site + "\x00" + s.trial }) {
		at.Z = append(at.Z, t.arms(place, t.ofTrial)...)
	}
	return append(c, season, at)
}

// grouped gathers the studies by a name, in order of first appearance.
func (t *table) grouped(by func(study) string) [][]study {
	at := map[string]int{}
	var groups [][]study
	for _, s := range t.studies {
		k, ok := at[by(s)]
		if !ok {
			k = len(groups)
			at[by(s)] = k
			groups = append(groups, nil)
		}
		groups[k] = append(groups[k], s)
	}
	return groups
}

// units names those that a study was done on: those of its trial, or its own.
func (s study) units() string { return cmp.Or(s.trial, "\x00\x00"+s.name) }

// repeated is true of a live trial that has rows of several seasons.
func (s study) repeated() bool {
	all := s.effects.Seasons
	return slices.ContainsFunc(all, func(x []int) bool { return !slices.Equal(x, all[0]) })
}

// side is what an arm is to a component, and how much of the component's deviation it has.
type side struct {
	arm  any
	part float64
}

// ofStudy is an arm of one study in one season. The mean of several seasons averages as many deviations.
func (t *table) ofStudy(r row, arm int) side {
	return side{arm, 1 / float64(len(t.studies[r.study].effects.SeasonsOf(arm)))}
}

// ofTrial is an arm of a trial: the units keep their practice and their drops, so it is the practice, whatever the age.
func (t *table) ofTrial(r row, arm int) side {
	return side{t.studies[r.study].effects.Arms[arm].Practice, 1}
}

// arms gives a column for every arm of some studies: ±1/√2 in the rows in which it stands, or less where it has a part.
func (t *table) arms(studies []study, of func(row, int) side) []reml.Column {
	at := map[any]int{}
	var z []reml.Column
	put := func(x side, i int, sign float64) {
		k, ok := at[x.arm]
		if !ok {
			k = len(z)
			at[x.arm] = k
			z = append(z, reml.Column{})
		}
		z[k].Rows, z[k].Values = append(z[k].Rows, i), append(z[k].Values, sign*math.Sqrt(x.part/2))
	}
	for _, s := range studies {
		for i := s.first; i < s.end; i++ {
			r := t.rows[i]
			if a, b := of(r, r.source.Arm), of(r, r.source.Ref); a != b {
				put(a, i, 1)
				put(b, i, -1)
			}
		}
	}
	return z
}

// model is the table as reml reads it.
func (t *table) model(l *layout) reml.Model {
	m := reml.Model{Y: make([]float64, len(t.rows)), X: mat.NewDense(len(t.rows), l.columns, nil),
		Components: t.components(), AtZero: reml.Drop}
	for i, r := range t.rows {
		m.Y[i] = r.y
		l.fill(m.X.RawRowView(i), r, t.studies[r.study].moderators)
	}
	for _, s := range t.studies {
		b := reml.Block{V: s.v}
		for i := s.first; i < s.end; i++ {
			b.Rows = append(b.Rows, i)
		}
		m.V0 = append(m.V0, b)
	}
	return m
}
