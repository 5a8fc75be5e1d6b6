package say

import (
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The terms of the trade that a reviewer reads (docs/termes.md) are those of the catalogue: each French term is used
// somewhere, and none of the words that it stands in place of.
func TestTheCatalogueUsesTheTermsListed(t *testing.T) {
	text, err := os.ReadFile("../../../docs/termes.md")
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, id := range slices.Sorted(maps.Keys(whole(t, "fr"))) {
		entry, _ := catalogues["fr"].find(id)
		for _, form := range entry {
			all = append(all, strings.ToLower(strings.ReplaceAll(form, nbsp, " ")))
		}
	}
	uses := func(term string) string {
		word := regexp.MustCompile(`(^|[^\p{L}])` + regexp.QuoteMeta(strings.ToLower(term)))
		for _, form := range all {
			if word.MatchString(form) {
				return form
			}
		}
		return ""
	}
	terms := 0
	for line := range strings.Lines(string(text)) {
		cells := strings.Split(strings.TrimSpace(line), "|")
		if len(cells) != 7 || strings.HasPrefix(cells[1], "-") || strings.TrimSpace(cells[1]) == "anglais" {
			continue
		}
		terms++
		term, not := strings.TrimSpace(cells[2]), strings.TrimSpace(cells[4])
		if uses(strings.ReplaceAll(term, "3 ans", "%d ans")) == "" {
			t.Errorf("no text of the catalogue says %q", term)
		}
		if not != "" {
			if form := uses(not); form != "" {
				t.Errorf("%q stands where %q belongs: %q", not, term, form)
			}
		}
	}
	if terms < 70 {
		t.Errorf("only %d terms were found", terms)
	}
}

// French typography as in Québec (common practice, no source): a no-break space before a colon, a percent sign and a
// closing quote, after an opening one; none before a question mark or a semicolon; the curled apostrophe.
func TestFrenchIsSetAsInQuebec(t *testing.T) {
	bad := map[string]*regexp.Regexp{
		"a colon after a plain space":      regexp.MustCompile(`\S :( |$)`),
		"a colon after no space":           regexp.MustCompile(`\p{L}: `),
		"a percent sign after a plain one": regexp.MustCompile(`(\d|%s|%v|%f) %%`),
		"a space before a question mark":   regexp.MustCompile(`[\p{L}s]\s\?$`),
		"a space before a semicolon":       regexp.MustCompile(`\s;`),
		"quotes without their spaces":      regexp.MustCompile(`«[^\x{a0}]|[^\x{a0}]»`),
		"a straight apostrophe":            regexp.MustCompile(`\p{L}'\p{L}`),
		"an article not contracted": regexp.MustCompile(
			`(?i)(^|\s)(de le|de les|à le|à les|de il|que il|si il|de un|de une|que un|que une|que elle) `),
		"an elision that is missing": regexp.MustCompile(
			`(^|\s)(de|le|la|que|ne|se|je|jusque|lorsque|puisque) [aeiouyéèêàâîôûh]`),
		"a preposition before what varies": regexp.MustCompile(`(^|\s)(du|au|le|la|les|aux|des) %(\[\d\])?q`),
	}
	// Words with an aspirated h, or said as if with one; years, and what a user typed in quotes.
	fine := regexp.MustCompile(
		`(^|\s)(de|le|la|que|ne|se) (haut|hauts|haute|hautes|hors|huit|onze|oui|unsanitized|y et|high)|\bde le savoir\b`)
	for _, id := range slices.Sorted(maps.Keys(whole(t, "fr"))) {
		entry, _ := catalogues["fr"].find(id)
		for _, form := range entry {
			var lines []string
			for line := range strings.Lines(form) {
				if !strings.HasPrefix(line, "    ") { // an example of a command line
					lines = append(lines, line)
				}
			}
			text := fine.ReplaceAllString(strings.Join(lines, ""), "")
			for what, pattern := range bad {
				if m := pattern.FindString(text); m != "" {
					t.Errorf("%s, %q: %q", what, m, form)
				}
			}
		}
	}
}
