package show

import "spile/internal/trade/practice"

// Figures is the catalogue of figures, in the order in which they are listed everywhere. A new one is declared here and
// nowhere else: command line, completion, pages, addresses, report, talk and docs/commands.md loop over it.
var Figures = []Exhibit[Drawing]{{
	Key: "net", Help: "what each practice nets", Needs: Prices,
	At:    []Spot{page("profit"), chapter("answer"), talk("money")},
	Build: func(w *View) Drawing { return w.Net() },
	Hall:  (*View).netsForHall,
	Says:  (*View).netsSay,
}, {
	Key: "bars", Help: "every study by practice, for a talk", Needs: Studies,
	At:    []Spot{page("gains"), talk("evidence")},
	Build: func(w *View) Drawing { return w.Bars() },
	Says:  (*View).barsSay,
	Parts: (*View).barsInParts,
}, {
	Key: "intervals", Help: "every study with interval and weight, for a paper", Needs: Studies,
	At:    []Spot{page("gains"), page("evidence"), chapter("gains"), talk("evidence")},
	Build: func(w *View) Drawing { return w.Intervals() },
	Parts: (*View).intervalsInParts,
	Hall:  (*View).pooledForHall,
	Says:  (*View).pooledSays,
}, {
	Key: "influence", Help: "what the recommended practice's gain rests on", Needs: Studies | Checked,
	At:    []Spot{page("trust"), chapter("trust")},
	Build: (*View).InfluenceFigure,
}, {
	Key: "funnel", Help: "whether small studies tell another story", Needs: Studies | Checked,
	At:    []Spot{page("trust"), chapter("trust")},
	Build: (*View).FunnelFigure,
}, {
	Key: "foretold", Help: "each study beside what the others foretell", Needs: Studies | Checked,
	At:    []Spot{closer("trust")},
	Build: (*View).ForetoldFigure,
}, {
	Key: "came-after", Help: "what came after, beside what the pool had said", Needs: Studies | Checked,
	At:    []Spot{page("trust"), chapter("trust")},
	Build: (*View).HeldFigure,
}, {
	Key: "quantiles", Help: "what the other studies leave unexplained", Needs: Studies | Checked,
	At:    []Spot{closer("trust"), chapter("trust")},
	Build: (*View).QuantilesFigure,
}, {
	Key: "ageing", Help: "drops by age, and the rotation that pays best", Needs: Studies,
	At:    []Spot{page("rotation"), chapter("rotation"), talk("evidence")},
	Build: (*View).ageingKnown,
	Hall:  (*View).ageingForHall,
	Says:  (*View).ageingSays,
}, {
	Key: "payback", Help: "the cash of each change, and when it is paid back", Needs: Prices,
	At:    []Spot{page("rotation"), chapter("profit"), talk("money")},
	Build: (*View).Payback,
	Says:  (*View).paybackSays,
}, {
	Key: "outlook", Help: "what each practice is likely to net", Needs: Prices | Chances,
	At:    []Spot{page("sure"), chapter("sure"), talk("money")},
	Build: func(w *View) Drawing { return w.OutlookFigure(w.A.Weighed.Prospect) },
	Hall:  (*View).outlooksForHall,
	Says:  (*View).outlooksSay,
}, {
	Key: "swings", Help: "what moves that most", Needs: Prices | Chances,
	At:    []Spot{page("sure"), chapter("sure")},
	Build: func(w *View) Drawing { return w.SwingsFigure(w.A.Weighed.Prospect, w.A.Weighed.Hangs) },
}, {
	Key: "map", Help: "which practice pays best over two assumptions", Needs: Prices | Chances,
	At:    []Spot{closer("sure"), chapter("sure"), talk("money")},
	Build: (*View).contestKnown,
	Says:  (*View).mapSays,
}, {
	Key: "trial-size", Help: "what the next trial is worth by its size", Needs: Prices | Trials,
	At:    []Spot{page("next-trial"), chapter("next-trial"), talk("unknown")},
	Build: (*View).sizesKnown,
	Says:  (*View).sizesSay,
}, {
	Key: "gains", Help: "what each practice of a trial gained", Needs: OfTrial,
	At:    []Spot{page("trial")},
	Build: func(w *View) Drawing { return w.Trial.GainsFigure() },
}, {
	Key: "residuals", Help: "what the analysis of a trial leaves unexplained", Needs: OfTrial,
	At:    []Spot{page("trial")},
	Build: func(w *View) Drawing { return w.Trial.Residuals() },
}, {
	Key: "season-*", Help: "a season of a trial, run by run", Needs: OfSeasons,
	At:    []Spot{page("season")},
	Stars: (*View).years,
	Each:  (*View).seasonFigure,
}, {
	Key: "power", Help: "what a trial can find by its size", Needs: OfPower,
	At:    []Spot{page("new-trial")},
	Build: (*View).powerKnown,
}, {
	Key: "plan-rules", Help: "a sugarbush's plan beside simpler ways", Needs: OfSection,
	At:    []Spot{page("sugarbush"), page("handout")},
	Build: func(w *View) Drawing { return w.Plan.RulesFigure() },
}}

// Tables is the catalogue of tables, in the order in which they are listed everywhere.
var Tables = []Exhibit[Table]{{
	Key: "ranking", Help: "what pays best, with gain, money, minutes and permission", Needs: Prices | Draws,
	At:    []Spot{page("profit", "net"), closer("profit"), chapter("profit"), command("profit")},
	Build: (*View).Ranking,
	Brief: func(t Table) Table { return t.Without("net_unsanitized") },
}, {
	Key: "way", Help: "the way to each practice from today's: first seasons, payback, outlay", Needs: Prices,
	At: []Spot{page("profit"), page("rotation", "payback"), chapter("profit", "payback"), command("profit"),
		command("rotation")},
	Build: (*View).Way,
}, {
	Key: "budget-*-today", Help: "the budget of one option against today's practice", Needs: Prices,
	At:    []Spot{chapter("profit"), command("profit")},
	Stars: (*View).apartFromToday,
	Each:  func(w *View, option string) Table { return w.budgetOf(option, true) },
}, {
	Key: "budget-*-unsanitized", Help: "the budget of one option against unsanitized", Needs: Prices,
	At:    []Spot{chapter("profit", "budget-*-today"), command("profit")},
	Stars: (*View).apartFromUnsanitized,
	Each:  func(w *View, option string) Table { return w.budgetOf(option, false) },
}, {
	Key: "marginal", Help: "the marginal analysis", Needs: Prices,
	At:    []Spot{closer("profit"), chapter("profit"), more("profit")},
	Build: (*View).Marginal,
}, {
	Key: "assumptions", Help: "every assumption with its source", Needs: Prices,
	At:    []Spot{closer("profit"), chapter("assumptions"), more("profit")},
	Build: (*View).Assumptions,
}, {
	Key: "cautions", Help: "the cautions of each practice", Needs: Prices,
	At:    []Spot{page("profit"), briefly(chapter("cautions")), command("profit")},
	Build: (*View).Cautions,
	Brief: shared,
}, {
	Key: "scenarios", Help: "what pays best where prices are low or high, and in a poor year", Needs: Prices,
	At:    []Spot{closer("profit"), chapter("profit"), talk("money"), command("profit")},
	Build: (*View).Scenarios,
	Hall:  (*View).scenariosForHall,
	Says:  (*View).scenariosSay,
}, {
	Key: "outlook", Help: "what each option is likely to net over the long run", Needs: Prices | Chances,
	At:    []Spot{closer("sure"), briefly(chapter("sure", "outlook")), command("sure")},
	Build: func(w *View) Table { return w.Outlook(w.A.Weighed.Prospect, false) },
	Brief: likely,
}, {
	Key: "outlook-season", Help: "the same in one single season", Needs: Prices | Chances,
	At:    []Spot{closer("sure"), command("sure")},
	Build: func(w *View) Table { return w.Outlook(w.A.Weighed.Prospect, true) },
	Brief: likely,
}, {
	Key: "single-season", Help: "what each practice nets in a poor, a usual and a good season", Needs: Prices | Chances,
	At:    []Spot{page("sure", "outlook"), chapter("sure", "outlook"), command("sure")},
	Build: (*View).Single,
}, {
	Key: "swings", Help: "what moves the net of the best option most", Needs: Prices | Chances,
	At:    []Spot{closer("sure"), command("sure")},
	Build: func(w *View) Table { return w.Swings(w.A.Weighed.Prospect, w.A.Weighed.Hangs) },
}, {
	Key: "swings-two", Help: "the widest swings, two at a time", Needs: Prices | Chances,
	At:    []Spot{closer("sure"), more("sure")},
	Build: func(w *View) Table { return w.SwingsOfTwo(w.A.Weighed.Prospect, w.A.Weighed.Hangs) },
}, {
	Key: "break-even", Help: "where another practice would come first", Needs: Prices | Chances,
	At:    []Spot{page("sure", "swings"), closer("sure"), briefly(chapter("sure", "swings")), command("sure")},
	Build: func(w *View) Table { return w.Breaks(w.A.Weighed.Prospect, w.A.Weighed.Hangs) },
	Brief: nearest,
}, {
	Key: "map", Help: "which practice pays best over two assumptions", Needs: Prices | Chances,
	At:    []Spot{closer("sure"), command("sure")},
	Build: (*View).contestTable,
}, {
	Key: "knowing", Help: "what it would be worth to know", Needs: Prices | Knowing,
	At:    []Spot{closer("sure"), chapter("sure"), command("sure")},
	Build: func(w *View) Table { return w.Knowing(w.A.Weighed.Prospect, *w.A.Weighed.Knowing) },
}, {
	Key: "next-trial", Help: "which trial is worth running next", Needs: Prices | Trials,
	At:    []Spot{page("next-trial", "trial-size"), chapter("next-trial", "trial-size"), command("worth")},
	Build: func(w *View) Table { return w.Trials(w.A.Weighed.Next) },
}, {
	Key: "gains", Help: "the pooled gain of each practice", Needs: Studies,
	At:    []Spot{page("gains", "bars"), closer("gains"), chapter("gains", "intervals"), command("gains")},
	Build: (*View).Gains,
	Brief: func(t Table) Table { return t.Without("comparisons", "long_run_pct") },
}, {
	Key: "few-studies", Help: "gains of few studies, and how far gains hang on what is assumed", Needs: Studies,
	At:    []Spot{page("gains", "bars"), chapter("gains", "intervals"), command("gains")},
	Build: (*View).Few,
}, {
	Key: "shares", Help: "how much of a gain is just the new spout", Needs: Studies,
	At:    []Spot{page("gains", "bars"), chapter("gains", "intervals"), command("gains")},
	Build: (*View).Shares,
}, {
	Key: "moderators", Help: "what changes a gain", Needs: Studies,
	At:    []Spot{page("gains"), chapter("gains", "intervals"), command("gains")},
	Build: (*View).Moderators,
}, {
	Key: "evidence", Help: "every study, with its weight or why it is out", Needs: Studies,
	At:    []Spot{page("evidence", "intervals"), closer("evidence"), chapter("evidence"), command("gains")},
	Build: (*View).Evidence,
	Brief: func(t Table) Table { return t.Without("site", "season") },
}, {
	Key: "variances", Help: "how much gains differ beyond the studies' own errors", Needs: Studies,
	At:    []Spot{closer("gains"), chapter("gains", "intervals"), more("gains")},
	Build: (*View).Variances,
}, {
	Key: "between", Help: "one practice against another", Needs: Studies,
	At:    []Spot{closer("gains"), chapter("gains", "intervals"), more("gains")},
	Build: (*View).Between,
}, {
	Key: "without-caveat", Help: "what each caveat does to the answer", Needs: Studies | LeftOut,
	At:    []Spot{closer("gains"), chapter("caveats"), talk("money"), more("gains")},
	Build: (*View).Caveats,
	Hall:  (*View).caveatsForHall,
	Says:  (*View).caveatsSay,
}, {
	Key: "without-study", Help: "the answer without each study", Needs: Studies | LeftOut,
	At:    []Spot{closer("gains"), more("gains")},
	Build: (*View).WithoutStudies,
}, {
	Key: "without-site", Help: "the answer without each site", Needs: Studies | LeftOut,
	At:    []Spot{closer("gains"), chapter("caveats"), more("gains")},
	Build: (*View).WithoutSites,
}, {
	Key: "indirect", Help: "direct beside indirect evidence", Needs: Studies | LeftOut,
	At:    []Spot{closer("gains"), chapter("caveats"), more("gains")},
	Build: (*View).Indirect,
}, {
	Key: "parts", Help: "why each gain is what it is, step by step", Needs: Studies | Explained,
	At:    []Spot{chapter("gains", "intervals")},
	Build: (*View).Steps,
}, {
	Key: "parts-*", Help: "why a gain is what it is, part by part", Needs: Studies | Explained,
	At:    []Spot{page("why")},
	Stars: (*View).explained,
	Each:  func(w *View, k string) Table { return w.Parts(practice.Key(k)) },
}, {
	Key: "checks", Help: "what each check does to gain and recommendation", Needs: Studies | Checked,
	At:    []Spot{page("trust", "influence"), closer("trust"), chapter("trust", "influence"), command("trust")},
	Build: (*View).Checks,
}, {
	Key: "influence", Help: "the answer without each study, site and season", Needs: Studies | Checked,
	At:    []Spot{closer("trust"), more("trust")},
	Build: (*View).Influence,
}, {
	Key: "tests", Help: "what tests say of the pool", Needs: Studies | Checked,
	At:    []Spot{page("trust", "funnel"), closer("trust"), chapter("trust", "funnel"), command("trust")},
	Build: (*View).Tests,
}, {
	Key: "selections", Help: "the gains if what found little was published less", Needs: Studies | Checked,
	At:    []Spot{page("trust", "funnel"), closer("trust"), chapter("trust", "funnel"), command("trust")},
	Build: (*View).Selections,
}, {
	Key: "foretold", Help: "each study beside what others foretell", Needs: Studies | Checked,
	At:    []Spot{closer("trust"), more("trust")},
	Build: (*View).Foretold,
}, {
	Key: "came-after", Help: "how often the pool's prediction held, by season", Needs: Studies | Checked,
	At:    []Spot{page("trust", "came-after"), closer("trust"), chapter("trust", "came-after"), command("trust")},
	Build: (*View).Held,
}, {
	Key: "criteria", Help: "what a meta-analysis must tell, and what is here", Needs: Studies | Checked,
	At:    []Spot{page("trust"), chapter("trust"), command("trust")},
	Build: (*View).Criteria,
}, {
	Key: "simulated", Help: "how often such intervals hold the truth", Needs: Studies,
	At:    []Spot{closer("trust"), more("trust")},
	Build: (*View).Simulated,
}, {
	Key: "weights", Help: "what each comparison brings to the pool", Needs: Studies,
	At:    []Spot{closer("gains"), closer("evidence")},
	Build: (*View).Weights,
}, {
	Key: "rotation", Help: "how often to replace the drops", Needs: Studies,
	At:    []Spot{page("rotation", "ageing"), chapter("rotation", "ageing"), command("rotation")},
	Build: (*View).Rotation,
}, {
	Key: "ageing", Help: "how drops age", Needs: Studies,
	At:    []Spot{page("rotation"), chapter("rotation", "ageing"), command("rotation")},
	Build: (*View).Ageing,
}, {
	Key: "changes", Help: "what came since, and what it moved", Needs: History,
	At:    []Spot{page("changes"), chapter("changes"), talk("evidence"), command("changes")},
	Build: (*View).Changes,
	Hall:  (*View).changesForHall,
	Says:  func(w *View) []string { return w.Moved()[:1] },
}, {
	Key: "standings", Help: "every practice, then and now", Needs: History,
	At:    []Spot{page("changes"), chapter("changes"), command("changes")},
	Build: (*View).Standings,
}, {
	Key: "sources", Help: "where the data came from", Needs: Studies,
	At:    []Spot{closer("evidence"), chapter("methods")},
	Build: (*View).Sources,
}, {
	Key: "trial", Help: "what each practice of a trial gained", Needs: OfTrial,
	At:    []Spot{page("trial", "gains"), command("trial analyse")},
	Build: func(w *View) Table { return w.Trial.Gains() },
}, {
	Key: "trial-covariates", Help: "what the gains are adjusted for", Needs: OfTrial,
	At:    []Spot{page("trial", "gains"), command("trial analyse")},
	Build: func(w *View) Table { return w.Trial.Covariates() },
}, {
	Key: "trial-carryover", Help: "what a practice leaves to the season after it", Needs: OfTrial,
	At:    []Spot{page("trial", "gains"), command("trial analyse")},
	Build: func(w *View) Table { return w.Trial.Carryover() },
}, {
	Key: "trial-pairs", Help: "the practices of a trial against each other", Needs: OfTrial,
	At:    []Spot{closer("trial"), more("trial analyse")},
	Build: func(w *View) Table { return w.Trial.Pairs() },
}, {
	Key: "trial-seasons", Help: "each season of a trial by itself", Needs: OfTrial,
	At:    []Spot{closer("trial"), more("trial analyse")},
	Build: func(w *View) Table { return w.Trial.BySeason() },
}, {
	Key: "trial-variances", Help: "what makes the yields of a trial differ", Needs: OfTrial,
	At:    []Spot{closer("trial"), more("trial analyse")},
	Build: func(w *View) Table { return w.Trial.Variances() },
}, {
	Key: "runs-*", Help: "the runs of a season", Needs: OfSeasons,
	At:    []Spot{page("season", "season-*")},
	Stars: (*View).years,
	Each:  func(w *View, year string) Table { return w.ofSeason(year, SeasonView.Runs) },
}, {
	Key: "findings-*", Help: "what may spoil the comparison of a season", Needs: OfSeasons,
	At:    []Spot{page("season", "season-*")},
	Stars: (*View).years,
	Each:  func(w *View, year string) Table { return w.ofSeason(year, SeasonView.Findings) },
}, {
	Key: "weather", Help: "the weather of the seasons", Needs: OfSprings,
	At:    []Spot{page("season")},
	Build: func(w *View) Table { return w.Springs.Table() },
}, {
	Key: "layout", Help: "which unit of a trial has which practice", Needs: OfLayout,
	At:    []Spot{closer("layout"), command("trial design")},
	Build: func(w *View) Table { return w.Layout.Layout() },
}, {
	Key: "keep", Help: "the used plastic that a trial needs", Needs: OfLayout,
	At:    []Spot{page("layout"), command("trial design")},
	Build: func(w *View) Table { return w.Layout.Keep() },
}, {
	Key: "power", Help: "what a trial can find by its size", Needs: OfPower,
	At:    []Spot{page("new-trial", "power"), command("trial power")},
	Build: func(w *View) Table { return w.Power.Table() },
}, {
	Key: "plan-schedule", Help: "what each section does, and what it brings", Needs: OfPlan,
	At:    []Spot{page("sugarbush"), command("plan")},
	Build: func(w *View) Table { return w.Plan.Schedule() },
}, {
	Key: "plan", Help: "the plan, section by section", Needs: OfPlan,
	At:    []Spot{page("sugarbush"), command("plan")},
	Build: func(w *View) Table { return w.Plan.Steps() },
}, {
	Key: "plan-buy", Help: "what the plan needs, by season", Needs: OfPlan,
	At:    []Spot{page("sugarbush"), command("plan")},
	Build: func(w *View) Table { return w.Plan.Buy() },
}, {
	Key: "plan-hours", Help: "the plan's hours by season and crew", Needs: OfPlan,
	At:    []Spot{page("sugarbush"), command("plan")},
	Build: func(w *View) Table { return w.Plan.Hours() },
}, {
	Key: "plan-scenarios", Help: "the plan where prices are low or high, and in poor years", Needs: OfPlan,
	At:    []Spot{closer("sugarbush"), command("plan")},
	Build: func(w *View) Table { return w.Plan.States() },
}, {
	Key: "plan-rules", Help: "the plan beside simple rules", Needs: OfPlan,
	At:    []Spot{closer("sugarbush"), command("plan")},
	Build: func(w *View) Table { return w.Plan.Rules() },
}, {
	Key: "plan-worth", Help: "what one more hour or dollar would be worth", Needs: OfPlan,
	At:    []Spot{closer("sugarbush"), command("plan")},
	Build: func(w *View) Table { return w.Plan.Worth() },
}, {
	Key: "handout-do", Help: "what a producer does this season", Needs: OfSection,
	At:    []Spot{page("handout"), page("sugarbush")},
	Build: func(w *View) Table { return w.Plan.Do() },
}, {
	Key: "handout-buy", Help: "what a producer buys this season", Needs: OfSection,
	At:    []Spot{page("handout"), page("sugarbush")},
	Build: func(w *View) Table { return w.Plan.BuyNow() },
}, {
	Key: "handout-hours", Help: "the hours of this season", Needs: OfSection,
	At:    []Spot{page("handout"), page("sugarbush")},
	Build: func(w *View) Table { return w.Plan.HoursNow() },
}, {
	Key: "handout-years", Help: "what the next seasons take", Needs: OfSection,
	At:    []Spot{page("handout")},
	Build: func(w *View) Table { return w.Plan.Years() },
}, {
	Key: "handout-inputs", Help: "the six numbers that a handout rests on most", Needs: OfSection,
	At:    []Spot{page("handout")},
	Build: func(w *View) Table { return w.Plan.inputs() },
}}

// ageingKnown is the figure of ageing where studies, or the user's own gains, tell of it.
func (w *View) ageingKnown() Drawing {
	if a := w.A.Pool.Ageing; a.Estimable || len(a.ByAge()) > 0 || len(w.A.Rotation.Intervals) > 0 {
		return w.AgeingFigure()
	}
	return nil
}

// contestKnown is the map where two assumptions are unsure.
func (w *View) contestKnown() Drawing {
	if c := w.A.Weighed.Contest; c != nil {
		return w.ContestFigure(w.A.Weighed.Prospect, *c)
	}
	return nil
}

func (w *View) contestTable() Table {
	if c := w.A.Weighed.Contest; c != nil {
		return w.ContestTable(w.A.Weighed.Prospect, *c)
	}
	return Table{}
}

func (w *View) sizesKnown() Drawing {
	if n := w.A.Weighed.Next; len(n.Ranked) > 0 {
		return w.SizesFigure(n)
	}
	return nil
}

// apartFromToday is the option that is recommended, unless it is today's practice: that has no budget against itself.
func (w *View) apartFromToday() []string {
	if o, ok := w.A.Best(); ok && !o.IsToday {
		return []string{FileName(o.ID())}
	}
	return nil
}

// apartFromUnsanitized is the option that is recommended, unless that is unsanitized, or today's practice is: then its
// budget stands already.
func (w *View) apartFromUnsanitized() []string {
	if o, ok := w.A.Best(); ok && o.ID() != string(practice.Unsanitized) &&
		w.A.Reference.Practice != practice.Unsanitized {
		return []string{FileName(o.ID())}
	}
	return nil
}

func (w *View) budgetOf(option string, today bool) Table {
	for _, o := range w.A.Ranking {
		if FileName(o.ID()) == option {
			return w.Budget(o, today)
		}
	}
	return Table{}
}

// years are those of a trial's seasons that were read.
func (w *View) years() []string {
	var list []string
	for _, s := range w.Seasons {
		list = append(list, s.year())
	}
	return list
}

func (w *View) seasonFigure(year string) Drawing {
	for _, s := range w.Seasons {
		if s.year() == year {
			return s.Figure()
		}
	}
	return nil
}

func (w *View) ofSeason(year string, table func(SeasonView) Table) Table {
	for _, s := range w.Seasons {
		if s.year() == year {
			return table(s)
		}
	}
	return Table{}
}

// powerKnown is the figure of power where it is exact; simulated it has no curves.
func (w *View) powerKnown() Drawing {
	if len(w.Power.Curves) > 0 {
		return w.Power.Figure()
	}
	return nil
}
