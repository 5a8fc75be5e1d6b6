package internal_test

import (
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"

	"spile/internal/trade/column"
	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

// wordsOfTrade are the texts of the trade's lists that a person may read.
func wordsOfTrade() []string {
	var list []string
	for _, w := range slices.Concat(practice.Words(practice.Washes), practice.Words(practice.Spouts),
		practice.Words(practice.DropsList),
		practice.Verdicts, practice.ShippedWords()) {
		list = append(list, w.Name)
	}
	for _, w := range practice.Washes {
		list = append(list, w.Cautions...)
	}
	for _, s := range practice.Spouts {
		list = append(append(list, s.Cautions...), s.Fitted)
	}
	for _, d := range practice.DropsList {
		list = append(list, d.Fitted)
	}
	for _, c := range evidence.CaveatList {
		list = append(list, c.Name, c.Footnote)
	}
	for _, c := range evidence.Columns {
		list = append(append(list, c.Label, c.Hint), c.Words...)
	}
	return list
}

// withoutFrench are those of the texts that the French catalogue lacks.
func withoutFrench(t *testing.T, texts []string) []string {
	t.Helper()
	data, err := os.ReadFile("view/say/catalogue/fr.json")
	if err != nil {
		t.Fatal(err)
	}
	french := map[string]any{}
	if err := json.Unmarshal(data, &french); err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(texts, func(s string) bool { return s == "" || french[s] != nil })
}

// Every word of the trade's lists has its French.
func TestTheTradeInFrench(t *testing.T) {
	if list := withoutFrench(t, wordsOfTrade()); len(list) > 0 {
		t.Errorf("not in French: %q", list)
	}
}

// What a stranger adds to a list is missed by the French check, and described in docs/data.md.
func TestStrangersInDocsAndFrench(t *testing.T) {
	washes, caveats, columns := practice.Washes, evidence.CaveatList, evidence.Columns
	t.Cleanup(func() { practice.Washes, evidence.CaveatList, evidence.Columns = washes, caveats, columns })
	practice.Washes = append(slices.Clone(washes), practice.WashInfo{
		Word:     practice.Word{Key: "moonlight", Name: "moonlight by the pail"},
		Cautions: []string{"moonlight dazzles owls"}})
	evidence.CaveatList = append(slices.Clone(caveats), evidence.CaveatInfo{
		Key: "barn-cat", Name: "a cat was near", Footnote: "a cat sat on the gauge", Rule: "the site is a barn"})
	evidence.Columns = append(slices.Clone(columns),
		evidence.Column{Part: evidence.Run, Column: column.Column[evidence.Row]{
			Name: "bark_mm", Bounds: column.Positive, Unit: "mm", Label: "thickness of bark, mm",
			Holds: "thickness of the bark"}})
	want := []string{"moonlight by the pail", "moonlight dazzles owls", "a cat was near", "a cat sat on the gauge",
		"thickness of bark, mm"}
	if got := withoutFrench(t, wordsOfTrade()); !slices.Equal(got, want) {
		t.Errorf("the French check misses %q, want %q", got, want)
	}
	for region, says := range map[string]string{"parts-of-practices": "`moonlight`", "caveats": "the site is a barn",
		"columns-run": "`bark_mm`"} {
		if text := made[region](); !strings.Contains(text, says) {
			t.Errorf("%s does not say %q:\n%s", region, says, text)
		}
	}
}
