// Package practice names what is done to a tap's plastic each season: a spout, drops of some age, a wash.
package practice

import (
	"strconv"
	"strings"

	"spile/internal/note"
)

// Key names a practice in files, addresses and JSON.
type Key string

// The practices shipped; a user's file can add more.
const (
	Unsanitized   Key = "unsanitized"
	NewSpout      Key = "new-spout"
	CheckValve    Key = "check-valve"    // new each season
	NewDrop       Key = "new-drop"       // drop, tee and spout new; a new spout each season after
	NewLateral    Key = "new-lateral"    // lateral, tees, drops and spouts new
	ChlorineRinse Key = "chlorine-rinse" // spouts and lines used again, rinsed
	PeroxideRinse Key = "peroxide-rinse"
	AlcoholFlush  Key = "alcohol-flush"
	SilverSpout   Key = "silver-spout"
)

// Spout is the spout that a practice puts into the tap hole.
type Spout string

const (
	SpoutReused           Spout = "reused"
	SpoutNew              Spout = "new"
	SpoutCheckValveNew    Spout = "check-valve-new"
	SpoutCheckValveReused Spout = "check-valve-reused"
	SpoutSilver           Spout = "silver"
)

// Drops says what becomes of the drops.
type Drops string

const (
	DropsKept     Drops = "kept"
	DropsReplaced Drops = "replaced"     // every N seasons: the practice ages
	DropsLateral  Drops = "with-lateral" // replaced together with the lateral, every N seasons: ages too
)

// Wash is what is run through the plastic.
type Wash string

const (
	WashNone     Wash = "none"
	WashAirWater Wash = "air-and-water"
	WashChlorine Wash = "chlorine"
	WashPeroxide Wash = "peroxide"
	WashAlcohol  Wash = "alcohol"
)

// Practice is one way of keeping tap holes and drops clean.
type Practice struct {
	Key   Key
	Name  string // English name, the id of its translation; a user's own practice keeps the name as typed
	Spout Spout
	Drops Drops
	Wash  Wash
}

// Sanitized is true of every practice but the reference.
func (p Practice) Sanitized() bool { return p.Key != Unsanitized }

// Ages is true where the age of what was replaced is part of the treatment (M4): its gain fades with the seasons in
// use.
func (p Practice) Ages() bool { return p.Drops.Info().Renewed }

// Chemical is true where the practice runs a chemical through food plastic.
func (p Practice) Chemical() bool { return p.Wash.Info().Chemical }

// Family is what the practice is alike in with others; "" where it is like none, and for the reference.
func (p Practice) Family() Family {
	switch {
	case p.Spout.Info().New || p.Drops.Info().Renewed:
		return NewPlastic
	case p.Sanitized() && p.Wash != WashNone:
		return Washed
	}
	return ""
}

// Treatment is what an arm did: a practice and, where the practice ages, the seasons its drops have been in use
// (0 in their first season). For every other practice DropAge is 0. It is comparable and serves as a map key.
type Treatment struct {
	Practice Key `json:"practice"`
	DropAge  int `json:"drop_age,omitempty"`
}

// String is the treatment as addresses and JSON name it: "check-valve", "new-drop@2".
func (t Treatment) String() string {
	if t.DropAge == 0 {
		return string(t.Practice)
	}
	return string(t.Practice) + "@" + strconv.Itoa(t.DropAge)
}

// Set is the practices known to one run: those shipped and those that the user added.
type Set []Practice

// shipped is the practices that every run knows, in the order in which they are listed, what docs/data.md says that is
// done, and what people call them, in English and French, small letters and spaces alone.
var shipped = []struct {
	Practice
	does string
	said []string
}{
	{Practice{Unsanitized, "unsanitized", SpoutReused, DropsKept, WashNone},
		"spouts and tubing used again, cleaned with nothing, or with air and water only: the reference",
		[]string{"control", "ctrl", "ctl", "check", "untreated", "no treatment", "none", "nothing", "not treated",
			"standard", "status quo",
			"old spout", "old spouts", "used spout", "used spouts", "reused spout", "reused spouts", "same spout",
			"not cleaned",
			"not sanitized", "not sanitised", "unsanitised", "no sanitation", "dirty", "air and water", "water",
			"water rinse",
			"temoin", "controle", "aucun", "aucune", "rien", "non traite", "sans traitement", "non assaini",
			"aucun assainissement",
			"vieux chalumeau", "vieux chalumeaux", "chalumeau reutilise", "chalumeaux reutilises", "chalumeau usage",
			"chalumeaux usages", "ancien chalumeau", "anciens chalumeaux", "eau", "air et eau", "baseline",
			"reference", "controls", "temoins", "as last year", "last year s spouts", "not washed", "unwashed",
			"non lave", "non laves", "ck", "utc", "untrt",
			"ref", "no cleaning", "sans nettoyage", "sans lavage", "as is", "tel quel", "air", "old", "used", "reused",
			"reutilise", "reutilises", "usage", "usages", "chalumeaux de l an passe", "chalumeaux de l an dernier",
			"comme l an dernier"}},
	{Practice{NewSpout, "new spout each season", SpoutNew, DropsKept, WashNone}, "a new spout each season",
		[]string{"new spout", "new spouts", "new spile", "new tap", "new taps", "annual spout", "seasonal spout",
			"spout only", "disposable spout", "ns", "chalumeau neuf", "chalumeaux neufs", "nouveau chalumeau",
			"nouveaux chalumeaux", "chalumeau saisonnier", "chalumeau jetable", "chalumeau neuf chaque saison",
			"spout replaced", "spouts replaced", "chalumeau remplace", "chalumeaux remplaces"}},
	{Practice{CheckValve, "check-valve spout each season", SpoutCheckValveNew, DropsKept, WashNone},
		"a new check-valve spout each season",
		[]string{"check valve", "check valves", "check valve spout", "check valve spouts", "cv", "valve",
			"valve spout",
			"ball valve spout", "backflow valve", "one way valve", "anti backflow", "antiretour", "anti retour",
			"clapet", "clapets", "clapets antiretour", "clapets anti retour", "valves", "one way valves",
			"cvs", "antirefoulement", "anti refoulement",
			"clapet antiretour", "clapet anti retour", "chalumeau antiretour", "chalumeau anti retour",
			"chalumeaux antiretour",
			"chalumeaux anti retour", "valve antiretour", "chalumeau a clapet"}},
	{Practice{NewDrop, "new drop", SpoutNew, DropsReplaced, WashNone},
		"drop, tee and spout new; a new spout each season after. `drop_age` counts the seasons since",
		[]string{"new drops", "new drop and spout", "new spout and drop", "new drop line", "new drop lines",
			"new dropline",
			"new droplines", "replaced drop", "replaced drops", "drops replaced", "drop replaced",
			"drop replacement", "nd",
			"new spouts drops",
			"new spouts and drops", "new drops and spouts", "new drops spouts", "new spout drop",
			"spouts and drops", "chute neuve", "chutes neuves", "nouvelle chute", "nouvelles chutes",
			"chute remplacee", "chutes remplacees",
			"remplacement des chutes", "chute et chalumeau neufs", "chutes et chalumeaux neufs"}},
	{Practice{NewLateral, "new lateral and drops", SpoutNew, DropsLateral, WashNone},
		"lateral, tees, drops and spouts new; a new spout each season after",
		[]string{"new lateral", "new laterals", "new lateral line", "new tubing", "all new", "all new tubing",
			"new lines",
			"lateral neuf", "lateraux neufs", "nouveau lateral", "nouveaux lateraux", "tubulure neuve", "tout neuf",
			"nouvelle tubulure"}},
	{Practice{ChlorineRinse, "chlorine rinse", SpoutReused, DropsKept, WashChlorine},
		"spouts and tubing used again, rinsed with a chlorine product",
		[]string{"chlorine", "bleach", "bleach rinse", "bleached", "hypochlorite", "sodium hypochlorite",
			"calcium hypochlorite", "naocl", "naclo", "chlorinated", "chlore", "javel", "javellise", "javellisant",
			"javellisation", "eau de javel", "rincage au chlore",
			"hypochlorite de sodium",
			"hypochlorite de calcium"}},
	{Practice{PeroxideRinse, "peroxide rinse", SpoutReused, DropsKept, WashPeroxide}, "the same with peroxide",
		[]string{"peroxide", "hydrogen peroxide", "h2o2", "h₂o₂", "peracetic", "paa",
			"peracetique", "peroxyde", "peroxyde d hydrogene",
			"eau oxygenee",
			"rincage au peroxyde"}},
	{Practice{AlcoholFlush, "alcohol flush", SpoutReused, DropsKept, WashAlcohol}, "the same with alcohol",
		[]string{"alcohol", "isopropyl", "isopropyl alcohol", "isopropanol", "ipa", "ethanol", "alcohol rinse",
			"alcool",
			"alcool isopropylique", "rincage a l alcool", "lavage a l alcool"}},
	{Practice{SilverSpout, "silver-bearing spout", SpoutSilver, DropsKept, WashNone}, "a silver-bearing spout",
		[]string{"ag", "silver", "silver spout", "silver spouts", "silver bearing", "antimicrobial spout",
			"antimicrobial",
			"chalumeau a l argent", "chalumeau argente", "chalumeau antimicrobien", "argent"}},
}

// Shipped is the practices that every run knows, in the order in which they are listed.
func Shipped() Set {
	set := make(Set, len(shipped))
	for i, p := range shipped {
		set[i] = p.Practice
	}
	return set
}

// ShippedWords are the shipped practices as entries of a list.
func ShippedWords() []Word {
	words := make([]Word, len(shipped))
	for i, p := range shipped {
		words[i] = Word{string(p.Key), p.Name, p.does}
	}
	return words
}

// Find gives the practice of a key.
func (s Set) Find(k Key) (Practice, bool) {
	for _, p := range s {
		if p.Key == k {
			return p, true
		}
	}
	return Practice{}, false
}

// Keys lists the keys in the set's order.
func (s Set) Keys() []Key {
	keys := make([]Key, len(s))
	for i, p := range s {
		keys[i] = p.Key
	}
	return keys
}

// Unknown says that a key is that of no practice, and which one it may have been meant for.
func (s Set) Unknown(k Key) note.Note {
	keys := make([]string, len(s))
	for i, p := range s {
		keys[i] = string(p.Key)
	}
	if near := note.Near(string(k), keys); near != "" {
		return note.New("there is no practice %s; did you mean %s? Allowed: %s", string(k), near, s.Names())
	}
	return note.New("there is no practice %s; allowed: %s", string(k), s.Names())
}

// Names lists the keys as one text, for a message that says what is allowed.
func (s Set) Names() string {
	names := make([]string, len(s))
	for i, p := range s {
		names[i] = string(p.Key)
	}
	return strings.Join(names, ", ")
}
