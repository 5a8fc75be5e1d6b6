package advice

import (
	"slices"
	"strings"

	"spile/internal/engine/sure"
	"spile/internal/engine/worth"
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// TrialOptions describe the trials that could be run next and who uses their answer.
type TrialOptions struct {
	worth.Use
	Cost   worth.Cost
	Design TrialDesign
}

// TrialDesign is what a trial tells by, besides its practices.
type TrialDesign struct {
	Units, Taps int    // of each treatment in a block, and of a unit
	Seasons     int    // 0: as many as pay best
	Site        string // one that has studies; "": new ones
	Sites       int    // how many new ones; 0: as many as pay best
	CV          float64
	Blocks      []int // sizes tried, and larger ones as long as they pay
	Points      int   // quasi-random points for each; 0: as many as worth takes
}

// TrialDefaults are to be set by whoever knows better: none of them but the discount rate, which is that of the prices,
// has a source. The CV is as chambers vary.
func (a *Advice) TrialDefaults() TrialOptions {
	o := TrialOptions{
		Use:  worth.Use{Taps: 100_000, Adoption: 0.2, Seasons: 10},
		Cost: worth.Cost{Fixed: 3000, Season: 2000, Unit: 60},
		Design: TrialDesign{Units: 1, Taps: 10, CV: 0.15,
			Blocks: []int{2, 3, 4, 6, 8, 12, 16, 24, 32, 48}},
	}
	if p := a.Input.Prices; p != nil {
		o.Discount = p.Discount.Best
	}
	return o
}

// Faults are all faults of what is asked of trials, of which the sites named have studies.
func (o TrialOptions) Faults(sites []string) note.Faults {
	d := o.Design
	t := d.trial()
	t.Treatments, t.Blocks = []practice.Treatment{{}, {DropAge: 1}}, 1
	if t.Cost = o.Cost; t.Seasons == 0 {
		t.Seasons = 1
	}
	f := append(o.Use.Faults(), t.Faults()...)
	if d.Site != "" && !slices.Contains(sites, d.Site) {
		f.Add("no study was made at %s; allowed: %s", d.Site, strings.Join(sites, ", "))
	}
	return f
}

// trial is what all trials of this design have in common.
func (d TrialDesign) trial() worth.Trial {
	return worth.Trial{Units: d.Units, Taps: d.Taps, Seasons: d.Seasons, Site: d.Site, Sites: d.Sites, CV: d.CV}
}

// Next is which trial is worth running next.
type Next struct {
	Options TrialOptions
	Ranked  []worth.Worth // the best sets of treatments, each at its best size, highest net first
	Sizes   []worth.Worth // of the first, by its blocks
	Perfect float64       // what knowing every gain would be worth, money a tap and season
	Error   float64       // its simulation error
	// The option that nets most and is not recommended before a second study; nil where there is none.
	Promising *Option
}

// finding is the decision that trials are to help with; it keeps what each is expected to find out, a tap and season,
// whoever uses the answer.
type finding struct {
	question   *worth.Question
	treatments []practice.Treatment
	promising  *Option
}

// Next ranks the trials that could be run next: sets of unsanitized, of every practice that may be chosen, and of the
// ages of drops not yet studied, each at the number of sites, seasons and blocks that pays best; also what no trial can
// be worth more than; nil where there is nothing to compare. The error is note.Faults.
func (a *Advice) Next(o TrialOptions) (*Next, error) {
	if f := o.Faults(a.Input.Sites()); len(f) > 0 {
		return nil, f
	}
	t, err := a.finding(o.Design.Points)
	if err != nil {
		return nil, err
	}
	return t.next(o)
}

// next searches the trials for who uses their answer, at their costs; nil where nothing that may be chosen here could
// be compared with anything.
func (t *finding) next(o TrialOptions) (*Next, error) {
	q, err := t.question.For(o.Use)
	if err != nil {
		return nil, err
	}
	if len(t.treatments) < 2 {
		return nil, nil
	}
	space := worth.Space{Treatments: t.treatments, Trial: o.Design.trial(), Blocks: o.Design.Blocks}
	space.Trial.Cost = o.Cost
	n := &Next{Options: o, Promising: t.promising}
	n.Perfect, n.Error = q.Perfect()
	if n.Ranked, err = q.Search(space); err != nil {
		return nil, err
	}
	n.Sizes, err = q.Sizes(n.Ranked[0].Trial, space)
	return n, err
}

func (a *Advice) finding(points int) (*finding, error) {
	m, _, err := SureModel(a, DrawOptions{})
	if err != nil {
		return nil, err
	}
	average := make([]float64, len(m.Options))
	for k, x := range m.Options {
		if o, ok := a.Find(x.Choice); ok {
			average[k] = o.Unsanitized.Average()
		}
	}
	q, err := worth.Of(m, worth.Use{Taps: 1, Adoption: 1, Seasons: 1}, points, average)
	if err != nil {
		return nil, err
	}
	t := &finding{question: q}
	if k := q.Promising(); k >= 0 {
		i := slices.IndexFunc(a.Ranking, func(x Option) bool { return x.ID() == m.Options[k].ID })
		t.promising = &a.Ranking[i]
	}
	for _, x := range m.Gains.Treatments {
		open := slices.ContainsFunc(m.Options,
			func(o sure.Option) bool { return o.Open && o.Choice.Practice == x.Practice })
		unstudied := x.DropAge >= a.Money.Ageing.Oldest && x.DropAge <= a.Pool.Ageing.Oldest+1
		if x.Practice == practice.Unsanitized || open && (x.DropAge == 0 || unstudied) && a.Money.Holds(x) {
			t.treatments = append(t.treatments, x)
		}
	}
	return t, nil
}
