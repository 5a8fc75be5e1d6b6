package pool

import "spile/internal/note"

// Alone says what a gain rests on that may lead and is not put first, since first place needs two independent studies;
// "" where it rests on two or more. Two seasons of one trial share their units, and with them whatever else makes these
// units give more.
func (g Gain) Alone() note.Term {
	switch {
	case g.Trials > 1:
		return ""
	case g.Studies > 1:
		return note.Term("one trial of several seasons, which counts as one study")
	}
	return note.Term("one study")
}

// Most is the gain of most sap among those that may come first, and the most promising of the others; zero where there
// is none.
func Most(gains []Gain) (best, promising Gain) {
	for _, g := range gains {
		to := &best
		if g.Alone() != "" {
			to = &promising
		}
		if to.Treatment.Practice == "" || g.Pct > to.Pct {
			*to = g
		}
	}
	return best, promising
}
