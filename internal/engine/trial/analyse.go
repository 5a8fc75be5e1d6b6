package trial

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/sap"
	"spile/internal/trade/unit"
)

// Response is what is compared.
type Response string

const (
	Sap   Response = "sap"   // volume a tap
	Syrup Response = "syrup" // the syrup that a tap's sap makes: weighted by its sugar
)

// Options choose the analysis. The zero Options are those of M6.
type Options struct {
	Reference practice.Key // "": unsanitized, else the first in the set
	Response  Response     // "": sap
	Place     string       // for the density of syrup: 66.0 °Bx, or what the law asks there
	Before    int          // a season before the trial, whose yields become a covariate; 0: none
	Vacuum    bool         // adjust for each unit-season's vacuum
	Inference reml.Inference
}

func (o Options) inference() reml.Inference { return cmp.Or(o.Inference, reml.KenwardRoger) }

// Analysis is what a trial says.
type Analysis struct {
	Response    Response
	Reference   practice.Key
	Seasons     []int // in order
	Blocks      int
	Units       int
	Rows        int    // unit-seasons used
	Gains       []Gain // every practice in the order of the set, the reference too
	Pairs       []Pair // all pairs
	BySeason    []Gain // where there are several seasons: each practice in each
	Differ      *Joint // that practices differ at all; nil where it cannot be tested
	Interaction *Joint // of practice and season; nil where it cannot be tested
	Carryover   []Gain // where practices were rotated: what each leaves to the season after it
	Covariates  []Covariate
	Variances   Variances
	Residuals   []Residual
	Adjusted    float64 // bound on the error of the adjusted p
	Notes       []note.Note

	reference int // index of its row in Gains
	model     *model
	fit       *reml.Fitted
}

// Joint is a test of several effects at once.
type Joint = reml.Joint

// Gain is a practice against the reference. Numbers that do not exist are NaN: those of the reference, and intervals
// where nothing tells the error.
type Gain struct {
	Practice practice.Key
	Season   int // in BySeason
	Units    int
	Mean     unit.Volume // per tap: plain mean over the rows

	Log, SE, DF              float64
	Low, High                float64 // 95 %, log
	Pct, LowPct, HighPct     float64
	P                        float64
	PAdjusted                float64 // for all comparisons with the reference
	AllLowPct, AllHighPct    float64 // 95 % intervals that hold for all comparisons with the reference together
	estimable, withInference bool
	contrast                 []float64
}

// Pair is one practice against another, p adjusted for all pairs (single step).
type Pair struct {
	Practice, Against    practice.Key
	Log, SE, DF          float64
	Low, High            float64
	Pct, LowPct, HighPct float64
	P, PAdjusted         float64
	withInference        bool
}

// Covariate is the slope of ln(yield per tap) on a covariate.
type Covariate struct {
	Name string // "season before the trial" (its ln yield a tap), "vacuum" (kPa)
	reml.Estimate
	Low, High, P float64 // its 95 % interval; NaN where nothing tells its error
}

// Variances are those of the log yields; nil is a component that the trial cannot have.
type Variances struct {
	Block, Unit, Residual *float64
}

// Residual is one unit-season less what practice, season, block and unit explain.
type Residual struct {
	UnitSeason
	Fitted       float64 // log, with block and unit
	Residual     float64 // log
	Standardized float64 // by its own standard error
	NormalScore  float64 // where its rank would stand in a normal sample (Blom 1958)
}

// Analyse compares the practices of a trial (M6): ln(yield per tap) ~ practice + season (fixed) + block + unit (random)
// by REML with Kenward-Roger inference. The error is note.Faults, all of them. What the trial cannot tell is said in
// Notes, and its numbers are NaN.
func Analyse(rows []UnitSeason, set practice.Set, o Options) (*Analysis, error) {
	if err := check(rows, set); err != nil {
		return nil, err
	}
	m, err := newModel(rows, set, o)
	if err != nil {
		return nil, err
	}
	a := &Analysis{
		Response: m.o.Response, Reference: m.levels[0].Practice, Seasons: m.seasons, Rows: len(m.rows),
		Units: distinct(m.ids), Blocks: distinct(m.blocks), model: m, Notes: m.notes,
	}
	fit, err := m.fit()
	if err != nil {
		return nil, err
	}
	a.fit = fit.f
	a.Notes = append(a.Notes, fit.notes...)
	a.Gains = m.gains(fit)
	for i, g := range a.Gains {
		if g.Practice == a.Reference {
			a.reference = i
			continue
		}
		if by := m.hiddenBy(g.contrast); !g.estimable && by != "" {
			a.Notes = append(a.Notes, note.New("what %s does cannot be told from what the covariate (%s) does: the units under it differ from those under %s in both", note.Term(g.Practice), note.Term(by), note.Term(a.Reference)))
		} else if !g.estimable {
			a.Notes = append(a.Notes, note.New("%s cannot be compared with %s: the trial never has them side by side", note.Term(g.Practice), note.Term(a.Reference)))
		} else if g.withInference {
			a.Notes = append(a.Notes, reml.Estimate{DF: g.DF}.Notes(note.Term(g.Practice))...)
		} else if a.fit != nil {
			a.Notes = append(a.Notes, note.New("the yields under %s and %s fit practices, seasons, blocks and units exactly, or all but: the gain is given, but nothing is left to tell its error", note.Term(g.Practice), note.Term(a.Reference)))
		}
	}
	a.adjust()
	a.differ()
	a.pairs(fit)
	a.Variances = fit.variances()
	for _, c := range m.covariates {
		g := newGain(practice.Treatment{}, 0)
		m.infer(&g, fit, m.contrast(map[int]float64{c.column: 1}))
		a.Covariates = append(a.Covariates, Covariate{Name: c.name, Estimate: reml.Estimate{Value: g.Log, SE: g.SE, DF: g.DF}, Low: g.Low, High: g.High, P: g.P})
	}
	for _, c := range m.carry {
		g := newGain(m.levels[c.level], 0)
		m.infer(&g, fit, m.contrast(map[int]float64{c.column: 1}))
		a.Carryover = append(a.Carryover, g)
	}
	a.bySeason()
	a.residuals(fit)
	return a, nil
}

func distinct(ids []int) int {
	if len(ids) == 0 {
		return 0
	}
	return slices.Max(ids) + 1
}

// model is a table turned into numbers. Column 0 of x is the mean; column level is the practice.
type model struct {
	o       Options
	set     practice.Set
	all     []UnitSeason // as given
	rows    []UnitSeason // used
	ids     []int        // unit of each row
	blocks  []int
	seasons []int
	levels  []practice.Treatment // the reference first
	level   []int                // of each row
	amount  []float64            // of each row, litres a tap of sap or syrup
	y       []float64            // its log

	full       *mat.Dense // all columns
	kept       []int      // columns of full that those before do not determine
	null       [][]float64
	x          *mat.Dense // the columns kept
	covariates []term
	carry      []term
	notes      []note.Note
}

// term is a column of the model besides practices and seasons.
type term struct {
	name   string
	level  int
	column int
}

// newModel builds the model of M6. byAge tells drops of different ages apart (for the evidence).
func newModel(rows []UnitSeason, set practice.Set, o Options) (*model, error) {
	return buildModel(rows, set, o, false, false)
}

func buildModel(all []UnitSeason, set practice.Set, o Options, byAge, interaction bool) (*model, error) {
	if o.Response == "" {
		o.Response = Sap
	}
	o.Inference = o.inference()
	m := &model{o: o, set: set, all: all}
	ids, notes, err := identify(all)
	if err != nil {
		return nil, err
	}
	m.notes = notes
	before := map[int]float64{}
	if o.Before != 0 {
		for i, r := range all {
			if r.Season == o.Before {
				before[ids[i]] = math.Log(r.PerTap())
			}
		}
		if len(before) == 0 {
			return nil, note.Faults{note.New("the trial has no rows in %d, the season before it", o.Before)}
		}
	}
	var lackBrix, lackVacuum, lackBefore, least, most []string
	var pretrial []float64
	blockNumber := map[string]int{}
	units := map[int]int{}
	for i, r := range all {
		if o.Before != 0 && r.Season == o.Before {
			continue
		}
		name := fmt.Sprintf("%s (%d)", r.Unit, r.Season)
		lacks := false
		lack := func(list *[]string, missing bool) {
			if missing {
				*list = append(*list, name)
				lacks = true
			}
		}
		lack(&lackBrix, o.Response == Syrup && r.Brix == nil)
		lack(&lackVacuum, o.Vacuum && r.Vacuum == nil)
		_, known := before[ids[i]]
		lack(&lackBefore, o.Before != 0 && !known)
		if lacks {
			continue
		}
		if r.AtLeast {
			least = append(least, name)
		}
		if r.PerTap() > usual {
			most = append(most, name)
		}
		amount := r.PerTap()
		if o.Response == Syrup {
			amount = float64(sap.Syrup(unit.Volume(amount), *r.Brix, sap.SyrupBrix(o.Place)))
		}
		if _, ok := blockNumber[r.Block]; !ok {
			blockNumber[r.Block] = len(blockNumber)
		}
		if _, ok := units[ids[i]]; !ok {
			units[ids[i]] = len(units)
		}
		m.rows = append(m.rows, r)
		m.ids = append(m.ids, units[ids[i]])
		m.blocks = append(m.blocks, blockNumber[r.Block])
		m.amount, m.y = append(m.amount, amount), append(m.y, math.Log(amount))
		pretrial = append(pretrial, before[ids[i]])
	}
	for _, l := range []struct {
		names []string
		key   string
	}{
		{lackBrix, "no sugar content is given for %s; left out, since syrup is compared"},
		{lackVacuum, "no vacuum is given for %s; left out, since vacuum is adjusted for"},
		{lackBefore, "no yield of the season before the trial is given for %s; left out"},
		{most, "%s gave more than 400 litres a tap, more than any tap is known to: look at volume and taps"},
		{least, "%s gave at least what is written (an overflow, a reset); counted at that, which hides some of the gain of what gave more"},
	} {
		if len(l.names) > 0 {
			m.notes = append(m.notes, note.New(l.key, some(l.names)))
		}
	}
	if len(m.rows) == 0 {
		return nil, append(note.Faults{note.New("no row of the trial is left to compare")}, m.notes[len(notes):]...)
	}
	if err := m.index(byAge); err != nil {
		return nil, err
	}
	m.columns(pretrial, interaction)
	return m, nil
}

// some names the first few of a list.
func some(names []string) string {
	text := ""
	for i, n := range names {
		if i == 5 {
			return text + fmt.Sprintf(" (+%d)", len(names)-5)
		}
		if i > 0 {
			text += ", "
		}
		text += n
	}
	return text
}

// index finds seasons and practices.
func (m *model) index(byAge bool) error {
	first := map[[2]int]int{} // by unit and practice's place in the set: its first season
	for i, r := range m.rows {
		if !slices.Contains(m.seasons, r.Season) {
			m.seasons = append(m.seasons, r.Season)
		}
		key := [2]int{m.ids[i], m.place(r.Practice)}
		if s, ok := first[key]; !ok || r.Season < s {
			first[key] = r.Season
		}
	}
	slices.Sort(m.seasons)
	reference := Reference(m.rows, m.set, m.o.Reference)
	treatments := make([]practice.Treatment, len(m.rows))
	for i, r := range m.rows {
		treatments[i].Practice = r.Practice
		if p, _ := m.set.Find(r.Practice); byAge && p.Ages() {
			treatments[i].DropAge = r.Season - first[[2]int{m.ids[i], m.place(r.Practice)}]
			if r.DropAge != nil {
				treatments[i].DropAge = *r.DropAge
			}
		}
		if !slices.Contains(m.levels, treatments[i]) {
			m.levels = append(m.levels, treatments[i])
		}
	}
	slices.SortFunc(m.levels, func(a, b practice.Treatment) int {
		if (a.Practice == reference) != (b.Practice == reference) {
			if a.Practice == reference {
				return -1
			}
			return 1
		}
		if d := m.place(a.Practice) - m.place(b.Practice); d != 0 {
			return d
		}
		return a.DropAge - b.DropAge
	})
	if m.levels[0].Practice != reference {
		return note.Faults{note.New("no unit of the trial has the practice %s, which gains are to be against", string(reference))}
	}
	if len(m.levels) < 2 {
		return note.Faults{note.New("the trial has one practice only, %s: nothing to compare", note.Term(reference))}
	}
	m.level = make([]int, len(m.rows))
	for i, t := range treatments {
		m.level[i] = slices.Index(m.levels, t)
	}
	return nil
}

func (m *model) place(k practice.Key) int {
	return slices.IndexFunc(m.set, func(p practice.Practice) bool { return p.Key == k })
}

// columns builds the fixed effects and finds which of them the others determine.
func (m *model) columns(pretrial []float64, interaction bool) {
	n := len(m.rows)
	var cols [][]float64
	add := func(f func(i int) float64) int {
		c := make([]float64, n)
		for i := range n {
			c[i] = f(i)
		}
		cols = append(cols, c)
		return len(cols) - 1
	}
	is := func(b bool) float64 {
		if b {
			return 1
		}
		return 0
	}
	add(func(int) float64 { return 1 })
	for l := 1; l < len(m.levels); l++ {
		add(func(i int) float64 { return is(m.level[i] == l) })
	}
	for _, s := range m.seasons[1:] {
		add(func(i int) float64 { return is(m.rows[i].Season == s) })
	}
	centred := func(name string, f func(i int) float64) {
		mean := 0.0
		for i := range n {
			mean += f(i) / float64(n)
		}
		m.covariates = append(m.covariates, term{name: name, column: add(func(i int) float64 { return f(i) - mean })})
	}
	if m.o.Before != 0 {
		centred("season before the trial", func(i int) float64 { return pretrial[i] })
	}
	if m.o.Vacuum {
		centred("vacuum", func(i int) float64 { return float64(*m.rows[i].Vacuum) })
	}
	// What the practice of the season before leaves behind, where practices move over the units.
	if m.rotated() {
		m.notes = append(m.notes, note.New("practices change from season to season on the same units: what each leaves to the season after is estimated too"))
		previous := map[[2]int]int{}
		for i, r := range m.rows {
			previous[[2]int{m.ids[i], r.Season}] = m.level[i] + 1
		}
		for l := 1; l < len(m.levels); l++ {
			c := add(func(i int) float64 { return is(previous[[2]int{m.ids[i], m.rows[i].Season - 1}] == l+1) })
			m.carry = append(m.carry, term{level: l, column: c})
		}
	}
	if interaction {
		for l := 1; l < len(m.levels); l++ {
			for _, s := range m.seasons[1:] {
				add(func(i int) float64 { return is(m.level[i] == l && m.rows[i].Season == s) })
			}
		}
	}
	m.full = mat.NewDense(n, len(cols), nil)
	for j, c := range cols {
		m.full.SetCol(j, c)
	}
	m.independent(cols)
	m.x = mat.NewDense(n, len(m.kept), nil)
	for j, k := range m.kept {
		m.x.SetCol(j, cols[k])
	}
}

// rotated is true where some unit has more than one practice.
func (m *model) rotated() bool {
	of := map[int]practice.Key{}
	for i, r := range m.rows {
		if p, ok := of[m.ids[i]]; ok && p != r.Practice {
			return true
		}
		of[m.ids[i]] = r.Practice
	}
	return false
}

// independent keeps the columns that those before do not determine; for each other one it keeps the combination of
// columns that is 0, which tells what can be estimated.
func (m *model) independent(cols [][]float64) {
	n, p := len(m.rows), len(cols)
	var q [][]float64      // orthonormal
	var inCols [][]float64 // each q as a combination of the columns
	for j, c := range cols {
		v, comb := slices.Clone(c), make([]float64, p)
		comb[j] = 1
		size := math.Sqrt(inner(c, c))
		for range 2 {
			for k := range q {
				d := inner(q[k], v)
				for i := range n {
					v[i] -= d * q[k][i]
				}
				for i := range p {
					comb[i] -= d * inCols[k][i]
				}
			}
		}
		left := math.Sqrt(inner(v, v))
		if left <= 1e-8*size || size == 0 {
			m.null = append(m.null, comb)
			continue
		}
		for i := range v {
			v[i] /= left
		}
		for i := range comb {
			comb[i] /= left
		}
		q, inCols = append(q, v), append(inCols, comb)
		m.kept = append(m.kept, j)
	}
}

func inner(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// contrast is a combination of all columns.
func (m *model) contrast(at map[int]float64) []float64 {
	_, p := m.full.Dims()
	c := make([]float64, p)
	for j, v := range at {
		c[j] = v
	}
	return c
}

// estimable is true of a combination of all columns that the rows tell: one that is 0 on every combination of columns
// that is 0.
func (m *model) estimable(c []float64) bool {
	for _, v := range m.null {
		if math.Abs(inner(c, v)) > 1e-7 {
			return false
		}
	}
	return true
}

// hiddenBy is the covariate without which the rows would tell a combination of columns; "" where none hides it.
func (m *model) hiddenBy(c []float64) string {
	for _, v := range m.null {
		for _, x := range m.covariates {
			if math.Abs(inner(c, v)) > 1e-7 && math.Abs(v[x.column]) > 1e-7 {
				return x.name
			}
		}
	}
	return ""
}

// own is a contrast in terms of the columns kept.
func (m *model) own(c []float64) []float64 {
	k := make([]float64, len(m.kept))
	for i, j := range m.kept {
		k[i] = c[j]
	}
	return k
}

// levelContrast is level a against level b.
func (m *model) levelContrast(a, b int) []float64 {
	c := m.contrast(nil)
	if a > 0 {
		c[a]++
	}
	if b > 0 {
		c[b]--
	}
	return c
}

// fitted is the model's fit. Where nothing tells the error, f is nil and beta alone is known.
type fitted struct {
	m          *model
	f          *reml.Fitted
	components []string
	beta       []float64 // of the columns kept
	notes      []note.Note
}

// fit estimates by REML. Components that the trial cannot have are left out, and said so.
func (m *model) fit() (*fitted, error) {
	out := &fitted{m: m}
	say := func(key string, args ...any) { out.notes = append(out.notes, note.New(key, args...)) }
	n, p := m.x.Dims()
	if n <= p {
		say("the trial has %d rows for %d effects: gains are given, but nothing tells their error; more units a practice are needed", n, p)
		out.beta = m.leastSquares()
		return out, nil
	}
	blocks, units := distinct(m.blocks), distinct(m.ids)
	var components []reml.Component
	switch {
	case blocks == 1:
		if m.rows[0].Block != "" {
			say("the trial has one block, so how blocks differ is not known: the answer is for this block")
		}
	case blocks == units && units == n:
		say("every unit is a block of its own, so blocks are left out")
	case blocks == units:
		say("every block has one unit, so blocks are left out and units stand for them")
	default:
		components = append(components, reml.Grouping("block", m.blocks))
	}
	if units < n {
		components = append(components, reml.Grouping("unit", m.ids))
	}
	components = append(components, reml.Identity("residual", n))
	for {
		f, err := reml.Fit(reml.Model{Y: m.y, X: m.x, Components: components, AtZero: reml.Keep})
		if err == nil {
			out.f, out.beta = f, f.Beta
			for _, c := range components {
				out.components = append(out.components, c.Name)
			}
			out.notes = append(out.notes, f.Notes...)
			return out, nil
		}
		var fault *reml.Fault
		if !errors.As(err, &fault) {
			return nil, err
		}
		lost := func(name string) bool { return slices.Contains(fault.Components, name) }
		drop := ""
		switch {
		case fault.Kind == reml.Idle && lost("unit"):
			say("each practice has one unit, so what the practice does cannot be told from what the unit is: gains are given, but nothing tells their error")
			out.beta = m.leastSquares()
			return out, nil
		case (fault.Kind == reml.Idle || fault.Kind == reml.Confounded) && lost("block"):
			drop = "block"
			if fault.Kind == reml.Idle {
				say("each practice has blocks of its own, so what the practice does cannot be told from what the block is: blocks are left out, and the intervals are too short if blocks differ")
			} else {
				say("how blocks differ cannot be told from how units differ, so blocks are left out")
			}
		case fault.Kind == reml.Confounded && lost("unit"):
			drop = "unit"
			say("how units differ cannot be told from how they vary between seasons, so units are left out")
		case fault.Kind == reml.ExactFit:
			say("practices, seasons and units explain every yield exactly: gains are given, but nothing is left to tell their error")
			out.beta = m.leastSquares()
			return out, nil
		default:
			return nil, note.Faults{fault.Note}
		}
		components = slices.DeleteFunc(components, func(c reml.Component) bool { return c.Name == drop })
	}
}

// leastSquares is β where nothing tells the error.
func (m *model) leastSquares() []float64 {
	var qr mat.QR
	qr.Factorize(m.x)
	_, p := m.x.Dims()
	b := mat.NewVecDense(p, nil)
	if err := qr.SolveVecTo(b, false, mat.NewVecDense(len(m.y), m.y)); err != nil {
		for i := range p {
			b.SetVec(i, math.NaN())
		}
	}
	return b.RawVector().Data
}

// estimate is a contrast of all columns.
func (f *fitted) estimate(c []float64) reml.Estimate {
	k := f.m.own(c)
	if f.f == nil {
		return reml.Estimate{Value: inner(k, f.beta), SE: math.NaN(), DF: math.NaN()}
	}
	return f.f.Contrast(k, f.m.o.Inference)
}

func (f *fitted) variances() Variances {
	var v Variances
	for i, name := range f.components {
		x := new(f.f.Theta[i])
		switch name {
		case "block":
			v.Block = x
		case "unit":
			v.Unit = x
		case "residual":
			v.Residual = x
		}
	}
	return v
}
