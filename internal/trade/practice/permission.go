package practice

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/place"
)

// Rule is one permission rule: it attaches to a product's label and its use, at a place and under a certificate.
// Rules are data that a user edits; the tool informs, it does not permit.
type Rule struct {
	Wash       Wash   // "" any
	Spout      Spout  // "" any
	Product    string // part of the product's name, "" any
	Chemical   bool   // only practices that run a chemical through the plastic
	Unlabelled bool   // only where the product's label is not known to name tubing
	// ISO 3166 code or the start of one (US, US-VT); place.Unknown: only where the place is not known; "" any
	Place   string
	Organic *bool // nil: with or without a certificate
	Verdict Verdict
	Reason  string // English text, the id of its translation
	Checked string // date, YYYY-MM-DD; a rule lapses after 12 months
}

// Verdict is what the rules say of a practice at a place.
type Verdict string

const (
	Permitted Verdict = "permitted"
	HeldBack  Verdict = "held-back" // until the label and the authorities say yes
	Never     Verdict = "never"
)

// Case is what permission is asked for.
type Case struct {
	Practice Practice
	Product  string // "" not stated
	Labelled bool   // the product's label names tubing for sap
	Place    string // ISO 3166 code; "" unknown
	Organic  bool   // the sugarbush holds a certificate
	AsOf     string // YYYY-MM-DD, the day on which the rules are judged
}

// Permission is the most severe verdict of the rules that apply, with the reason of each rule that has that severity.
// Where no rule speaks of a practice it is permitted, but for a chemical: some rule must say yes to that. A rule that
// has lapsed no longer says yes or no, so the practice is held back until someone looks again; never stays never.
func Permission(rules []Rule, c Case) (Verdict, note.List) {
	verdict := Permitted
	var reasons note.List
	hold := func(v Verdict, n note.Note) {
		if severity(v) > severity(verdict) {
			verdict, reasons = v, nil
		}
		if v == verdict {
			reasons = append(reasons, n)
		}
	}
	said := false
	for _, r := range rules {
		if !r.applies(c) {
			continue
		}
		said = true
		if r.Verdict != Never && r.Lapsed(c.AsOf) {
			hold(HeldBack, note.New("to be confirmed, since the rule was last checked on %s: %s", r.Checked,
				note.Term(r.Reason)))
			continue
		}
		hold(r.Verdict, note.New("%s", note.Term(r.Reason)))
	}
	if !said && c.Practice.Chemical() {
		hold(HeldBack, note.New("no rule says that this chemical may be run through tubing"))
	}
	return verdict, reasons
}

func severity(v Verdict) int {
	switch v {
	case Never:
		return 2
	case HeldBack:
		return 1
	}
	return 0
}

func (r Rule) applies(c Case) bool {
	return (r.Wash == "" || r.Wash == c.Practice.Wash) &&
		(r.Spout == "" || r.Spout == c.Practice.Spout) &&
		(!r.Chemical || c.Practice.Chemical()) &&
		(!r.Unlabelled || !c.Labelled) &&
		(r.Product == "" || strings.Contains(strings.ToLower(c.Product), strings.ToLower(r.Product))) &&
		(r.Organic == nil || *r.Organic == c.Organic) &&
		r.covers(c.Place)
}

// covers is true of a place that the rule speaks of; "" is one that is not known.
func (r Rule) covers(at string) bool {
	switch r.Place {
	case "":
		return true
	case place.Unknown:
		return at == ""
	}
	return place.Within(at, r.Place)
}

// Lapsed is true from 12 months after the rule was checked, and of a rule or a day without a date.
func (r Rule) Lapsed(asOf string) bool {
	checked, err := time.Parse(time.DateOnly, r.Checked)
	day, err2 := time.Parse(time.DateOnly, asOf)
	return err != nil || err2 != nil || !day.Before(checked.AddDate(0, 12, 0))
}

// ShippedRules is the rules that a new workbook starts from: a cautious reading, to be checked and edited.
func ShippedRules() []Rule {
	const (
		checked  = "2026-10-01"
		noLabel  = "held back until the product's label names tubing for sap"
		hasLabel = "only as the product's label says"
	)
	return []Rule{
		{Product: "paraformaldehyde", Verdict: Never, Checked: checked,
			Reason: "paraformaldehyde is never to be used: it rots the tree around the tap hole and has no place in " +
				"food"},
		{Chemical: true, Place: place.Unknown, Verdict: HeldBack, Checked: checked,
			Reason: "the place is not known, and a chemical is permitted by place"},
		{Wash: WashAlcohol, Unlabelled: true, Verdict: HeldBack, Checked: checked, Reason: noLabel},
		{Wash: WashAlcohol, Place: "US", Verdict: HeldBack, Checked: checked,
			Reason: "held back in the United States until a label and the authorities say that alcohol may be run " +
				"through tubing for sap"},
		{Wash: WashAlcohol, Place: "CA", Verdict: Permitted, Checked: checked, Reason: hasLabel},
		{Wash: WashChlorine, Unlabelled: true, Verdict: HeldBack, Checked: checked, Reason: noLabel},
		{Wash: WashChlorine, Verdict: Permitted, Checked: checked, Reason: hasLabel},
		{Wash: WashPeroxide, Unlabelled: true, Verdict: HeldBack, Checked: checked, Reason: noLabel},
		{Wash: WashPeroxide, Verdict: Permitted, Checked: checked, Reason: hasLabel},
		{Spout: SpoutSilver, Organic: new(true), Verdict: HeldBack, Checked: checked,
			Reason: "silver-bearing spouts are held back under an organic certificate until the certifier agrees"},
	}
}

// WithShipped is a user's own rules over the shipped ones: a rule of the user's takes the place of a shipped one that
// speaks of the same case, so that it can be checked anew or decided otherwise; every other shipped rule stands.
func WithShipped(own []Rule) []Rule {
	var rules []Rule
	for _, r := range ShippedRules() {
		if !slices.ContainsFunc(own, func(o Rule) bool { return o.Case() == r.Case() }) {
			rules = append(rules, r)
		}
	}
	return append(rules, own...)
}

// Case names the case that a rule decides: "wash=alcohol place=US". Another rule for the same case takes its place.
func (r Rule) Case() string {
	var parts []string
	say := func(name, value string) {
		if value != "" {
			parts = append(parts, name+"="+value)
		}
	}
	say("wash", string(r.Wash))
	say("spout", string(r.Spout))
	if r.Product != "" {
		say("product", strconv.Quote(strings.ToLower(r.Product)))
	}
	if r.Chemical {
		parts = append(parts, "chemical")
	}
	if r.Unlabelled {
		parts = append(parts, "unlabelled")
	}
	say("place", r.Place)
	if r.Organic != nil {
		say("organic", strconv.FormatBool(*r.Organic))
	}
	return strings.Join(parts, " ")
}
