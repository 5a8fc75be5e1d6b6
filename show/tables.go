package show

// Gains is the pooled gain of every practice: the table of the job.
func (w *View) Gains() Table {
	v := w.V
	t := Table{
		ID:    "gains",
		Title: v.Text("Pooled gains over unsanitized"),
		Columns: []Column{
			{ID: "practice", Name: v.Text("practice")},
			{ID: "gain_pct", Name: v.Text("gain"), Right: true, Interval: true},
			{ID: "interval", Name: v.Text("95 % interval"), Right: true},
		},
	}
	for _, g := range w.A.Pool.Gains {
		t.Rows = append(t.Rows, Row{ID: string(g.Treatment.Practice), Cells: []Cell{
			words(w.Treatment(g.Treatment)),
			within(v.Percent(g.Pct), g.Pct, g.LowPct, g.HighPct),
			words(v.PercentRange(g.LowPct, g.HighPct)),
		}})
	}
	return t
}
