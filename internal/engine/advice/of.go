package advice

import (
	"errors"
	"reflect"
	"slices"
	"sync"

	"spile/internal/engine/compare"
	"spile/internal/engine/effect"
	"spile/internal/engine/harvest"
	"spile/internal/engine/plan"
	"spile/internal/engine/pool"
	"spile/internal/engine/trust"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// Memo runs the chain and keeps each stage by a digest of that stage's own inputs: a changed price never refits.
// The zero Memo is ready, and safe for use by several goroutines.
type Memo struct {
	trials    stage[told]
	compared  stage[compared]
	fits      stage[fitted]
	pools     stage[pooled]
	draws     stage[*draws]
	money     stage[*Advice]
	sure      stage[*Advice]
	prospects stage[*Prospect]
	hangs     stage[Hangs]
	findings  stage[*finding]
	knowings  stage[Knowing]
	thorough  stage[*Advice]
	trusts    stage[*Advice]
	others    stage[*Advice]
	influence stage[[]trust.Influence]
	ladders   stage[*trust.Ladder]
	whys      stage[[]Why]
}

// fitted is what the studies alone say.
type fitted struct {
	pooled
	effects effect.Effects
	caveats map[string][]evidence.Caveat
	narrow  map[practice.Key]Narrow // nil where effects hold the studies
	notes   note.List               // of studies that are not at hand
	rests   key                     // what it rests on
}

// pooled is what effects say together.
type pooled struct {
	pool  *pool.Result                 // as it was asked to infer
	money func() (*pool.Result, error) // integrated over the variances
	plans *plan.Gains                  // of pool, as plans ask for them
	rests key                          // what it rests on
	holds any                          // itself, of a memo
}

// told is what a trial says as a study of the evidence.
type told struct {
	effect.StudyEffects
	why  error // why it says nothing
	name key   // by which what it says is known
}

// ages is how many ages of drops, from 0, an answer asks for.
func (in Input) ages() int {
	n := in.MaxInterval
	if in.Prices != nil {
		for _, t := range slices.Concat(in.Prices.Baseline.Seasons(), in.Against.Seasons(),
			in.Prices.Today.Choice(in.Practices).Seasons()) {
			n = max(n, t.DropAge+1)
		}
	}
	return n
}

// Of is the answer for one input. It is shared with whoever asks the same again: read it, do not change it. The error
// is note.Faults where the data is at fault.
func (m *Memo) Of(in Input) (*Advice, error) {
	a, err := m.Ranked(in)
	if err != nil {
		return nil, err
	}
	return m.Sure(a), nil
}

// Sure is a ranked answer with how sure it is. That takes draws, which only those need who show a chance.
func (m *Memo) Sure(a *Advice) *Advice {
	if a.Recommended < 0 {
		return a
	}
	sure, _ := m.sure.of(a.Input.room(kept), a.rests, func() (*Advice, error) { return a.sure(), nil })
	return sure.to(a.Input)
}

// to is the answer to an input that it rests on no less than on its own: to one with a reading more, say, that changes
// nothing of what its trial says.
func (a *Advice) to(in Input) *Advice {
	same := func(a, b []trial.Trial) bool { return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0]) }
	if slices.Equal(a.Input.Sources, in.Sources) && same(a.Input.Trials, in.Trials) {
		return a
	}
	other := *a
	other.Input = in
	return &other
}

// Ranked is the answer before it says how sure it is.
func (m *Memo) Ranked(in Input) (*Advice, error) {
	in, err := in.settled()
	if err != nil {
		return nil, err
	}
	fit, err := m.fitted(in)
	if err != nil {
		return nil, err
	}
	return m.answer(in, fit)
}

// Soon is Ranked where an answer before it rested on nearly the same: of very many studies of which a few were changed
// the spread between studies is not looked for anew, but held as the last whole answer has it, and the answer says so
// (Advice.Held). Ranked is to follow.
func (m *Memo) Soon(in Input, before *Advice) (*Advice, error) {
	in, err := in.settled()
	if err != nil {
		return nil, err
	}
	if before != nil && before.near != nil {
		before = before.near
	}
	if before == nil || len(in.Studies)+len(in.Trials) <= usualStudies || m.changed(in, before.Input) > fewChanged {
		return m.Ranked(in)
	}
	trials := m.told(in)
	rests := in.fit(trials)
	if m.fits.has(rests) {
		return m.Ranked(in)
	}
	soon := keyOf(asked[string]{rests, "soon"})
	fit, err := m.fits.of(in.room(mostFits), soon, func() (fitted, error) {
		f, err := in.fitted(trials, func(e effect.Effects) (pooled, error) { return in.pool(e, before.Money.Soon) })
		f.rests, f.pooled.rests = soon, soon
		return f, err
	})
	if err != nil {
		return nil, err
	}
	a, err := m.answer(in, fit)
	if err != nil {
		return nil, err
	}
	held := *a
	held.Held, held.near = true, before
	held.Notes = append(slices.Clip(a.Notes), note.New("the studies have just been changed: how much they differ is "+
		"taken as before, which may move a gain by tenths of a percent; the whole answer follows within a minute"))
	return &held, nil
}

// fewChanged is of how many studies a change leaves the spread between very many about as it was.
const fewChanged = 10

// changed is how many studies and trials only one of two inputs has, or each otherwise: all, where they are not taken
// alike.
func (m *Memo) changed(in, before Input) int {
	says := func(in *Input) map[string]any {
		list := map[string]any{}
		for _, s := range in.Studies {
			list[s.Name] = s
		}
		for i, t := range m.told(*in) {
			list[in.Trials[i].Name] = t.name
		}
		for _, name := range in.Evidence.Exclude {
			delete(list, name)
		}
		in.Evidence.Exclude = nil
		return list
	}
	now, was := says(&in), says(&before)
	taken := func(in Input) []any { return []any{in.Pool, in.Evidence, in.Practices} }
	if !reflect.DeepEqual(taken(in), taken(before)) {
		return max(len(now), len(was))
	}
	n := 0
	for name, s := range now {
		if !reflect.DeepEqual(s, was[name]) {
			n++
		}
		delete(was, name)
	}
	return n + len(was)
}

// answer is the answer of a fit.
func (m *Memo) answer(in Input, fit fitted) (*Advice, error) {
	rests := fit.with(in)
	a, err := m.money.of(in.room(kept), rests, func() (*Advice, error) {
		money, err := fit.money()
		if err != nil {
			return nil, err
		}
		d := m.drawn(in, fit.pooled.rests, money)
		a, err := priced(in, fit, money, d.value, nil)
		if err == nil {
			a.rests, a.holds = rests, [2]any{fit.holds, d}
		}
		return a, err
	})
	if err != nil {
		return nil, err
	}
	return a.to(in), nil
}

// with is what the answer of a fit rests on that is asked for an input. Where the input came from it does not rest on,
// nor on more of its trials than they say.
func (f fitted) with(in Input) key {
	in.Studies, in.Trials, in.Practices, in.Sources = nil, nil, nil, nil
	return keyOf(asked[Input]{f.rests, in})
}

// settled is an input with what it leaves open as is usual. The error is note.Faults.
func (in Input) settled() (Input, error) {
	if in.Practices == nil {
		in.Practices = practice.Shipped()
	}
	if in.MaxInterval == 0 {
		in.MaxInterval = defaultMaxInterval
	}
	if in.Over == 0 {
		in.Over = defaultOver
	}
	in.Rules = practice.WithShipped(in.Rules)
	if f := in.faults(); len(f) > 0 {
		return in, f
	}
	if c := in.Against; c.With == "" { // a practice that ages and is not said to be a rotation is done every season
		in.Against = practice.ChoiceOf(practice.Treatment{Practice: c.Practice}, c.Every, in.Practices)
	}
	return in, nil
}

func (m *Memo) fitted(in Input) (fitted, error) {
	trials := m.told(in)
	own := in.fit(trials)
	return m.fits.of(in.room(mostFits), own, func() (fitted, error) {
		f, err := in.fitted(trials, func(e effect.Effects) (pooled, error) {
			var says []key
			for _, s := range e.Studies {
				says = append(says, nameOf(s))
			}
			rests := keyOf([]any{says, e.CV, in.Practices, in.Pool})
			a := m.pools.held(in.room(mostFits), rests, func() (pooled, error) { return in.pool(e, pool.Fit) })
			p := a.value
			p.rests, p.holds = rests, a
			return p, a.err
		})
		f.rests = own
		return f, err
	})
}

// fit is what the fit of an input rests on whose trials say so much.
func (in Input) fit(trials []told) key {
	var says []key
	for _, t := range trials {
		says = append(says, t.name)
	}
	return keyOf([]any{in.Studies, says, in.Practices, in.Evidence, in.Pool})
}

// nameOf is the digest of all that a study says.
func nameOf(s effect.StudyEffects) key {
	var v []float64
	if s.V != nil {
		v = s.V.RawSymmetric().Data
	}
	s.V = nil
	return keyOf([]any{s, v})
}

// told is what each trial says.
func (m *Memo) told(in Input) (list []told) {
	for _, t := range in.Trials {
		// As many are kept as are asked for in turn, or none of them would be there when it is asked for again.
		x, _ := m.trials.of(kept+2*len(in.Trials), keyOf(inputsOf(t, in.Practices)), func() (told, error) {
			s, err := compare.StudyOf(t, in.Practices)
			return told{s, err, keyOf([]any{t.Name, nameOf(s), note.FaultsOf(err)})}, nil
		})
		list = append(list, x)
	}
	return list
}

// drawn are the draws of what money rests on.
func (m *Memo) drawn(in Input, rests key, money *pool.Result) *answer[*draws] {
	return m.draws.held(in.room(mostFits), keyOf(asked[int]{rests, in.ages()}),
		func() (*draws, error) { return drawsOf(money, in.Practices, in.ages()), nil })
}

const (
	defaultMaxInterval = 10
	defaultOver        = 5
)

// maxInterval is the longest rotation that can be asked for.
const maxInterval = 50

func (in Input) faults() note.Faults {
	var f note.Faults
	if in.Prices != nil {
		f = append(f, in.Prices.Faults(in.Practices)...)
	}
	if in.MaxInterval < 1 || in.MaxInterval > maxInterval {
		f.Add("the longest rotation asked for is %d seasons; allowed: 1 to %d", in.MaxInterval,
			maxInterval)
	}
	if in.Over < 1 || in.Over > maxInterval {
		f.Add("seasons ahead are %d; allowed: 1 to %d", in.Over, maxInterval)
	}
	if _, known := in.Practices.Find(in.Against.Practice); in.Against.Practice != "" && !known {
		f.Add("%s is not a practice that can be compared against; allowed: %s",
			string(in.Against.Practice), in.Practices.Names())
	}
	return f
}

// usualStudies are as many as all are kept of that is kept.
const usualStudies = 500

// room is of how many answers there is room, where for those to inputs of usual size there is room for so many: a fit
// takes the more the more studies it has.
func (in Input) room(most int) int {
	return max(2, min(most, most*usualStudies/(1+len(in.Studies)+len(in.Trials))))
}

// trialInputs is everything that a trial's study rests on.
type trialInputs struct {
	Trial     trial.Trial
	Read      string // digest of what is read apart
	Practices practice.Set
}

func inputsOf(t trial.Trial, set practice.Set) trialInputs {
	i := trialInputs{Trial: t, Practices: set}
	if t.Apart != nil {
		i.Read = t.Apart.Digest
	}
	return i
}

// compared is what a trial says by itself.
type compared struct {
	analysis *compare.Analysis
	summed   *harvest.Summed
}

// What takes much memory is kept of fewer: fits with their mixtures, draws of gains, and the analyses of trials, of
// small ones so many that those of a few dozen stations are all there.
const (
	mostFits   = 16
	mostTrials = 8
	mostPlots  = 16_384 // of trials beyond these
	perPlot    = 10     // readings take as much as a unit and its season
)

// Trial is compare.Trial, kept by all that it rests on.
func (m *Memo) Trial(t trial.Trial, set practice.Set) (*compare.Analysis, *harvest.Summed, error) {
	plots := 1 + len(t.Sums) + t.Count()/perPlot
	for _, r := range t.Records {
		plots += len(r.Plots)
	}
	most := max(mostTrials, mostPlots/plots)
	c, err := m.compared.of(most, keyOf(inputsOf(t, set)), func() (c compared, err error) {
		c.analysis, c.summed, err = compare.Trial(t, set)
		return c, err
	})
	return c.analysis, c.summed, err
}

// pooling is pool.Fit, or of a question asked beside pool.Result.Again.
type pooling func(effect.Effects, practice.Set, pool.Options) (*pool.Result, error)

// pool pools effects.
func (in Input) pool(e effect.Effects, by pooling) (pooled, error) {
	result, err := by(e, in.Practices, in.Pool)
	if err != nil {
		return pooled{}, err
	}
	p := pooled{pool: result, plans: plan.Over(result)}
	p.money = sync.OnceValues(func() (*pool.Result, error) {
		if in.Pool.Inference == pool.Mixture {
			return result, nil
		}
		o := in.Pool
		o.Inference = pool.Mixture
		return by(e, in.Practices, o)
	})
	return p, nil
}

// fitted is what the studies and trials of an input say.
func (in Input) fitted(trials []told, together func(effect.Effects) (pooled, error)) (fitted, error) {
	ofStudies := in.Evidence
	ofStudies.Exclude = slices.DeleteFunc(slices.Clone(in.Evidence.Exclude), func(name string) bool {
		return slices.ContainsFunc(in.Trials, func(t trial.Trial) bool { return t.Name == name })
	})
	settings := evidence.Settings(in.Studies)
	for _, t := range trials {
		settings = append(settings, t.Setting)
	}
	effects, err := effect.Of(in.Studies, in.Practices, ofStudies, settings[len(in.Studies):]...)
	if err != nil {
		return fitted{}, err
	}
	carried := evidence.Caveats(settings)
	for i, t := range in.Trials {
		live, err := trials[i].StudyEffects, trials[i].why
		if live.Caveats = carried[len(in.Studies)+i]; err == nil {
			err = effects.Add(live, in.Evidence)
		}
		// a trial in the making does not stop what the others say
		if faults := (note.Faults{}); errors.As(err, &faults) {
			effects.Out = append(effects.Out, effect.Out{Study: t.Name, Why: faults[0]})
			effects.Notes.Add("the trial %s is not in the pool", t.Name)
			effects.Notes = append(effects.Notes, faults...)
		}
	}
	p, err := together(effects)
	if err != nil {
		return fitted{}, err
	}
	f := fitted{pooled: p, effects: effects, caveats: map[string][]evidence.Caveat{}}
	for i, s := range in.Studies {
		f.caveats[s.Name] = carried[i]
	}
	for _, s := range effects.Studies {
		if s.Live {
			f.caveats[s.Study] = s.Caveats
		}
	}
	return f, nil
}

// priced is the part of the chain that hangs on prices and place. Money is drawn anew, or, beside another answer, moved
// as the best guesses are; what may come first with so many studies is then as it was beside, since without one of two
// studies nothing could, and a check would name today's practice whatever the other says.
func priced(in Input, fit fitted, money *pool.Result, d *draws, beside *Advice) (*Advice, error) {
	a := &Advice{Input: in, Effects: fit.effects, Caveats: fit.caveats, Pool: fit.pool, Money: money,
		Recommended: -1, narrow: fit.narrow, pooled: fit.pooled.rests, draws: d}
	r := newRanker(in, money, d)
	if beside != nil {
		a.standing, r.standing = beside.Pool.Gains, beside.Money.Gains
	}
	var list []candidate
	if in.Prices != nil {
		r.refer(a)
		list = r.candidates()
		if beside != nil {
			r.bends = map[practice.Choice]float64{}
			for _, o := range beside.Ranking {
				r.bends[o.Choice()] = o.Unsanitized.Average() - o.Unsanitized.Net
			}
		} else if err := r.draw(a, list); err != nil {
			return nil, err
		}
	}
	if a.Rotation = r.rotation(); in.Prices != nil {
		r.rank(a, list)
	}
	all := append(fit.notes, in.Invented()...)
	all = append(all, in.Notes...)
	all = append(all, fit.effects.Notes...)
	all = append(all, fit.pool.Notes...)
	if in.Prices != nil {
		all = append(all, in.Prices.Notes()...)
	}
	all = append(all, a.Rotation.Notes...)
	all = append(all, r.notes...)
	said := map[string]bool{}
	for _, n := range all {
		if text := n.English(); !said[text] {
			said[text] = true
			a.Notes = append(a.Notes, n)
		}
	}
	return a, nil
}

// Thorough is the advice with what each study, site and caveat does to it, and with direct beside indirect evidence. It
// takes a fit for each, so only those ask who show it.
func (m *Memo) Thorough(a *Advice) (*Advice, error) {
	t, err := m.thorough.of(a.Input.room(kept), a.rests, func() (*Advice, error) {
		t := *m.Sure(a)
		t.Influence = m.influences(a)
		t.WithoutStudy, t.WithoutSite = t.without(trust.Study), t.without(trust.Site)
		if l, ok := a.Pool.Linear(); ok {
			t.Splits = trust.Splits(l)
		}
		for _, c := range a.admittedCaveats() {
			t.CaveatEffects = append(t.CaveatEffects, m.withoutCaveat(a, c))
		}
		return &t, nil
	})
	if err != nil {
		return nil, err
	}
	return t.to(a.Input), nil
}

// without is the gains with each thing of a kind left out.
func (a *Advice) without(k trust.Kind) (list []pool.Without) {
	for _, x := range a.leftOut(k) {
		w := pool.Without{What: x.What}
		if x.Answer != nil {
			w.Studies, w.Gains = x.Left, x.Gains
		}
		list = append(list, w)
	}
	return list
}

// admittedCaveats lists the caveats that some admitted study carries, sorted.
func (a *Advice) admittedCaveats() []evidence.Caveat {
	var list []evidence.Caveat
	for _, s := range a.Effects.Studies {
		for _, c := range s.Caveats {
			if !slices.Contains(list, c) {
				list = append(list, c)
			}
		}
	}
	slices.Sort(list)
	return list
}

// withoutCaveat is the whole answer again, with the studies that carry a caveat left out. Where nothing can be said
// without them the gains are empty.
func (m *Memo) withoutCaveat(a *Advice, c evidence.Caveat) CaveatEffect {
	e := CaveatEffect{Caveat: c, Without: pool.Without{What: string(c)}}
	for _, s := range a.Effects.Studies {
		if slices.Contains(s.Caveats, c) {
			e.Studies = append(e.Studies, s.Study)
		}
	}
	in := a.Input
	in.Evidence.Without = append(slices.Clone(in.Evidence.Without), c)
	other, err := m.moved(a, in)
	if err != nil {
		return e
	}
	e.Without.Studies, e.Without.Gains = other.Pool.Studies, other.Pool.Gains
	if best, ok := other.Best(); ok {
		e.Best = best.ID()
	}
	return e
}

// Find is the option of a choice; false where it is not ranked.
func (a *Advice) Find(c practice.Choice) (Option, bool) {
	for _, o := range a.Ranking {
		if o.Choice() == c {
			return o, true
		}
	}
	return Option{}, false
}

// Best is the option recommended; false where there is none.
func (a *Advice) Best() (Option, bool) {
	if a.Recommended < 0 {
		return Option{}, false
	}
	return a.Ranking[a.Recommended], true
}
