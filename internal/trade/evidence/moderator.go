package evidence

// Moderator is a property of a study that the joint model can hold its gains against; in the literature, a covariate of
// a meta-regression.
type Moderator struct{ Key, Name, Unit string }

// The keys of those that a section of a sugarbush has too.
const (
	Vacuum  = "vacuum"
	LineAge = "line-age"
	Tubing  = "tubing"
)

// Moderators are those there are. Of a study's arms each is the mean over those that state it.
var Moderators = []Moderator{
	{Vacuum, "vacuum", "kPa"},
	{LineAge, "age of the tubing", "seasons"},
	{Tubing, "inside diameter of the tubing", "inches"},
	{"days-open", "days the tap holes were open", "days"}, // last run − tapped
	{"reference-drop-age", "age of the reference's drops", "seasons"},
	{"season-class", "a freak season", "0 no, 1 yes"},
}

// ModeratorNames are their keys.
func ModeratorNames() []string {
	keys := make([]string, len(Moderators))
	for i, m := range Moderators {
		keys[i] = m.Key
	}
	return keys
}
