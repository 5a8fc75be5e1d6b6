package practice

// Choice is what a producer may do: a practice every season, a rotation of drops, or a combination of the two.
type Choice struct {
	Practice Key
	Every    int // drops replaced every Every seasons; 0: not a rotation
	With     Key // the spout put on the rotated drops each season instead of the practice's own, else ""
}

// ChoiceOf is the choice of doing a treatment year after year. Where the practice ages, every says how often its drops
// are replaced; 0 is one season more than the treatment's drop age.
func ChoiceOf(t Treatment, every int, known Set) Choice {
	p, _ := known.Find(t.Practice)
	switch {
	case !p.Ages():
		every = 0
	case every == 0:
		every = t.DropAge + 1
	}
	return Choice{Practice: t.Practice, Every: every}
}

// Seasons is the treatments of a choice's cycle in their order: those whose gains its account takes. Of a combination,
// which no study holds, they are those of the rotation.
func (c Choice) Seasons() []Treatment {
	seasons := make([]Treatment, max(1, c.Every))
	for age := range seasons {
		seasons[age] = Treatment{Practice: c.Practice, DropAge: age}
	}
	return seasons
}
