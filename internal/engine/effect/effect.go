// Package effect turns studies into effect sizes: log response ratios with their covariance (M1).
package effect

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/unit"
)

// Effects is all that pool reads: per study the log contrasts, their sampling covariance and what they compare.
type Effects struct {
	Studies []StudyEffects                // admitted, in the order of the table
	Out     []Out                         // every study or row not admitted, and why: nothing is silently dropped
	CV      map[evidence.UnitKind]float64 // of an arm without an SD, by kind; where a kind tells none, that of ""
	Notes   note.List
}

// StudyEffects is one admitted study. Row i estimates μ[Rows[i].Arm] − μ[Rows[i].Ref] on the log scale.
type StudyEffects struct {
	Study, Site, Trial string
	Season             int                  // of a live trial of several, the last
	Arms               []practice.Treatment // distinct within a season
	Seasons            [][]int              // of each arm, where a live trial has several: one, or those it averages
	Rows               []Row
	V                  *mat.SymDense // sampling covariance of the rows, positive definite
	Moderators         map[string]float64
	Caveats            []evidence.Caveat // given and self-set
	Setting            evidence.Setting  // of a live one
	Live               bool              // a trial of the workbook, with the full covariance of its contrasts
}

// Row is one contrast of a study.
type Row struct {
	Arm, Ref int     // indexes into Arms
	Y        float64 // log ratio, with small-sample terms but under the rule `reported`
	GainPct  float64 // the percent gain as a reader of the study would state it, for the plain mean
	DF       float64 // of its own error, where a trial tells it; 0: taken as known
	Basis    Basis   // what its variance came of: the worse of its two arms
	Where    note.Where
}

// SeasonsOf are the seasons of an arm: one, or in a live trial those that it averages.
func (s StudyEffects) SeasonsOf(arm int) []int {
	if s.Seasons == nil {
		return []int{s.Season}
	}
	return s.Seasons[arm]
}

// AllSeasons are those that a study holds anything of, in order.
func (s StudyEffects) AllSeasons() []int {
	var all []int
	for i := range s.Arms {
		all = append(all, s.SeasonsOf(i)...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// Keep is the effects with the rows that keep accepts; a study without rows is gone. Of what is left nothing is worked
// out anew.
func (e Effects) Keep(keep func(StudyEffects, Row) bool) Effects {
	out := Effects{Out: e.Out, CV: e.CV, Notes: e.Notes}
	for _, s := range e.Studies {
		var at []int
		rows := s.Rows
		s.Rows = nil
		for i, r := range rows {
			if keep(s, r) {
				at, s.Rows = append(at, i), append(s.Rows, r)
			}
		}
		if at == nil {
			continue
		}
		v := mat.NewSymDense(len(at), nil)
		for i, a := range at {
			for j, b := range at[:i+1] {
				v.SetSym(i, j, s.V.At(a, b))
			}
		}
		s.V = v
		out.Studies = append(out.Studies, s)
	}
	return out
}

// Half is half the width of the 95 % interval of a row's own error, on the log scale.
func (s StudyEffects) Half(row int) float64 {
	q := 1.96
	if df := s.Rows[row].DF; df > 0 {
		q = distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(0.975)
	}
	return q * math.Sqrt(s.V.At(row, row))
}

// Out is something that was not admitted, and why.
type Out struct {
	Study    string
	Practice practice.Key // "" where the whole study is out
	Why      note.Note
}

// Of turns studies into effect sizes: for every admitted study its log contrasts and their covariance (M1). Whatever is
// not admitted stands in Effects.Out with the reason. The error is note.Faults, all of them at once; then Effects is
// empty.
//
// Each study's contrasts are given against one of its arms: unsanitized where it has that arm, else the arm that comes
// first in the set. So naming another arm as the study's reference changes nothing here or in what follows.
//
// A gain reported with its own error is kept as reported, also where the arm's mean is known. A gain reported without
// error is used only where the mean of the arm or of the reference is missing.
//
// live are the settings of trials that stand beside the studies: caveats look at both.
func Of(studies []evidence.Study, set practice.Set, o evidence.Options, live ...evidence.Setting) (Effects, error) {
	var faults note.Faults
	fault := func(n note.Note) { faults = append(faults, n) }
	if o.Variance == "" {
		o.Variance = evidence.Moderated
	}
	if !slices.Contains(evidence.Rules(), o.Variance) {
		fault(note.New("the variance rule is %s; allowed are %s", string(o.Variance), ruleNames()))
	}
	if o.DefaultCV == 0 {
		o.DefaultCV = evidence.DefaultCV
	}
	if !(o.DefaultCV >= evidence.MinCV && o.DefaultCV <= evidence.MaxCV) {
		fault(note.New("the default CV is %v; allowed is a fraction from %v to %v", o.DefaultCV, evidence.MinCV,
			evidence.MaxCV))
	}
	names := map[string]bool{}
	for _, s := range studies {
		if names[s.Name] {
			fault(note.New("the study %s stands twice; a study is one site in one season", s.Name).At(s.Where))
		}
		names[s.Name] = true
		faults = append(faults, s.Faults(set)...)
	}
	if faults != nil {
		return Effects{}, faults
	}

	e := Effects{}
	caveats := evidence.Caveats(append(evidence.Settings(studies), live...))
	var in []evidence.Study
	var carried [][]evidence.Caveat
	for i, s := range studies {
		c := caveats[i]
		if why, out := leftOut(s, c, o); out {
			e.Out = append(e.Out, Out{Study: s.Name, Why: why.At(s.Where)})
			continue
		}
		in, carried = append(in, s), append(carried, c)
	}
	for _, name := range o.Exclude {
		if !names[name] {
			e.Notes.Add("no study is called %s, so leaving it out changes nothing", name)
		}
	}
	sp := newSpread(in, o)
	e.CV = sp.cvs()
	e.Notes = append(e.Notes, sp.warnings(in)...)
	for i, s := range in {
		numbers := 0
		for j, a := range s.Arms {
			switch {
			case a.SaysOnly():
				e.Out = append(e.Out, Out{Study: s.Name, Practice: a.Practice,
					Why: note.New("of its gain it says no more than %s, which is no number to pool", a.Said).
						At(a.Where)})
			case j != s.Reference():
				numbers++
			}
		}
		if numbers == 0 {
			continue
		}
		s.Arms = slices.DeleteFunc(slices.Clone(s.Arms), evidence.Arm.SaysOnly)
		x, ok := effects(s, set, sp)
		if !ok {
			fault(note.New("the covariance of the contrasts of %s is not positive definite; its rows are %s", s.Name,
				rowNames(s)).At(s.Where))
			continue
		}
		x.Caveats = carried[i]
		x.class()
		e.Studies = append(e.Studies, x)
		e.Notes = append(e.Notes, doubts(s)...)
	}
	if faults != nil {
		return Effects{}, faults
	}
	e.Notes = append(e.Notes, printedTwice(e.Studies)...)
	e.Notes = append(e.Notes, alike(studies)...)
	return e, nil
}

// class says whether the season was a freak one, which is a moderator too.
func (s *StudyEffects) class() {
	s.Moderators["season-class"] = 0
	if slices.Contains(s.Caveats, evidence.FreakSeason) {
		s.Moderators["season-class"] = 1
	}
}

// Add puts a live study with its caveats beside the others, unless o leaves it out. The error is note.Faults: a study
// of its name is there.
func (e *Effects) Add(s StudyEffects, o evidence.Options) error {
	taken := func(name string) bool { return name == s.Study }
	if slices.ContainsFunc(e.Studies, func(x StudyEffects) bool { return taken(x.Study) }) ||
		slices.ContainsFunc(e.Out, func(x Out) bool { return taken(x.Study) }) {
		return note.Faults{note.New("%s is both a trial and a study; allowed: one of them, or the same evidence "+
			"counts twice", s.Study)}
	}
	if why, out := leftOut(evidence.Study{Name: s.Study}, s.Caveats, o); out {
		e.Out = append(e.Out, Out{Study: s.Study, Why: why})
		return nil
	}
	s.Moderators = maps.Clone(s.Moderators)
	s.class()
	e.Studies = append(e.Studies, s)
	if slices.ContainsFunc(s.Seasons, func(x []int) bool { return len(x) > 1 }) {
		e.Notes.Add("%s: its gains are averages over several seasons, "+
			"so how gains differ by season enters the pool as an approximation", s.Study)
	}
	return nil
}

func leftOut(s evidence.Study, carried []evidence.Caveat, o evidence.Options) (note.Note, bool) {
	if slices.Contains(o.Exclude, s.Name) {
		return note.New("left out by hand"), true
	}
	if s.Kind == evidence.ProducerReport && !o.ProducerReports {
		return note.New("reported by a producer; kept, but out unless asked for"), true
	}
	for _, c := range o.Without {
		if slices.Contains(carried, c) {
			return note.New("left out for its caveat %s", c.Said()), true
		}
	}
	return note.Note{}, false
}

// logSE is the standard error of a reported gain on the log scale: (ln(1+high) − ln(1+low))/3.92 from an interval, else
// by the delta method from the error in percent.
func logSE(g *evidence.Reported) float64 {
	if g.LowPct != nil && g.HighPct != nil {
		return (math.Log1p(*g.HighPct/100) - math.Log1p(*g.LowPct/100)) / 3.92
	}
	return *g.SEPct / 100 / (1 + g.Pct/100)
}

// effects makes one study's contrasts. A study's rows are first made against its named reference. Row i then has a
// variance of its own and a part that it shares, by way of the reference, with every other row:
//
//	V_ii = own_i + shared_i,  V_ij = min(shared_i, shared_j)
//
// which for measured arms is the diagonal of the arms' variances plus that of the reference, for several gains with
// their own errors a covariance of half their smallest variance, and positive definite for any mixture of the two.
func effects(s evidence.Study, set practice.Set, sp spread) (StudyEffects, bool) {
	type contrast struct {
		t           practice.Treatment
		y, ratio    float64 // against the named reference
		own, shared float64
		basis       Basis
		where       note.Where
	}
	r := s.Reference()
	ref := contrast{t: practice.Treatment{Practice: practice.Unsanitized}, ratio: 1, basis: OwnError, where: s.Where}
	var refLevel level
	if r >= 0 {
		ref.t, ref.where = s.Arms[r].Treatment(set), s.Arms[r].Where
		if refLevel = sp.level(s, s.Arms[r]); s.Arms[r].Mean != nil {
			ref.basis = refLevel.basis
		}
	}
	smallest := math.Inf(1)
	for i, a := range s.Arms {
		if i != r && a.Gain.HasError() {
			smallest = min(smallest, logSE(a.Gain)*logSE(a.Gain))
		}
	}
	all := []contrast{ref}
	for i, a := range s.Arms {
		if i == r {
			continue
		}
		c := contrast{t: a.Treatment(set), where: a.Where}
		switch {
		case a.Gain.HasError():
			v := logSE(a.Gain) * logSE(a.Gain)
			c.y, c.ratio, c.basis = math.Log1p(a.Gain.Pct/100), 1+a.Gain.Pct/100, OwnError
			c.own, c.shared = v-smallest/2, smallest/2
		case a.Mean != nil && r >= 0 && s.Arms[r].Mean != nil:
			l := sp.level(s, a)
			c.y, c.ratio = l.log-refLevel.log, *a.Mean / *s.Arms[r].Mean
			c.own, c.shared, c.basis = l.v, refLevel.v, l.basis
		default: // a bare percentage: as many units as it states in each arm, unless the reference states its own
			l := sp.level(s, evidence.Arm{N: a.N})
			c.y, c.ratio = math.Log1p(a.Gain.Pct/100), 1+a.Gain.Pct/100
			c.own, c.shared, c.basis = l.v, l.v, l.basis
			if sp.rule == evidence.Moderated && r >= 0 && (s.Arms[r].N != nil || refLevel.basis == StatedSE) {
				c.shared, c.basis = refLevel.v, worse(l.basis, refLevel.basis)
			}
		}
		all = append(all, c)
	}

	// Against the arm that comes first in the set, whichever the study named.
	k := len(all)
	order := make([]int, k)
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return compare(all[i].t, all[j].t, set) })
	cov := func(i, j int) float64 { // of y_i and y_j against the named reference, which is 0
		switch {
		case i == 0 || j == 0:
			return 0
		case i == j:
			return all[i].own + all[i].shared
		}
		return min(all[i].shared, all[j].shared)
	}
	x := StudyEffects{Study: s.Name, Site: s.Site, Trial: s.Trial, Season: s.Season, V: mat.NewSymDense(k-1, nil),
		Moderators: moderators(s)}
	base := order[0]
	for i, o := range order {
		x.Arms = append(x.Arms, all[o].t)
		if i == 0 {
			continue
		}
		x.Rows = append(x.Rows, Row{
			Arm:     i,
			Ref:     0,
			Y:       all[o].y - all[base].y,
			GainPct: 100 * (all[o].ratio/all[base].ratio - 1),
			Basis:   worse(all[o].basis, all[base].basis),
			Where:   all[o].where,
		})
		for j := 1; j <= i; j++ {
			p := order[j]
			x.V.SetSym(i-1, j-1, cov(o, p)-cov(o, base)-cov(base, p)+cov(base, base))
		}
	}
	return x, positive(x.V)
}

// positive is true of a covariance that is finite and positive definite by more than rounding.
func positive(v *mat.SymDense) bool {
	for i := range v.SymmetricDim() {
		for j := range i + 1 {
			if x := v.At(i, j); math.IsNaN(x) || math.IsInf(x, 0) {
				return false
			}
		}
	}
	var c mat.Cholesky
	return c.Factorize(v) && c.Cond() < 1e14
}

// compare orders treatments by the practices' order in the set, then by age.
func compare(a, b practice.Treatment, set practice.Set) int {
	at := func(k practice.Key) int {
		return slices.IndexFunc(set, func(p practice.Practice) bool { return p.Key == k })
	}
	return cmp.Or(cmp.Compare(at(a.Practice), at(b.Practice)), cmp.Compare(a.DropAge, b.DropAge))
}

// doubts are the warnings that one study gives rise to.
func doubts(s evidence.Study) note.List {
	var notes note.List
	if s.Unit == evidence.Chamber || s.Unit == evidence.Mainline {
		for _, a := range s.Arms {
			if a.N != nil && a.Taps != nil && *a.N > 1 && *a.N == *a.Taps {
				notes = append(notes, note.New("%s: n equals the taps, %v, while the unit is a %s; "+
					"were trees counted as replicates?", s.Name, *a.N, note.Term(s.Unit)).At(a.Where))
				break
			}
		}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, a := range s.Arms {
		if a.Vacuum != nil {
			low, high = min(low, float64(*a.Vacuum)), max(high, float64(*a.Vacuum))
		}
	}
	if inHg := float64(unit.InchOfMercury.Of(1)); high-low > inHg {
		notes = append(notes, note.New("%s: the vacuum of its arms differs by %v, which moves the yield by itself",
			s.Name, unit.Pressure(high-low)).At(s.Where))
	}
	for _, a := range s.Arms {
		if a.SD != nil && a.SE != nil && a.N != nil && math.Abs(*a.SE*math.Sqrt(*a.N) / *a.SD - 1) > 0.05 {
			notes = append(notes, note.New("%s, %s: the SD %v and the SE %v of %v units do not agree; "+
				"the SD is used for the coefficient of variation", s.Name, note.Term(a.Practice), *a.SD, *a.SE, *a.N).
				At(a.Where))
		}
		if a.N != nil && *a.N == 1 && (a.SD != nil || a.SE != nil) {
			notes = append(notes, note.New("%s, %s: an error is given with one unit, which has none between units; "+
				"it is not used", s.Name, note.Term(a.Practice)).At(a.Where))
		}
	}
	return notes
}

// printedTwice asks after studies of one site and season that tested the same practice.
func printedTwice(studies []StudyEffects) note.List {
	type key struct {
		site     string
		season   int
		practice practice.Key
	}
	by := map[key][]string{}
	var order []key
	for _, s := range studies {
		if s.Site == "" {
			continue
		}
		seen := map[practice.Key]bool{}
		for _, row := range s.Rows {
			k := key{s.Site, s.Season, s.Arms[row.Arm].Practice}
			if seen[k.practice] {
				continue
			}
			seen[k.practice] = true
			if by[k] == nil {
				order = append(order, k)
			}
			by[k] = append(by[k], s.Study)
		}
	}
	var notes note.List
	for _, k := range order {
		if len(by[k]) > 1 {
			notes.Add("%s in %d, %s: more than one study, %s; was one trial printed twice?",
				k.site, k.season, note.Term(k.practice), some(by[k]))
		}
	}
	return notes
}

// alike asks after studies that state the same means, units and errors in every arm, wherever they stand; where one has
// them in another unit, the same as far as rounding goes.
func alike(studies []evidence.Study) (notes note.List) {
	type stated struct {
		name          string
		unit          unit.VolumeUnit
		means, errors []float64 // in litres where the unit is known
	}
	by := map[string][]stated{} // by arms, and how large the first mean is
	for _, s := range studies {
		arms := slices.Clone(s.Arms)
		slices.SortStableFunc(arms, func(a, b evidence.Arm) int {
			return cmp.Or(cmp.Compare(a.Practice, b.Practice), cmp.Compare(told(a.DropAge), told(b.DropAge)))
		})
		x := stated{name: s.Name}
		var key strings.Builder
		for _, a := range arms {
			if a.Mean == nil || a.N == nil && a.SD == nil && a.SE == nil {
				x.means = nil
				break
			}
			litres := 1.0
			if x.unit = a.MeanUnit; x.unit != "" {
				litres = float64(x.unit.Of(1))
			}
			x.means = append(x.means, *a.Mean*litres)
			for _, e := range []*float64{a.SD, a.SE} {
				if e != nil {
					x.errors = append(x.errors, *e*litres)
				}
			}
			fmt.Fprint(&key, a.Practice, told(a.DropAge), told(a.N), a.SD == nil, a.SE == nil, ";")
		}
		if len(x.means) < 2 {
			continue
		}
		same := func(y stated) bool {
			if x.unit == y.unit || x.unit == "" || y.unit == "" {
				return slices.Equal(x.means, y.means) && slices.Equal(x.errors, y.errors)
			}
			near := func(within float64) func(a, b float64) bool {
				return func(a, b float64) bool { return math.Abs(a-b) <= within*a }
			}
			return slices.EqualFunc(x.means, y.means, near(0.005)) && slices.EqualFunc(x.errors, y.errors, near(0.03))
		}
		size := int(math.Log(x.means[0]) / 0.01)
		var twin *stated
		for k := size - 1; k <= size+1 && twin == nil; k++ {
			list := by[fmt.Sprint(key.String(), k)]
			if i := slices.IndexFunc(list, same); i >= 0 {
				twin = &list[i]
			}
		}
		switch {
		case twin == nil:
			at := fmt.Sprint(key.String(), size)
			by[at] = append(by[at], x)
		case x.unit != twin.unit && x.unit != "" && twin.unit != "":
			notes = append(notes, note.New("%s states the same means, units and errors as %s in another unit, in "+
				"every arm; was one trial entered twice?", s.Name, twin.name).At(s.Where))
		default:
			notes = append(notes, note.New("%s states the same means, units and errors as %s, in every arm; was one "+
				"trial entered twice?", s.Name, twin.name).At(s.Where))
		}
	}
	return notes
}

func told[T any](x *T) string {
	if x == nil {
		return "–"
	}
	return fmt.Sprint(" ", *x)
}

// some joins names, and counts those beyond the sixth.
func some(names []string) string {
	const shown = 6
	if len(names) <= shown {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s, … (%d)", strings.Join(names[:shown], ", "), len(names))
}

func rowNames(s evidence.Study) string {
	var list []string
	for _, a := range s.Arms {
		name := string(a.Practice)
		if a.Where.Row > 0 {
			name = fmt.Sprintf("%s (%d)", name, a.Where.Row)
		}
		list = append(list, name)
	}
	return strings.Join(list, ", ")
}
