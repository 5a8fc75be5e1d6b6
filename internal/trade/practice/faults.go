package practice

import (
	"regexp"
	"slices"
	"time"

	"spile/internal/note"
)

// keyForm is how a practice may be called, since its key stands in addresses, files and columns.
var keyForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

var (
	spouts = []Spout{SpoutReused, SpoutNew, SpoutCheckValveNew, SpoutCheckValveReused, SpoutSilver}
	drops  = []Drops{DropsKept, DropsReplaced, DropsLateral}
	washes = []Wash{WashNone, WashAirWater, WashChlorine, WashPeroxide, WashAlcohol}
)

// Faults is everything wrong with a practice that a user defines.
func (p Practice) Faults() note.Faults {
	var f note.Faults
	say := func(key string, args ...any) { f = append(f, note.New(key, args...)) }
	if !keyForm.MatchString(string(p.Key)) {
		say("%q cannot name a practice; allowed: small letters, digits and hyphens, such as steam-rinse", string(p.Key))
	}
	if _, shipped := Shipped().Find(p.Key); shipped {
		say("%q is a practice already; allowed: a name of your own", string(p.Key))
	}
	if p.Name == "" {
		say("the practice %s has no name", string(p.Key))
	}
	if !slices.Contains(spouts, p.Spout) {
		say("%q is not a spout; allowed: reused, new, check-valve-new, check-valve-reused, silver", string(p.Spout))
	}
	if !slices.Contains(drops, p.Drops) {
		say("%q does not say what becomes of drops; allowed: kept, replaced, with-lateral", string(p.Drops))
	}
	if !slices.Contains(washes, p.Wash) {
		say("%q is not a wash; allowed: none, air-and-water, chlorine, peroxide, alcohol", string(p.Wash))
	}
	return f
}

// Faults is everything wrong with a rule that a user gives.
func (r Rule) Faults() note.Faults {
	var f note.Faults
	say := func(column, key string, args ...any) {
		f = append(f, note.New(key, args...).At(note.Where{Column: column}))
	}
	if r.Wash != "" && !slices.Contains(washes, r.Wash) {
		say("wash", "%q is not a wash; allowed: none, air-and-water, chlorine, peroxide, alcohol", string(r.Wash))
	}
	if r.Spout != "" && !slices.Contains(spouts, r.Spout) {
		say("spout", "%q is not a spout; allowed: reused, new, check-valve-new, check-valve-reused, silver", string(r.Spout))
	}
	if r.Place != "" && r.Place != Unknown && !IsPlace(r.Place) {
		say("place", "%q is not a place; write its ISO 3166 code, such as US-VT or CA-QC, or ? for a place that is not known", r.Place)
	}
	if severity(r.Verdict) == 0 && r.Verdict != Permitted {
		say("verdict", "%q is not a verdict; allowed: permitted, held-back, never", string(r.Verdict))
	}
	if r.Reason == "" {
		say("reason", "the rule gives no reason")
	}
	if _, err := time.Parse(time.DateOnly, r.Checked); err != nil {
		say("checked", "%q is not the date on which the rule was checked; allowed: year-month-day, such as 2026-10-01", r.Checked)
	}
	if r.Wash == "" && r.Spout == "" && r.Product == "" && !r.Chemical {
		say("wash", "the rule speaks of no wash, no spout, no product and no chemical; allowed: one of them or more")
	}
	return f
}

var placeForm = regexp.MustCompile(`^[A-Z]{2}(-[A-Z0-9]{1,3})?$`)

// IsPlace is true of the form of an ISO 3166 code: a country, or a part of one.
func IsPlace(code string) bool { return placeForm.MatchString(code) }
