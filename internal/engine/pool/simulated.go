package pool

import (
	"cmp"
	"slices"
)

// Simulated is what many tables of studies, made up from a known truth, made of the intervals and of what was
// recommended. Shares are percent.
type Simulated struct {
	World           string // what is otherwise than usual; "": nothing
	Studies, Tables int
	Gains, Season   Held       // intervals that held the gain, and that of the next season at a new site
	Width           float64    // median width of a gain's interval, on the log scale
	KR              [2]float64 // intervals by Kenward-Roger that held the same
	// what was recommended was the best: as used for money, and by gains as the studies say
	Best   [2]float64
	Stated float64 // by how much too high the chance of being the best was stated
	// of what the sap of an unsanitized tap is worth, by how much too high its net was told, in the order of Best
	Over     [2]float64
	HalfLife float64 // intervals of the half-life that held it; 0: none was told
}

// Held is how often 95 % intervals held what they should, with its Monte Carlo error.
type Held struct{ Share, Error float64 }

// Usual is a size of the table in which what the model assumes holds.
func (s Simulated) Usual() bool { return s.World == "" }

// SimulatedFor is the tables of the usual world nearest in size to some studies.
func SimulatedFor(studies int) Simulated {
	var usual []Simulated
	for _, s := range Worlds {
		if s.Usual() {
			usual = append(usual, s)
		}
	}
	return slices.MinFunc(usual, func(a, b Simulated) int {
		far := func(s Simulated) int { return max(studies-s.Studies, s.Studies-studies) }
		return cmp.Compare(far(a), far(b))
	})
}

// Worlds is what make coverage found. The usual world: sites and seasons differ by 0.1, practices by place by 0.07 and
// studies by 0.15 on the log scale; arms have six units that differ by a fifth; three studies in ten state neither n
// nor an error; eight sites, six seasons. Gains of 31, 63, 72 (fading to half in two seasons) and 15 %; tables of up to
// three studies know the first alone, of up to eight two. Costs have nothing to do with gains.
var Worlds = []Simulated{}
