package pool

// Most is the gain of most sap, and the most promising one beside it: where any practice has two studies or more, one
// with a single study does not come first. Both are zero where there are none.
func Most(gains []Gain) (best, promising Gain) {
	for _, g := range gains {
		switch {
		case best.Treatment.Practice == "" || best.Studies < 2 && g.Studies > 1 ||
			g.Pct > best.Pct && (g.Studies > 1 || best.Studies < 2):
			best, promising = g, best
		case promising.Treatment.Practice == "" || g.Pct > promising.Pct:
			promising = g
		}
	}
	return best, promising
}
