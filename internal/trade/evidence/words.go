package evidence

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Phrases is what a column of remarks is searched for, in English and French, with or without accents. A phrase counts
// where it stands as whole words, and is not denied in its own clause: "nothing unusual" says nothing of the kind.
type Phrases struct {
	Words []string // each a word or several, without accents; a word stands for its plural, feminine and adverb too
	Not   []string // phrases that hold one of Words and mean something else
	Pairs []NextTo // words that count only beside certain others
	Far   bool     // a denial reaches over prepositions: "not paid for by a maker"
}

// NextTo is a word that counts only where one of Before comes before it, or one of After behind it, articles not
// counted.
type NextTo struct {
	Word          string
	Before, After []string
}

// FreakWords are those of the column weather that set freak-season.
var FreakWords = Phrases{
	Words: []string{
		"freak", "extreme", "abnormal", "unusual", "exceptional", "unprecedented", "unseasonable", "unseasonably",
		"out of the ordinary", "anormal", "anormaux", "exceptionnel", "inhabituel", "sans precedent", "jamais vu",
		"hors norme", "hors de l ordinaire",
	},
	Pairs: []NextTo{{
		Word: "record",
		Before: []string{"on", "new", "set", "broke", "broken", "beat", "all-time", "battu", "battus", "nouveau",
			"nouveaux", "chaleur", "chaleurs", "froid", "froids", "douceur", "redoux", "temperatures", "neige", "pluie",
			"pluies", "printemps", "hiver"},
		After: []string{"warm", "warmth", "cold", "heat", "hot", "cool", "high", "highs", "low", "lows", "early",
			"late", "short", "long", "snow", "snowfall", "rain", "rainfall", "dry", "wet", "breaking", "broken", "fell",
			"temperature", "temperatures", "spell", "season", "spring", "winter", "january", "february", "march",
			"april", "may", "chaleur", "chaleurs", "froid", "froids", "douceur", "neige", "pluie", "battu", "battus",
			"absolu"},
	}},
}

// MakerWords are those of the column funding that set interest.
var MakerWords = Phrases{
	Words: []string{
		"maker", "manufacturer", "vendor", "supplier", "dealer", "that makes", "who makes", "which makes", "that sells",
		"equipment company", "tubing company", "spout company", "valve company", "chemical company",
		"fabricant", "fournisseur", "vendeur", "equipementier", "qui fabrique", "qui vend",
	},
	Not: []string{
		"sugar maker", "syrup maker", "maple maker", "sugar and syrup maker", "decision maker", "policy maker",
		"law maker", "fabricant de sirop", "fabricant de sucre", "fabricant de produits d erable",
	},
	Far: true,
}

// In is true of a text that says one of the phrases and does not deny it.
func (p Phrases) In(text string) bool {
	denial, phrase := false, false // the segment before denies something; it is one of the phrases
	for _, segment := range segments(text) {
		words := segment.words
		blot(words, p.Not)
		blot(words, affirming)
		goesOn := segment.comma &&
			(phrase && p.listOf(words) || denial && len(words) < 6 && slices.ContainsFunc(words, isOr))
		denial, phrase = goesOn, goesOn
		last := -1 // where the last phrase that is denied ends
		for i := range words {
			denial = denial || slices.Contains(strong, words[i]) || denier(words, i)
			n := p.at(words, i)
			if n == 0 {
				continue
			}
			listed := last >= 0 && p.listOf(words[last:i])
			if !goesOn && !listed && !p.denied(words, i) && !deniedBehind(words[i+n:]) {
				return true
			}
			denial, phrase, last = true, true, i+n
		}
	}
	return false
}

// segment is a part of a text between marks and conjunctions that end a clause; comma is true where a comma, and no
// stronger mark, stands before it.
type segment struct {
	words []string
	comma bool
}

// breaks are conjunctions behind which nothing is denied any more.
var breaks = []string{"but", "however", "though", "although", "yet", "except", "save", "until", "then", "while",
	"whereas", "mais", "cependant", "toutefois", "sauf", "hormis", "puis", "ensuite", "tandis"}

// oneWord writes what may be written otherwise; the French record is not the English one.
var oneWord = strings.NewReplacer("n’t", "n't", "température record", "températures record")

func segments(text string) []segment {
	var list []segment
	var word strings.Builder
	now := segment{}
	end := func() {
		w := word.String()
		word.Reset()
		switch {
		case w == "":
		case slices.Contains(breaks, w):
			list = append(list, now)
			now = segment{}
		default:
			now.words = append(now.words, w)
		}
	}
	text = oneWord.Replace(strings.ToLower(text))
	runes := []rune(norm.NFD.String(text))
	for i, r := range runes {
		switch {
		case unicode.Is(unicode.Mn, r): // an accent
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			word.WriteRune(r)
		case r == '\'' && strings.HasSuffix(word.String(), "n") && i+1 < len(runes) && runes[i+1] == 't':
			word.WriteRune(r)
		case r == '-' && word.String() == "all":
			word.WriteRune(r)
		case r == ',':
			end()
			list = append(list, now)
			now = segment{comma: true}
		case strings.ContainsRune(".;!()[]—–\n", r):
			end()
			list = append(list, now)
			now = segment{}
		case strings.ContainsRune(":?=", r):
			end()
			now.words = append(now.words, ":")
		default:
			end()
		}
	}
	end()
	return append(list, now)
}

// endings make a word's plural, feminine and adverb.
var endings = []string{"", "s", "e", "es", "ly", "ish", "ment", "ement", "le", "les", "lement"}

func is(word, stem string) bool {
	end, ok := strings.CutPrefix(word, stem)
	return ok && slices.Contains(endings, end)
}

// phraseAt is the number of words that a phrase takes at i; 0 where it does not stand there.
func phraseAt(words []string, i int, phrase string) int {
	parts := strings.Fields(phrase)
	if i+len(parts) > len(words) {
		return 0
	}
	for k, part := range parts {
		if words[i+k] != part && !(is(words[i+k], part) && (k == len(parts)-1 || k == 0)) {
			return 0
		}
	}
	return len(parts)
}

// at is the number of words of a phrase that stands at i; 0 where none does.
func (p Phrases) at(words []string, i int) int {
	for _, phrase := range p.Words {
		if n := phraseAt(words, i, phrase); n > 0 {
			return n
		}
	}
	for _, pair := range p.Pairs {
		if words[i] != pair.Word && words[i] != pair.Word+"s" {
			continue
		}
		if slices.Contains(pair.Before, beside(words, i, -1)) || slices.Contains(pair.After, beside(words, i, 1)) {
			return 1
		}
	}
	return 0
}

var articles = []string{"a", "an", "the", "of", "in", "for", "le", "la", "les", "l", "un", "une", "des", "de", "d",
	"du", "en", "were", "was", "have", "been"}

// beside is the word before or behind, articles not counted.
func beside(words []string, i, step int) string {
	for i += step; i >= 0 && i < len(words); i += step {
		if !slices.Contains(articles, words[i]) {
			return words[i]
		}
	}
	return ""
}

// affirming are phrases that hold a word of denial and deny nothing.
var affirming = []string{"not only", "no doubt", "without doubt", "without a doubt", "nothing but", "nothing short of",
	"nothing less than", "never before", "never so", "non seulement", "sans doute", "sans aucun doute", "rien que",
	"rien de moins que", "jamais aussi", "not recall", "not remember", "in any way", "in any sense", "in the least",
	"at all", "by any means", "du tout"}

// blot takes phrases out of a text.
func blot(words, phrases []string) {
	for i := range words {
		for _, phrase := range phrases {
			if n := phraseAt(words, i, phrase); n > 0 {
				for k := range n {
					words[i+k] = ""
				}
			}
		}
	}
}

var (
	// deniers deny what comes behind them.
	deniers = []string{"no", "not", "never", "without", "hardly", "barely", "cannot", "less", "rather than",
		"instead of", "other than", "free of", "free from", "lack of", "absence of", "absence d", "absence de",
		"independent", "independently", "pas", "aucun", "aucune", "sans", "non", "jamais", "guere", "nul", "nulle",
		"peu", "moins", "plutot que", "exempt", "exempte", "independant", "independante", "independamment"}
	// strong deniers reach over a preposition: "nothing in this season was unusual".
	strong = []string{"nothing", "none", "neither", "nor", "rien", "ni"}
	// reasons end what is denied: "no sap because of the freak cold".
	reasons = []string{"because", "due", "owing", "since", "during", "after", "before", "despite", "through", "when",
		"as", ":", "car", "parce", "cause", "pendant", "durant", "apres", "avant", "malgre", "quand", "lorsque", "lors"}
	// prepositions end what a weaker word denies: "did not run in the freak cold".
	prepositions = []string{"in", "at", "on", "with", "by", "for", "from", "dans", "avec", "par", "pour", "sur", "sous"}
)

// reach is how many words a denial may stand before what it denies.
const reach = 6

func (p Phrases) denied(words []string, at int) bool {
	weak := true // as long as no preposition stands between
	for i := at - 1; i >= 0 && at-i <= reach; i-- {
		w := words[i]
		switch {
		case slices.Contains(strong, w):
			return true
		case slices.Contains(reasons, w):
			return false
		case weak && (strings.HasSuffix(w, "n't") || denier(words, i)):
			return true
		case !p.Far && slices.Contains(prepositions, w) && !denierAround(words, i):
			weak = false
		}
	}
	return false
}

func denier(words []string, i int) bool {
	return slices.ContainsFunc(deniers, func(d string) bool {
		parts := strings.Fields(d)
		return i+len(parts) <= len(words) && slices.Equal(words[i:i+len(parts)], parts)
	})
}

// denierAround is true of a preposition that is part of a denial: free from.
func denierAround(words []string, i int) bool {
	return i > 0 && denier(words, i-1) && words[i-1] == "free"
}

// deniedBehind is true where what is left of the clause only denies: "extremes: none".
func deniedBehind(rest []string) bool {
	_, answer, asked := strings.Cut(strings.Join(rest, " "), ":")
	return asked && slices.Contains(denials, strings.TrimSpace(answer))
}

var denials = []string{"no", "not", "none", "nil", "nothing", "never", "n a", "non", "pas", "aucun", "aucune", "rien",
	"jamais"}

func isOr(word string) bool {
	return slices.Contains([]string{"or", "nor", "otherwise", "ou", "ni"}, word)
}

// listOf is true of words that only carry on a list of what was denied: "nothing freak, extreme or unusual".
func (p Phrases) listOf(words []string) bool {
	for i := 0; i < len(words); {
		n := p.at(words, i)
		if n == 0 && !isOr(words[i]) && !slices.Contains([]string{"and", "even", "et", "autre", "meme"}, words[i]) {
			return false
		}
		i += max(n, 1)
	}
	return true
}
