package practice

import (
	"regexp"
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/place"
)

// keyForm is how a practice may be called, since its key stands in addresses, files and columns.
var keyForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// Faults is everything wrong with a practice that a user defines beside others: those shipped, and the user's own but
// for this one. Each fault is at the column key, name, spout, drops or wash.
func (p Practice) Faults(others Set) note.Faults {
	var f note.Faults
	say := func(column string, n note.Note) { f = append(f, n.At(note.Where{Column: column})) }
	if !keyForm.MatchString(string(p.Key)) {
		say("key", note.New("%s cannot name a practice; allowed: small letters, digits and hyphens, such as "+
			"steam-rinse",
			note.Quote(string(p.Key))))
	}
	if _, taken := others.Find(p.Key); taken {
		say("key", note.New("%s is a practice already; allowed: a name of your own", note.Quote(string(p.Key))))
	}
	if plain(p.Name) == "" {
		say("name", note.New("the practice %s has no name", string(p.Key)))
	}
	for _, o := range others {
		if plain(p.Name) == "" || o.Key == p.Key {
			continue
		}
		if same(p.Name, o.Name) || same(p.Name, string(o.Key)) || same(string(p.Key), o.Name) {
			say("name", note.New("%s is what the practice %s is called; allowed: a name of its own", note.Quote(p.Name),
				string(o.Key)))
			break
		}
	}
	known := func(column, word string, keys []string) {
		if !slices.Contains(keys, word) {
			say(column, note.Unknown(word, keys))
		}
	}
	known("spout", string(p.Spout), KeysOf(Spouts))
	known("drops", string(p.Drops), KeysOf(DropsList))
	known("wash", string(p.Wash), KeysOf(Washes))
	return f
}

// same is true of two names that a reader would take for one.
func same(a, b string) bool { return plain(a) == plain(b) }

// plain is a name without what a reader passes over.
func plain(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// Faults is everything wrong with a rule that a user gives beside other rules of the user's own. latest is the last day
// on which it can have been checked: that of the prices that it is read with, and where a workbook keeps it no earlier
// than the day on which it is given; "": no day is known. Each fault is at the column that it speaks of.
func (r Rule) Faults(others []Rule, latest string) note.Faults {
	var f note.Faults
	say := func(column string, n note.Note) { f = append(f, n.At(note.Where{Column: column})) }
	known := func(column, word string, keys []string) {
		if !slices.Contains(keys, word) {
			say(column, note.Unknown(word, keys))
		}
	}
	if r.Wash != "" {
		known("wash", string(r.Wash), KeysOf(Washes))
	}
	if r.Spout != "" {
		known("spout", string(r.Spout), KeysOf(Spouts))
	}
	if r.Place != "" && r.Place != place.Unknown && !place.Exists(r.Place) {
		say("place", place.Fault(r.Place))
	}
	if r.Verdict == "" {
		say("verdict", note.New("nothing is given for %s, which is needed", "verdict"))
	} else {
		known("verdict", string(r.Verdict), KeysOf(Verdicts))
	}
	if strings.TrimSpace(r.Reason) == "" {
		say("reason", note.New("the rule gives no reason"))
	}
	switch _, err := time.Parse(time.DateOnly, r.Checked); {
	case r.Checked == "":
		say("checked", note.New("nothing is given for %s, which is needed", "checked"))
	case err != nil:
		say("checked", note.New("%s is not a date; allowed: year-month-day, such as 2024-02-15", note.Quote(r.Checked)))
	case latest != "" && r.Checked > latest:
		say("checked", note.New("the rule is said to be checked on %s, which lies ahead of %s; allowed: a day up to "+
			"that, or prices of a later day",
			r.Checked, latest))
	}
	if r.Wash == "" && r.Spout == "" && r.Product == "" && !r.Chemical {
		say("wash", note.New("this rule speaks of no wash, no spout, no product and no chemical; "+
			"allowed: one of wash, spout, product, chemical or more"))
	}
	for _, o := range others {
		if o.Case() == r.Case() && o.Verdict != r.Verdict {
			say("verdict", note.New("another rule says of the same case, %s: %s; allowed: one verdict a case", r.Case(),
				string(o.Verdict)))
			break
		}
	}
	return f
}
