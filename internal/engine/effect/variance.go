package effect

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"

	"spile/internal/note"
	"spile/internal/trade/evidence"
)

// Basis is what the variance of a row came of.
type Basis string

const (
	OwnError   Basis = "own-error"   // a gain's own interval or standard error; a trial's own covariance
	AsReported Basis = "as-reported" // the arms' SD or SE as they stand
	OwnSD      Basis = "own-sd"      // the arms' SD or SE over n, moderated
	StatedSE   Basis = "stated-se"   // an SE whose n is not stated
	Pooled     Basis = "pooled"      // the pooled CV of its kind, in which its own SD is counted
	KindCV     Basis = "kind-cv"     // n, and the CV of other arms on its kind of unit
	AnyCV      Basis = "any-cv"      // n, and the CV of arms on other kinds of unit
	UsualN     Basis = "usual-n"     // neither n nor an error: CV as above, and the usual n of its kind
	OneUnit    Basis = "one-unit"    // neither, and too few arms state n: CV as above, and one unit
	AssumedCV  Basis = "assumed-cv"  // a CV that no arm of the table bears out
)

// bases says, from the best error to the worst, what a variance is borrowed from; "" where it is the row's own.
var bases = []struct {
	key      Basis
	footnote string
}{
	{OwnError, ""},
	{AsReported, ""},
	{OwnSD, ""},
	{StatedSE, ""},
	{Pooled, ""},
	{KindCV, "its n is its own; the spread between units is that of other studies on its kind of unit"},
	{AnyCV, "its n is its own; the spread between units is that of studies on other kinds of unit"},
	{UsualN, "it states neither n nor an error: n is the usual one of its kind of unit, the spread that of other " +
		"studies"},
	{OneUnit, "it states neither n nor an error: it counts as one unit, with the spread of other studies"},
	{AssumedCV, "no study tells the spread between units, which is assumed"},
}

func (b Basis) rank() int {
	for i, x := range bases {
		if x.key == b {
			return i
		}
	}
	return 0
}

// Footnote says what a row's variance is borrowed from; "" where it is the row's own.
func (b Basis) Footnote() string { return bases[b.rank()].footnote }

// Imputed is true of a variance that rests on a CV from elsewhere.
func (b Basis) Imputed() bool { return b.Footnote() != "" }

// worse is the one of two that rests on less.
func worse(a, b Basis) Basis {
	if a.rank() < b.rank() {
		return b
	}
	return a
}

func ruleNames() string {
	var names []string
	for _, r := range evidence.Rules() {
		names = append(names, string(r))
	}
	return strings.Join(names, ", ")
}

// spread is what the arms of the admitted studies tell of how units of one arm vary.
type spread struct {
	rule  evidence.Rule
	kinds map[evidence.UnitKind]kindSpread // kinds that tell their own
	all   kindSpread                       // every kind together, or the default
	none  bool                             // too few arms tell anything
	perN  map[evidence.UnitKind]float64    // mean of 1/n, where three arms or more state n
}

// kindSpread is that of a kind of unit: the prior of Smyth 2004 for CV² (d0 degrees of freedom, s0²), and the CV² that
// stands in for an arm without one.
type kindSpread struct {
	d0, s02, cv2 float64
}

// own is the CV² of an arm between its units.
type own struct {
	kind evidence.UnitKind
	n    float64
	cv2  float64
}

// newSpread reads the arms that report an SD or SE over two units or more.
func newSpread(studies []evidence.Study, o evidence.Options) spread {
	sp := spread{rule: o.Variance, kinds: map[evidence.UnitKind]kindSpread{}, perN: map[evidence.UnitKind]float64{}}
	by, stated := map[evidence.UnitKind][]own{}, map[evidence.UnitKind][]float64{}
	var all []own
	for _, s := range studies {
		for _, a := range s.Arms {
			if cv, ok := armCV(a); ok {
				x := own{s.Unit, *a.N, cv * cv}
				by[s.Unit], all = append(by[s.Unit], x), append(all, x)
			}
			if a.N != nil {
				stated[s.Unit] = append(stated[s.Unit], 1 / *a.N)
			}
		}
	}
	sp.none = len(all) == 0
	if o.Variance != evidence.Moderated {
		sp.all.cv2 = o.DefaultCV * o.DefaultCV
		if !sp.none {
			sp.all = pooledCV(all)
		}
		for kind, arms := range by {
			if kind != "" {
				sp.kinds[kind] = pooledCV(arms)
			}
		}
		return sp
	}
	const enough = 3
	for kind, n := range stated {
		if len(n) >= enough {
			sp.perN[kind] = stat.Mean(n, nil)
		}
	}
	sp.all, sp.none = assumed(o.DefaultCV), len(all) < 2
	if !sp.none {
		sp.all = moderation(all, usualSpread)
	}
	for kind, arms := range by {
		if len(arms) > 1 {
			sp.kinds[kind] = moderation(arms, spreadOf(arms))
		}
	}
	return sp
}

// pooledCV is the n-weighted mean of CV².
func pooledCV(arms []own) kindSpread {
	n, sum := 0.0, 0.0
	for _, a := range arms {
		n, sum = n+a.n, sum+a.n*a.cv2
	}
	return kindSpread{cv2: sum / n}
}

// What is known beforehand of how ln σ² differs between arms: its variance, and how many arms' worth that counts. Real
// differences smaller or larger than the bounds would take what a handful of arms say at its word.
const (
	usualSpread = 0.35
	usualWeight = 4
	leastSpread = 0.05
	mostSpread  = 1
)

// logError is e = ln CV² − ψ(d/2) + ln(d/2), whose mean over arms of one σ² is ln σ², and its sampling variance
// ψ₁(d/2).
func (a own) logError() (e, v float64) {
	half := (a.n - 1) / 2
	return math.Log(a.cv2) - mathext.Digamma(half) + math.Log(half), trigamma(half)
}

// spreadOf is x, the variance of ln σ² between arms: the excess of var e over its sampling variance, with what is known
// beforehand.
func spreadOf(arms []own) float64 {
	var e, v []float64
	for _, a := range arms {
		ei, vi := a.logError()
		e, v = append(e, ei), append(v, vi)
	}
	g := float64(len(arms))
	x := ((g-1)*(stat.Variance(e, nil)-stat.Mean(v, nil)) + usualWeight*usualSpread) / (g - 1 + usualWeight)
	return min(max(x, leastSpread), mostSpread)
}

// moderation is the prior of Smyth 2004, whose ln σ² has variance x = ψ₁(d0/2), with s0² by the mean of the e.
func moderation(arms []own, x float64) kindSpread {
	half := inverseTrigamma(x)
	mean := 0.0
	for _, a := range arms {
		e, _ := a.logError()
		mean += e / float64(len(arms))
	}
	s02 := math.Exp(mean + mathext.Digamma(half) - math.Log(half))
	return kindSpread{d0: 2 * half, s02: s02, cv2: s02 * half / (half - 1)}
}

// assumed is the prior whose mean is a given CV².
func assumed(cv float64) kindSpread {
	half := inverseTrigamma(usualSpread)
	return kindSpread{d0: 2 * half, s02: cv * cv * (half - 1) / half, cv2: cv * cv}
}

// trigamma is ψ₁, the derivative of ψ: Hurwitz's zeta function ζ(2, x) (Abramowitz & Stegun 1964, 6.4.10).
func trigamma(x float64) float64 { return mathext.Zeta(2, x) }

// inverseTrigamma is the y with ψ₁(y) = x, by Newton's steps on 1/ψ₁, which is convex and nearly straight, from below
// (Smyth 2004, appendix). x is positive and no more than a few hundred.
func inverseTrigamma(x float64) float64 {
	y := 0.5 + 1/x
	for range 50 {
		t := trigamma(y)
		step := t * (1 - t/x) / (-2 * mathext.Zeta(3, y))
		y += step
		if math.Abs(step) < 1e-14*y {
			break
		}
	}
	return y
}

// of is the spread of a kind, and whether it is its own.
func (sp spread) of(kind evidence.UnitKind) (kindSpread, bool) {
	if k, ok := sp.kinds[kind]; ok {
		return k, true
	}
	return sp.all, false
}

// cvs is what stands in for an arm without an SD, by kind; "" is all kinds together, or arms of no stated kind.
func (sp spread) cvs() map[evidence.UnitKind]float64 {
	cvs := map[evidence.UnitKind]float64{"": math.Sqrt(sp.all.cv2)}
	for kind, k := range sp.kinds {
		cvs[kind] = math.Sqrt(k.cv2)
	}
	return cvs
}

// level is the log level of a measured arm and its sampling variance.
type level struct {
	log, v float64
	basis  Basis
}

// level of an arm of a study. One without a mean has the variance that its n tells, at the level 0.
func (sp spread) level(s evidence.Study, a evidence.Arm) level {
	q, basis := sp.square(s, a)
	l := level{v: q, basis: basis}
	if a.Mean != nil {
		l.log = math.Log(*a.Mean)
	}
	if sp.rule != evidence.ReportedSD { // the next terms of the expansion (Lajeunesse 2015)
		l.log += q / 2
		l.v += q * q / 2
	}
	return l
}

// square is q = CV²/n of an arm's mean, and what it came of.
func (sp spread) square(s evidence.Study, a evidence.Arm) (q float64, basis Basis) {
	kind, its := sp.of(s.Unit)
	cv, known := armCV(a)
	n := 1.0
	if a.N != nil {
		n = *a.N
	}
	se := a.SE != nil && a.Mean != nil
	switch {
	case sp.rule == evidence.ReportedSD && se:
		return *a.SE / *a.Mean * *a.SE / *a.Mean, AsReported
	case sp.rule == evidence.ReportedSD && known:
		return cv * cv / n, AsReported
	case sp.rule == evidence.PooledCV && known:
		return kind.cv2 / n, Pooled
	case sp.rule == evidence.Moderated && se && a.N == nil:
		return *a.SE / *a.Mean * *a.SE / *a.Mean, StatedSE
	case sp.rule == evidence.Moderated && known:
		d := n - 1
		return (kind.d0*kind.s02 + d*cv*cv) / (kind.d0 + d) / n, OwnSD
	}
	basis = KindCV
	switch {
	case sp.none:
		basis = AssumedCV
	case !its:
		basis = AnyCV
	}
	if sp.rule == evidence.Moderated && a.N == nil && s.Kind != evidence.Unreplicated {
		if per, ok := sp.perN[s.Unit]; ok {
			return kind.cv2 * per, worse(basis, UsualN)
		}
		return kind.cv2, worse(basis, OneUnit)
	}
	return kind.cv2 / n, basis
}

// armCV is the arm's own coefficient of variation between units, where it can be had: an SD or SE over two units or
// more.
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

func (sp spread) warnings(studies []evidence.Study) note.List {
	cv := math.Sqrt(sp.all.cv2)
	needs := func(s evidence.Study) bool { return sp.needsCV(s) }
	if sp.none {
		if slices.ContainsFunc(studies, needs) {
			return note.List{note.New("too few arms report an SD over two units or more, "+
				"so a coefficient of variation of %.2f between units is assumed", cv)}
		}
		return nil
	}
	var notes note.List
	for _, kind := range []evidence.UnitKind{evidence.Tree, evidence.Chamber, evidence.Mainline} {
		_, its := sp.kinds[kind]
		if !its && slices.ContainsFunc(studies, func(s evidence.Study) bool { return s.Unit == kind && needs(s) }) {
			notes.Add("no arm reports an SD between units of the kind %s, "+
				"so the coefficient of variation of all kinds together, %.2f, stands in", note.Term(kind), cv)
		}
	}
	var unsaid, lacking []string
	for _, s := range studies {
		if _, its := sp.kinds[""]; !its && s.Unit == "" && needs(s) {
			unsaid = append(unsaid, s.Name)
		}
		if sp.rule == evidence.ReportedSD && slices.ContainsFunc(s.Arms, func(a evidence.Arm) bool {
			_, known := armCV(a)
			return a.Mean != nil && !known && a.SE == nil
		}) {
			lacking = append(lacking, s.Name)
		}
	}
	if unsaid != nil {
		notes.Add("%s: what the unit was is not said, "+
			"so the coefficient of variation of all kinds together, %.2f, is used", some(unsaid), cv)
	}
	if lacking != nil {
		notes.Add("%s: an arm has no SD of its own, "+
			"so the pooled coefficient of variation is used there", some(lacking))
	}
	return notes
}

// needsCV is true where a study's covariance rests on a coefficient of variation between units: under the rule
// `moderated` one from elsewhere, else its own or another's.
func (sp spread) needsCV(s evidence.Study) bool {
	r := s.Reference()
	for i, a := range s.Arms {
		if i == r || a.Gain.HasError() {
			continue
		}
		if sp.rule != evidence.Moderated {
			return true
		}
		for _, x := range []int{i, r} {
			if x < 0 || s.Arms[x].Mean == nil || s.Arms[x].SD == nil && s.Arms[x].SE == nil {
				return true
			}
		}
	}
	return false
}
