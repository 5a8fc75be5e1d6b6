package say

import (
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"testing"
)

// A text that a person may read has its French, and the catalogue holds no text that nothing says any more.
func TestCatalogueIsWhole(t *testing.T) {
	f, err := texts()
	if err != nil {
		t.Fatal(err)
	}
	if len(f.At) < 1000 {
		t.Errorf("only %d texts were found", len(f.At))
	}
	// What a stranger declares in one place is asked for.
	for _, text := range []string{"a figure that a stranger made up", "a table that a stranger made up"} {
		if f.At[text] == "" {
			t.Errorf("nothing asks for the French of %q", text)
		}
		delete(f.At, text)
	}
	// Read from a file or a form, a text is the user's own; groups that are drawn together are worded one by one.
	own := regexp.MustCompile(`^sheet/|^sure/sure\.go.* p\.groups|^page/form\.go.* strings\.ToValidUTF8|` +
		`^sugarbush/sugarbush\.go`)
	for _, o := range f.Opaque {
		if !own.MatchString(o) {
			t.Errorf("no catalogue can hold a text that is put together: %s", o)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(f.At)) {
		if _, ok := catalogues["fr"].find(id); !ok {
			t.Errorf("%s: not in fr.json: %q", f.At[id], id)
		}
	}
	for _, lang := range slices.Sorted(maps.Keys(catalogues)) {
		for _, id := range slices.Sorted(maps.Keys(whole(t, lang))) {
			if f.At[id] == "" {
				t.Errorf("%s.json: nothing says %q", lang, id)
			}
		}
	}
}

// whole is every entry of a catalogue, as a reader of JSON finds them.
func whole(t *testing.T, lang string) map[string]forms {
	t.Helper()
	data, err := files.ReadFile("catalogue/" + lang + ".json")
	if err != nil {
		t.Fatal(err)
	}
	list := map[string]forms{}
	if err := json.Unmarshal(data, &list); err != nil {
		t.Fatal(err)
	}
	return list
}

// An entry is found one by one as the file has it.
func TestEntriesAreFound(t *testing.T) {
	for lang, c := range catalogues {
		list := whole(t, lang)
		if len(c.open()) != len(list) {
			t.Errorf("%s: %d entries, and the file has %d", lang, len(c.open()), len(list))
		}
		for id, want := range list {
			got, _ := c.find(id)
			for category, text := range want {
				if lang == "fr" {
					text = french.Replace(text)
				}
				if got[category] != text || len(got) != len(want) {
					t.Errorf("%s: %q is %q, and the file has %q", lang, id, got, want)
				}
			}
		}
	}
}

// categories are the plural categories of each language that has a catalogue.
var categories = map[string][]string{"en": {"one", "other"}, "fr": {"one", "many", "other"}}

var verb = regexp.MustCompile(`%(?:\[(\d+)\])?([-+#0]*[0-9]*(?:\.[0-9]+)?[a-zA-Z])|%%`)

// arguments says which verb words each argument of a message, by its number.
func arguments(text string) map[string]string {
	out, at := map[string]string{}, 0
	for _, m := range verb.FindAllStringSubmatch(text, -1) {
		if m[0] == "%%" {
			continue
		}
		at++
		if m[1] != "" {
			fmt.Sscan(m[1], &at)
		}
		out[fmt.Sprint(at)] = m[2]
	}
	return out
}

// A translation words the same arguments in the same way, in whatever order, in as many plural forms as the language
// has. A plural form may leave out the number that chose it.
func TestCataloguesTakeTheArgumentsOfTheirIDs(t *testing.T) {
	for _, lang := range slices.Sorted(maps.Keys(catalogues)) {
		for _, id := range slices.Sorted(maps.Keys(whole(t, lang))) {
			entry, _ := catalogues[lang].find(id)
			if len(entry) > 1 {
				for _, c := range categories[lang] {
					if entry[c] == "" {
						t.Errorf("%s: %q has no form %q", lang, id, c)
					}
				}
			}
			for category, text := range entry {
				if text == "" || !slices.Contains(categories[lang], category) {
					t.Errorf("%s: %q has an empty form, or one that the language has not: %q", lang, id, category)
				}
				want, got := arguments(id), arguments(text)
				for at, v := range got {
					if want[at] != v {
						t.Errorf("%s: %q words argument %s by %q, not by %q: %q", lang, id, at, v, want[at], text)
					}
				}
				for at, v := range want {
					if got[at] == "" && !(len(entry) > 1 && v == "d") {
						t.Errorf("%s: %q leaves argument %s out: %q", lang, id, at, text)
					}
				}
			}
		}
	}
}
