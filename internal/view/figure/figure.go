// Package figure draws every figure, once for screen, report and talk. It takes plain numbers and finished words:
// every string arrives translated and formatted, so the package knows no language and no domain type.
//
// Each figure is a struct; Draw lays it out for a Size (its text is never scaled to fit) and gives a Sheet, which
// writes SVG and PNG or replays itself on any vg.Canvas (the PDF page of package paper, say).
//
// Colours in SVG are CSS variables with the light values as fallback, so a page can be dark at night:
//
//	--paper        the page
//	--ink          text, marks, axes
//	--faint        lesser text, axis ticks (4.5:1 on the page)
//	--rule         grid lines and frames
//	--accent       what the figure is about: pooled gains, means, the best choice
//	--accent-soft  the accent as an area
//	--ink-soft     the ink as an area: bars of single studies
//
// Palette holds the light values. The family of the text is the CSS name paper.Family.
// No two things are told apart by colour alone: position, shape, hatching or a dash says the same.
package figure

// Size is a place to show a figure. The height follows the content, except on a Slide, which is 16:9.
type Size int

const (
	Page  Size = iota // 720 CSS px wide (7.5 in), every text at least 13 px
	Phone             // 360 CSS px wide, every text at least 12 px
	Slide             // 13.33 × 7.5 in, every text at least 24 pt
)

// Places are the sizes by the names under which they are asked for.
var Places = []struct {
	Name string
	Size Size
}{{"page", Page}, {"slide", Slide}, {"phone", Phone}}

// SizeOf is the size of a name.
func SizeOf(name string) (Size, bool) {
	for _, s := range Places {
		if s.Name == name {
			return s.Size, true
		}
	}
	return 0, false
}

// Words are what every figure needs besides its own.
type Words struct {
	Title string // drawn at the head, and the title for screen readers
	Desc  string // for screen readers: what the figure shows, in a sentence or two
	// Number formats a tick of an axis with so many decimals; nil writes English digits with a true minus.
	Number func(x float64, decimals int) string
	// Left words what a slide had no room for: so many rows. nil says nothing.
	Left func(rows int) string
	Many string // what a tick is where studies are so many that one stands for several
	// Notes are the footnotes; a study's Marks count from 1 into them.
	Notes []string
}

// Range is an interval, in the unit of its axis.
type Range struct{ Low, High float64 }

// Bars is every study's gain as a bar, grouped by practice: the way a talk shows it.
type Bars struct {
	Words
	Axis   string // axis title with its unit: "more sap per tap than unsanitized, %"
	Groups []BarGroup
	Key    BarsKey
}

// BarsKey words the parts of the key; an empty one is left out.
type BarsKey struct {
	Study string // "one study"
	Weak  string // "one study, not replicated"
	Mean  string // "mean"
	Part  string // "of it the new spout alone"
}

// BarGroup is one practice.
type BarGroup struct {
	Name    string
	Studies []Bar
	Mean    *float64 // percent; nil where there is none
	Value   string   // the mean as words: "61 %"
	// percent of gain that the new spout alone gives; nil where it is undefined or the practice is the new spout
	Part *float64
}

// Bar is one study's gain from one practice.
type Bar struct {
	Name  string // "Otter Hill 2019"
	Gain  float64
	Value string // "61"; beside the bar
	Weak  bool   // hatched: not replicated, or reported without an error
	Marks []int  // its footnotes
}

// Intervals is every study with its interval and weight, and the pooled gain: the way a paper shows it.
type Intervals struct {
	Words
	Ticks  string // the title where studies are mere ticks, for want of room
	Axis   string
	Head   IntervalsHead
	Groups []IntervalGroup
	Beside []IntervalGroup // drawn elsewhere on an axis that must be the same: the other parts of a figure cut in parts
	Key    IntervalsKey
}

// IntervalsHead words the heads of the columns.
type IntervalsHead struct {
	Study  string // "study"
	Gain   string // "gain, % (95 %)"
	Weight string // "weight, %"
}

// IntervalsKey words the parts of the key; an empty one is left out.
type IntervalsKey struct {
	Study  string // "one study, its 95 % interval; larger: more weight"
	Weak   string // "not replicated"
	Out    string // "kept out of the pool"
	Pooled string // "pooled gain, 95 % interval"
	Season string // "range for one new season at a new site"
}

// IntervalGroup is one practice.
type IntervalGroup struct {
	Name    string
	Studies []Study
	Pooled  *Pooled // nil where the practice is not estimable
}

// Study is one contrast.
type Study struct {
	Name   string
	Gain   float64 // percent
	Range  Range   // 95 %
	Value  string  // "31 (12 to 54)"
	Weight float64 // percent of its group
	Share  string  // the weight as words: "12.4"
	Weak   bool
	Out    bool  // kept, but out of the pool: drawn hollow, no weight
	Marks  []int // its footnotes
}

// Pooled is the joint model's gain of one practice.
type Pooled struct {
	Name   string // "pooled, 14 studies"
	Gain   float64
	Range  Range // 95 % interval
	Season Range // range for one new season at a new site
	Value  string
}

// Ageing is the gain of drops by their age and the profit by the length of the rotation.
type Ageing struct {
	Words
	Gain   AgePanel
	Profit *LengthPanel // nil without prices
}

// AgePanel is gain by drop age.
type AgePanel struct {
	Title      string
	X, Y       string // axis titles with units: "age of the drop, seasons", "gain over unsanitized, %"
	Points     []AgePoint
	Curves     []AgeCurve // two, told apart by their stroke
	Oldest     float64    // the oldest age studied; beyond it the curves are dashed
	Floor      *Level     // what the curves fall to; nil where it is not known
	NoEvidence string     // "no evidence here"
	Point      string     // key: "one study, 95 % interval"
}

// Level is a gain that stands at every age.
type Level struct {
	Name string // key: "new spout each season"
	Gain float64
}

// AgePoint is one study's arm.
type AgePoint struct {
	Age   float64 // seasons
	Gain  float64
	Range Range
	Weak  bool
}

// AgeCurve is one ageing curve, from age 0 to the end of the axis.
type AgeCurve struct {
	Name string
	At   []AgeGain // ascending ages
}

// AgeGain is a point of a curve; Range is its 95 % interval, equal ends where there is none.
type AgeGain struct {
	Age, Gain float64
	Range     Range
}

// LengthPanel is money by rotation length.
type LengthPanel struct {
	Title    string
	X, Y     string // "seasons between replacements", "net per tap and season, $"
	Lengths  []Length
	Best     int // seasons; marked
	BestName string
	FlatFrom int // the lengths that pay nearly the same, shaded; 0 for none
	FlatTo   int
	FlatName string // "within $0.05 of the best"
}

// Length is one rotation.
type Length struct {
	Every   int
	Net     float64
	Range   Range
	Studied bool
}

// Net is the net per tap of each practice with its parts, one panel a reference.
type Net struct {
	Words
	Axis   string // "per tap and season, $"
	Panels []NetPanel
	Key    NetKey
}

// NetKey words the parts of the key; an empty one is left out.
type NetKey struct {
	AddedReturns, ReducedCosts, AddedCosts, ReducedReturns string
	Net                                                    string // "net, 95 % interval"
	HeldBack                                               string // "held back here"
	NotStudied                                             string // "not studied"
}

// NetPanel is every choice against one reference. Panels list the same choices in the same order.
type NetPanel struct {
	Title string // "against unsanitized"
	Rows  []NetRow
}

// NetRow is one choice. The four parts are positive or zero; the net is the first two less the last two.
type NetRow struct {
	Name                                                   string
	AddedReturns, ReducedCosts, AddedCosts, ReducedReturns float64
	Net                                                    float64
	Range                                                  Range  // 95 %
	Value                                                  string // "$1.24"
	Best                                                   bool   // the recommended one
	HeldBack                                               bool   // hatched: not permitted, or no hours for it
	NotStudied                                             bool   // dashed: a range, not an estimate
}
