package web

import (
	"net/http"
	"strings"
	"testing"
)

// What is tried of a trial moves its worth; what cannot be is said beside the field, and the last good answer stays.
func TestNextTrialMoves(t *testing.T) {
	few, _ := visit(t, "/next-trial?concerned=100")
	many, _ := visit(t, "/next-trial?concerned=5000000")
	if !strings.Contains(lead(t, few), "No trial is worth its cost") ||
		!strings.Contains(lead(t, many), "Worth running next") {
		t.Errorf("for 100 taps %q, for five million %q", lead(t, few), lead(t, many))
	}
	for query, want := range map[string]string{
		"concerned=0":     "the taps concerned are 0; allowed: above 0",
		"adoption=120":    "a share from 0 to 100 % is asked, not 120",
		"trial-units=1.5": "a whole number from 1 to 1,000 is asked, not 1.5",
		"trial-fixed=-4":  "a trial&#39;s costs are −4",
		"trial-cv=0":      "the CV between units is 0",
	} {
		w := ask(served(), "GET", "/next-trial?last=concerned%3D100&"+query)
		body := strings.ReplaceAll(w.Body.String(), "\u00a0", " ")
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(body, want) ||
			!strings.Contains(lead(t, body), "No trial is worth") {
			t.Errorf("%s: %d, lead %q, %q said: %v", query, w.Code, lead(t, body), want, strings.Contains(body, want))
		}
	}
}

// The map is over the assumptions that are chosen, and no other page is moved by it.
func TestMapOfTwoChosen(t *testing.T) {
	body, at := visit(t, "/sure/closer?across=wage&down=discount")
	for _, want := range []string{"figure-map", "wage, USD an hour", "discount rate, % a year"} {
		if !strings.Contains(strings.ReplaceAll(body, "\u00a0", " "), want) {
			t.Errorf("%s: %q is not there", at, want)
		}
	}
	w := ask(served(), "GET", "/sure/closer?across=wage&down=wage")
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "named twice") {
		t.Errorf("one assumption twice: %d", w.Code)
	}
	for _, address := range []string{"/figure/map.svg?across=wage", "/figure/outlook.png",
		"/figure/swings.pdf?for=slide", "/figure/trial-size.svg?concerned=500",
		"/table/map.csv?down=wage", "/table/outlook.xlsx", "/table/outlook-season.csv", "/table/swings.csv",
		"/table/break-even.csv", "/table/knowing.csv", "/table/next-trial.xlsx"} {
		if w := ask(served(), "GET", address); w.Code != http.StatusOK || w.Body.Len() < 100 {
			t.Errorf("%s: %d, %d bytes", address, w.Code, w.Body.Len())
		}
	}
}

// A quick look and all of it say the same, the one less exactly, and what is being changed keeps its word through the
// address.
func TestQuickLook(t *testing.T) {
	quick, at := visit(t, "/sure/closer?moving=yes&wage=31")
	if !strings.Contains(at, "moving=yes") || !strings.Contains(quick, "drawn together 2,000 times") {
		t.Errorf("%s is no quick look", at)
	}
	if full, _ := visit(t, "/sure/closer?wage=31"); !strings.Contains(full, "drawn together 10,000 times") {
		t.Error("at rest not all is drawn")
	}
}
