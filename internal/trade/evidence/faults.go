package evidence

import (
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Faults is everything that keeps a study from becoming effect sizes, all of it at once.
func (s Study) Faults(set practice.Set) note.Faults {
	var faults note.Faults
	checkStudy(s, set, func(n note.Note) { faults = append(faults, n) })
	return faults
}
