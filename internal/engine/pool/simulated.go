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
	Best            float64    // what was recommended was the best
	Stated          float64    // by how much too high the chance of that was stated
	// of what the sap of an unsanitized tap is worth, by how much too high its net was told: as used for money, and by
	// gains as the studies say
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

// WorstSimulated is the tables whose intervals of a gain held it least often.
func WorstSimulated() Simulated {
	return slices.MinFunc(Worlds, func(a, b Simulated) int { return cmp.Compare(a.Gains.Share, b.Gains.Share) })
}

// Worlds is what make coverage found. The usual world: sites and seasons differ by 0.1, practices by place by 0.07 and
// studies by 0.15 on the log scale; arms have six units that differ by a fifth; three studies in ten state neither n
// nor an error; eight sites, six seasons. Gains of 31, 63, 72 (fading to half in two seasons) and 15 %; tables of up to
// three studies know the first alone, of up to eight two. Costs have nothing to do with gains.
var Worlds = []Simulated{
	{"", 1, 2000, Held{99.6, 0.1}, Held{99.9, 0.1}, 1.49, [2]float64{100.0, 99.9}, 0, 0.0, [2]float64{0, 0}, 0},
	{"", 2, 2000, Held{99.6, 0.1}, Held{99.7, 0.1}, 1.04, [2]float64{100.0, 100.0}, 0, 0.0, [2]float64{0, 0}, 0},
	{"", 3, 2000, Held{98.8, 0.2}, Held{99.0, 0.2}, 0.78, [2]float64{98.8, 93.5}, 0, 0.0, [2]float64{0, 0}, 0},
	{"", 5, 2000, Held{98.3, 0.2}, Held{98.7, 0.2}, 0.67, [2]float64{96.2, 91.9}, 80, 1.3, [2]float64{0, 9}, 0},
	{"", 8, 2000, Held{96.8, 0.3}, Held{97.3, 0.3}, 0.50, [2]float64{93.8, 92.5}, 84, 1.0, [2]float64{0, 6}, 0},
	{"", 12, 2000, Held{97.3, 0.2}, Held{97.2, 0.2}, 0.53, [2]float64{95.1, 93.4}, 70, -0.8, [2]float64{6, 16}, 0},
	{"", 26, 2000, Held{96.5, 0.2}, Held{96.4, 0.2}, 0.41, [2]float64{93.0, 93.3}, 81, -1.0, [2]float64{3, 6}, 99.4},
	{"", 35, 2000, Held{96.3, 0.3}, Held{96.3, 0.2}, 0.37, [2]float64{91.7, 93.6}, 83, -1.6, [2]float64{2, 4}, 98.5},
	{"studies differ by 0.05",
		12, 200, Held{98.0, 0.6}, Held{97.9, 0.5}, 0.46, [2]float64{95.9, 91.2}, 72, -2.0, [2]float64{3, 10}, 0},
	{"studies differ by 0.5",
		12, 200, Held{91.8, 1.0}, Held{92.6, 0.9}, 0.93, [2]float64{94.5, 95.5}, 45, 16.1, [2]float64{29, 86}, 0},
	{"some studies lie far out",
		12, 200, Held{98.0, 0.6}, Held{97.2, 0.6}, 0.53, [2]float64{95.9, 94.0}, 74, -1.7, [2]float64{8, 17}, 0},
	{"of studies that find nothing three in ten are published",
		12, 200, Held{96.6, 0.7}, Held{96.6, 0.7}, 0.51, [2]float64{94.2, 92.0}, 65, 3.2, [2]float64{13, 23}, 0},
	{"of studies that find nothing three in ten are published",
		35, 200, Held{95.2, 0.8}, Held{94.9, 0.8}, 0.35, [2]float64{89.1, 91.4}, 78, 3.1, [2]float64{6, 8}, 0},
	{"a quarter of the studies stand in one freak season",
		12, 200, Held{95.9, 0.8}, Held{97.0, 0.7}, 0.58, [2]float64{93.1, 95.1}, 68, 3.4, [2]float64{22, 33}, 0},
	{"a quarter of the studies stand in one freak season",
		35, 200, Held{92.9, 1.2}, Held{97.2, 0.6}, 0.42, [2]float64{87.1, 96.8}, 87, -4.6, [2]float64{13, 16}, 0},
	{"one practice is far better",
		12, 200, Held{96.2, 0.7}, Held{97.2, 0.6}, 0.51, [2]float64{93.8, 91.8}, 98, -3.9, [2]float64{-2, 9}, 0},
	{"one practice is far better and was studied once",
		12, 200, Held{97.0, 0.7}, Held{97.1, 0.6}, 0.86, [2]float64{94.6, 93.1}, 54, 10.1, [2]float64{-19, 28}, 0},
	{"seasons differ by 0.2",
		8, 2000, Held{95.1, 0.4}, Held{95.7, 0.3}, 0.55, [2]float64{93.0, 93.0}, 83, 0.0, [2]float64{-2, 5}, 0.0},
	{"seasons differ by 0.2",
		12, 2000, Held{95.7, 0.3}, Held{94.8, 0.3}, 0.58, [2]float64{94.2, 92.3}, 67, 0.7, [2]float64{6, 18}, 100.0},
	{"seasons differ by 0.2",
		35, 2000, Held{94.8, 0.3}, Held{94.9, 0.3}, 0.46, [2]float64{85.7, 91.7}, 83, -1.2, [2]float64{2, 5}, 98.2},
}

// Sloped is what many tables of a dozen studies make of gains at a sugarbush whose vacuum lies one standard deviation
// from theirs, where each such deviation adds to every log gain.
type Sloped struct {
	Slope  float64
	Tables int
	// not reckoned with; only where a test at 5 % shows it; whatever it is; and with a prior of 0.05, 0.1 and 0.2
	Ways [6]Way
}

// Way is what one way of reckoning with a property does.
type Way struct {
	Gains Held    // intervals that held the gain there
	Error float64 // root mean square error of the log gain, hundredths
	Loss  float64 // what the choice by it nets less than the best, percent of the worth of an unsanitized tap's sap
}

// Slopes is what make coverage found, in the usual world but for the slope.
var Slopes = []Sloped{
	{0, 300, [6]Way{
		{Held{97.3, 0.5}, 13.3, 4.4},
		{Held{96.6, 0.6}, 14.4, 4.6},
		{Held{97.2, 0.5}, 16.9, 5.1},
		{Held{97.8, 0.4}, 13.7, 4.3},
		{Held{97.9, 0.4}, 14.8, 4.6},
		{Held{97.3, 0.5}, 16.0, 4.9},
	}},
	{0.05, 300, [6]Way{
		{Held{96.5, 0.5}, 14.4, 4.3},
		{Held{95.8, 0.6}, 15.4, 4.4},
		{Held{97.2, 0.5}, 16.9, 5.1},
		{Held{97.6, 0.5}, 14.2, 4.4},
		{Held{97.6, 0.4}, 14.9, 4.8},
		{Held{97.4, 0.5}, 16.0, 4.9},
	}},
	{0.1, 300, [6]Way{
		{Held{91.8, 0.6}, 17.4, 5.0},
		{Held{92.2, 0.7}, 17.8, 5.2},
		{Held{97.2, 0.5}, 16.9, 5.3},
		{Held{95.8, 0.5}, 15.8, 5.1},
		{Held{97.4, 0.4}, 15.4, 4.9},
		{Held{97.4, 0.5}, 16.1, 5.1},
	}},
	{0.2, 300, [6]Way{
		{Held{75.8, 0.8}, 25.8, 6.8},
		{Held{86.3, 1.0}, 21.0, 5.7},
		{Held{97.2, 0.5}, 16.9, 5.3},
		{Held{87.1, 0.7}, 21.4, 6.1},
		{Held{95.1, 0.6}, 17.3, 5.5},
		{Held{97.0, 0.5}, 16.3, 5.2},
	}},
	{0.4, 300, [6]Way{
		{Held{45.2, 0.8}, 45.5, 15.3},
		{Held{94.2, 0.9}, 19.2, 5.8},
		{Held{97.2, 0.5}, 16.9, 5.3},
		{Held{58.7, 0.7}, 37.9, 12.7},
		{Held{86.8, 0.8}, 24.2, 8.1},
		{Held{96.1, 0.5}, 17.3, 5.9},
	}},
}
