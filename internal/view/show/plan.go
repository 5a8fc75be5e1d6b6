package show

import (
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/plan"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
	"spile/internal/view/say"
)

// PlanView is one sugarbush's plan in one voice.
type PlanView struct {
	P   *plan.Plan
	V   *say.Voice
	Set practice.Set
}

func (w PlanView) currency() string { return w.P.Sugarbush.Prices.Currency }

func (w PlanView) practice(k practice.Key) string {
	if p, ok := w.Set.Find(k); ok {
		return w.V.Term(note.Term(p.Name))
	}
	return string(k)
}

// Answer is the plan in sentences.
func (w PlanView) Answer() []string {
	v, p, money := w.V, w.P, w.currency()
	if len(p.Sections) == 0 {
		return []string{v.Text("Nothing is planned: no evidence here for any section.")}
	}
	out := []string{v.Text("Over %d seasons the plan nets %s more than unsanitized, discounted (95 %% interval %s).",
		len(p.Seasons), v.Sum(p.Profit.Best, money), v.SumRange(p.Profit.Low, p.Profit.High, money))}
	if o := p.OverLast; o != nil {
		text := v.Text("It nets %s more than going on as last season (95 %% interval %s).", v.Sum(o.Best, money),
			v.SumRange(o.Low, o.High, money))
		if p.Chances {
			text += " " + v.Text("The chance that it nets less is %s.", w.chance(o.Loss))
		}
		out = append(out, text)
	}
	if less := p.Uncapped - p.Profit.Best; less > 0.0005*p.Uncapped {
		out = append(out, v.Text("The limits on hours and cash cost %s.", v.Sum(less, money)))
	}
	if p.Gap <= 1e-6*p.Profit.Best {
		return append(out, v.Text("No plan within the limits nets more: that is proved."))
	}
	return append(out, v.Text("No plan within the limits nets more than %s above this one: that is proved.",
		v.Sum(p.Gap, money)))
}

// chance words a chance; those of a thousand draws are not told closer than a percent.
func (w PlanView) chance(x float64) string {
	if x < 0.01 {
		return w.V.Text("under 1 %%")
	}
	return w.V.Text("%s %%", w.V.Decimal(100*x, 0))
}

// Schedule is each section's seasons on one row, with what they bring.
func (w PlanView) Schedule() Table {
	v := w.V
	t := Table{ID: "plan-schedule", Title: v.Text("What each section does, and what it brings"), Columns: []Column{
		wordy("section", v.Text("section")), numeric("taps", v.Text("taps"), ""),
		wordy("steps", v.Text("season by season")),
		interval("profit", v.Text("net in all seasons"), ""),
	}}
	if w.P.Chances {
		t.Columns = append(t.Columns, numeric("loss", v.Text("chance of a loss"), ""))
	}
	for _, s := range w.P.Sections {
		var parts []string
		for i := 0; i < len(s.Steps); {
			x, last := s.Steps[i], i+1
			for last < len(s.Steps) && s.Steps[last].Practice == x.Practice {
				last++
			}
			season := v.Year(x.Season)
			if last > i+1 {
				season = v.Text("%s to %s", season, v.Year(s.Steps[last-1].Season))
			}
			parts = append(parts, v.Text("%s: %s", season, w.practice(x.Practice)))
			i = last
		}
		money := w.currency()
		row := []Cell{words(s.Section.Name), count(v, s.Section.Taps), words(strings.Join(parts, "; ")),
			within(v.Sum(s.Profit.Best, money)+" ("+unbroken(v.SumRange(s.Profit.Low, s.Profit.High, money))+")",
				s.Profit.Best, s.Profit.Low, s.Profit.High)}
		if w.P.Chances {
			row = append(row, num(w.chance(s.Profit.Loss), 100*s.Profit.Loss))
		}
		t.row(s.Section.Name, row...)
	}
	for _, u := range w.P.Unplanned {
		row := []Cell{words(u.Section.Name), count(v, u.Section.Taps), words(strings.Join(v.Notes(u.Reasons), "; ")),
			words(v.None())}
		if w.P.Chances {
			row = append(row, words(v.None()))
		}
		t.row(u.Section.Name, row...).Dim = true
	}
	t.Notes = []Footnote{{Text: v.Text("Against unsanitized, discounted; in brackets the 95 %% interval of the net.")}}
	return t
}

// Steps is what each section does each season.
func (w PlanView) Steps() Table {
	v := w.V
	t := Table{ID: "plan", Title: v.Text("The plan, section by section"), Columns: []Column{
		wordy("section", v.Text("section")), wordy("season", v.Text("season")),
		wordy("practice", v.Text("practice")),
		interval("gain_pct", v.Text("gain"), "%"),
		numeric("net", v.Text("net"), w.currency()), numeric("hours", v.Text("hours"), ""),
		numeric("cash", v.Text("cash"), w.currency()),
	}}
	for _, s := range w.P.Sections {
		for i := 0; i < len(s.Steps); {
			x, last := s.Steps[i], i+1
			for last < len(s.Steps) && s.Steps[last].Practice == x.Practice && s.Steps[last].Treatment == x.Treatment &&
				!x.Renew {
				last++ // the same again: one row
			}
			season := v.Year(x.Season)
			if last > i+1 {
				season = v.Text("%s to %s", season, v.Year(s.Steps[last-1].Season))
			}
			name := w.practice(x.Practice)
			if x.DropAge > 0 {
				name = v.Text("%s, drops in season %d", name, x.DropAge+1)
			}
			t.row(s.Section.Name+"/"+strconv.Itoa(x.Season), words(s.Section.Name), words(season), words(name),
				decimals(v, x.GainPct, x.SeasonLow, x.SeasonHigh, 0), decimal(v, x.Net, 0), decimal(v, x.Hours, 1),
				decimal(v, x.Cash, 0))
			i = last
		}
	}
	t.note(v.Text("Gains are over unsanitized, with the range of one season. Net, hours and cash are of " +
		"one season and the whole section."))
	for _, u := range w.P.Unplanned {
		for _, n := range u.Reasons {
			t.note(v.Text("%s goes on as last season: %s", u.Section.Name, v.Note(n)))
		}
	}
	return t
}

// Buy is the buying list and the work, by season.
func (w PlanView) Buy() Table {
	v := w.V
	t := Table{ID: "plan-buy", Title: v.Text("What it needs, by season"), Columns: []Column{
		wordy("season", v.Text("season")), wordy("buy", v.Text("to buy")),
		numeric("tubing", v.Text("drop tubing"), w.lengthUnit()),
		numeric("hours", v.Text("hours"), ""),
		numeric("cash", v.Text("cash"), w.currency()), numeric("plastic", v.Text("plastic"), "kg"),
	}}
	for _, s := range w.P.Seasons {
		var list []string
		for _, b := range s.Buy {
			if b.Count > 0 {
				list = append(list, v.Text("%s × %s", v.Decimal(b.Count, 0), v.Term(note.Term(b.Material))))
			}
		}
		for _, d := range s.Doses {
			list = append(list, v.Text("%s of %s", v.Volume(unit.Volume(d.Litres)), v.Term(note.Term(d.Chemical))))
		}
		hours := 0.0
		for _, win := range price.Windows {
			hours += s.Hours[win]
		}
		t.row(strconv.Itoa(s.Season), words(v.Year(s.Season)), words(v.List(list)), decimal(v, w.length(s.Tubing), 0),
			decimal(v, hours, 0), decimal(v, s.Cash, 0), decimal(v, s.PlasticKg, 0))
	}
	t.Notes = []Footnote{{Text: v.Text("Pieces include a spare allowance of %s. What lasts stands in the season in "+
		"which it is bought. Hours are over and above tapping and pulling.", v.Percent(100*w.P.Sugarbush.Spare))}}
	return t
}

// Hours is the work of each season by the window in which a crew does it, with what the crew has.
func (w PlanView) Hours() Table {
	v, b := w.V, &w.P.Sugarbush
	t := Table{ID: "plan-hours", Title: v.Text("Hours by season and crew"),
		Columns: []Column{wordy("season", v.Text("season"))}}
	have := Row{ID: "have", Dim: true, Cells: []Cell{words(v.Text("you have"))}}
	for _, s := range w.P.Seasons {
		t.row(strconv.Itoa(s.Season), words(v.Year(s.Season)))
	}
	for _, win := range price.Windows {
		crew, limited := b.Crews[win]
		work := 0.0
		for _, s := range w.P.Seasons {
			work += s.Hours[win]
		}
		if work < 0.05 && !limited {
			continue
		}
		t.Columns = append(t.Columns, numeric(string(win), v.Term(note.Term(win)), ""))
		for i, s := range w.P.Seasons {
			t.Rows[i].Cells = append(t.Rows[i].Cells, hours(v, s.Hours[win]))
		}
		if !limited {
			have.Cells = append(have.Cells, words(v.Text("no limit")))
			continue
		}
		have.Cells = append(have.Cells, hours(v, crew.Hours()))
		t.note(v.Text("%s: %s × %s × %s (people × days × hours a day)",
			v.Term(note.Term(win)), v.Number(crew.People), v.Number(crew.Days), v.Number(crew.HoursADay)))
	}
	t.Rows = append([]Row{have}, t.Rows...)
	return t
}

func (w PlanView) lengthUnit() string {
	if !w.V.Units().Inches() {
		return w.V.Text("m")
	}
	return w.V.Text("ft")
}

func (w PlanView) length(l unit.Length) float64 {
	if !w.V.Units().Inches() {
		return l.In(unit.Metre)
	}
	return l.In(unit.Foot)
}

// Rules is the plan beside simple rules.
func (w PlanView) Rules() Table {
	v := w.V
	t := Table{ID: "plan-rules", Title: v.Text("The plan beside simple rules"), Columns: []Column{
		wordy("rule", v.Text("rule")), numeric("profit", v.Text("net over unsanitized"), w.currency()),
		numeric("short", v.Text("the plan nets more by"), w.currency()),
		wordy("fits", v.Text("within hours, cash and permission")),
	}}
	if slices.ContainsFunc(w.P.Rules, func(r plan.Rule) bool { return r.Partly }) {
		t.Notes = []Footnote{{Text: v.Text("A section that does not want a rule goes on as last season.")}}
	}
	for _, r := range w.P.Rules {
		fits := v.Text("yes")
		switch {
		case !r.Permitted:
			fits = v.Text("not permitted, or not wanted in a section")
		case !r.Fits:
			fits = v.Text("takes more than there is")
		}
		t.row(string(r.Practice), words(w.rule(r)), decimal(v, r.Profit, 0), decimal(v, r.Short, 0),
			words(fits)).Dim = !r.Fits || !r.Permitted
	}
	return t
}

// Worth is what a little more or less of what is short would bring or cost, and Leaks what an added inch of mercury
// would.
func (w PlanView) Worth() Table {
	v := w.V
	t := Table{ID: "plan-worth", Title: v.Text("What a little more or less would bring"),
		Lead: v.Text("Each is a plan made again with that much more or less in every season."),
		Columns: []Column{
			wordy("what", v.Text("step")), numeric("cap", v.Text("limit"), ""),
			numeric("one_more", v.Text("more brings"), w.currency()),
			numeric("one_less", v.Text("less costs"), w.currency()),
		}}
	for _, x := range w.P.Worth {
		t.row(string(x.Window), words(w.step(x)), decimal(v, x.Cap, 0), decimal(v, x.OneMore, 0),
			decimal(v, x.OneLess, 0))
	}
	var list []string
	total := 0.0
	for _, l := range w.P.Leaks {
		total += l.Money
		list = append(list, v.Text("%s: %s", l.Section, v.Sum(l.Money, w.currency())))
	}
	if list != nil {
		t.note(v.Text("Fix leaks first: each added inHg would bring about %s a season (5 %% more sap an "+
			"inHg: common practice, no source). %s.", v.Sum(total, w.currency()), strings.Join(list, "; ")))
	}
	return t
}

// step is how much more or less of a limit is tried.
func (w PlanView) step(x plan.Worth) string {
	if x.Window == "" {
		return w.V.Text("%s of cash", w.V.Sum(x.Step, w.currency()))
	}
	return w.V.Text("1 hour, %s", w.V.Term(note.Term(x.Window)))
}

// PlanJSON is what `plan --json` prints. The names and their order are a contract.
type PlanJSON struct {
	Name       string           `json:"name"`
	Profit     ProfitRangeJSON  `json:"profit"`
	OverLast   *ProfitRangeJSON `json:"over_last"`
	Uncapped   Number           `json:"uncapped"`
	Bound      Number           `json:"bound"`
	Gap        Number           `json:"gap"`
	Sections   []PlanSection    `json:"sections"`
	Unplanned  []PlanUnplanned  `json:"unplanned"`
	Seasons    []PlanSeason     `json:"seasons"`
	Worth      []PlanWorth      `json:"worth"`
	Lift       *PlanLift        `json:"lift"`
	Raised     []PlanRaised     `json:"raised"`
	Stops      []PlanStop       `json:"stops"`
	Plainer    Number           `json:"plainer"`
	Rules      []PlanRule       `json:"rules"`
	Leaks      []PlanLeak       `json:"leaks"`
	Currency   string           `json:"currency"`
	Discounted bool             `json:"discounted"`
	Cautions   []string         `json:"cautions"`
	Warnings   []string         `json:"warnings"`
}

// ProfitRangeJSON is discounted money over unsanitized; the chance of a loss is null where none is stated.
type ProfitRangeJSON struct {
	Best   Number  `json:"best"`
	Low    Number  `json:"low"`
	High   Number  `json:"high"`
	Chance *Number `json:"chance_of_loss"`
}

// PlanSection is one section.
type PlanSection struct {
	Section string          `json:"section"`
	Taps    int             `json:"taps"`
	Profit  ProfitRangeJSON `json:"profit"`
	Over    Number          `json:"over_last"`
	Steps   []PlanStep      `json:"steps"`
}

// PlanStep is one section's season.
type PlanStep struct {
	Season     int          `json:"season"`
	Practice   practice.Key `json:"practice"`
	Replaced   bool         `json:"drops_replaced"`
	GainPct    Number       `json:"gain_pct"`
	SeasonLow  Number       `json:"season_low_pct"`
	SeasonHigh Number       `json:"season_high_pct"`
	Net        Number       `json:"net"`
	Hours      Number       `json:"hours"`
	Cash       Number       `json:"cash"`
}

// PlanUnplanned is a section without evidence.
type PlanUnplanned struct {
	Section string     `json:"section"`
	Taps    int        `json:"taps"`
	Reasons []string   `json:"reasons"`
	Steps   []PlanStep `json:"steps"`
}

// PlanSeason is what a season takes.
type PlanSeason struct {
	Season  int                     `json:"season"`
	Buy     []PlanBuy               `json:"buy"`
	TubingM Number                  `json:"drop_tubing_m"`
	Hours   map[price.Window]Number `json:"hours"`
	Cash    Number                  `json:"cash"`
	Plastic Number                  `json:"plastic_kg"`
	Net     Number                  `json:"net"`
}

// PlanBuy is one line of the buying list.
type PlanBuy struct {
	Material string `json:"material"`
	Need     Number `json:"need"`
	Count    Number `json:"count"`
	Money    Number `json:"money"`
}

// PlanWorth is a limit, Window is "" for cash, and what a step more of it brings and a step less costs, discounted over
// all seasons. Mean and BySeason, which were a bound and not what planning again brings, are null.
type PlanWorth struct {
	Window   price.Window `json:"window"`
	Cap      Number       `json:"cap"`
	Mean     *Number      `json:"worth"`
	BySeason []*Number    `json:"by_season"`
	Step     Number       `json:"step"`
	OneMore  Number       `json:"one_more"`
	OneLess  Number       `json:"one_less"`
}

// PlanLift is what would be done without limits on hours and cash.
type PlanLift struct {
	Brings Number                  `json:"brings"`
	Hours  map[price.Window]Number `json:"hours_beyond"`
	Wages  Number                  `json:"wages_beyond"`
	Cash   Number                  `json:"cash_beyond"`
	First  []practice.Key          `json:"first_season"`
}

// PlanRaised is a limit raised to what last season took.
type PlanRaised struct {
	Window price.Window `json:"window"`
	Cap    Number       `json:"cap"`
	Took   Number       `json:"took"`
}

// PlanStop is a section that cannot go on as last season.
type PlanStop struct {
	Section  string       `json:"section"`
	Practice practice.Key `json:"practice"`
	Instead  practice.Key `json:"instead"`
	Held     bool         `json:"not_permitted"`
}

// PlanRule is a simple rule.
type PlanRule struct {
	Last      bool         `json:"as_last_season"`
	Practice  practice.Key `json:"practice"`
	Every     int          `json:"every"`
	Profit    Number       `json:"profit"`
	Fits      bool         `json:"fits"`
	Permitted bool         `json:"permitted"`
	Partly    bool         `json:"partly"`
	All       Number       `json:"profit_everywhere"`
}

// PlanLeak is what an added inHg would bring.
type PlanLeak struct {
	Section string `json:"section"`
	Money   Number `json:"money_per_inhg"`
	Inches  Number `json:"inhg_to_attainable"`
	All     Number `json:"money_to_attainable"`
}

// JSON gives the plan.
func (w PlanView) JSON() PlanJSON {
	p := w.P
	profit := func(x plan.Profit) ProfitRangeJSON {
		j := ProfitRangeJSON{Best: Number(x.Best), Low: Number(x.Low), High: Number(x.High)}
		if p.Chances {
			j.Chance = new(Number(x.Loss))
		}
		return j
	}
	texts := func(notes []note.Note) []string { return append([]string{}, w.V.Notes(notes)...) }
	j := PlanJSON{Name: p.Sugarbush.Name, Profit: profit(p.Profit), Uncapped: Number(p.Uncapped),
		Bound: Number(p.Bound), Gap: Number(p.Gap),
		Sections: []PlanSection{}, Unplanned: []PlanUnplanned{}, Seasons: []PlanSeason{}, Worth: []PlanWorth{},
		Raised: []PlanRaised{}, Stops: []PlanStop{}, Plainer: Number(p.Plainer),
		Rules: []PlanRule{}, Leaks: []PlanLeak{},
		Currency: w.currency(), Discounted: true, Cautions: texts(p.Cautions), Warnings: texts(p.Notes)}
	if p.OverLast != nil {
		j.OverLast = new(profit(*p.OverLast))
	}
	steps := func(list []plan.Step) []PlanStep {
		out := []PlanStep{}
		for _, y := range list {
			out = append(out, PlanStep{y.Season, y.Practice, y.Renew, Number(y.GainPct), Number(y.SeasonLow),
				Number(y.SeasonHigh), Number(y.Net), Number(y.Hours), Number(y.Cash)})
		}
		return out
	}
	for _, s := range p.Sections {
		j.Sections = append(j.Sections, PlanSection{s.Section.Name, s.Section.Taps, profit(s.Profit),
			Number(s.OverLast), steps(s.Steps)})
	}
	for _, u := range p.Unplanned {
		j.Unplanned = append(j.Unplanned, PlanUnplanned{u.Section.Name, u.Section.Taps, texts(u.Reasons),
			steps(u.Steps)})
	}
	if l := p.Lift; l != nil {
		j.Lift = &PlanLift{Number(l.Brings), map[price.Window]Number{}, Number(l.Wages), Number(l.Cash), nil}
		for w, h := range l.Hours {
			j.Lift.Hours[w] = Number(h)
		}
		for _, x := range l.First {
			j.Lift.First = append(j.Lift.First, x.Practice)
		}
	}
	for _, x := range p.Raised {
		j.Raised = append(j.Raised, PlanRaised{x.Window, Number(x.Cap), Number(x.Took)})
	}
	for _, x := range p.Stops {
		j.Stops = append(j.Stops, PlanStop{x.Section, x.Practice, x.Instead, x.Held})
	}
	for _, s := range p.Seasons {
		x := PlanSeason{Season: s.Season, Buy: []PlanBuy{}, TubingM: Number(s.Tubing.In(unit.Metre)),
			Hours: map[price.Window]Number{}, Cash: Number(s.Cash), Plastic: Number(s.PlasticKg), Net: Number(s.Net)}
		for _, b := range s.Buy {
			x.Buy = append(x.Buy, PlanBuy{b.Material, Number(b.Need), Number(b.Count), Number(b.Money)})
		}
		for k, h := range s.Hours {
			x.Hours[k] = Number(h)
		}
		j.Seasons = append(j.Seasons, x)
	}
	for _, x := range p.Worth {
		j.Worth = append(j.Worth, PlanWorth{x.Window, Number(x.Cap), nil, make([]*Number, len(x.Used)),
			Number(x.Step), Number(x.OneMore), Number(x.OneLess)})
	}
	for _, r := range p.Rules {
		j.Rules = append(j.Rules, PlanRule{r.Last, r.Practice, r.Every, Number(r.Profit), r.Fits, r.Permitted, r.Partly,
			Number(r.Everywhere)})
	}
	for _, l := range p.Leaks {
		j.Leaks = append(j.Leaks, PlanLeak{l.Section, Number(l.Money), Number(l.Inches), Number(l.All)})
	}
	return j
}
