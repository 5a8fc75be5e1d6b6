// Package species knows the trees that are tapped, by the names that people write for them.
package species

import (
	"cmp"
	"slices"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/runes"
	"golang.org/x/text/transform"
	"golang.org/x/text/unicode/norm"

	"spile/internal/note"
)

// Species is a tree that is tapped.
type Species struct {
	Name  string // English, the id of its translation
	Latin string
	Names []string // other names, in English and French, as compare writes them
}

// List is the trees that are named; any other is kept as it is written. Botanical names after the Flora of North
// America; the others are in common use.
var List = []Species{
	{"sugar maple", "Acer saccharum", []string{"hard maple", "rock maple", "erable a sucre", "erable franc", "sugar",
		"a. saccharum"}},
	{"black maple", "Acer nigrum", []string{"erable noir", "a. nigrum", "acer saccharum subsp. nigrum"}},
	{"red maple", "Acer rubrum", []string{"soft maple", "swamp maple", "erable rouge", "plaine", "plaine rouge", "red",
		"a. rubrum"}},
	{"silver maple", "Acer saccharinum", []string{"erable argente", "plaine blanche", "silver", "a. saccharinum"}},
	{"bigleaf maple", "Acer macrophyllum", []string{"big-leaf maple", "erable a grandes feuilles", "a. macrophyllum"}},
	{"boxelder", "Acer negundo", []string{"box elder", "manitoba maple", "erable a giguere", "erable negondo",
		"a. negundo"}},
	{"paper birch", "Betula papyrifera", []string{"white birch", "bouleau a papier", "bouleau blanc", "b. papyrifera"}},
	{"yellow birch", "Betula alleghaniensis", []string{"bouleau jaune", "merisier", "b. alleghaniensis"}},
}

// compare writes a name so that it can be compared: small letters, no accents, one space between words, no plural.
func compare(name string) string {
	plain, _, err := transform.String(transform.Chain(norm.NFD, runes.Remove(runes.In(unicode.Mn)), norm.NFC),
		strings.ToLower(name))
	if err != nil {
		plain = strings.ToLower(name)
	}
	words := strings.Fields(strings.NewReplacer("_", " ", "-", " ", "’", "'").Replace(plain))
	for i, w := range words {
		if w != "acer" && !strings.HasSuffix(w, "us") && len(w) > 3 {
			words[i] = strings.TrimSuffix(w, "s")
		}
	}
	return strings.Join(words, " ")
}

// Near is the tree that a misspelt name may be meant for; "" where the name is known, or like none.
func Near(name string) string {
	near := map[string]string{} // by its names, as note.Near has words
	var names []string
	for _, s := range List {
		for _, x := range append([]string{s.Name, s.Latin}, s.Names...) {
			x = strings.ReplaceAll(compare(x), " ", "-")
			names, near[x] = append(names, x), s.Name
		}
	}
	if kind := Of(name); slices.ContainsFunc(List, func(s Species) bool { return s.Name == kind }) {
		return ""
	}
	return near[note.Near(compare(name), names)]
}

// known is the names of trees under all names they go by, as compare writes them.
var known = sync.OnceValue(func() map[string]string {
	m := map[string]string{}
	for _, s := range List {
		for _, x := range append([]string{s.Name, s.Latin}, s.Names...) {
			m[compare(x)] = s.Name
		}
	}
	return m
})

// Maple is true of a name that may stand for a maple, as a blank does: of one that is known by its botanical name, of
// another by the word.
func Maple(name string) bool {
	kind := Of(name)
	if i := slices.IndexFunc(List, func(s Species) bool { return s.Name == kind }); i >= 0 {
		return strings.HasPrefix(List[i].Latin, "Acer")
	}
	words := strings.Fields(compare(name))
	return len(words) == 0 || slices.ContainsFunc(words, func(w string) bool {
		return slices.Contains([]string{"acer", "maple", "erable", "plaine"}, w)
	})
}

// Of is the name of a tree under any name it goes by, in English, French or Latin; one that is not named here stands as
// it is written, in small letters.
func Of(name string) string {
	return cmp.Or(known()[compare(name)], strings.ToLower(strings.TrimSpace(name)))
}
