package sheet

import (
	"path/filepath"
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
)

// A mapping file says what the headers and words of tables of others stand for: ours = theirs, one or a list.
//
//	unknown = ["NA", "–"]
//	[columns]
//	mean.l = "Rendement (L)"
//	notes = ["Farmer"]
//	[arms.check-valve]
//	mean = "Check valve"
//	[words.practice]
//	unsanitized = ["Control", "Témoin"]
//	[numbers]
//	comma = ["Rendement (L)"]
//	[dates]
//	day = ["Entaillage"]
//	[blanks]
//	above = ["Érablière"]
//	[repeats]
//	units = ["Rendement (L)"]
//	[rows]
//	site = "Bas du rang"
var mappingKeys = func() []string {
	keys := []string{"unknown[]", "columns.notes[]", "numbers.comma[]", "numbers.point[]", "dates.day[]",
		"dates.month[]", "blanks.above[]", "repeats.units[]", "repeats.readings[]",
		"ranges.middle[]", "places.apart[]", "places.one[]"}
	for _, c := range evidence.Columns {
		for _, below := range []string{gloss.Columns + ".", "arms.*."} {
			keys = append(keys, below+c.Name+"[]")
			for _, w := range c.Ways {
				keys = append(keys, below+c.Name+"."+w.Key+"[]")
			}
		}
		keys = append(keys, "words."+c.Name+".*[]")
		if c.Needed || c.Name == "level" || c.Name == "taps" {
			keys = append(keys, gloss.Rows+"."+c.Name)
		}
	}
	keys = append(keys, gloss.Rows+"."+evidence.Sugar)
	for _, role := range ofOthers {
		for _, c := range columnsOf(role) {
			keys = append(keys, gloss.Columns+"."+c.Name+"[]", "words."+c.Name+".*[]")
			if c.Needed {
				keys = append(keys, gloss.Rows+"."+c.Name)
			}
		}
	}
	return keys
}()

// Words parts mapping files from files that say something of a trial, and takes what they settle. The error is
// note.Faults.
func Words(set practice.Set, paths ...string) (words gloss.Glossary, rest []string, err error) {
	f := new(faults)
	for _, path := range paths {
		r := (*record)(nil)
		if strings.EqualFold(filepath.Ext(path), ".toml") {
			if data := disk.read(path, maxTOML, new(faults)); data != nil {
				r = flatten(path, data, new(faults))
			}
		}
		if r == nil || len(r.head.names) == 0 || slices.ContainsFunc(r.head.names, func(key string) bool {
			top, _, _ := strings.Cut(key, ".")
			return !isMapping(top)
		}) {
			rest = append(rest, path)
			continue
		}
		r.faults = f
		grow(mappingKeys...).check(r)
		words = append(words, readMapping(r, set)...)
	}
	return words, rest, f.err()
}

// isMapping is true of the first part of a key of a mapping file.
func isMapping(top string) bool {
	return slices.Contains(mappingTables, top)
}

var mappingTables = append([]string{gloss.Unknown, gloss.Rows, "arms", "words"}, plainTables...)

// plainTables are the tables of a mapping file whose keys are what headers mean.
var plainTables = []string{gloss.Columns, gloss.Numbers, gloss.Dates, gloss.Blanks, gloss.Repeats, gloss.Ranges,
	gloss.Places}

// readMapping takes what a file settles.
func readMapping(r *record, set practice.Set) (words gloss.Glossary) {
	said := map[[2]string]string{}
	for i, key := range r.head.names {
		parts := strings.Split(key, ".")
		if !isMapping(parts[0]) || r.cells[i].kind != str {
			if isMapping(parts[0]) {
				r.fault(key, note.New("%s stands where words belong; allowed: a text in quotes",
					shorten(r.cells[i].text)))
			}
			continue
		}
		if n := len(parts) - 1; n > 0 && strings.Trim(parts[n], "0123456789") == "" &&
			!(parts[0] == "words" && n == 2) { // a year
			parts = parts[:n] // of a list
		}
		s := gloss.Sense{Of: parts[0], Said: strings.TrimSpace(r.cells[i].text)}
		switch {
		case s.Of == gloss.Unknown:
			s.Means = gloss.Unknown
		case s.Of == gloss.Rows && len(parts) > 1:
			s.Said, s.Means = parts[1], s.Said
		case s.Of == "arms" && len(parts) > 2:
			s.Of, s.Means = gloss.Columns, strings.Join(parts[2:], ".")+"@"+parts[1]
			if _, ok := set.Find(practice.Key(parts[1])); !ok {
				r.fault(key, note.Unknown(parts[1], keysOf(set)))
			}
		case s.Of == "words" && len(parts) > 2:
			s.Of, s.Means = parts[1], parts[2]
		case s.Of != "arms" && s.Of != "words":
			s.Means = strings.Join(parts[1:], ".")
		default:
			continue // what is said of such a key is said of all of them
		}
		if s.Said == "" {
			continue
		}
		at := [2]string{s.Of, gloss.Fold(s.Said)}
		if before, have := said[at]; have && before != s.Means {
			r.fault(key, note.New("%s stands for two columns, %s and %s; allowed: one", quote(s.Said), before, s.Means))
		}
		said[at] = s.Means
		words = append(words, s)
	}
	return words
}

// mappingTOML writes what is settled as a mapping file.
func mappingTOML(words gloss.Glossary) string {
	tables := map[string]map[string][]string{}
	for _, s := range words {
		table, key := s.Of, s.Means
		switch t := gloss.ParseTarget(s.Means); {
		case s.Of == gloss.Unknown:
			table, key = "", gloss.Unknown
		case s.Of == gloss.Columns && t.Practice != "":
			table = "arms." + t.Practice
			t.Practice = ""
			key = t.String()
		case s.Of == gloss.Rows:
			key, s.Said = s.Said, s.Means
		case !slices.Contains(plainTables, s.Of):
			table = "words." + s.Of
		}
		if tables[table] == nil {
			tables[table] = map[string][]string{}
		}
		tables[table][key] = append(tables[table][key], tomlString(s.Said))
	}
	var b strings.Builder
	for _, table := range sorted(tables) {
		if table != "" {
			b.WriteString("[" + dotted(strings.Split(table, ".")) + "]\n")
		}
		for _, key := range sorted(tables[table]) {
			text := strings.Join(tables[table][key], ", ")
			if len(tables[table][key]) > 1 || table == "" || strings.HasPrefix(table, "words.") {
				text = "[" + text + "]"
			}
			b.WriteString(dotted(strings.Split(key, ".")) + " = " + text + "\n")
		}
	}
	return b.String()
}

func sorted[V any](m map[string]V) []string {
	list := make([]string, 0, len(m))
	for k := range m {
		list = append(list, k)
	}
	slices.Sort(list)
	return list
}

// mappable says what of a table a person may settle, as the mapping file that does, with a guess at each; false where
// there is nothing.
func (m Meant) mappable() (note.Note, bool) {
	var words gloss.Glossary
	for _, a := range m.Asked {
		switch {
		case a.Of == gloss.Columns && a.Means == gloss.Note:
			continue
		case a.Means != "":
		case a.Of == gloss.Numbers:
			a.Means = gloss.Point
		case a.Of == gloss.Dates:
			a.Means = gloss.Day
		default:
			continue // nothing is near
		}
		words = append(words, a.Sense)
	}
	if len(words) == 0 {
		return note.Note{}, false
	}
	return note.Mend(strings.TrimSuffix(mappingTOML(words), "\n")), true
}
