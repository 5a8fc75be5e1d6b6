package look

import (
	"math"
	"slices"
	"strconv"

	"spile/internal/engine/advice"
	"spile/internal/note"
	"spile/internal/view/show"
	"spile/internal/view/web/page"
)

// question is what the pages ask of an answer under uncertainty.
type question struct {
	across, down string // assumptions of the map; "": those that the choice hangs on most
	aversion     float64
	trials       advice.TrialOptions
}

// usual is what they ask as long as nothing else is tried.
func (s *settings) usual() question {
	return question{aversion: 1, trials: (&advice.Advice{Input: s.Input}).TrialDefaults()}
}

// A quick look takes so many draws, and so many points of each trial.
const quickDraws, quickPoints = 2000, 16

// everything is what may be asked under uncertainty.
func (t *whatIf) everything() advice.WeighOptions {
	trials := t.asked.trials
	if p := t.answer.Input.Prices; p != nil {
		trials.Discount = p.Discount.Best
	}
	o := advice.WeighOptions{Outlook: true, Knowing: true, Draw: advice.DrawOptions{Aversion: t.asked.aversion},
		Across: t.asked.across, Down: t.asked.down, Trials: &trials}
	if t.moving {
		o.Draw.Draws, trials.Design.Points = quickDraws, quickPoints
	}
	return o
}

// ask asks of what is tried what a figure, a table or a page needs.
func (s *Room) ask(t *whatIf, need show.Need) error {
	a, err := need.Ask(s.Memo, t.answer, t.everything())
	if err == nil {
		t.answer = a
	}
	return err
}

// mapped are what the page on certainty lets try.
func (s *settings) mapped() (open, more []*setting) {
	open, more = s.money()
	for _, t := range more {
		if t.key == "farm_adjust" {
			open = append(open, t)
		}
	}
	more = slices.DeleteFunc(more, func(t *setting) bool { return t.key == "farm_adjust" })
	return append(s.named("across", "down"), open...), append(s.named("aversion"), more...)
}

func (s *settings) concerned() (open, more []*setting) {
	money, rest := s.money()
	return s.named("concerned", "adoption", "use-seasons", "trial-seasons", "trial-site", "trial-sites", "trial-units",
			"trial-taps", "trial-cv", "trial-fixed", "trial-season", "trial-unit"),
		append(money, rest...)
}

// questions are the settings of what the pages ask.
func (s *settings) questions() []*setting {
	v := s.Voice
	if s.Input.Prices == nil {
		return nil
	}
	as, money, sites := s.usual(), s.Input.Prices.Currency, s.Input.Sites()
	axis := func(key, label string, at func(q *question) *string) *setting {
		set := &setting{key: key, kind: page.Choice, label: label, files: []string{""},
			options: []page.Option{page.Opt("", v.Text("what it hangs on most"))},
			ask: func(q *question, value []string) *note.Note {
				*at(q) = value[0]
				if q.across == q.down && q.down != "" {
					return new(note.New("a map takes two assumptions, and %s is named twice", value[0]))
				}
				return nil
			}}
		for _, a := range s.Input.Prices.Assumptions() {
			set.options = append(set.options, page.Opt(a.Key, v.Note(a.Name)))
		}
		return set
	}
	// of is a number that a trial or its use takes: any, or a whole one from some least.
	const any = -1
	of := func(key, label, unit string, factor float64, now float64, least int,
		set func(o *advice.TrialOptions, x float64)) *setting {
		return &setting{key: key, kind: page.Number, label: label, unit: unit,
			files: []string{page.Format(page.Rounded(now * factor))},
			ask: func(q *question, value []string) *note.Note {
				x, err := strconv.ParseFloat(value[0], 64)
				switch {
				case err != nil || math.Abs(x) > 1e9:
					return new(note.New("too large a number: %s", value[0]))
				case least != any && (x != math.Trunc(x) || x < float64(least) || x > 1000):
					return new(note.New("a whole number from %d to 1,000 is asked, not %s", least, value[0]))
				case unit == "%" && !(x >= 0 && x <= 100):
					return new(note.New("a share from 0 to 100 %% is asked, not %s", value[0]))
				}
				set(&q.trials, x/factor)
				if f := q.trials.Faults(sites); len(f) > 0 {
					return &f[0]
				}
				return nil
			}}
	}
	t := as.trials
	where := &setting{key: "trial-site", kind: page.Choice, label: v.Text("site of the trial"), files: []string{""},
		options: []page.Option{page.Opt("", v.Text("a new one"))},
		ask: func(q *question, value []string) *note.Note {
			q.trials.Design.Site = value[0]
			if f := q.trials.Faults(sites); len(f) > 0 {
				return &f[0]
			}
			return nil
		}}
	for _, name := range sites {
		where.options = append(where.options, page.Opt(name, name))
	}
	return []*setting{
		axis("across", v.Text("map, across"), func(q *question) *string { return &q.across }),
		axis("down", v.Text("map, upward"), func(q *question) *string { return &q.down }),
		{key: "aversion", kind: page.Number, label: v.Text("dislike of risk; 0: none"),
			unit: v.Text("per %s a tap", money), files: []string{page.Format(as.aversion)},
			ask: func(q *question, value []string) *note.Note {
				x, err := strconv.ParseFloat(value[0], 64)
				if err != nil || !(x >= 0 && x <= 100) {
					return new(note.New("a number from 0 to 100 is asked, not %s", value[0]))
				}
				q.aversion = x
				return nil
			}},
		of("concerned", v.Text("taps of all who could use the answer"), v.Text("taps"), 1, t.Use.Taps, any,
			func(o *advice.TrialOptions, x float64) { o.Use.Taps = x }),
		of("adoption", v.Text("of these, that do what pays best"), "%", 100, t.Adoption, any,
			func(o *advice.TrialOptions, x float64) { o.Adoption = x }),
		of("use-seasons", v.Text("seasons that the answer is used"), v.Text("seasons"), 1, float64(t.Use.Seasons), 1,
			func(o *advice.TrialOptions, x float64) { o.Use.Seasons = int(x) }),
		of("trial-seasons", v.Text("seasons that the trial runs; 0: as many as pay best"), v.Text("seasons"), 1,
			float64(t.Design.Seasons), 0, func(o *advice.TrialOptions, x float64) { o.Design.Seasons = int(x) }),
		where,
		of("trial-sites", v.Text("new sites, each with all blocks; 0: as many as pay best"), v.Text("sites"), 1,
			float64(t.Design.Sites), 0, func(o *advice.TrialOptions, x float64) { o.Design.Sites = int(x) }),
		of("trial-units", v.Text("units of each practice in a block"), v.Text("units"), 1, float64(t.Design.Units),
			1, func(o *advice.TrialOptions, x float64) { o.Design.Units = int(x) }),
		of("trial-taps", v.Text("taps of a unit"), v.Text("taps"), 1, float64(t.Design.Taps), 1,
			func(o *advice.TrialOptions, x float64) { o.Design.Taps = int(x) }),
		of("trial-cv", v.Text("how much units of a block differ"), "%", 100, t.Design.CV, any,
			func(o *advice.TrialOptions, x float64) { o.Design.CV = x }),
		of("trial-fixed", v.Text("cost of the trial, once"), money, 1, t.Cost.Fixed, any,
			func(o *advice.TrialOptions, x float64) { o.Cost.Fixed = x }),
		of("trial-season", v.Text("its cost each season"), money, 1, t.Cost.Season, any,
			func(o *advice.TrialOptions, x float64) { o.Cost.Season = x }),
		of("trial-unit", v.Text("its cost each unit and season"), money, 1, t.Cost.Unit, any,
			func(o *advice.TrialOptions, x float64) { o.Cost.Unit = x }),
	}
}
