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

// simulated says how often intervals such as those of the pool held the truth in made-up tables; "" where no such were
// made of its inference.
func (w *View) simulated() string {
	if w.A.Pool.KR == nil {
		return ""
	}
	s := pool.SimulatedFor(w.A.Pool.Studies)
	v := w.V
	return v.Text("In tables of %s, made up from a known truth, %s of such intervals of a gain held it, and %s of "+
		"those of one new season. They know nothing of studies that were not published, nor of a freak season that "+
		"many studies share.", v.Text("%d studies", s.Studies), v.Percent(s.Gains.Share), v.Percent(s.Season.Share))
}
