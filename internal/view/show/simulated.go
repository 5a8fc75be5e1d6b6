package show

import "spile/internal/engine/pool"

// Simulated is how often intervals such as these hold the truth, in tables made up from one.
func (w *View) Simulated() Table {
	v := w.V
	t := Table{
		ID:    "simulated",
		Title: v.Text("How often such intervals hold the truth"),
		Lead: v.Text("Tables of studies were made up from a known truth and pooled as here. Of 100 intervals of " +
			"95 %% so many held it."),
		Columns: []Column{
			wordy("world", v.Text("what is otherwise than assumed")),
			numeric("studies", v.Text("studies"), ""),
			numeric("gain_held_pct", v.Text("gain"), "%"),
			numeric("season_held_pct", v.Text("one new season"), "%"),
			numeric("kr_gain_held_pct", v.Text("gain by Kenward-Roger"), "%"),
			numeric("kr_season_held_pct", v.Text("one new season by it"), "%"),
			numeric("best_pct", v.Text("recommended and the best"), "%"),
			numeric("overstated_pct", v.Text("net told too high"), "%"),
		},
	}
	for _, s := range pool.Worlds {
		world := v.Text("nothing")
		if !s.Usual() {
			world = v.Text(s.World)
		}
		best, over := none(v), none(v)
		if s.Best > 0 {
			best, over = decimal(v, s.Best, 0), decimal(v, s.Over[0], 0)
		}
		t.row(s.World, words(world), count(v, s.Studies), decimal(v, s.Gains.Share, 1), decimal(v, s.Season.Share, 1),
			decimal(v, s.KR[0], 1), decimal(v, s.KR[1], 1), best, over)
	}
	t.note(v.Text("Net told too high: that of what is recommended, of what the sap of an unsanitized tap is worth; " +
		"what practices cost there has nothing to do with what they gain."))
	return t
}

// simulated says how often intervals such as those of the pool held the truth in made-up tables, and in which; "" where
// none were made of its model.
func (w *View) simulated() string {
	o := w.A.Input.Pool
	if w.A.Pool.KR == nil || !o.Site || len(o.Moderators) > 0 {
		return ""
	}
	told := func(x float64) string { return w.V.Decimal(x, 1) + "\u00a0%" }
	type trial struct{ site, name string }
	alone, trials := 0, map[trial]bool{} // the seasons of one trial tell about as much as one study
	for _, s := range w.A.Effects.Studies {
		if s.Trial == "" {
			alone++
		} else {
			trials[trial{s.Site, s.Trial}] = true
		}
	}
	s, worst, v := pool.SimulatedFor(alone+len(trials)), pool.WorstSimulated(), w.V
	return v.Text("In made-up tables of %s, the size nearest to this one that was simulated, %s of such intervals of "+
		"a gain held the truth, and %s of those of one new season. That is so if all is as the model takes it to be "+
		"and log gains differ by 0.15 between studies, by 0.1 between sites and between seasons, and by 0.07 between "+
		"places of one practice; it is no promise of another world. Of those tried the worst was this: %s. There %s "+
		"and %s held it, in tables of %s.", v.Text("%d studies", s.Studies), told(s.Gains.Share),
		told(s.Season.Share), v.Text(worst.World), told(worst.Gains.Share), told(worst.Season.Share),
		v.Text("%d studies", worst.Studies))
}
