package show

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/advice"
	"spile/internal/engine/budget"
	"spile/internal/engine/effect"
	"spile/internal/engine/pool"
	"spile/internal/engine/rotation"
	"spile/internal/engine/trust"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

// fixture is an answer made up by hand, with one of everything that a table can hold. Its numbers are invented and
// belong to no fit: what is tested on it is how they are shown.
func fixture() *advice.Advice {
	treat := func(k practice.Key, age int) practice.Treatment { return practice.Treatment{Practice: k, DropAge: age} }
	un, spout, valve, drop := treat(practice.Unsanitized, 0), treat(practice.NewSpout, 0),
		treat(practice.CheckValve, 0), treat(practice.NewDrop, 0)
	v := price.Value{Best: 1.5, Low: new(1.2), High: new(1.9), Source: "quote, invented"}
	prices := price.Default()
	prices.Currency, prices.AsOf, prices.Place, prices.SyrupBrix = "USD", "2025-11-01", "US-VT", 66.9
	prices.Baseline = price.Baseline{Yield: price.Value{Best: 94.6}, Done: price.Done{Treatment: spout},
		Brix: price.Value{Best: 2}}
	prices.Sells.Grades = []price.Grade{{Name: "amber", Share: 1,
		Price: price.Value{Best: 4.85, Source: "co-op list, invented"}}}
	prices.Wage = price.Value{Best: 22}
	prices.Uses = []price.Use{{Practice: practice.CheckValve,
		Minutes: map[price.Window]*price.Value{price.Tapping: &v}}}
	// all is told of these
	for _, k := range []practice.Key{practice.NewSpout, practice.NewDrop, practice.AlcoholFlush} {
		prices.Uses = append(prices.Uses, price.Use{Practice: k, Chemical: "alcohol", ChemicalL: price.Value{Best: 0.1},
			Minutes: map[price.Window]*price.Value{price.Tapping: {Best: 0.1}}})
	}

	study := func(name, site string, season int, kind evidence.Kind) evidence.Study {
		return evidence.Study{Name: name, Site: site, Season: season, Kind: kind}
	}
	effects := func(name, site string, season int, arms []practice.Treatment, rows []effect.Row,
		variance ...float64) effect.StudyEffects {
		return effect.StudyEffects{
			Study: name, Site: site, Season: season, Arms: arms, Rows: rows, V: mat.NewSymDense(len(rows), variance),
		}
	}
	gain := func(t practice.Treatment, n, studies int, p, low, high, slow, shigh float64, plain *float64,
		plains int) pool.Gain {
		return pool.Gain{
			Treatment: t, Comparisons: n, Studies: studies, Trials: studies, Log: math.Log1p(p / 100), SE: 0.05,
			DF:  11.4,
			Pct: p, LowPct: low, HighPct: high, LongRunPct: p + 0.6, SeasonLowPct: slow, SeasonHighPct: shigh,
			PlainMeanPct: plain, PlainStudies: plains,
		}
	}
	compared := func(returns, costs, half, minutes, plastic float64) advice.Compared {
		return advice.Compared{
			Budget: budget.Budget{
				AddedReturns: returns, AddedCosts: costs, Net: returns - costs, PlasticG: plastic,
				Minutes: map[price.Window]float64{price.Tapping: minutes},
				Lines: []budget.Line{
					{Name: "syrup from added sap", Part: budget.AddedReturns, Amount: returns},
					{Name: "spouts", Part: budget.AddedCosts, Amount: -costs},
				},
			},
			NetLow: returns - costs - half, NetHigh: returns - costs + half,
		}
	}
	gains := []pool.Gain{
		gain(spout, 9, 9, 31.2, 24.1, 38.7, 8.2, 59, new(36.4), 9),
		gain(valve, 7, 7, 63.4, 51.2, 76.6, 34, 99, new(64.1), 5),
		gain(drop, 6, 5, 71.8, 55.9, 89.3, 38, 114, nil, 0),
		gain(treat(practice.AlcoholFlush, 0), 2, 2, 8.4, -4.1, 22.5, -14, 37, new(9.9), 2),
	}
	curve := func(kind string, weight float64) pool.Curve {
		return pool.Curve{Kind: kind, HalfLife: 2.3, HalfLifeLow: 1.1, HalfLifeHigh: 6.4, Delta: 0.27,
			LogLik: 21.2, Weight: weight}
	}
	var points []pool.AgePoint
	for a := 0.0; a <= 6; a += 0.25 {
		p := 31 + 41*math.Exp(-0.3*a)
		points = append(points, pool.AgePoint{Age: a, Pct: p, LowPct: p - 12, HighPct: p + 14, Studied: a <= 3})
	}
	return &advice.Advice{
		Input: advice.Input{Input: input.Input{
			Studies: []evidence.Study{
				study("Otter Hill 2019", "Otter Hill", 2019, evidence.Replicated),
				study("Quarry Road 2021", "Quarry Road", 2021, evidence.Unreplicated),
				study("Neighbour 2022", "Low Bridge", 2022, evidence.ProducerReport),
				study("Otter Hill 2023", "Otter Hill", 2023, evidence.Replicated),
			},
			Practices: practice.Shipped(),
			Prices:    &prices,
			Sources:   []input.Source{{Name: "evidence.csv", Digest: "9f2c"}},
		}, Pool: pool.Default()},
		Effects: effect.Effects{
			Studies: []effect.StudyEffects{
				effects("Otter Hill 2019", "Otter Hill", 2019, []practice.Treatment{un, spout, valve},
					[]effect.Row{{Arm: 1, Ref: 0, Y: 0.28, GainPct: 32}, {Arm: 2, Ref: 0, Y: 0.5, GainPct: 65}}, 0.01,
					0.005, 0.005, 0.012),
				effects("Quarry Road 2021", "Quarry Road", 2021, []practice.Treatment{un, spout},
					[]effect.Row{{Arm: 1, Ref: 0, Y: 0.42, GainPct: 52, Basis: effect.KindCV}}, 0.06),
				effects("Otter Hill 2023", "Otter Hill", 2023,
					[]practice.Treatment{spout, drop, treat(practice.NewDrop, 2), un},
					[]effect.Row{{Arm: 1, Ref: 0, Y: 0.25, GainPct: 28}, {Arm: 2, Ref: 3, Y: 0.41, GainPct: 51}}, 0.01,
					0.002, 0.002, 0.012),
			},
			Out: []effect.Out{{Study: "Neighbour 2022",
				Why: note.New("a producer's report is kept, but counts only when asked")}},
		},
		Caveats: map[string][]evidence.Caveat{
			"Otter Hill 2019":  {evidence.YoungReference},
			"Quarry Road 2021": {evidence.NoReplication, "windy-bench"},
			"Neighbour 2022":   {evidence.NoReplication},
		},
		Pool: &pool.Result{
			Gains: gains,
			Between: []pool.Difference{
				{Practice: valve, Against: spout, Log: 0.22, SE: 0.04, DF: 10.2, Low: 0.13, High: 0.31, P: 0.0004},
				{Practice: spout, Against: drop, Log: -0.27, SE: 0.05, DF: 9.1, Low: -0.38, High: -0.16, P: 0.0021},
			},
			Moderators: []pool.Moderator{{Name: "vacuum", Mean: 78, Slope: 0.004, SE: 0.002, DF: 9, Low: -0.001,
				High: 0.009, P: 0.09}},
			Shares: []pool.Share{
				{Practice: practice.NewSpout, Of: practice.CheckValve, Share: new(0.492), Low: new(0.37),
					High: new(0.61)},
				{Practice: practice.NewSpout, Of: practice.AlcoholFlush},
			},
			Variances: []pool.Variance{{Name: "study", Value: 0.0123, Low: 0.004, High: 0.031},
				{Name: "site", Value: 0, Low: 0, High: 0.009}},
			Q: 41.2, QP: 0.0003, I2Pct: 52, QDF: 14,
			Weights: []pool.Weight{
				{Study: "Otter Hill 2019", Practice: spout, Against: un, Y: 0.28, V: 0.01, WeightPct: 71.4},
				{Study: "Otter Hill 2019", Practice: valve, Against: un, Y: 0.5, V: 0.012, WeightPct: 88},
				{Study: "Quarry Road 2021", Practice: spout, Against: un, Y: 0.42, V: 0.06, WeightPct: 12.1,
					Basis: effect.KindCV},
			},
			NotEstimable: []practice.Key{practice.SilverSpout},
			Ageing: pool.Ageing{
				Estimable: true, Curves: []pool.Curve{curve("exponential", 0.62), curve("linear", 0.38)},
				Points: [][]pool.AgePoint{points, points}, ByAge: func() []pool.Gain { return gains[2:3] }, Oldest: 3,
			},
			Rows: 5, Studies: 3, Sites: 2,
		},
		Rotation: rotation.Result{
			Intervals: []rotation.Interval{
				{Every: 1, GainPct: 72, LowPct: 56, HighPct: 89, Studied: true, Net: 1.1, NetLow: 0.5, NetHigh: 1.7,
					Best: 0.04, Loss: 0.41},
				{Every: 3, GainPct: 61, LowPct: 48, HighPct: 75, Studied: true, Net: 1.9, NetLow: 1.3, NetHigh: 2.5,
					Best: 0.58, Loss: 0.03},
				{Every: 5, GainPct: 54, LowPct: 40, HighPct: 69, Net: 1.8, NetLow: 1.1, NetHigh: 2.4, Best: 0.38,
					Loss: 0.06},
			},
			Best: 3, FlatFrom: 3, FlatTo: 5, FlatWithin: 0.1, Priced: true, Chances: true,
		},
		Ranking: []advice.Option{
			{
				Practice: practice.CheckValve, GainPct: 63.4, LowPct: 51.2, HighPct: 76.6, Studied: true,
				Verdict:     practice.Permitted,
				Unsanitized: compared(3.1, 0.9, 0.5, 0.4, 6), Today: compared(1.4, 0.56, 0.4, 0.1, 1),
				MarginalRatePct: new(212.0),
			},
			{
				Practice: practice.NewDrop, Every: 3, GainPct: 61, LowPct: 48, HighPct: 75, Studied: true,
				Verdict:     practice.Permitted,
				Unsanitized: compared(3, 1.1, 0.6, 1.2, 11), Today: compared(1.4, 0.9, 0.5, 0.9, 6),
			},
			{
				Practice: practice.NewSpout, GainPct: 31.2, LowPct: 24.1, HighPct: 38.7, Studied: true,
				Verdict: practice.Permitted, IsToday: true,
				Unsanitized: compared(1.7, 0.34, 0.3, 0.3, 5), Today: compared(0, 0, 0, 0, 0), Dominated: true,
			},
			{
				Practice: practice.CheckValve, With: practice.NewDrop, GainPct: 80, LowPct: 51, HighPct: 120,
				Verdict:     practice.Permitted,
				Unsanitized: compared(4, 1.7, 1.2, 1.6, 17), Today: compared(2.3, 1.4, 1.2, 1.3, 12),
			},
			{
				Practice: practice.AlcoholFlush, GainPct: 8.4, LowPct: -4.1, HighPct: 22.5, Studied: true,
				Verdict:     practice.HeldBack,
				Unsanitized: compared(0.4, 0.2, 0.7, 0.8, 0), Today: compared(-1.2, -0.1, 0.7, 0.5, -5),
				Reasons: note.List{note.New(
					"alcohol in food tubing is held back in the US unless the label names it")},
				Cautions: note.List{note.New("its vapour burns: keep it from running pumps"),
					note.New("wear gloves and eye protection")},
			},
		},
		Recommended:  0,
		Reference:    practice.Choice{Practice: practice.NewSpout},
		WithoutStudy: []pool.Without{{What: "Quarry Road 2021", Studies: 2, Gains: gains}},
		Splits: []trust.Split{{
			Practice: practice.CheckValve, Against: practice.NewSpout, DirectLog: 0.2, DirectSE: 0.06,
			IndirectLog: 0.25, IndirectSE: 0.08, DifferenceLog: -0.05, SE: 0.1, DF: 8, P: 0.63,
		}},
		WithoutSite: []pool.Without{{What: "Otter Hill", Studies: 1, Gains: gains[:1]}},
		CaveatEffects: []advice.CaveatEffect{
			{Caveat: evidence.NoReplication, Studies: []string{"Quarry Road 2021"},
				Without: pool.Without{Studies: 2, Gains: gains}, Best: "new-drop/3"},
		},
		Notes: note.List{
			note.New("the variance between sites is 0: it is held at its boundary"),
			note.New("%s rests on %d studies", note.Term(practice.AlcoholFlush), 2),
		},
	}
}

// tables is every table of an answer.
func tables(w *View) []Table {
	return []Table{
		w.Ranking(), w.Gains(), w.Evidence(), w.Between(), w.Shares(), w.Weights(), w.Variances(), w.Moderators(),
		w.WithoutStudies(),
		w.WithoutSites(), w.Caveats(), w.Indirect(), w.Ageing(), w.Rotation(), w.Budget(w.A.Ranking[0], true),
		w.Budget(w.A.Ranking[0], false), w.Cautions(), w.Assumptions(), w.Sources(),
	}
}
