package evidence

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/doubt"
)

// What is usual of a study beyond single numbers: common practice, no source.
var (
	UsualYield = column.Range{Low: 0.5, High: 400} // litres a tap and season: the poorest, and far above the best
	usualGain  = column.Range{Low: -50, High: 200} // percent, of two means
)

const (
	leastCV   = 0.005 // of units within an arm; those of trials differ by a twentieth and more
	mostUnits = 200   // of an arm that does not say
)

const longSeason = 150 * 24 * time.Hour

// Doubts asks about what is possible and unusual: numbers beyond what their columns say is usual, one question a study
// and column, and what does not go together. latest is the last season that there may be a study of; 0 is not known.
func (s Study) Doubts(latest int) doubt.Questions {
	a := asker{study: s}
	if s.Season < doubt.FirstYear || latest > 0 && s.Season > latest {
		a.ask(note.New("the study %s is of the season %s; is that meant?", note.Quote(s.Name), strconv.Itoa(s.Season)),
			s.Where, "season", strconv.Itoa(s.Season))
	}
	for _, c := range Columns {
		if c.Usual != (column.Range{}) && c.Twin == "" {
			a.beyond(c)
		}
	}
	for i := range s.Arms {
		a.arm(&s.Arms[i])
	}
	a.fractions()
	return a.questions
}

// asker gathers the questions of a study.
type asker struct {
	study     Study
	questions doubt.Questions
}

func (a *asker) ask(n note.Note, at note.Where, column string, thing ...string) {
	if at.Column = column; at.Row == 0 {
		at = a.study.Where
		at.Column = column
	}
	a.questions = append(a.questions, doubt.About(n.At(at), append([]string{"study", a.study.Name, column},
		thing...)...))
}

// beyond asks about the numbers of a column that lie beyond what is usual; 0 says that there is none, such as vacuum.
func (a *asker) beyond(c Column) {
	far, rows, worst := 0., 0, 0.
	var at note.Where
	for i := range a.study.Arms {
		arm := &a.study.Arms[i]
		var x float64
		switch v := c.Get(Row{Study: &a.study, Arm: arm}).(type) {
		case float64:
			x = v
		case int:
			x = float64(v)
		default:
			continue
		}
		if b := c.Usual.Beyond(x); b > 0 && x != 0 {
			if rows++; b > far {
				far, worst, at = b, x, arm.Where
			}
		}
	}
	if rows > 0 {
		a.ask(note.New("in the study %s, %s: beyond the usual %v to %v, such as %v (rows: %d); is that meant?",
			note.Quote(a.study.Name), note.Term(c.Label), c.Usual.Low, c.Usual.High, worst, rows), at, c.Name,
			fmt.Sprint(rows, worst))
	}
}

// arm asks about what does not go together in an arm, or beside its reference.
func (a *asker) arm(x *Arm) {
	said := note.Term(x.Practice)
	if x.Mean != nil {
		litres := *x.Mean
		if x.MeanUnit != "" {
			litres = float64(x.MeanUnit.Of(*x.Mean))
		}
		if UsualYield.Beyond(litres) > 0 {
			a.ask(note.New("in the study %s %s gave %v %s a tap, which no tap is known to: are the mean and its unit "+
				"so?", note.Quote(a.study.Name), said, *x.Mean, string(x.MeanUnit)), x.Where, "mean",
				string(x.Practice), fmt.Sprint(*x.Mean, x.MeanUnit))
		} else if name, e, sd := x.error(); e > 0 && sd < leastCV**x.Mean {
			a.ask(note.New("in the study %s the %s of %s, %v, has units differ by less than 0.5 %% of their "+
				"mean, %v: is that meant?", note.Quote(a.study.Name), name, said, e, *x.Mean), x.Where, name,
				"little", string(x.Practice), fmt.Sprint(e, *x.Mean))
		}
		if x.SD != nil && *x.SD > *x.Mean {
			a.ask(note.New("in the study %s the sd of %s, %v, is larger than its mean, %v: are the two not the other "+
				"way round?", note.Quote(a.study.Name), said, *x.SD, *x.Mean), x.Where, "sd", string(x.Practice),
				fmt.Sprint(*x.SD, *x.Mean))
		}
		if r := a.study.Reference(); r >= 0 && a.study.Arms[r].Mean != nil {
			if g := 100 * (*x.Mean / *a.study.Arms[r].Mean - 1); usualGain.Beyond(g) > 0 {
				a.ask(note.New("in the study %s %s gave %v and its reference %v: are both in one unit?",
					note.Quote(a.study.Name), said, *x.Mean, *a.study.Arms[r].Mean), x.Where, "mean", "beside",
					string(x.Practice), fmt.Sprint(*x.Mean, *a.study.Arms[r].Mean))
			}
		}
	}
	if name, e := x.Gain.error(); e > 0 && e < 100*leastCV*math.Sqrt(2./mostUnits)*(1+x.Gain.Pct/100) {
		a.ask(note.New("in the study %s the error of the gain of %s, %v %%, is smaller than any that units leave: is "+
			"that meant?", note.Quote(a.study.Name), said, e), x.Where, name, "little", string(x.Practice),
			fmt.Sprint(e))
	}
	for _, d := range []struct {
		column string
		day    time.Time
	}{{"tapped", x.Tapped.Time}, {"last_run", x.LastRun.Time}} {
		if m := d.day.Month(); !d.day.IsZero() && m > time.May && m < time.October {
			a.ask(note.New("%s is of no month from October to May; is that meant?", d.day.Format(time.DateOnly)),
				x.Where, d.column, string(x.Practice), d.day.Format(time.DateOnly))
		}
	}
	if d := x.LastRun.Sub(x.Tapped.Time); !x.Tapped.IsZero() && !x.LastRun.IsZero() && d > longSeason {
		a.ask(note.New("from tapping to the last run it is %d days; is that meant?", int(d.Hours()/24)), x.Where,
			"last_run", "long", string(x.Practice), fmt.Sprint(d))
	}
}

// error is the standard error that a gain states, in percent, and its column.
func (g *Reported) error() (column string, stated float64) {
	switch {
	case g == nil:
		return "", 0
	case g.SEPct != nil:
		return "gain_se_pct", *g.SEPct
	case g.LowPct != nil && g.HighPct != nil:
		return "gain_low_pct", (*g.HighPct - *g.LowPct) / 3.92
	}
	return "", 0
}

// error is the error that an arm states, its column, and the SD between units that it stands for; nothing of up to
// three units, which may well be alike by chance.
func (x *Arm) error() (column string, stated, sd float64) {
	n := float64(mostUnits)
	if x.N != nil {
		n = *x.N
	}
	switch {
	case n <= 3:
		return "", 0, 0
	case x.SD != nil:
		return "sd", *x.SD, *x.SD
	case x.SE != nil:
		return "se", *x.SE, *x.SE * math.Sqrt(n)
	}
	return "", 0, 0
}

// fractions asks whether gains that all lie below one percent are fractions.
func (a *asker) fractions() {
	var first *Arm
	for i := range a.study.Arms {
		arm := &a.study.Arms[i]
		switch g := arm.Gain; {
		case g == nil || g.Pct == 0:
		case math.Abs(g.Pct) >= 1:
			return
		case first == nil:
			first = arm
		}
	}
	if first != nil {
		a.ask(note.New("the gains of %s are percents, and all lie below 1 %%, such as %v: is %v %% not meant?",
			note.Quote(a.study.Name), first.Gain.Pct, 100*first.Gain.Pct), first.Where, "gain_pct", "fraction",
			fmt.Sprint(first.Gain.Pct))
	}
}
