package practice

// Word is one entry of a list of the trade.
type Word struct {
	Key  string // in files, forms and JSON
	Name string // English, the id of its translation
	Does string // what docs/data.md adds to it; "" where the name says enough
}

func (w Word) word() Word { return w }

// Family is what practices are alike in, so that the gain of one tells of that of another.
type Family string

const (
	NewPlastic Family = "new-plastic" // what holds a new spout, or new drops
	Washed     Family = "washed"      // used plastic that is cleaned
)

// WashInfo is what is to be known of a wash.
type WashInfo struct {
	Word
	Chemical bool     // it runs a chemical through food plastic
	Fitted   string   // what a producer is told to do; "": its name
	Cautions []string // beside those of every chemical
}

// SpoutInfo is what is to be known of a spout.
type SpoutInfo struct {
	Word
	New      bool     // put in new, or as good as new, each season
	Valve    bool     // it has a check valve
	Confirm  bool     // authorities must be asked about it
	Fitted   string   // what a producer is told to fit; "" nothing new
	Cautions []string // common practice, no source
}

// DropsInfo is what is to be known of what becomes of drops.
type DropsInfo struct {
	Word
	Renewed bool   // replaced every few seasons, so that the practice ages
	Fitted  string // what a producer is told to fit, spouts and all; "": what the spout says
}

// Washes, Spouts and DropsList are the lists that files, forms, rules, cautions and docs/data.md loop over.
var (
	Washes = []WashInfo{
		{Word: Word{string(WashNone), "none", ""}},
		{Word: Word{string(WashAirWater), "air and water", ""}, Cautions: []string{
			"compressed air bursts tubing and throws fittings: wear eye protection and let the pressure off before " +
				"opening",
		}},
		{Word: Word{string(WashChlorine), "chlorine", ""}, Chemical: true,
			Fitted: "a chlorine rinse", Cautions: []string{
				"never mix chlorine products with acids or alcohol: the gas is poisonous",
				"chlorine ruins reverse-osmosis membranes and corrodes releasers: let none of it reach them",
				"the salt that chlorine leaves draws squirrels to tubing for seasons, to that of neighbours too",
			}},
		{Word: Word{string(WashPeroxide), "peroxide", ""}, Chemical: true,
			Fitted: "a peroxide rinse", Cautions: []string{
				"peroxide burns skin and eyes, and feeds fire: keep it from metal filings, oil and cloth",
				"do not cap or close a tube that holds peroxide: it gives off gas",
			}},
		{Word: Word{string(WashAlcohol), "alcohol", ""}, Chemical: true,
			Fitted: "an alcohol flush", Cautions: []string{
				"alcohol vapour burns: no flame, spark or smoking, and no alcohol where a vacuum pump runs or can " +
					"draw its vapour",
				"never mix chlorine products with acids or alcohol: the gas is poisonous",
			}},
	}
	Spouts = []SpoutInfo{
		{Word: Word{string(SpoutReused), "used again", ""}},
		{Word: Word{string(SpoutNew), "new", ""}, New: true, Fitted: "a new spout"},
		{Word: Word{string(SpoutCheckValveNew), "check valve, new", ""}, New: true, Valve: true,
			Fitted: "a new check-valve spout", Cautions: []string{sticks}},
		{Word: Word{string(SpoutCheckValveReused), "check valve, used again", ""}, Valve: true,
			Cautions: []string{sticks}},
		{Word: Word{string(SpoutSilver), "silver-bearing", ""}, New: true, Confirm: true,
			Fitted: "a silver-bearing spout", Cautions: []string{
				"silver leaves a spout as it is used: use it no longer than its label states, and ask how it is to " +
					"be disposed of",
			}},
	}
	DropsList = []DropsInfo{
		{Word: Word{string(DropsKept), "kept", ""}},
		{Word: Word{string(DropsReplaced), "replaced", "replaced every N seasons: the practice ages"}, Renewed: true,
			Fitted: "new drops with their tees and spouts"},
		{Word: Word{string(DropsLateral), "replaced with the lateral", "replaced with the lateral, every N seasons"},
			Renewed: true,
			Fitted:  "new laterals, drops and spouts"},
	}
	Verdicts = []Word{
		{string(Permitted), "permitted", ""},
		{string(HeldBack), "held back", "until the label and the authorities say yes"},
		{string(Never), "never", ""},
	}
)

const sticks = "a check valve holds only while its ball or flap moves freely: sap frozen or grown into it makes it a " +
	"plain spout"

// Words are the entries of a list.
func Words[I interface{ word() Word }](list []I) []Word {
	words := make([]Word, len(list))
	for i, x := range list {
		words[i] = x.word()
	}
	return words
}

// KeysOf are the keys of a list.
func KeysOf[I interface{ word() Word }](list []I) []string {
	keys := make([]string, len(list))
	for i, x := range list {
		keys[i] = x.word().Key
	}
	return keys
}

// find gives the entry of a key.
func find[I interface{ word() Word }](list []I, key string) (entry I, ok bool) {
	for _, x := range list {
		if x.word().Key == key {
			return x, true
		}
	}
	return entry, false
}

// Info is what is to be known of a wash. One that is not in the list is called by its key and taken for a chemical, so
// that it is held back; "" is none.
func (w Wash) Info() WashInfo {
	x, ok := find(Washes, string(w))
	if !ok && w != "" {
		return WashInfo{Word: itself(string(w)), Chemical: true}
	}
	return x
}

// Info is what is to be known of a spout. One that is not in the list is called by its key.
func (s Spout) Info() SpoutInfo {
	x, ok := find(Spouts, string(s))
	if !ok {
		x.Word = itself(string(s))
	}
	return x
}

// Info is what is to be known of what becomes of drops. What is not in the list is called by its key.
func (d Drops) Info() DropsInfo {
	x, ok := find(DropsList, string(d))
	if !ok {
		x.Word = itself(string(d))
	}
	return x
}

func itself(key string) Word { return Word{Key: key, Name: key} }
