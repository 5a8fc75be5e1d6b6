package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/reml"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/sap"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// usual is what a tap and season gives at the most, far above what the best taps give (common practice, no source);
// more is warned of.
const usual = 400.0 // litres

// model is a table turned into numbers. Column 0 of x is the mean; column level is the practice.
type model struct {
	inference reml.Inference
	o         trial.Options
	set       practice.Set
	all       []trial.UnitSeason // as given
	rows      []trial.UnitSeason // used
	ids       []int              // unit of each row
	blocks    []int
	seasons   []int
	levels    []practice.Treatment // the reference first
	level     []int                // of each row
	amount    []float64            // of each row, litres a tap of sap or syrup
	y         []float64            // its log
	pretrial  []float64            // of each row, ln yield a tap of its unit in the season before the trial

	full       *mat.Dense // all columns
	kept       []int      // columns of full that those before do not determine
	null       [][]float64
	x          *mat.Dense // the columns kept
	covariates []term
	carry      []term
	notes      note.List
	near       []float64 // variances that its own are known to lie next to; nil: not known
}

// term is a column of the model besides practices and seasons.
type term struct {
	name   string
	level  int
	column int
}

// newModel builds the model of M6.
func newModel(rows []trial.UnitSeason, set practice.Set, o trial.Options) (*model, error) {
	return buildModel(rows, set, o, false, false)
}

// buildModel builds it where byAge tells drops of different ages apart (for the evidence), and interaction what each
// practice does in each season.
func buildModel(all []trial.UnitSeason, set practice.Set, o trial.Options, byAge, interaction bool) (*model, error) {
	if o.Response == "" {
		o.Response = trial.Sap
	}
	m := &model{o: o, set: set, all: all, inference: cmp.Or(reml.Inference(o.Inference), reml.KenwardRoger)}
	ids, notes, err := identify(all)
	if err != nil {
		return nil, err
	}
	m.notes = notes
	before, err := m.before(ids)
	if err != nil {
		return nil, err
	}
	m.use(ids, before)
	if len(m.rows) == 0 {
		return nil, append(note.Faults{note.New("no row of the trial is left to compare")}, m.notes[len(notes):]...)
	}
	if err := m.index(byAge); err != nil {
		return nil, err
	}
	m.columns(interaction)
	return m, nil
}

// before is the ln yield a tap of each unit in the season before the trial, where that is adjusted for.
func (m *model) before(ids []int) (map[int]float64, error) {
	yields := map[int]float64{}
	for i, r := range m.all {
		if m.o.Before != 0 && r.Season == m.o.Before {
			yields[ids[i]] = math.Log(r.PerTap())
		}
	}
	if m.o.Before != 0 && len(yields) == 0 {
		return nil, note.Faults{note.New("the trial has no rows in %d, the season before it", m.o.Before)}
	}
	return yields, nil
}

// use takes the rows that have what the analysis asks for, and says which have not.
func (m *model) use(ids []int, before map[int]float64) {
	said := []struct {
		key   string
		names []string
	}{
		{key: "no sugar content is given for %s; left out, since syrup is compared"},
		{key: "no vacuum is given for %s; left out, since vacuum is adjusted for"},
		{key: "no yield of the season before the trial is given for %s; left out"},
		{key: "%s gave more than 400 litres a tap, more than any tap is known to: look at volume and taps"},
		{key: "%s gave at least what is written (an overflow, a reset): counted at that"},
	}
	blocks, units := map[string]int{}, map[int]int{}
	for i, r := range m.all {
		if m.o.Before != 0 && r.Season == m.o.Before {
			continue
		}
		yield, known := before[ids[i]]
		lacks := false
		for k, so := range []bool{m.o.Response == trial.Syrup && r.Brix == nil, m.o.Vacuum && r.Vacuum == nil,
			m.o.Before != 0 && !known, r.PerTap() > usual, r.AtLeast} {
			if so && (k < 3 || !lacks) { // the first three leave the row out
				said[k].names = append(said[k].names, fmt.Sprintf("%s (%d)", r.Unit, r.Season))
			}
			lacks = lacks || so && k < 3
		}
		if lacks {
			continue
		}
		amount := r.PerTap()
		if m.o.Response == trial.Syrup {
			amount = float64(sap.Syrup(unit.Volume(amount), *r.Brix, sap.SyrupBrix(m.o.Place)))
		}
		m.rows = append(m.rows, r)
		m.ids = append(m.ids, numbered(units, ids[i]))
		m.blocks = append(m.blocks, numbered(blocks, r.Block))
		m.amount, m.y = append(m.amount, amount), append(m.y, math.Log(amount))
		m.pretrial = append(m.pretrial, yield)
	}
	for _, x := range said {
		if len(x.names) > 0 {
			m.notes.Add(x.key, note.Some(x.names))
		}
	}
}

// numbered is the number of a thing, from 0 as they come.
func numbered[K comparable](numbers map[K]int, key K) int {
	n, have := numbers[key]
	if !have {
		n = len(numbers)
		numbers[key] = n
	}
	return n
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
	reference := reference(m.rows, m.set, m.o.Reference)
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
		return note.Faults{note.New("no unit of the trial has the practice %s, which gains are to be against",
			string(reference))}
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

// reference is the practice that gains are against: the one asked for, else unsanitized, else the first of the set that
// the rows hold.
func reference(rows []trial.UnitSeason, set practice.Set, asked practice.Key) practice.Key {
	if asked != "" {
		return asked
	}
	first := practice.Key("")
	for _, p := range set {
		if slices.ContainsFunc(rows, func(r trial.UnitSeason) bool { return r.Practice == p.Key }) {
			if p.Key == practice.Unsanitized {
				return p.Key
			}
			if first == "" {
				first = p.Key
			}
		}
	}
	return first
}

// identify gives each row the number of its unit. A unit's name is its own in the whole trial; where one name stands in
// two blocks in one season, names are taken as numbered within blocks. The error is of a unit that changes its block.
func identify(rows []trial.UnitSeason) (ids []int, notes note.List, err error) {
	within := false
	block := map[string]string{} // by season and unit
	for _, r := range rows {
		key := fmt.Sprint(r.Season, "\x00", r.Unit)
		if b, ok := block[key]; ok && b != r.Block {
			within = true
		}
		block[key] = r.Block
	}
	if within {
		notes.Add("units of different blocks carry the same name, so they are taken as numbered within their block")
	}
	number := map[string]int{}
	home := map[string]trial.UnitSeason{}
	var faults note.Faults
	ids = make([]int, len(rows))
	for i, r := range rows {
		key := r.Unit
		if within {
			key = r.Block + "\x00" + r.Unit
		}
		first, have := home[key]
		if !have {
			number[key] = len(number)
			home[key] = r
		} else if first.Block != r.Block {
			w := r.Where
			w.Column = "block"
			faults = append(faults,
				note.New("the unit %s stands in block %s in %d and in block %s in %d; allowed: one block over all "+
					"seasons",
					r.Unit, first.Block, first.Season, r.Block, r.Season).At(w))
		}
		ids[i] = number[key]
	}
	return ids, notes, faults.Err()
}

func (m *model) place(k practice.Key) int {
	return slices.IndexFunc(m.set, func(p practice.Practice) bool { return p.Key == k })
}

// columns builds the fixed effects and finds which of them the others determine.
func (m *model) columns(interaction bool) {
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
	add(func(int) float64 { return 1 })
	for l := 1; l < len(m.levels); l++ {
		add(func(i int) float64 { return one(m.level[i] == l) })
	}
	for _, s := range m.seasons[1:] {
		add(func(i int) float64 { return one(m.rows[i].Season == s) })
	}
	m.adjust(add)
	if m.rotated() {
		m.carryOver(add)
	}
	if interaction {
		for l := 1; l < len(m.levels); l++ {
			for _, s := range m.seasons[1:] {
				add(func(i int) float64 { return one(m.level[i] == l && m.rows[i].Season == s) })
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

func one(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// adjust adds the covariates, each about its mean.
func (m *model) adjust(add func(func(i int) float64) int) {
	centred := func(name string, f func(i int) float64) {
		mean := 0.0
		for i := range m.rows {
			mean += f(i) / float64(len(m.rows))
		}
		m.covariates = append(m.covariates, term{name: name, column: add(func(i int) float64 { return f(i) - mean })})
	}
	if m.o.Before != 0 {
		centred("season before the trial", func(i int) float64 { return m.pretrial[i] })
	}
	if m.o.Vacuum {
		centred("vacuum", func(i int) float64 { return float64(*m.rows[i].Vacuum) })
	}
}

// carryOver adds what the practice of the season before leaves behind, where practices move over the units.
func (m *model) carryOver(add func(func(i int) float64) int) {
	m.notes.Add("practices change from season to season on the same units: what each leaves to the season after is " +
		"estimated too")
	previous := map[[2]int]int{}
	for i, r := range m.rows {
		previous[[2]int{m.ids[i], r.Season}] = m.level[i] + 1
	}
	for l := 1; l < len(m.levels); l++ {
		c := add(func(i int) float64 { return one(previous[[2]int{m.ids[i], m.rows[i].Season - 1}] == l+1) })
		m.carry = append(m.carry, term{level: l, column: c})
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
