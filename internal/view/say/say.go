// Package say makes words: every text that a person reads goes through it, with its English as the id. Numbers, money,
// quantities and dates get the form of the reader's language and units here and nowhere else.
//
// A catalogue is one file, catalogue/LANG.json: from the English text, fmt verbs and all, to its translation, or to its
// plural forms. Arguments that change place are numbered as fmt does it: %[2]s. Text that has no entry stays English.
package say

import (
	"embed"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"

	"spile/internal/note"
	"spile/internal/trade/place"
	"spile/internal/trade/unit"
)

// Pseudo is a language for tests: English with each message between ⟦ and ⟧, so that a word that did not come through
// this package stands out.
const Pseudo = "en-XA"

// Units are the units in which quantities are shown.
type Units string

const (
	US     Units = "us"     // US gallons, pounds, inches of mercury
	Metric Units = "metric" // litres, kilograms, kilopascals
	Quebec Units = "quebec" // as Québec mixes them: litres of sap and pounds of syrup, vacuum and tubing in inches, °C
)

// Systems are all of them.
var Systems = []Units{US, Metric, Quebec}

// Gallons is true where volumes are in US gallons, else in litres.
func (u Units) Gallons() bool { return u == US }

// Pounds is true where syrup is weighed in pounds, else in kilograms.
func (u Units) Pounds() bool { return u != Metric }

// Inches is true where lengths are in inches and feet and vacuum in inches of mercury, else in metres and kilopascals.
func (u Units) Inches() bool { return u != Metric }

// Fahrenheit is true where temperatures are in °F, else in °C.
func (u Units) Fahrenheit() bool { return u == US }

// Letter is true where paper is 8.5 by 11 inches, else A4.
func (u Units) Letter() bool { return u != Metric }

// UnitsOf are the units of a place, by its ISO 3166 code.
func UnitsOf(place string) Units {
	switch country, part, _ := strings.Cut(place, "-"); {
	case country == "US":
		return US
	case country == "CA" && part == "QC":
		return Quebec
	}
	return Metric
}

// UnitsIn are the units of a sugarbush: those of its place, but pounds and inches as Québec has them where its syrup is
// weighed in pounds, the unit of mass that it types.
func UnitsIn(place, mass string) Units {
	u := UnitsOf(place)
	if u == Metric && mass == string(unit.Pound) {
		return Quebec
	}
	return u
}

// Voice speaks one language in one system of units. It does not change once made, and may be shared.
type Voice struct {
	lang    string
	units   Units
	tag     language.Tag
	printer *message.Printer
	texts   *catalogue
	pseudo  bool
}

// forms is one entry of a catalogue: plural category to text; "other" is there always.
type forms map[string]string

func (f *forms) UnmarshalJSON(data []byte) error {
	var text string
	if err := json.Unmarshal(data, &text); err == nil {
		*f = forms{"other": text}
		return nil
	}
	return json.Unmarshal(data, (*map[string]string)(f))
}

//go:embed catalogue/*.json
var files embed.FS

// catalogue is the texts of a language. Nothing is read before it is asked for: thousands of texts would keep every
// command, and a phone far longer, from its first word.
type catalogue struct {
	lang string
	open func() map[string]string // by the English, its entry as the file has it
	kept sync.Map                 // by the English, its forms
}

// catalogues are those that there are, by language.
var catalogues = map[string]*catalogue{}

func init() {
	for _, lang := range Languages() {
		data, err := files.ReadFile("catalogue/" + lang + ".json")
		if err != nil {
			panic(err) // embedded at build time
		}
		catalogues[lang] = newCatalogue(lang, string(data))
	}
}

func newCatalogue(lang, data string) *catalogue {
	return &catalogue{lang: lang, open: sync.OnceValue(func() map[string]string { return entries(data) })}
}

// entries are those of a catalogue's file, which has one a line.
func entries(data string) map[string]string {
	list := make(map[string]string, strings.Count(data, "\n"))
	for line := range strings.Lines(data) {
		line = strings.TrimRight(strings.TrimSpace(line), ",")
		if len(line) < 2 {
			continue // the brackets around all
		}
		end := 1 + strings.IndexByte(line[1:], '"')
		for line[end-1] == '\\' {
			end += 1 + strings.IndexByte(line[end+1:], '"')
		}
		key := line[1:end]
		if strings.Contains(key, `\`) {
			key = must[string](line[:end+1])
		}
		list[key] = strings.TrimLeft(line[end+1:], ": ")
	}
	return list
}

// must reads what was embedded at build time, and a test has read.
func must[T any](text string) (x T) {
	if err := json.Unmarshal([]byte(text), &x); err != nil {
		panic(fmt.Errorf("say: %s: %w", text, err))
	}
	return x
}

// find is the entry of a text; false where it has none.
func (c *catalogue) find(id string) (forms, bool) {
	if c == nil {
		return nil, false
	}
	if f, ok := c.kept.Load(id); ok {
		return f.(forms), true
	}
	entry, ok := c.open()[id]
	if !ok {
		return nil, false
	}
	var f forms
	if text := strings.Trim(entry, `"`); entry[0] == '"' && !strings.Contains(entry, `\`) {
		f = forms{"other": text}
	} else {
		f = must[forms](entry)
	}
	if c.lang == "fr" {
		for category, text := range f {
			f[category] = french.Replace(text)
		}
	}
	c.kept.Store(id, f)
	return f, true
}

// french sets the spaces of French that must not break: before a colon and a percent sign, inside quotes. The catalogue
// may have plain ones there.
var french = strings.NewReplacer(" :", nbsp+":", " %%", nbsp+"%%", "« ", "«"+nbsp, " »", nbsp+"»")

// Languages lists the languages that have a catalogue, English first.
func Languages() []string {
	langs := []string{"en"}
	entries, _ := files.ReadDir("catalogue")
	for _, e := range entries {
		if l := strings.TrimSuffix(e.Name(), ".json"); l != "en" {
			langs = append(langs, l)
		}
	}
	return langs
}

// In gives the voice of a language (a BCP 47 tag), with US units for the United States and for bare English, those of
// Québec for French, whose French it is, and metric units else. A language without a catalogue speaks English; ask
// Known first where that should be a fault.
func In(lang string) *Voice {
	if lang == Pseudo {
		v := speak("en", language.AmericanEnglish, catalogues["en"])
		v.pseudo = true
		return v
	}
	tag, err := language.Parse(lang)
	if err != nil {
		tag = language.AmericanEnglish
	}
	base, _ := tag.Base()
	texts, ok := catalogues[base.String()]
	switch {
	case !ok:
		return speak("en", language.AmericanEnglish, catalogues["en"])
	case base.String() == "fr":
		tag = language.CanadianFrench
	}
	return speak(base.String(), tag, texts)
}

// speak makes the voice of a catalogue.
func speak(lang string, tag language.Tag, texts *catalogue) *Voice {
	v := &Voice{lang: lang, units: Metric, tag: tag, printer: message.NewPrinter(tag), texts: texts}
	switch region, _ := tag.Region(); {
	case lang == "fr":
		v.units = Quebec
	case region.String() == "US":
		v.units = US
	}
	return v
}

// Known says whether a language has a catalogue.
func Known(lang string) bool {
	tag, err := language.Parse(lang)
	if err != nil {
		return false
	}
	base, _ := tag.Base()
	_, ok := catalogues[base.String()]
	return ok
}

// With gives the same voice in other units.
func (v *Voice) With(u Units) *Voice {
	w := *v
	w.units = u
	return &w
}

// Lang is the BCP 47 tag for a page's lang attribute.
func (v *Voice) Lang() string {
	if v.lang == "fr" {
		return v.tag.String()
	}
	return v.lang
}

// Language is the language of the voice's catalogue: "en", "fr".
func (v *Voice) Language() string { return v.lang }

// Place is the name of a place with its code: Vermont (US-VT). One that is not listed has its code.
func (v *Voice) Place(code string) string {
	name := place.Name(code, language.Make(v.Lang()))
	if name == code {
		return code
	}
	return v.Text("%s (%s)", name, code)
}

// Units is the system of units in which the voice speaks.
func (v *Voice) Units() Units { return v.units }

// Text words a message: key is its English text with fmt verbs (so a percent sign is %%), and its id. A note.Term
// among the arguments is translated, a note.Percent, a note.Day, money and a number take the form of the language, a
// string stands as it is. Where the catalogue has plural forms, the first int or note.Count chooses; a note.Count, and
// an int of five digits or more, have the language's separators.
func (v *Voice) Text(key string, args ...any) string {
	text := key
	if f, ok := v.texts.find(key); ok {
		text = f["other"]
		if len(f) > 1 {
			if t, ok := f[v.category(args)]; ok {
				text = t
			}
		}
	}
	said := make([]any, len(args))
	for i, a := range args {
		said[i] = v.argument(a)
	}
	if !strings.Contains(strings.ReplaceAll(text, "%%", ""), "%") {
		said = nil // a plural form may do without its number: "every season"
	}
	if v.lang == "fr" {
		text = elide(text, said)
	}
	return v.mark(fmt.Sprintf(text, said...))
}

var (
	directive = regexp.MustCompile(`%(?:\[(\d+)\])?[-+#0]*\d*(?:\.\d+)?([a-zA-Z%])`)
	elided    = regexp.MustCompile(`(^|\P{L})([Dd]|[Qq]u)e $`)
	vowel     = regexp.MustCompile(`^[AEIOUYaeiouyÀÂÉÈÊÎÔÛàâéèêîôûœ]\p{Ll}`)
)

// elide writes de and que as d’ and qu’ before an argument that begins with a vowel: a reading of Aldervale is un
// relevé d’Aldervale. A code such as A1 or US stands as it is.
func elide(text string, said []any) string {
	if !strings.Contains(text, "e %") {
		return text
	}
	var b strings.Builder
	from, at := 0, 0
	for _, m := range directive.FindAllStringSubmatchIndex(text, -1) {
		if text[m[4]] == '%' {
			continue
		}
		at++
		if m[2] >= 0 {
			at, _ = strconv.Atoi(text[m[2]:m[3]])
		}
		before := text[from:m[0]]
		if at <= len(said) {
			if s, ok := said[at-1].(string); ok && vowel.MatchString(s) && elided.MatchString(before) {
				before = strings.TrimSuffix(before, "e ") + "’"
			}
		}
		b.WriteString(before)
		from = m[0]
	}
	return b.String() + text[from:]
}

// mark sets a message of the pseudo-language off.
func (v *Voice) mark(text string) string {
	if v.pseudo && text != "" {
		return "⟦" + text + "⟧"
	}
	return text
}

// category is the plural category of the first count among the arguments, by the rules for whole numbers of the Unicode
// Common Locale Data Repository, version 47, common/supplemental/plurals.xml. Those of x/text are of version 32, when
// French had no "many" yet.
func (v *Voice) category(args []any) string {
	for _, a := range args {
		n, ok := a.(int)
		if c, is := a.(note.Count); is {
			n, ok = int(c), true
		}
		if !ok {
			continue
		}
		if n < 0 {
			n = -n
		}
		switch {
		case n == 1, n == 0 && v.lang == "fr":
			return "one"
		case v.lang == "fr" && n != 0 && n%1_000_000 == 0:
			return "many"
		}
		break
	}
	return "other"
}

func (v *Voice) argument(a any) any {
	switch a := a.(type) {
	case note.Term:
		return v.Term(a)
	case note.Note:
		return v.Note(a)
	case note.Day:
		return v.DayOf(time.Time(a))
	case note.Count:
		return counted(v.Count(int(a)))
	case unit.Pressure:
		return v.Vacuum(a)
	case note.Money:
		return v.Sum(a.Amount, a.Currency)
	case note.Percent:
		return shown{v.Percent(float64(a)), a, v}
	case float64:
		return shown{v.Number(a), a, v}
	case int:
		if a >= 10_000 || a <= -10_000 { // no year
			return counted(v.Count(a))
		}
	case string:
		if n := len(a); v.lang == "fr" && n > 1 && a[0] == '"' && a[n-1] == '"' { // what a person wrote
			return "«" + nbsp + a[1:n-1] + nbsp + "»"
		}
	case []string:
		return v.List(a)
	case []note.Term:
		words := make([]string, len(a))
		for i, t := range a {
			words[i] = v.Term(t)
		}
		return v.List(words)
	}
	return a
}

// counted is a large whole number among the arguments of a message, with the language's separators.
type counted string

func (c counted) Format(st fmt.State, _ rune) { fmt.Fprint(st, string(c)) }

// shown is a number among the arguments of a message: %v and %s give the tool's own choice of digits; a verb for
// numbers (%.2f) is obeyed, in the language's form.
type shown struct {
	text  string
	value any // float64 or note.Percent
	voice *Voice
}

func (s shown) Format(st fmt.State, verb rune) {
	if verb == 'v' || verb == 's' {
		fmt.Fprint(st, s.text)
		return
	}
	x, percent := 0.0, ""
	switch n := s.value.(type) {
	case float64:
		x = n
	case note.Percent:
		x, percent = float64(n), nbsp+"%"
	}
	text := fmt.Sprintf(fmt.FormatString(st, verb), x)
	if digits, ok := st.Precision(); ok && verb == 'f' {
		text = s.voice.Decimal(x, digits)
	}
	fmt.Fprint(st, text, percent)
}

// Note words a note, its place in a file first.
func (v *Voice) Note(n note.Note) string {
	text := v.Text(n.Key, n.Args...)
	if where := v.Where(n.Where); where != "" {
		return v.Text("%s: %s", where, text)
	}
	return text
}

// Notes words each of a list.
func (v *Voice) Notes(notes note.List) []string {
	texts := make([]string, len(notes))
	for i, n := range notes {
		texts[i] = v.Note(n)
	}
	return texts
}

// Where words a place in a file: "evidence.csv, row 3, column mean", "prices.toml, key wage". Nowhere is "".
func (v *Voice) Where(w note.Where) string {
	var parts []string
	if w.File != "" {
		parts = append(parts, w.File)
	}
	if w.Sheet != "" {
		parts = append(parts, v.Text("sheet %s", w.Sheet))
	}
	if w.Row > 0 {
		parts = append(parts, v.Text("row %d", w.Row))
	}
	switch {
	case w.Column == "":
	case strings.HasSuffix(strings.ToLower(w.File), ".toml"):
		parts = append(parts, v.Text("key %s", w.Column))
	default:
		parts = append(parts, v.Text("column %s", w.Column))
	}
	return strings.Join(parts, ", ")
}

// Term words a term of the tool: the name of a practice, a caveat, a kind, a window. A term that is not in the
// catalogue, such as a practice of the user's own, stands as typed.
func (v *Voice) Term(t note.Term) string {
	text := string(t)
	if f, ok := v.texts.find(text); ok {
		text = f["other"]
	}
	return v.mark(text)
}

// List joins words: "a", "a and b", "a, b and c".
func (v *Voice) List(words []string) string {
	switch n := len(words); {
	case n == 0:
		return ""
	case n == 1:
		return words[0]
	case slices.ContainsFunc(words, func(w string) bool { return strings.Contains(w, ", ") }):
		return strings.Join(words, "; ") // so that nobody takes one for two
	default:
		return v.Text("%s and %s", strings.Join(words[:n-1], ", "), words[n-1])
	}
}

const (
	nbsp = "\u00a0" // keeps a number with its unit
	none = "–"      // what does not exist
)

// None is what stands for a number that does not exist.
func (v *Voice) None() string { return none }

// Year is a season: a year without a separator of thousands.
func (v *Voice) Year(y int) string { return strconv.Itoa(y) }

// Seasons names the seasons from the first to the last.
func (v *Voice) Seasons(first, last int) string {
	if first == last {
		return v.Text("season %s", v.Year(first))
	}
	return v.Text("seasons %s to %s", v.Year(first), v.Year(last))
}

// Count is a whole number with the language's separators.
func (v *Voice) Count(n int) string { return v.Decimal(float64(n), 0) }

// Decimal is a number with so many digits after the point, a true minus sign, and never "−0".
func (v *Voice) Decimal(x float64, digits int) string {
	if !finite(x) {
		return none
	}
	if t := strconv.FormatFloat(x, 'f', digits, 64); strings.Trim(t, "-0.") == "" {
		x = 0
	}
	text := v.printer.Sprint(number.Decimal(x, number.Scale(digits)))
	return strings.ReplaceAll(text, "-", "−")
}
