package sheet

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"sync"

	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
)

// ourHeader gives the column whose name a header is, capitals, accents and marks apart.
func ourHeader(header string) (string, bool) {
	if _, _, part := derived(header, gloss.Target{}); part {
		return "", false
	}
	plain := gloss.Plain(header)
	for _, c := range evidence.Columns {
		if gloss.Plain(c.Name) == plain {
			return c.Name, c.Unit == "%" || !strings.Contains(header, "%")
		}
	}
	return "", false
}

// Propose guesses what each header stands for, for a person to agree to: what is ours already first, then words that
// people use, with a unit or without, then practices that have a column each, then misspellings. What is taken is not
// proposed again, nor is anything proposed twice.
func Propose(headers []string, taken []gloss.Target, set practice.Set) []gloss.Target {
	p := proposal{headers: headers, list: make([]gloss.Target, len(headers)), taken: map[string]bool{}}
	for _, t := range taken {
		p.taken[gloss.Target{Column: t.Column, Practice: t.Practice}.String()] = t.Column != ""
	}
	p.each(func(h string) gloss.Target {
		if name, ours := ourHeader(h); ours {
			return gloss.Target{Column: name}
		}
		return gloss.Target{}
	})
	wide := p.wide(set)
	if wide {
		p.each(func(h string) gloss.Target { return ofPractice(h, set) })
		means := slices.ContainsFunc(p.list, func(t gloss.Target) bool {
			return t.Column == "mean" && t.Practice != ""
		})
		for i, t := range p.list {
			if means && ofVariation(headers[i]) {
				delete(p.taken, gloss.Target{Column: t.Column, Practice: t.Practice}.String())
				p.list[i] = gloss.Target{}
			}
		}
	}
	for _, pass := range []func(string) gloss.Target{headed, alike, spelled} {
		p.each(func(header string) gloss.Target {
			h := plainHeader(header)
			t := pass(h)
			switch {
			case t.Column == "mean" && (ofSyrup(h) || t.Way == "" && strings.Contains(header, "%")):
				return gloss.Target{}
			case t.Way == "qt" && quantity.MatchString(h):
				t.Way = ""
			}
			return t
		})
	}
	p.each(made) // where there is no sap
	p.perTap()
	p.place()
	if i := slices.Index(p.list, gloss.Target{Column: "trial"}); i >= 0 && !p.taken["study"] {
		if _, ours := ourHeader(headers[i]); !ours { // what tells rows apart is the study first
			p.list[i].Column = "study"
		}
	}
	return p.list
}

// ofTap is true of a header that says it is of a tap.
func ofTap(header string) bool { return gloss.HoldsOne(gloss.Plain(header), "tap", "entaille", "ent") }

// quantity is a plain header in which a French quantity stands short, and no quarts.
var quantity = regexp.MustCompile(`\bqts?\b.*\b(?:seve|eau|coulee|ent|entaille|recoltee?)\b`)

// perTap has the mean be the column that says it is of a tap, where another was taken for it.
func (p *proposal) perTap() {
	says := func(i int) bool { return ofTap(p.headers[i]) }
	at := slices.IndexFunc(p.list, func(t gloss.Target) bool { return t.Column == "mean" && t.Practice == "" })
	if at < 0 || says(at) {
		return
	}
	for i, h := range p.headers {
		if p.list[i].Column != "" || !says(i) {
			continue
		}
		for _, pass := range []func(string) gloss.Target{headed, alike} {
			if t := pass(plainHeader(h)); t.Column == "mean" {
				p.list[at], p.list[i] = gloss.Target{}, t
				return
			}
		}
	}
}

// ofVariation is true of a header of a coefficient of variation, and not of check valves.
func ofVariation(header string) bool {
	return gloss.Plain(header) == "cv" && strings.Contains(header, "%")
}

// persons are words, plain, of headers that say whose a place is, which tell the site where no header says the place.
var persons = []string{"cooperator", "co operator", "producer", "grower", "owner", "producteur", "productrice",
	"proprietaire", "cooperateur"}

// place has the site be the column that says a place, where one that says whose it is was taken for it.
func (p *proposal) place() {
	whose := func(i int) bool { return gloss.HoldsOne(gloss.Plain(p.headers[i]), persons...) }
	at := slices.IndexFunc(p.list, func(t gloss.Target) bool { return t.Column == "site" })
	if at < 0 || !whose(at) {
		return
	}
	for _, pass := range []func(string) gloss.Target{headed, alike} {
		for i, h := range p.headers {
			if p.list[i].Column == "" && !whose(i) && pass(plainHeader(h)).Column == "site" {
				p.list[at], p.list[i] = gloss.Target{}, p.list[at]
				return
			}
		}
	}
}

type proposal struct {
	headers []string
	list    []gloss.Target
	taken   map[string]bool
}

// each proposes for the headers of which nothing was guessed yet.
func (p *proposal) each(guess func(header string) gloss.Target) {
	for i, h := range p.headers {
		if p.list[i].Column != "" || strings.TrimSpace(h) == "" {
			continue
		}
		t := guess(h)
		if t.Way == "" && strings.Contains(h, "%") && hasWay(t.Column, ofShare) {
			t.Way = ofShare
		}
		if key := (gloss.Target{Column: t.Column, Practice: t.Practice}).String(); t.Column != "" && !p.taken[key] {
			p.list[i], p.taken[key] = t, true
		}
	}
}

// wide is true of a table with a column a practice: none holds practices, and two or more are headed by one each.
func (p *proposal) wide(set practice.Set) bool {
	keys := map[string]bool{}
	if p.taken["practice"] {
		return false
	}
	for i, h := range p.headers {
		if p.list[i].Column != "" {
			continue
		}
		if headed(plainHeader(h)).Column == "practice" {
			return false
		}
		if t := ofPractice(h, set); t.Column == "mean" || t.Column == "gain_pct" {
			keys[t.Practice] = true
		}
	}
	return len(keys) >= 2
}

// ofPractice reads a header that names a practice, and what was measured of it: the mean where it says nothing more.
func ofPractice(header string, set practice.Set) gloss.Target {
	key, phrase := set.Guess(header)
	if key == "" {
		return gloss.Target{}
	}
	for _, rest := range gloss.Without(gloss.Plain(header), phrase) {
		rest = practice.Beside(rest)
		for { // a practice may be named twice: old spout (control)
			again, more := set.Guess(rest)
			if again != key || more == "" {
				break
			}
			rest = gloss.Without(rest, more)[0]
		}
		t := gloss.Target{Column: "mean"}
		if rest != "" {
			t = headed(rest)
		} else if strings.Contains(header, "%") {
			t.Column = "gain_pct"
		}
		if c := columnOf(t.Column); c.Name != "" && !c.Once && !c.Joined {
			t.Practice = string(key)
			return t
		}
	}
	return gloss.Target{}
}

// columnOf is the column of a name; the zero one where it is not ours.
func columnOf(name string) evidence.Column {
	for _, c := range evidence.Columns {
		if c.Name == name {
			return c
		}
	}
	return evidence.Column{}
}

// ofEvidence are the columns of an evidence table.
var ofEvidence = func() (list []column.Column[any]) {
	for _, c := range evidence.Columns {
		list = append(list, column.Bare([]column.Column[evidence.Row]{c.Column})...)
	}
	return list
}()

// madeOf are what begins the keys of the ways of a yield that is of what was made of sap, before those of sap, and the
// words that say so.
var madeOf = []struct {
	ways  string
	words []string
}{{"syrup_", []string{"syrup", "sirop"}}, {"sugar_", []string{"sugar", "sucre"}}}

// ofShare is the way of a spread in percent of its mean.
const ofShare = "pct"

// hasWay is true of a column whose numbers may be written some way.
func hasWay(name, way string) bool {
	return slices.ContainsFunc(columnOf(name).Ways, func(w column.Way) bool { return w.Key == way })
}

// ofSyrup is true of a header that speaks of syrup.
func ofSyrup(header string) bool {
	return gloss.HoldsOne(gloss.Plain(header), madeOf[0].words...)
}

// made is the way of the mean that a header gives in a unit of syrup or of sugar, with a tap or without.
func made(header string) gloss.Target {
	for _, of := range madeOf {
		all := strings.Fields(plainHeader(header))
		words := slices.DeleteFunc(slices.Clone(all), func(w string) bool { return slices.Contains(of.words, w) })
		t := headed(strings.Join(words, " "))
		if len(words) < len(all) && t.Column == "mean" && t.Way != "" && hasWay("mean", of.ways+t.Way) {
			return gloss.Target{Column: "mean", Way: of.ways + t.Way}
		}
	}
	return gloss.Target{}
}

// headed is the column that a plain header stands for by what people write, with a unit or without.
func headed(header string) gloss.Target {
	for _, c := range evidence.Columns {
		if slices.Contains(c.Headers, header) || gloss.Plain(c.Name) == header {
			return gloss.Target{Column: c.Name}
		}
	}
	for _, own := range []bool{true, false} { // the column's own unit first
		for _, c := range evidence.Columns {
			for _, w := range c.Ways {
				if len(header) == 1 && c.Name != "mean" {
					continue // a letter alone is a volume, or no unit
				}
				if own == (w.Of(1) == 1) && says(c.Column, w, header) {
					return gloss.Target{Column: c.Name, Way: w.Key}
				}
			}
		}
	}
	if bags()[bag(header)] {
		return gloss.Target{Column: "mean"}
	}
	return gloss.Target{}
}

// plainHeader is a header as guesses go by it; a percent sign is a word where it says what it is a percentage of, and
// so is a sign of money.
func plainHeader(header string) string {
	header = percentOf.ReplaceAllString(strings.ReplaceAll(header, "$", " dollars "), " percent $1")
	return gloss.Plain(toMinusOne.ReplaceAllString(header, "$1"))
}

var (
	percentOf  = regexp.MustCompile(`(?i)%\s*((?:of|du|de)\b|control|check|témoin)`)
	toMinusOne = regexp.MustCompile(`(?i)(tap|taps|taphole|entaille|ent|season|saison|year|yr|an)\s*(?:\^?[-−–]1|⁻¹)`)
)

// bag is the words of a plain header in the order of the alphabet, without those that do not say which column it is.
func bag(header string) string {
	words := slices.DeleteFunc(strings.Fields(header), func(w string) bool {
		return perTap(w) || slices.Contains(saysNothing, w)
	})
	slices.Sort(words)
	return strings.Join(words, " ")
}

var saysNothing = []string{"mean", "average", "avg", "moy", "moyen", "moyenne", "season", "seasonal", "saison",
	"total", "totale", "collected", "harvested", "produced", "measured", "recueillie", "recoltee", "mesure",
	"mainline", "mainlines", "cumulative", "cumul", "cumule", "cumulatif",
	"of", "the", "de", "du", "des", "la", "le", "les", "l", "d", "in", "en", "for", "and",
	"et"}

// bags are those of what people head a mean with, which comes with more words beside than other columns.
var bags = sync.OnceValue(func() map[string]bool {
	all := map[string]bool{}
	for _, h := range columnOf("mean").Headers {
		all[bag(h)] = true
	}
	delete(all, "")
	return all
})

// perTap is true of the words that say that a yield is of a tap, which all are.
func perTap(word string) bool {
	return slices.Contains([]string{"per", "a", "par", "tap", "taps", "taphole", "tapholes", "entaille", "entailles",
		"ent", "each", "year", "yr", "an", "season", "saison"}, word)
}

// elided is the French article before a vowel, which is no litre.
var elided = strings.NewReplacer(" a l ", " a ", " de l ", " de ")

// says is true of a plain text that says a unit of a column, and beside it nothing but what the column is called.
func says[T any](c column.Column[T], w column.Way, text string) bool {
	return slices.ContainsFunc(w.Says, func(unit string) bool {
		return slices.ContainsFunc(gloss.Without(text, unit), func(rest string) bool {
			bare := strings.Join(slices.DeleteFunc(strings.Fields(rest), perTap), " ")
			return bare == "" || slices.Contains(c.Headers, rest) || slices.Contains(c.Headers, bare) ||
				bare == gloss.Plain(c.Name) ||
				(c.Name == "mean" || c.Name == "gain_pct") && bags()[bag(rest)] || c.Name == "mean" && bag(rest) == ""
		})
	})
}

// alike is the column of which a plain header holds the longest name that people use, where what it says beside does
// not make it something else.
func alike(header string) (t gloss.Target) {
	longest, rest := 3, ""
	for _, c := range evidence.Columns {
		for _, h := range c.Headers {
			if len(h) <= longest || !gloss.Holds(header, h) {
				continue
			}
			beside := gloss.Without(header, h)[0]
			// an average, per tap: of something
			if c.Name == "mean" && bag(h) == "" && bag(withoutVolumes(beside)) != "" {
				continue
			}
			t, longest, rest = gloss.Target{Column: c.Name}, len(h), beside
		}
	}
	header = strings.TrimSpace(elided.Replace(" " + header + " "))
	if t.Column == "mean" {
		t.Column = cmp.Or(spreadIn(rest), t.Column)
	}
	if otherwise(t.Column, rest) || strings.HasPrefix(t.Column, "gain_") && withoutVolumes(header) != header {
		return gloss.Target{}
	}
	longest = 0
	for _, w := range columnOf(t.Column).Ways {
		for _, unit := range w.Says {
			if len(unit) > longest && gloss.Holds(header, unit) {
				t.Way, longest = w.Key, len(unit)
			}
		}
	}
	return t
}

// withoutVolumes is a plain text without units of volume and mass.
func withoutVolumes(text string) string {
	return strings.Join(slices.DeleteFunc(strings.Fields(text), func(word string) bool {
		return slices.ContainsFunc(columnOf("sd").Ways, func(w column.Way) bool {
			return slices.Contains(w.Says, word)
		})
	}), " ")
}

// spreadIn is the column of a spread that is named beside a yield; "" where none is.
func spreadIn(beside string) string {
	for _, name := range []string{"se", "sd"} {
		for _, h := range append([]string{name}, columnOf(name).Headers...) {
			if (len(h) > 2 || h == name) && gloss.Holds(beside, h) {
				return name
			}
		}
	}
	return ""
}

// Words, plain, beside the name of a column, that make a header say something else: another statistic, another time,
// money, another thing that sap is counted by.
var (
	elseAnywhere = strings.Fields("rank rang target cible goal objectif expected attendu attendue predicted forecast " +
		"prevu prevue modelled modeled potential potentiel max maximum min minimum highest lowest best worst median " +
		"mediane cv variance log ln lnrr loss lost perte pertes cost costs cout couts price prix revenue revenu " +
		"value valeur profit dollar dollars cents usd cad score rating index indice 100 1000 coefficient coeff coef")
	elseOf = map[string][]string{
		"season": strings.Fields("use used old since published publication publie publiee installed installation " +
			"installe replaced remplace built bought report rapport"),
		"mean": strings.Fields("change changement difference previous precedent precedente prior last dernier " +
			"derniere before avant pre baseline acre acres ha hectare hectares tree trees arbre arbres day daily " +
			"jour hour inch vacuum vide brix sugar sucre days jours hours heures duration duree date dates ph " +
			"temperature temp conductivity conductivite quality qualite grade colour color couleur reduction " +
			"decrease decline baisse diminution area aire superficie range etendue method methode"),
		"n": strings.Fields("run runs coulee coulees day days jour jours week weeks semaine semaines hour hours " +
			"heure heures collection collections visit visits visite visites reading readings lecture lectures " +
			"leak leaks fuite fuites bacteria bacteries cfu ufc"),
		"gain_pct":    strings.Fields("date dates variable std"),
		"vacuum_inhg": strings.Fields("sap yield seve eau"),
		"vacuum_kpa":  strings.Fields("sap yield seve eau"),
	}
)

// otherwise is true of a column that a header does not stand for, by what it says beside the column's name.
func otherwise(name, beside string) bool {
	c := columnOf(name)
	if !c.Kind.Numeric() && c.Kind != column.Practice {
		return false
	}
	if c.Kind == column.Practice && columnOf(headed(beside).Column).Kind.Numeric() && headed(beside).Column != "" {
		return true // the yield of a treatment
	}
	return slices.ContainsFunc(strings.Fields(beside), func(w string) bool {
		return slices.Contains(elseAnywhere, w) || slices.Contains(elseOf[name], w) ||
			(w == "age" || w == "ages") && !slices.Contains([]string{"drop_age", "spout_age", "line_age"}, name)
	})
}

// spelled is the column whose name a plain header nearly is.
func spelled(header string) gloss.Target {
	if len(header) < 4 { // shorter words are all alike
		return gloss.Target{}
	}
	var names []string
	for _, c := range evidence.Columns {
		if len(c.Name) >= 4 {
			names = append(names, c.Name)
		}
	}
	return gloss.Target{Column: note.Near(header, names)}
}
