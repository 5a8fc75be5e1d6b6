package practice

import (
	"slices"
	"strings"

	"spile/internal/trade/gloss"
)

// Part is one of the things of which a practice is made.
type Part string

const (
	OfSpout Part = "spout"
	OfDrops Part = "drops"
	OfWash  Part = "wash"
)

// partWords are words, plain, of headers under which tables say what one part of a practice was. A spout's treatment is
// of the spout.
var partWords = []struct {
	part  Part
	words []string
}{
	{OfSpout, []string{"spout", "spouts", "spile", "spiles", "adapter", "chalumeau", "chalumeaux"}},
	{OfDrops, []string{"drop", "drops", "dropline", "droplines", "chute", "chutes"}},
	{OfWash, []string{"rinse", "rinsed", "rinsing", "wash", "washed", "washing", "cleaning", "cleaned", "cleaner",
		"sanitizer", "sanitiser", "sanitation", "sanitizing", "sanitized", "flush", "chemical", "treatment", "lavage",
		"rincage", "nettoyage", "assainissement", "assainisseur", "produit", "traitement"}},
}

// PartOf is the part that a header says something of; "" none.
func PartOf(header string) Part {
	for _, p := range partWords {
		if gloss.HoldsOne(gloss.Plain(header), p.words...) {
			return p.part
		}
	}
	return ""
}

// Words, plain, that say of a part that it is new, or that it was there before.
var (
	newWords = []string{"new", "neuf", "neuve", "neufs", "neuves", "nouveau", "nouvelle", "nouveaux", "nouvelles",
		"replaced", "remplace", "remplacee", "remplaces", "remplacees", "yes", "oui"}
	usedWords = []string{"old", "used", "reused", "vieux", "vieille", "vieilles", "ancien", "ancienne", "anciens",
		"anciennes", "reutilise", "reutilisee", "reutilises", "reutilisees", "usage", "usagee", "usages", "usagees"}
	oldWords = append([]string{"same", "kept", "existing", "original", "standard", "none", "no", "not", "control",
		"garde", "gardee", "existant", "existante", "non", "aucun", "aucune", "temoin"}, usedWords...)
)

// plainWords are words, plain, that add nothing to these.
var plainWords = []string{"the", "last", "year", "s", "season", "from", "de", "du", "des", "la", "le", "les", "l", "an",
	"annee", "saison", "passe", "passee", "derniere", "dernier"}

// apart is a text that says what each part was, one after the other, as made reads it: spout new / drop old.
func apart(text string) string {
	parts := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(",/+&;", r) })
	for i, part := range parts {
		parts[i] = strings.TrimSpace(part)
		if of := PartOf(parts[i]); len(parts) < 2 || of != OfSpout && of != OfDrops ||
			!strings.Contains(parts[i], " ") {
			return ""
		}
		parts[i] = string(PartOf(parts[i])) + ": " + parts[i]
	}
	return strings.Join(parts, ", ")
}

// made is the practice of parts that are named one by one, "Spout: new, Drops: old"; false where the text is none such.
// No practice is found where there is none of just these parts, or a word for one is not known.
func (s Set) made(text string) (key Key, parts bool) {
	want := Practice{Spout: SpoutReused, Drops: DropsKept, Wash: WashNone}
	for said := range strings.SplitSeq(text, ", ") {
		header, word, ok := strings.Cut(said, ": ")
		part := PartOf(header)
		if !ok || part == "" {
			return "", false
		}
		plain := gloss.Plain(word)
		isNew, isOld := gloss.HoldsOne(plain, newWords...), gloss.HoldsOne(plain, oldWords...)
		if part != OfWash && isNew && (denies(plain) || gloss.HoldsOne(plain, "jamais", "never") ||
			strings.ContainsAny(word, "0123456789")) { // not replaced, or in some year
			return "", true
		}
		guess, _ := s.Guess(word)
		p, known := s.Find(guess)
		switch {
		case part == OfWash && known && (p.Key == Unsanitized || p.Wash != WashNone):
			want.Wash = p.Wash
		case part == OfWash && isOld && !isNew:
		case part == OfSpout && p.Spout == SpoutCheckValveNew && isOld:
			want.Spout = SpoutCheckValveReused
		case part == OfSpout && known && p.Drops == DropsKept && p.Wash == WashNone && p.Sanitized():
			want.Spout = p.Spout
		case part == OfSpout && isNew && !isOld:
			want.Spout = SpoutNew
		case part == OfDrops && isNew && !isOld:
			want.Drops = DropsReplaced
		case part != OfWash && isOld && !isNew && !slices.ContainsFunc(strings.Fields(plain), func(w string) bool {
			return !slices.Contains(oldWords, w) && !slices.Contains(plainWords, w) && PartOf(w) != part
		}):
		default:
			return "", true
		}
	}
	for _, p := range s {
		if p.Spout == want.Spout && p.Drops == want.Drops && p.Wash == want.Wash {
			return p.Key, true
		}
	}
	return "", true
}
