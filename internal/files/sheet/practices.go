package sheet

import (
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/practice"
)

// ownPractices reads the practices that a file defines, beside those of the same reading (those shipped among them) and
// others that are known from elsewhere.
func ownPractices(r *record, beside, elsewhere practice.Set) practice.Set {
	var own practice.Set
	for _, key := range r.below("practice") {
		at := "practice." + key
		r.needs(at+".name", at+".spout", at+".drops", at+".wash")
		p := practice.Practice{
			Key: practice.Key(key), Name: r.text(at + ".name"),
			Spout: practice.Spout(r.word(at + ".spout")), Drops: practice.Drops(r.word(at + ".drops")),
			Wash: practice.Wash(r.word(at + ".wash")),
		}
		others := slices.Concat(beside, own)
		for _, o := range elsewhere {
			if _, here := others.Find(o.Key); !here && o.Key != p.Key {
				others = append(others, o)
			}
		}
		r.judge(at, p.Faults(others))
		own = append(own, p)
	}
	return own
}

// ruleIn is a rule of a file and where it stands.
type ruleIn struct {
	practice.Rule
	record *record
	at     string
	kept   bool // it was in a workbook, which judged it on the day that it was given
}

// readRules reads the permission rules of a file, or of a data package of a workbook; they are judged when all files
// are read.
func readRules(r *record, kept bool) []ruleIn {
	var rules []ruleIn
	for _, i := range r.below("rule") {
		at := "rule." + i
		r.needs(at+".verdict", at+".reason", at+".checked")
		rule := practice.Rule{
			Wash: practice.Wash(r.word(at + ".wash")), Spout: practice.Spout(r.word(at + ".spout")),
			Product:  r.text(at + ".product"),
			Chemical: r.yes(at + ".chemical"), Unlabelled: r.yes(at + ".unlabelled"), Place: r.text(at + ".place"),
			Verdict: practice.Verdict(r.word(at + ".verdict")), Reason: r.text(at + ".reason"),
		}
		if r.has(at + ".organic") {
			rule.Organic = new(r.yes(at + ".organic"))
		}
		if t := r.date(at + ".checked"); !t.IsZero() {
			rule.Checked = t.Format(time.DateOnly)
		}
		rules = append(rules, ruleIn{rule, r, at, kept})
	}
	return rules
}

// judgeRules finds what is wrong with rules by themselves and beside each other, on the day of the prices ("": none).
func judgeRules(rules []ruleIn, asOf string) []practice.Rule {
	var list []practice.Rule
	for _, x := range rules {
		day := asOf
		if x.kept {
			day = ""
		}
		x.record.judge(x.at, x.Faults(list, day))
		list = append(list, x.Rule)
	}
	return list
}

// word reads a word of one of the trade's lists, in small letters; whether it is one is judged with the thing that it
// is said of.
func (r *record) word(key string) string { return strings.ToLower(r.text(key)) }

// judge puts down the faults of a thing whose columns are the keys below at, but for keys that are at fault already.
func (r *record) judge(at string, found note.Faults) {
	said := slices.Clone(r.faults.notes)
	for _, n := range found {
		where := r.where(at + "." + n.Where.Column)
		if n.Where.Column == "key" {
			where = r.where(at)
		}
		if !slices.ContainsFunc(said, func(o note.Note) bool { return o.Where == where }) {
			r.faults.add(n.At(where))
		}
	}
}
