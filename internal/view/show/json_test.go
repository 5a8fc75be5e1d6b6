package show

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"spile/internal/engine/advice"
	"spile/internal/view/say"
)

// The three literals were written by hand from the contract of the command line: names, their order, and that a number
// that does not exist is null.

const gainsContract = `{
  "practices": [
    {
      "practice": "alcohol-flush",
      "comparisons": 2,
      "studies": 2,
      "log_ratio": 0.25,
      "se_log": 0.05,
      "df": null,
      "gain_pct": 8.4,
      "low_pct": -4.1,
      "high_pct": 22.5,
      "season_low_pct": -14,
      "season_high_pct": 37,
      "plain_mean_pct": null,
      "drop_age": 0,
      "long_run_pct": 9,
      "shrunk_pct": null,
      "prior_half": null,
      "prior_double": null,
      "kr": null,
      "parts": null,
      "movers": null,
      "trials": 2,
      "used_pct": null
    }
  ],
  "between": [
    {
      "practice": "check-valve",
      "against": "new-spout",
      "difference_log": 0.22,
      "se_log": 0.04,
      "df": 10.2,
      "low": 0.13,
      "high": 0.31,
      "p": 0.0004
    }
  ],
  "shares": [
    {
      "practice": "new-spout",
      "of": "check-valve",
      "share": 0.492,
      "low": 0.37,
      "high": 0.61
    },
    {
      "practice": "new-spout",
      "of": "alcohol-flush",
      "share": null,
      "low": null,
      "high": null
    }
  ],
  "study_variance": 0.0123,
  "site_variance": 0,
  "q": 41.2,
  "q_df": 14,
  "q_p": 0.0003,
  "i2_pct": 52,
  "weights": [
    {
      "study": "Quarry Road 2021",
      "practice": "new-spout",
      "y": 0.42,
      "v": 0.06,
      "weight_pct": 12.1,
      "imputed": true,
      "drop_age": 0,
      "against": "unsanitized",
      "against_drop_age": 0,
      "live": false
    }
  ],
  "warnings": [
    "the variance between sites is 0: it is held at its boundary",
    "alcohol flush rests on 2 studies"
  ],
  "out": [
    {
      "study": "Neighbour 2022",
      "practice": null,
      "reason": "a producer's report is kept, but counts only when asked"
    }
  ],
  "season_variance": null,
  "practice_site_variance": null,
  "prior": null,
  "p_wild": []
}
`

const profitContract = `{
  "practices": [
    {
      "practice": "check-valve",
      "gain_pct": 61,
      "added_returns": 1.5,
      "reduced_costs": 0,
      "added_costs": 0.5,
      "reduced_returns": 0,
      "net": 1,
      "minutes": 0.25,
      "plastic_g": 1,
      "dominated": false,
      "marginal_rate_pct": 212,
      "permitted": true,
      "lines": [
        {
          "name": "syrup from added sap",
          "amount": 1.5
        },
        {
          "name": "spouts",
          "amount": -0.5
        }
      ],
      "net_low": 0.75,
      "net_high": 1.25,
      "net_unsanitized": 1,
      "net_unsanitized_low": 0.75,
      "net_unsanitized_high": 1.25,
      "chance_best": null,
      "chance_losing": null,
      "studied": true,
      "why": [],
      "net_expected": null,
      "gain_used_pct": 63.4,
      "way": null
    },
    {
      "practice": "new-drop/3",
      "gain_pct": null,
      "added_returns": 0,
      "reduced_costs": 0,
      "added_costs": 0,
      "reduced_returns": 0,
      "net": null,
      "minutes": 0,
      "plastic_g": 0,
      "dominated": null,
      "marginal_rate_pct": null,
      "permitted": false,
      "lines": [],
      "net_low": 0,
      "net_high": 0,
      "net_unsanitized": 0,
      "net_unsanitized_low": 0,
      "net_unsanitized_high": 0,
      "chance_best": null,
      "chance_losing": null,
      "studied": false,
      "why": [
        "alcohol in food tubing is held back in the US unless the label names it"
      ],
      "net_expected": null,
      "gain_used_pct": null,
      "way": null
    }
  ],
  "currency": "USD",
  "per": "tap-season",
  "warnings": [],
  "against": "new-spout",
  "sure": null,
  "scenarios": null
}
`

const rotationContract = `{
  "intervals": [
    {
      "every": 3,
      "gain_pct": 61,
      "low_pct": 48,
      "high_pct": 75,
      "net": null,
      "net_low": null,
      "net_high": null,
      "chance_best": null,
      "expected_loss": null,
      "studied": true,
      "net_expected": null,
      "way": null
    }
  ],
  "best": 3,
  "flat_from": 3,
  "flat_to": 5,
  "flat_within": 0.1,
  "curves": [
    {
      "curve": "linear",
      "half_life": 2.3,
      "half_life_low": 1.1,
      "half_life_high": null,
      "weight": 0.38,
      "at_bound": true
    }
  ],
  "by_age": [
    {
      "drop_age": 0,
      "gain_pct": 71.8,
      "low_pct": 55.9,
      "high_pct": 89.3
    }
  ],
  "oldest_age": 3,
  "currency": null,
  "per": "tap-season",
  "warnings": []
}
`

func TestJSONContract(t *testing.T) {
	gains := fixture()
	gains.Pool.Gains = gains.Pool.Gains[3:]
	g := &gains.Pool.Gains[0]
	g.Log, g.DF, g.PlainMeanPct = 0.25, math.Inf(1), nil
	gains.Pool.Between = gains.Pool.Between[:1]
	gains.Pool.Weights = gains.Pool.Weights[2:]

	profit := fixture()
	profit.Notes = nil
	profit.Ranking = []advice.Option{profit.Ranking[0], {
		Practice: "new-drop", Every: 3, GainPct: math.NaN(), Dominated: true, Verdict: "held-back",
		Reasons: profit.Ranking[4].Reasons,
	}}
	o := &profit.Ranking[0]
	o.Today = o.Unsanitized
	o.Unsanitized.Net, o.Unsanitized.NetLow, o.Unsanitized.NetHigh = 1, 0.75, 1.25
	o.Today.NetLow, o.Today.NetHigh = 0.75, 1.25
	b := &o.Today
	b.AddedReturns, b.AddedCosts, b.Net, b.PlasticG, b.Minutes["tapping"] = 1.5, 0.5, 1, 1, 0.25
	b.Lines[0].Amount, b.Lines[1].Amount = 1.5, -0.5
	o.Says = advice.Says{GainPct: 61, Unsanitized: o.Unsanitized.Budget, Today: b.Budget}
	profit.Ranking[1].Says.Today.Net, profit.Ranking[1].Says.GainPct = math.NaN(), math.NaN()

	rotation := fixture()
	rotation.Notes, rotation.Input.Prices = nil, nil
	r := &rotation.Rotation
	r.Intervals, r.Priced, r.Chances = r.Intervals[1:2], false, false
	a := &rotation.Pool.Ageing
	a.Curves = a.Curves[1:]
	a.Curves[0].HalfLifeHigh, a.Curves[0].AtBound = math.Inf(1), true

	v := say.In("en")
	for _, c := range []struct {
		name, want string
		value      any
	}{
		{"gains", gainsContract, Of(gains, v).GainsJSON()},
		{"profit", profitContract, Of(profit, v).ProfitJSON()},
		{"rotation", rotationContract, Of(rotation, v).RotationJSON()},
	} {
		var got bytes.Buffer
		if err := WriteJSON(&got, c.value); err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if d := cmp.Diff(c.want, got.String()); d != "" {
			t.Errorf("%s (-contract +got):\n%s", c.name, d)
		}
	}
}

// An answer with nothing in it has empty lists, not null ones, so that a script can loop over them.
func TestJSONOfNothingHasLists(t *testing.T) {
	w := Of(&advice.Advice{Recommended: -1}, say.In("en"))
	for _, value := range []any{w.GainsJSON(), w.RotationJSON(), w.ProfitJSON()} {
		data, err := json.Marshal(value)
		if err != nil {
			t.Fatal(err)
		}
		var fields map[string]any
		if err := json.Unmarshal(data, &fields); err != nil {
			t.Fatal(err)
		}
		for _, list := range []string{"practices", "between", "shares", "weights", "warnings", "intervals", "curves",
			"by_age"} {
			if x, ok := fields[list]; ok && x == nil {
				t.Errorf("%s is null in %s", list, data)
			}
		}
	}
}
