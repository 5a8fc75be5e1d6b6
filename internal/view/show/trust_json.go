package show

import (
	"spile/internal/engine/trust"
	"spile/internal/trade/practice"
)

// StepJSON is one step from the plain mean to the pooled gain.
type StepJSON struct {
	Step    string `json:"step"`
	Log     Number `json:"log_ratio"` // after it
	Change  Number `json:"change"`    // of that, by it; 0 in the first
	GainPct Number `json:"gain_pct"`
}

// MoverJSON is a study that moves a gain.
type MoverJSON struct {
	Study      string `json:"study"`
	WithoutPct Number `json:"without_pct"` // the gain without it
}

func (w *View) partsJSON(k practice.Key) (list []StepJSON) {
	x, _ := w.why(k)
	for _, p := range x.Parts {
		list = append(list, StepJSON{p.Key, Number(p.Log), Number(p.Change), Number(pct(p.Log))})
	}
	return list
}

func (w *View) moversJSON(k practice.Key) (list []MoverJSON) {
	x, _ := w.why(k)
	for _, m := range x.Movers {
		list = append(list, MoverJSON{m.Study, Number(pct(m.Without))})
	}
	return list
}

// TrustJSON is what `trust --json` prints. What cannot be asked of the studies is null or empty.
type TrustJSON struct {
	First     string          `json:"first"` // what the checks are held against: "check-valve"
	Agree     int             `json:"agree"` // checks that name it in every answer
	Of        int             `json:"of"`
	Checks    []CheckJSON     `json:"checks"`
	Influence []LeftOutJSON   `json:"influence"`
	Small     *SmallJSON      `json:"small_studies"`
	Selected  []SelectedJSON  `json:"selections"`
	Foretold  []ForetoldJSON  `json:"foretold"`
	Held      []HeldJSON      `json:"held"` // by season, from those before it
	Designs   *DesignsJSON    `json:"designs"`
	Robust    []RobustJSON    `json:"by_site"`
	Criteria  []CriterionJSON `json:"criteria"`
	Warnings  []string        `json:"warnings"`
}

// CheckJSON is one check: of so many answers those that put the same first, with the lowest and highest gain of it.
type CheckJSON struct {
	Check   string  `json:"check"`
	Agree   int     `json:"agree"`
	Of      int     `json:"of"`
	LowPct  *Number `json:"low_pct"` // of one answer its interval
	HighPct *Number `json:"high_pct"`
	Applies bool    `json:"applies"` // false: it can move nothing, and is not counted
}

// LeftOutJSON is the answer without a study, site or season; null where nothing can be said then.
type LeftOutJSON struct {
	Kind     trust.Kind `json:"kind"`
	What     string     `json:"what"`
	Studies  *int       `json:"studies_left"`
	First    *string    `json:"first"`
	GainPct  *Number    `json:"gain_pct"`
	SDStudy  *Number    `json:"sd_study"` // on the log scale
	SDSite   *Number    `json:"sd_site"`
	SDSeason *Number    `json:"sd_season"`
}

// SmallJSON is the test whether small studies find larger gains.
type SmallJSON struct {
	Slope Number `json:"slope"`
	Low   Number `json:"low"`
	High  Number `json:"high"`
	P     Number `json:"p"`
	Power Number `json:"power"` // to find an overstatement of bias_pct
	Bias  Number `json:"bias_pct"`
}

// SelectedJSON is a practice's gain under a selection of what was published.
type SelectedJSON struct {
	Selection string       `json:"selection"`
	Practice  practice.Key `json:"practice"`
	DropAge   int          `json:"drop_age"`
	PlainPct  Number       `json:"plain_pct"` // the same model without it
	GainPct   Number       `json:"gain_pct"`
}

// ForetoldJSON is a comparison beside what the other studies say of it, and those before it; null where they do not.
type ForetoldJSON struct {
	Study         string       `json:"study"`
	Season        int          `json:"season"`
	Practice      practice.Key `json:"practice"`
	Against       practice.Key `json:"against"`
	GainPct       Number       `json:"gain_pct"`
	LowPct        *Number      `json:"low_pct"`
	HighPct       *Number      `json:"high_pct"`
	Residual      *Number      `json:"residual"`
	BeforeLowPct  *Number      `json:"before_low_pct"`
	BeforeHighPct *Number      `json:"before_high_pct"`
}

// HeldJSON counts the comparisons of a season that were foretold.
type HeldJSON struct {
	Season int `json:"season"`
	Told   int `json:"told"`
	Inside int `json:"inside"`
}

// DesignsJSON is the test whether studies of other sets of practices agree.
type DesignsJSON struct {
	Designs  int    `json:"designs"`
	DF       int    `json:"df"`
	F        Number `json:"f"`
	Residual Number `json:"residual_df"`
	P        Number `json:"p"`
}

// RobustJSON is a gain with errors by site.
type RobustJSON struct {
	Practice practice.Key `json:"practice"`
	SELog    Number       `json:"se_log"`
	DF       Number       `json:"df"`
	LowPct   Number       `json:"low_pct"`
	HighPct  Number       `json:"high_pct"`
}

// CriterionJSON is one of the eight.
type CriterionJSON struct {
	Criterion string `json:"criterion"`
	Met       bool   `json:"met"`
	Why       string `json:"why"`
}

// TrustJSON gives the checks.
func (w *View) TrustJSON() TrustJSON {
	x := w.A.Trust
	j := TrustJSON{First: w.A.First(), Checks: []CheckJSON{}, Influence: []LeftOutJSON{}, Selected: []SelectedJSON{},
		Foretold: []ForetoldJSON{}, Held: []HeldJSON{}, Robust: []RobustJSON{}, Criteria: []CriterionJSON{},
		Warnings: w.Warnings()}
	some := func(x float64) *Number { return new(Number(x)) }
	s := w.subject()
	for _, c := range x.Checks {
		agree, of := w.agrees(c)
		gain := w.under(c, s)
		j.Checks = append(j.Checks, CheckJSON{c.Key, agree, of, number(gain.Low), number(gain.High), c.Asked != nil})
		if of > 0 {
			j.Of++
		}
		if of > 0 && agree == of {
			j.Agree++
		}
	}
	for _, i := range w.A.Influence {
		l := LeftOutJSON{Kind: i.Kind, What: i.Named()}
		if i.Answer != nil {
			l.Studies, l.First = &i.Left, &i.First
			l.SDStudy, l.SDSite, l.SDSeason = some(i.SDs[0]), some(i.SDs[1]), some(i.SDs[2])
		}
		if g, ok := without(i, s); ok {
			l.GainPct = some(g.Pct)
		}
		j.Influence = append(j.Influence, l)
	}
	if e := x.Small; e != nil {
		j.Small = &SmallJSON{Number(e.Slope), Number(e.Low), Number(e.High), Number(e.P), Number(e.Power),
			Number(e.BiasPct)}
	}
	for _, l := range x.Selections {
		for _, g := range l.Gains {
			j.Selected = append(j.Selected, SelectedJSON{l.Name, g.Treatment.Practice, g.Treatment.DropAge,
				Number(pct(g.Plain)), Number(pct(g.Log))})
		}
	}
	for i, f := range x.Others {
		o := ForetoldJSON{Study: f.Study, Season: f.Season, Practice: f.Arm.Practice, Against: f.Ref.Practice,
			GainPct: Number(pct(f.Y))}
		if f.Told {
			o.LowPct, o.HighPct, o.Residual = some(pct(f.Low)), some(pct(f.High)), some(f.Studentized)
		}
		if b := x.Before[i]; b.Told {
			o.BeforeLowPct, o.BeforeHighPct = some(pct(b.Low)), some(pct(b.High))
		}
		j.Foretold = append(j.Foretold, o)
	}
	for _, y := range trust.ByYear(x.Before) {
		j.Held = append(j.Held, HeldJSON(y))
	}
	if d := x.Designs; d != nil {
		j.Designs = &DesignsJSON{d.Designs, d.DF, Number(d.F), Number(d.Residual), Number(d.P)}
	}
	for _, r := range x.Robust {
		j.Robust = append(j.Robust, RobustJSON{r.Treatment.Practice, Number(r.SE), Number(r.DF), Number(pct(r.Low)),
			Number(pct(r.High))})
	}
	for _, c := range x.Criteria {
		j.Criteria = append(j.Criteria, CriterionJSON{c.Key, c.Met, w.V.Note(c.Why)})
	}
	return j
}
