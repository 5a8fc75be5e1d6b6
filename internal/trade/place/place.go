// Package place knows the places that exist, by their codes of ISO 3166: countries, and the parts of the United States
// and of Canada. Where rules of a place decide what is permitted, a code that means nothing would permit too much.
package place

import (
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"

	"golang.org/x/text/language"
	"golang.org/x/text/unicode/norm"

	"spile/internal/note"
)

// Unknown stands for a place that is not known, in a rule that speaks of such places alone.
const Unknown = "?"

// part is a subdivision of a country.
type part struct{ code, english, french string }

// listed are the countries whose parts are all in the table.
var listed = []string{"US", "CA"}

// partForm is the code of a part of a country whose parts are not listed.
var partForm = regexp.MustCompile(`^[A-Z]{2}-[A-Z0-9]{1,3}$`)

// Exists is true of the code of a country, or of a part of one, in capitals.
func Exists(code string) bool {
	country, _, of := strings.Cut(code, "-")
	switch {
	case !of:
		return isCountry(code)
	case slices.Contains(listed, country):
		return slices.ContainsFunc(parts, func(p part) bool { return p.code == code })
	}
	return isCountry(country) && partForm.MatchString(code)
}

// unassigned are codes that Unicode's data takes for countries and that ISO 3166-1 keeps back or has withdrawn.
var unassigned = strings.Fields("AC AN CP CQ CS DG EA EZ FQ IC NT PC SU TA UN XK YU")

func isCountry(code string) bool {
	r, err := language.ParseRegion(code)
	return err == nil && len(code) == 2 && r.IsCountry() && r.String() == code && r.Canonicalize() == r &&
		!slices.Contains(unassigned, code)
}

// Countries are the codes of all countries, in their order.
var Countries = sync.OnceValue(func() []string {
	var list []string
	for a := 'A'; a <= 'Z'; a++ {
		for b := 'A'; b <= 'Z'; b++ {
			if code := string([]rune{a, b}); isCountry(code) {
				list = append(list, code)
			}
		}
	}
	return list
})

// Listed are the codes that a form may offer: the United States and Canada, and their parts.
func Listed() []string {
	list := slices.Clone(listed)
	for _, p := range parts {
		list = append(list, p.code)
	}
	slices.Sort(list)
	return list
}

// Name is what a place is called in a language; a part that is not listed has its code.
func Name(code string, lang language.Tag) string {
	french, _ := lang.Base()
	i := slices.IndexFunc(parts, func(p part) bool { return p.code == code })
	switch {
	case i >= 0 && french.String() == "fr":
		return parts[i].french
	case i >= 0:
		return parts[i].english
	case !isCountry(code):
		return code
	}
	return country(code, french.String() == "fr")
}

// Sounding is the part of the United States or of Canada that has the letters of another country, for ME, which is
// Montenegro, US-ME; "" where there is none.
func Sounding(code string) string {
	i := slices.IndexFunc(parts, func(p part) bool { return p.code[3:] == code })
	if i < 0 || slices.Contains(listed, code) || !isCountry(code) {
		return ""
	}
	return parts[i].code
}

// Within is true of a place inside another: US-VT is within US.
func Within(code, of string) bool { return code == of || strings.HasPrefix(code, of+"-") }

// Fault says that a code is that of no place, and which near ones there are.
func Fault(code string) note.Note {
	if near := Near(code); near != nil {
		return note.New("%s is not a place; did you mean %s? Allowed: a code of ISO 3166, such as US-VT or CA-QC",
			note.Quote(code), strings.Join(near, ", "))
	}
	return note.New("%s is not a place; allowed: a code of ISO 3166, such as US-VT or CA-QC", note.Quote(code))
}

// Near are the places that a text which is no code may mean, the nearest first and at most four: those of that name,
// else those whose code was written otherwise, has two letters swapped or one letter off, else those whose names begin
// so, else that whose name was misspelt.
func Near(text string) []string {
	text = strings.TrimSpace(text)
	if text == "" || len(text) > 64 {
		return nil
	}
	near := named(plain(text))
	if near == nil {
		near = spelt(strings.NewReplacer("_", "-", " ", "-", ".", "", "/", "-").Replace(strings.ToUpper(text)))
	}
	if i := strings.IndexAny(text, ",("); near == nil && i > 0 {
		return Near(text[:i]) // Ontario, Canada
	}
	if near == nil {
		near = begun(plain(text))
	}
	if near == nil && len(text) > 4 {
		near = named(note.Near(plain(text), slices.Collect(maps.Keys(names()))))
	}
	return near[:min(len(near), 4)]
}

// named are the places of a name, in English or French, without accents.
func named(name string) []string { return names()[name] }

var names = sync.OnceValue(func() map[string][]string {
	all := map[string][]string{}
	for _, c := range every() {
		for _, lang := range []language.Tag{language.English, language.French} {
			if name := plain(Name(c, lang)); !slices.Contains(all[name], c) {
				all[name] = append(all[name], c)
			}
		}
	}
	return all
})

// begun are the parts of countries whose names begin so, as short forms do: Ont., Mass., Qué.
func begun(short string) (list []string) {
	for _, p := range parts {
		if len(short) > 2 && (strings.HasPrefix(plain(Name(p.code, language.English)), short) ||
			strings.HasPrefix(plain(Name(p.code, language.French)), short)) {
			list = append(list, p.code)
		}
	}
	return list
}

// every is every code that is listed, the parts of countries first.
func every() []string {
	list := make([]string, 0, len(parts)+300)
	for _, p := range parts {
		list = append(list, p.code)
	}
	return append(list, Countries()...)
}

// spelt are the places whose codes are nearest to one that is written in capitals.
func spelt(code string) []string {
	country, rest, of := strings.Cut(code, "-")
	if r, err := language.ParseRegion(country); err == nil && isCountry(r.Canonicalize().String()) {
		country = r.Canonicalize().String() // UK, USA, CAN
	}
	if rest == "PQ" || code == "PQ" {
		return []string{"CA-QC"} // as its post wrote it until 1991, and many do
	}
	const far = 3
	var found [far][]string
	for _, c := range every() {
		at, below, part := strings.Cut(c, "-")
		d := far
		switch {
		case c == code || part && below == code || of && part && at == country && below == rest:
			d = 0
		case of && part && at == country:
			d = apart(below, rest)
		case of == part:
			d = apart(c, code)
		}
		if d < far && (part || of || d == 0) {
			found[d] = append(found[d], c)
		}
	}
	switch {
	case found[0] != nil: // NH is New Hampshire, and was the New Hebrides
		return found[0]
	case !of && isCountry(country):
		return []string{country}
	}
	return append(found[1], found[2]...)
}

// apart is 1 where two texts of one length are each other's with two letters swapped, 2 where one letter differs, else
// more.
func apart(a, b string) int {
	if len(a) != len(b) {
		return 9
	}
	var at []int
	for i := range len(a) {
		if a[i] != b[i] {
			at = append(at, i)
		}
	}
	switch {
	case len(at) == 2 && at[1] == at[0]+1 && a[at[0]] == b[at[1]] && a[at[1]] == b[at[0]]:
		return 1
	case len(at) == 1:
		return 2
	}
	return len(at) + 1
}

// plain is a name in small letters, without accents, hyphens and points.
func plain(s string) string {
	var b strings.Builder
	for _, r := range norm.NFD.String(strings.ToLower(s)) {
		if r >= 'a' && r <= 'z' {
			b.WriteRune(r)
		}
	}
	return b.String()
}
