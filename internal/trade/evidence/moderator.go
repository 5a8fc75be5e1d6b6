package evidence

// Moderator is a property of a study that the joint model can hold its gains against; in the literature, a covariate of
// a meta-regression.
type Moderator struct {
	Key, Name, Unit string
	// The least that studies differ by, in Unit, as a standard deviation, where the property may explain as much as is
	// assumed of one: what differs by less hardly differs, whatever it is rounded to (common practice, no source).
	Least float64
}

// The keys of those that a section of a sugarbush has too.
const (
	Vacuum  = "vacuum"
	LineAge = "line-age"
	Tubing  = "tubing"
)

// Moderators are those there are. Of a study's arms each is the mean over those that state it.
var Moderators = []Moderator{
	{Vacuum, "vacuum", "kPa", 3.4}, // an inch of mercury
	{LineAge, "age of the tubing", "seasons", 1},
	{Tubing, "inside diameter of the tubing", "inches", 1. / 16},
	{"days-open", "days the tap holes were open", "days", 7}, // last run − tapped
	{"reference-drop-age", "age of the reference's drops", "seasons", 1},
	{"season-class", "a freak season", "0 no, 1 yes", 0.5}, // of as many of one kind as of the other
}

// FindModerator is the moderator of a key; false where there is none.
func FindModerator(key string) (Moderator, bool) {
	for _, m := range Moderators {
		if m.Key == key {
			return m, true
		}
	}
	return Moderator{}, false
}

// ModeratorNames are their keys.
func ModeratorNames() []string {
	keys := make([]string, len(Moderators))
	for i, m := range Moderators {
		keys[i] = m.Key
	}
	return keys
}
