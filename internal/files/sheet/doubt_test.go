package sheet

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"spile/internal/demo"
	"spile/internal/trade/input"
)

// doubtsOf is what is asked about a price file and a sugarbush of the demo, each changed by pairs of old and new text.
func doubtsOf(t *testing.T, prices, bush []string, today time.Time) (texts []string) {
	t.Helper()
	dir := t.TempDir()
	put := func(name string, change []string) string {
		data, err := fs.ReadFile(demo.Files(), name)
		if err != nil {
			t.Fatal(err)
		}
		text := string(data)
		for i := 0; i < len(change); i += 2 {
			if !strings.Contains(text, change[i]) {
				t.Fatalf("%s has no %q", name, change[i])
			}
			text = strings.Replace(text, change[i], change[i+1], 1)
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	in, err := Read(put("prices.toml", prices), put("sugarbush-organic.toml", bush))
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range Doubts(in, input.Input{}, today) {
		texts = append(texts, fmt.Sprintf("%s: %s", q.Where.Column, q.English()))
	}
	return texts
}

// What is unusual is common practice, no source.
func TestDoubtsOfPrices(t *testing.T) {
	spring := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	none := []string{}
	for name, c := range map[string]struct {
		prices, bush []string
		says         string
	}{
		"the demo as it stands": {none, none, ""},
		"a wage of a year":      {[]string{"best = 24, low = 18, high = 32", "best = 24000"}, none, "wage: "},
		"a wage in cents": {[]string{"best = 24, low = 18, high = 32", "best = 2400, low = 1800, high = 3200"}, none,
			"2400 is beyond the usual 5 to 100; is that meant?"},
		"a wage whose high is odd": {[]string{"high = 32", "high = 3200"}, none, "3200 is beyond"},
		"prices of 1900":           {[]string{"2025-11-01", "1900-11-01"}, none, "as_of: "},
		"prices of next century":   {[]string{"2025-11-01", "2095-11-01"}, none, "as_of: "},
		"a price a drum in place of a pound": {[]string{"best = 2.45, low = 2.10, high = 2.80", "best = 1200"}, none,
			"1200 is beyond the usual 0.91 to 11"},
		"a yield in litres beside gallons": {[]string{"best = 20, low = 14, high = 26", "best = 76"}, none,
			"76 is beyond the usual 5.3 to 40"},
		"minutes of unsanitized": {[]string{"[use.new-spout]",
			"[use.unsanitized]\nminutes.tapping = 2\n\n[use.new-spout]"},
			none, "use.unsanitized: "},
		"nothing of unsanitized": {[]string{"[use.new-spout]",
			"[use.unsanitized]\nminutes.tapping = 0\n\n[use.new-spout]"},
			none, ""},
		"gains that are fractions": {[]string{"[use.new-drop.renewal] ", "[use.new-drop.gain]\n0 = 0.2\n1 = 0.15\n" +
			"\n[use.new-drop.renewal] "}, none, "use.new-drop.gain: "},
		"kilograms of plastic a spout": {[]string{"grams = 5\n", "grams = 5000\n"}, none, "material.spout.grams: "},
		"a rate of discount above any": {[]string{"best = 0.05, low = 0.02, high = 0.10", "best = 0.5"}, none,
			"discount: "},
		"Swedish money, of which nothing is said": {[]string{`currency = "USD"`, `currency = "SEK"`,
			"best = 24, low = 18, high = 32", "best = 240"}, none, ""},

		"an exchange that turns nothing": {none, []string{"organic = true", "organic = true\nexchange = 1.4"},
			"exchange: "},
		"an own wage of a year": {none, []string{"wage = 22", "wage = 22000"}, "wage: "},
		"400 days":              {none, []string{"days = 6", "days = 400"}, "window.shop.days: "},
		"100,000 people": {none, []string{"people = 2\n", "people = 100000\n"},
			"window.shop.people: "},
		"taps of a county": {none, []string{"taps = 1400", "taps = 900000"},
			"section.North face.taps: "},
		"litres beside gallons": {none, []string{"yield = 26", "yield = 98"},
			"section.North face.yield: 98 is beyond the usual 5.3 to 40"},
		"20 °Brix":         {none, []string{"brix = 1.9", "brix = 20"}, "section.North face.brix: "},
		"a plan from 2062": {none, []string{"first_season = 2026", "first_season = 2062"}, "first_season: "},
		"drops of 1921": {none, []string{"drops_replaced = 2024", "drops_replaced = 1921"},
			"drops_replaced: "},
		"all the air there is": {none, []string{"vacuum_inhg = 26", "vacuum_inhg = 29.5"},
			"section.North face.vacuum_inhg: "},
		"as much spare as is used": {none, []string{"spare = 0.05", "spare = 0.5"}, "spare: "},
	} {
		texts := doubtsOf(t, c.prices, c.bush, spring)
		switch all := strings.Join(texts, "\n"); {
		case c.says == "" && len(texts) > 0:
			t.Errorf("%s: asked %s", name, all)
		case c.says != "" && !strings.Contains(all, c.says):
			t.Errorf("%s: asked %q, want %q", name, all, c.says)
		}
	}
	if texts := doubtsOf(t, none, none, time.Time{}); len(texts) > 0 {
		t.Errorf("where no day is known: asked %q", texts)
	}
}
