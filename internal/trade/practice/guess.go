package practice

import (
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/gloss"
)

// Called gives the practice whose key or name a word is, capitals, accents and marks apart.
func (s Set) Called(word string) (Key, bool) {
	word = gloss.Plain(word)
	for _, p := range s {
		if word != "" && (gloss.Plain(string(p.Key)) == word || gloss.Plain(p.Name) == word) {
			return p.Key, true
		}
	}
	return "", false
}

// spiles are older words for spouts.
var spiles = strings.NewReplacer(" spile ", " spout ", " spiles ", " spouts ")

// Beside is a plain text without what says no more than that it is of a practice: of a new CV spout that of the spout.
func Beside(text string) string {
	return strings.Join(slices.DeleteFunc(strings.Fields(text), func(w string) bool {
		return slices.Contains([]string{"spout", "spouts", "spile", "spiles", "adapter", "adapters", "treatment",
			"only", "chalumeau", "chalumeaux", "traitement", "seulement", "new", "neuf", "neufs"}, w)
	}), " ")
}

// Guess gives the practice that a word of somebody's own may stand for, and the phrase in it that says so, "" where it
// is only spelled much like it; no practice where none is near, or more than one. The longest phrase wins; a new spout
// counts for nothing beside another practice that brings one.
func (s Set) Guess(word string) (Key, string) {
	for _, text := range []string{word, apart(word)} {
		if key, parts := s.made(text); parts {
			return key, gloss.Plain(word)
		}
	}
	word = strings.TrimSpace(spiles.Replace(" " + gloss.Plain(word) + " "))
	phrase := map[Key]string{}
	try := func(k Key, said string) {
		if said != "" && len(said) > len(phrase[k]) && gloss.Holds(word, said) {
			phrase[k] = said
		}
	}
	for _, p := range s {
		try(p.Key, gloss.Plain(string(p.Key)))
		try(p.Key, gloss.Plain(p.Name))
	}
	for _, p := range shipped {
		for _, said := range p.said {
			if _, have := s.Find(p.Key); have {
				try(p.Key, said)
			}
		}
	}
	for a, said := range phrase { // "new spout" within "no new spout", "drop" within "new drop"
		for b, longer := range phrase {
			p, _ := s.Find(b)
			if a != b && (len(longer) > len(said) && gloss.Holds(longer, said) ||
				a == NewSpout && p.Family() == NewPlastic) {
				delete(phrase, a)
			}
		}
	}
	var found Key
	for k, said := range phrase {
		if found = k; len(phrase) > 1 || denies(word) && !denies(said) {
			return "", ""
		}
	}
	said := phrase[found]
	if p, _ := s.Find(found); p.Spout == SpoutCheckValveNew && gloss.HoldsOne(word, usedWords...) ||
		found == Unsanitized && gloss.HoldsOne(word, treated...) {
		return "", "" // another practice
	}
	if said != word && !strings.Contains(said, " ") && !denies(word) { // one word of several says little
		if near := note.Near(word, strings.Split(s.Names(), ", ")); near != "" {
			return Key(near), ""
		}
	}
	return found, said
}

// treated are words, plain, of what is done to spouts or tubing, or of what they are, beside which a word for
// unsanitized does not stand for it: hot water, used and boiled.
var treated = []string{"hot", "warm", "chaud", "chaude", "steam", "vapeur", "boiled", "bouilli", "bouillis",
	"injection", "injected", "ozone", "unique"}

// denies is true of words that say that something was not done.
func denies(words string) bool {
	return gloss.HoldsOne(words, "no", "not", "without", "sans", "pas", "non")
}
