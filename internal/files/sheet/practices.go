package sheet

import (
	"regexp"

	"spile/internal/note"
	"spile/internal/trade/practice"
)

// ownKey is how a user's practice may be called, since it stands in addresses, files and columns.
var ownKey = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// ownPractices reads the practices that a file defines.
func ownPractices(r *record, shipped practice.Set) practice.Set {
	var own practice.Set
	for _, key := range r.below("practice") {
		at := "practice." + key
		p := practice.Practice{Key: practice.Key(key)}
		if !ownKey.MatchString(key) {
			r.fault(at, note.New("%s cannot name a practice; allowed: small letters, digits and hyphens, such as steam-rinse", quote(key)))
		}
		if _, ok := shipped.Find(p.Key); ok {
			r.fault(at, note.New("%s is a practice already; allowed: a name of your own", quote(key)))
		}
		if r.need(at + ".name") {
			p.Name = r.text(at + ".name")
		}
		if r.need(at + ".spout") {
			p.Spout = practice.Spout(r.choice(at+".spout", string(practice.SpoutReused), string(practice.SpoutNew),
				string(practice.SpoutCheckValveNew), string(practice.SpoutCheckValveReused), string(practice.SpoutSilver)))
		}
		if r.need(at + ".drops") {
			p.Drops = practice.Drops(r.choice(at+".drops", string(practice.DropsKept), string(practice.DropsReplaced), string(practice.DropsLateral)))
		}
		if r.need(at + ".wash") {
			p.Wash = practice.Wash(r.choice(at+".wash", washes...))
		}
		own = append(own, p)
	}
	return own
}

var washes = []string{string(practice.WashNone), string(practice.WashAirWater), string(practice.WashChlorine),
	string(practice.WashPeroxide), string(practice.WashAlcohol)}

// readRules reads the permission rules of a file.
func readRules(r *record) []practice.Rule {
	var rules []practice.Rule
	for _, i := range r.below("rule") {
		at := "rule." + i
		rule := practice.Rule{
			Product:    r.text(at + ".product"),
			Chemical:   r.yes(at + ".chemical"),
			Unlabelled: r.yes(at + ".unlabelled"),
			Place:      r.text(at + ".place"),
			Reason:     r.text(at + ".reason"),
		}
		rule.Wash = practice.Wash(r.choice(at+".wash", washes...))
		rule.Spout = practice.Spout(r.choice(at+".spout", string(practice.SpoutReused), string(practice.SpoutNew),
			string(practice.SpoutCheckValveNew), string(practice.SpoutCheckValveReused), string(practice.SpoutSilver)))
		if rule.Place != "" && rule.Place != practice.Unknown && !place.MatchString(rule.Place) {
			r.fault(at+".place", note.New("%s is not a place; allowed: a code of ISO 3166, such as US-VT or CA-QC, or ? for a place that is not known", quote(rule.Place)))
		}
		if r.has(at + ".organic") {
			rule.Organic = new(r.yes(at + ".organic"))
		}
		if r.need(at + ".verdict") {
			rule.Verdict = practice.Verdict(r.choice(at+".verdict", string(practice.Permitted), string(practice.HeldBack), string(practice.Never)))
		}
		r.need(at + ".reason")
		if r.need(at + ".checked") {
			if t := r.date(at + ".checked"); !t.IsZero() {
				rule.Checked = t.Format("2006-01-02")
			}
		}
		if rule.Wash == "" && rule.Spout == "" && rule.Product == "" && !rule.Chemical {
			r.faults.missing(note.New("this rule speaks of no wash, no spout, no product and no chemical; allowed: one of wash, spout, product, chemical or more").At(r.where(at)))
		}
		rules = append(rules, rule)
	}
	return rules
}
