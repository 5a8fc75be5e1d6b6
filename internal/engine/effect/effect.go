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
	CV      map[evidence.UnitKind]float64 // pooled between units, by kind; "" is all kinds together, or the default
	Notes   []note.Note
}

// StudyEffects is one admitted study. Row i estimates μ[Rows[i].Arm] − μ[Rows[i].Ref] on the log scale.
type StudyEffects struct {
	Study, Site, Trial string
	Season             int
	Arms               []practice.Treatment // distinct
	Rows               []Row
	V                  *mat.SymDense // sampling covariance of the rows, positive definite
	Moderators         map[string]float64
	Caveats            []evidence.Caveat // given and self-set
	Live               bool              // a trial of the workbook, with the full covariance of its contrasts
}

// Row is one contrast of a study.
type Row struct {
	Arm, Ref int     // indexes into Arms
	Y        float64 // log ratio, with small-sample terms under the rule `pooled`
	GainPct  float64 // the percent gain as a reader of the study would state it, for the plain mean
	DF       float64 // of its own error, where a trial tells it; 0: taken as known
	Imputed  bool    // its variance rests on a CV from elsewhere
	Where    note.Where
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
func Of(studies []evidence.Study, set practice.Set, o evidence.Options) (Effects, error) {
	var faults note.Faults
	fault := func(n note.Note) { faults = append(faults, n) }
	if o.Variance == "" {
		o.Variance = evidence.PooledCV
	}
	if o.Variance != evidence.PooledCV && o.Variance != evidence.ReportedSD {
		fault(note.New("the variance rule is %s; allowed are pooled and reported", string(o.Variance)))
	}
	if o.DefaultCV == 0 {
		o.DefaultCV = evidence.DefaultCV
	}
	if !(o.DefaultCV >= evidence.MinCV && o.DefaultCV <= evidence.MaxCV) {
		fault(note.New("the default CV is %v; allowed is a fraction from %v to %v", o.DefaultCV, evidence.MinCV, evidence.MaxCV))
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
	caveats := evidence.Caveats(studies)
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
			e.Notes = append(e.Notes, note.New("no study is called %s, so leaving it out changes nothing", name))
		}
	}
	cv := poolCV(in, o.DefaultCV)
	e.CV = maps.Clone(cv.kinds)
	e.CV[""] = cv.all
	e.Notes = append(e.Notes, cv.warnings(in, o)...)
	for i, s := range in {
		x, ok := effects(s, set, o.Variance, cv)
		if !ok {
			fault(note.New("the covariance of the contrasts of %s is not positive definite; its rows are %s", s.Name, rowNames(s)).At(s.Where))
			continue
		}
		x.Caveats = carried[i]
		x.Moderators["season-class"] = 0
		if slices.Contains(x.Caveats, evidence.FreakSeason) {
			x.Moderators["season-class"] = 1
		}
		e.Studies = append(e.Studies, x)
		e.Notes = append(e.Notes, doubts(s)...)
	}
	if faults != nil {
		return Effects{}, faults
	}
	e.Notes = append(e.Notes, printedTwice(e.Studies)...)
	return e, nil
}

// Add puts a live study beside the others, unless o leaves it out. The error is note.Faults: a study of its name is there.
func (e *Effects) Add(s StudyEffects, o evidence.Options) error {
	taken := func(name string) bool { return name == s.Study }
	if slices.ContainsFunc(e.Studies, func(x StudyEffects) bool { return taken(x.Study) }) || slices.ContainsFunc(e.Out, func(x Out) bool { return taken(x.Study) }) {
		return note.Faults{note.New("%s is both a trial and a study; allowed: one of them, or the same evidence counts twice", s.Study)}
	}
	if why, out := leftOut(evidence.Study{Name: s.Study}, s.Caveats, o); out {
		e.Out = append(e.Out, Out{Study: s.Study, Why: why})
		return nil
	}
	e.Studies = append(e.Studies, s)
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
			return note.New("left out for its caveat %s", note.Term(c)), true
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
func effects(s evidence.Study, set practice.Set, rule evidence.Rule, cv pooledCV) (StudyEffects, bool) {
	type contrast struct {
		t           practice.Treatment
		y, ratio    float64 // against the named reference
		own, shared float64
		imputed     bool
		where       note.Where
	}
	r := s.Reference()
	ref := contrast{t: practice.Treatment{Practice: practice.Unsanitized}, ratio: 1, where: s.Where}
	var refLevel armLevel
	if r >= 0 {
		ref.t, ref.where = s.Arms[r].Treatment(set), s.Arms[r].Where
		if s.Arms[r].Mean != nil {
			refLevel = level(s.Arms[r], s.Unit, rule, cv)
			ref.imputed = refLevel.imputed
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
			c.y, c.ratio = math.Log1p(a.Gain.Pct/100), 1+a.Gain.Pct/100
			c.own, c.shared = v-smallest/2, smallest/2
		case a.Mean != nil && r >= 0 && s.Arms[r].Mean != nil:
			l := level(a, s.Unit, rule, cv)
			c.y, c.ratio = l.log-refLevel.log, *a.Mean / *s.Arms[r].Mean
			c.own, c.shared, c.imputed = l.v, refLevel.v, l.imputed
		default: // a bare percentage: one unit in each arm
			one := sampling(cv.of(s.Unit), 1, rule)
			c.y, c.ratio = math.Log1p(a.Gain.Pct/100), 1+a.Gain.Pct/100
			c.own, c.shared, c.imputed = one, one, true
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
	x := StudyEffects{Study: s.Name, Site: s.Site, Trial: s.Trial, Season: s.Season, V: mat.NewSymDense(k-1, nil), Moderators: moderators(s)}
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
			Imputed: all[o].imputed || all[base].imputed,
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

// armLevel is the log level of a measured arm and its sampling variance.
type armLevel struct {
	log, v  float64
	imputed bool // its CV comes from other arms
}

func level(a evidence.Arm, kind evidence.UnitKind, rule evidence.Rule, cv pooledCV) armLevel {
	n := 1.0
	if a.N != nil {
		n = *a.N
	}
	own, known := armCV(a)
	l := armLevel{log: math.Log(*a.Mean), imputed: !known}
	if rule == evidence.ReportedSD {
		switch {
		case a.SE != nil:
			l.v, l.imputed = *a.SE / *a.Mean * *a.SE / *a.Mean, false
		case known:
			l.v = own * own / n
		default:
			l.v = sampling(cv.of(kind), n, rule)
		}
		return l
	}
	c := cv.of(kind)
	l.log += c * c / (2 * n)
	l.v = sampling(c, n, rule)
	return l
}

// sampling is the sampling variance of the log of a mean of n units: CV²/n, and under the rule `pooled` the next term
// of the expansion, CV⁴/2n² (Lajeunesse 2015).
func sampling(cv, n float64, rule evidence.Rule) float64 {
	v := cv * cv / n
	if rule == evidence.PooledCV {
		v += v * v / 2
	}
	return v
}

// armCV is the arm's own coefficient of variation between units, where it can be had: an SD or SE over two units or more.
func armCV(a evidence.Arm) (float64, bool) {
	if a.Mean == nil || a.N == nil || *a.N < 2 {
		return 0, false
	}
	switch {
	case a.SD != nil:
		return *a.SD / *a.Mean, true
	case a.SE != nil:
		return *a.SE * math.Sqrt(*a.N) / *a.Mean, true
	}
	return 0, false
}

// pooledCV is the pooled coefficient of variation by kind of unit.
type pooledCV struct {
	kinds map[evidence.UnitKind]float64 // kinds with an SD of their own
	all   float64                       // over every kind, or the default
	none  bool                          // no arm reports an SD
}

// poolCV takes the n-weighted mean of CV² over the arms of each kind of unit that report an SD.
func poolCV(studies []evidence.Study, fallback float64) pooledCV {
	type sum struct{ n, ncv2 float64 }
	sums := map[evidence.UnitKind]sum{}
	var total sum
	for _, s := range studies {
		k := sums[s.Unit]
		for _, a := range s.Arms {
			if cv, ok := armCV(a); ok {
				k.n, k.ncv2 = k.n+*a.N, k.ncv2+*a.N*cv*cv
				total.n, total.ncv2 = total.n+*a.N, total.ncv2+*a.N*cv*cv
			}
		}
		sums[s.Unit] = k
	}
	p := pooledCV{kinds: map[evidence.UnitKind]float64{}, all: fallback, none: total.n == 0}
	for kind, s := range sums {
		if kind != "" && s.n > 0 {
			p.kinds[kind] = math.Sqrt(s.ncv2 / s.n)
		}
	}
	if !p.none {
		p.all = math.Sqrt(total.ncv2 / total.n)
	}
	return p
}

func (p pooledCV) of(kind evidence.UnitKind) float64 {
	if cv, ok := p.kinds[kind]; ok {
		return cv
	}
	return p.all
}

func (p pooledCV) warnings(studies []evidence.Study, o evidence.Options) []note.Note {
	if len(studies) == 0 {
		return nil
	}
	if p.none {
		if slices.ContainsFunc(studies, needsCV) {
			return []note.Note{note.New("no arm reports an SD over two units or more, so a coefficient of variation of %.2f between units is assumed", p.all)}
		}
		return nil
	}
	var notes []note.Note
	for _, kind := range []evidence.UnitKind{evidence.Tree, evidence.Chamber, evidence.Mainline} {
		_, own := p.kinds[kind]
		if !own && slices.ContainsFunc(studies, func(s evidence.Study) bool { return s.Unit == kind && needsCV(s) }) {
			notes = append(notes, note.New("no arm reports an SD between units of the kind %s, so the coefficient of variation of all kinds together, %.2f, stands in", note.Term(kind), p.all))
		}
	}
	var unsaid []string
	for _, s := range studies {
		if s.Unit == "" && needsCV(s) {
			unsaid = append(unsaid, s.Name)
		}
	}
	if unsaid != nil {
		notes = append(notes, note.New("%s: what the unit was is not said, so the coefficient of variation of all kinds together, %.2f, is used", some(unsaid), p.all))
	}
	if o.Variance == evidence.ReportedSD {
		var lacking []string
		for _, s := range studies {
			if slices.ContainsFunc(s.Arms, func(a evidence.Arm) bool {
				_, known := armCV(a)
				return a.Mean != nil && !known && a.SE == nil
			}) {
				lacking = append(lacking, s.Name)
			}
		}
		if lacking != nil {
			notes = append(notes, note.New("%s: an arm has no SD of its own, so the pooled coefficient of variation is used there", some(lacking)))
		}
	}
	return notes
}

// needsCV is true where a study's covariance rests on a coefficient of variation, its own or another's.
func needsCV(s evidence.Study) bool {
	r := s.Reference()
	for i, a := range s.Arms {
		if i != r && !a.Gain.HasError() {
			return true
		}
	}
	return false
}

// doubts are the warnings that one study gives rise to.
func doubts(s evidence.Study) []note.Note {
	var notes []note.Note
	if s.Unit == evidence.Chamber || s.Unit == evidence.Mainline {
		for _, a := range s.Arms {
			if a.N != nil && a.Taps != nil && *a.N > 1 && *a.N == *a.Taps {
				notes = append(notes, note.New("%s: n equals the taps, %v, while the unit is a %s; were trees counted as replicates?", s.Name, *a.N, note.Term(s.Unit)).At(a.Where))
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
		notes = append(notes, note.New("%s: the vacuum of its arms differs by %.1f kPa, which moves the yield by itself", s.Name, high-low).At(s.Where))
	}
	for _, a := range s.Arms {
		if a.SD != nil && a.SE != nil && a.N != nil && math.Abs(*a.SE*math.Sqrt(*a.N) / *a.SD - 1) > 0.05 {
			notes = append(notes, note.New("%s, %s: the SD %v and the SE %v of %v units do not agree; the SD is used for the pooled coefficient of variation", s.Name, note.Term(a.Practice), *a.SD, *a.SE, *a.N).At(a.Where))
		}
	}
	return notes
}

// printedTwice asks after studies of one site and season that tested the same practice.
func printedTwice(studies []StudyEffects) []note.Note {
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
	var notes []note.Note
	for _, k := range order {
		if len(by[k]) > 1 {
			notes = append(notes, note.New("%s in %d, %s: more than one study, %s; was one trial printed twice?", k.site, k.season, note.Term(k.practice), some(by[k])))
		}
	}
	return notes
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
