package edit

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/files/book"
	"spile/internal/note"
	places "spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/view/web/page"
)

// rules are the pages of what is permitted where.
type rules struct{ *page.Site }

func (s rules) routes(m *page.Routes) {
	m.Get("/rules", s.rulesPage)
	m.Get("/rule", func(w http.ResponseWriter, r *http.Request) {
		s.rule(w, s.ruleAt(r.URL.Query().Get("of")), page.Trouble{})
	})
	m.Post("/rule", s.saveRule)
}

// ruled is a rule as it is read.
type ruled struct {
	Of, Place, Certificate, Verdict, Reason, Checked, Lapses string
	Edit, Do                                                 string
	Own, Lapsed                                              bool
}

// rulesPage lists what is permitted where: the workbook's own rules, and the shipped ones that they leave standing.
func (s rules) rulesPage(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	asOf := s.Now().UTC().Format(time.DateOnly)
	type ruling struct {
		ID, Caption string
		Rules       []ruled
	}
	lists := []ruling{{"own", v.Text("Rules of this workbook"), nil},
		{"shipped", v.Text("Rules that come with the tool: a cautious reading, to be checked"), nil}}
	for _, x := range practice.WithShipped(s.Have.Rules) {
		row := ruled{
			Of: s.ruleOf(x), Place: s.rulePlace(x.Place), Certificate: s.ruleCertificate(x.Organic),
			Verdict: v.Term(note.Term(x.Verdict)),
			Reason:  v.Term(note.Term(x.Reason)), Checked: x.Checked, Lapsed: x.Verdict != practice.Never &&
				x.Lapsed(asOf),
			Edit: page.WithQuery("/rule", "of="+url.QueryEscape(x.Case())),
			Own:  slices.ContainsFunc(s.Have.Rules, func(o practice.Rule) bool { return o.Case() == x.Case() }),
		}
		if day, err := time.Parse(time.DateOnly, x.Checked); err == nil {
			row.Checked = v.Date(day)
			row.Lapses = v.Date(day.AddDate(0, 12, 0))
			if x.Verdict == practice.Never {
				row.Lapses = v.Text("stays")
			}
		}
		of := &lists[1]
		if row.Own {
			of = &lists[0]
		}
		of.Rules = append(of.Rules, row)
	}
	s.Show(w, "rules", v.Text("What is permitted where"), page.Page{
		Lead: []string{
			v.Text("Rules say which practices are held back at a place or under a certificate, and why. The most " +
				"severe rule that applies decides; a rule lapses 12 months after it was checked, and holds back " +
				"until someone looks again."),
			v.Text("The tool informs, it does not permit: the label is law. Confirm with your food-safety, pesticide " +
				"and certification authorities."),
		},
		Body: lists})
}

// ruleOf says what a rule speaks of.
func (s rules) ruleOf(r practice.Rule) string {
	v := s.Voice
	var parts []string
	if r.Wash != "" {
		parts = append(parts, v.Text("wash: %s", v.Term(note.Term(r.Wash.Info().Name))))
	}
	if r.Spout != "" {
		parts = append(parts, v.Text("spout: %s", v.Term(note.Term(r.Spout.Info().Name))))
	}
	if r.Product != "" {
		parts = append(parts, v.Text("product: %s", r.Product))
	}
	if r.Chemical {
		parts = append(parts, v.Text("any chemical"))
	}
	if r.Unlabelled {
		parts = append(parts, v.Text("only where the label does not name tubing for sap"))
	}
	return strings.Join(parts, "; ")
}

func (s rules) rulePlace(code string) string {
	switch code {
	case "":
		return s.Voice.Text("any place")
	case places.Unknown:
		return s.Voice.Text("place not known")
	}
	return s.Voice.Place(code)
}

func (s rules) ruleCertificate(organic *bool) string {
	switch {
	case organic == nil:
		return s.Voice.Text("with or without")
	case *organic:
		return s.Voice.Text("organic certificate")
	}
	return s.Voice.Text("no certificate")
}

// ruleForm is a rule in the form.
type ruleForm struct {
	Seen   book.Sight
	Was    string // key of the workbook's own rule that is edited; "": a new one
	Rule   practice.Rule
	Faults map[string]string // by field
}

// ruleAt is the form of the rule of a key: the workbook's own, or a shipped one to decide otherwise; else an empty one.
func (s rules) ruleAt(key string) ruleForm {
	for _, r := range s.Have.Rules {
		if r.Case() == key && key != "" {
			return ruleForm{Was: key, Rule: r}
		}
	}
	for _, r := range practice.ShippedRules() {
		if r.Case() == key {
			r.Checked = s.ruleDay()
			return ruleForm{Rule: r}
		}
	}
	return ruleForm{Rule: practice.Rule{Verdict: practice.HeldBack, Checked: s.ruleDay()}}
}

// ruleDay is the day on which a rule is given here.
func (s rules) ruleDay() string { return s.Now().UTC().Format(time.DateOnly) }

// ruleFields is what the form's template takes.
type ruleFields struct {
	Was, Product, Place, Reason, Checked string
	Wash, Spout, Organic, Verdict        []page.Picked
	Chemical, Unlabelled                 bool
	Faults                               map[string]string
	Places                               []page.Option // that the form offers
}

func (s rules) rule(w http.ResponseWriter, f ruleForm, t page.Trouble) {
	v, r := s.Voice, f.Rule
	orAny := func(words []practice.Word, now string) []page.Picked {
		any := page.Picked{Option: page.Option{Name: v.Text("any")}, Here: now == ""}
		return append([]page.Picked{any}, s.PickWord(words, now)...)
	}
	organic := ""
	if r.Organic != nil {
		organic = strconv.FormatBool(*r.Organic)
	}
	var listed []page.Option
	for _, code := range places.Listed() {
		listed = append(listed, page.Opt(code, v.Place(code)))
	}
	title := v.Text("A rule on what is permitted")
	s.Show(w, "rule", title,
		page.Page{Seen: f.Seen, Trouble: t, Back: &page.Link{Name: v.Text("What is permitted where"), Href: "/rules"},
			Lead: []string{v.Text("A rule speaks of a wash, a spout, a product or every chemical; leave the rest at " +
				"any. " +
				"Your rule takes the place of a shipped one for the same case.")},
			Body: ruleFields{
				Was: f.Was, Product: r.Product, Place: r.Place, Reason: r.Reason, Checked: r.Checked,
				Chemical:   r.Chemical,
				Unlabelled: r.Unlabelled,
				Wash:       orAny(practice.Words(practice.Washes), string(r.Wash)),
				Spout:      orAny(practice.Words(practice.Spouts), string(r.Spout)),
				Verdict:    s.PickWord(practice.Verdicts, string(r.Verdict)),
				Organic: page.Pick([]page.Option{page.Opt("", s.ruleCertificate(nil)),
					page.Opt("true", s.ruleCertificate(new(true))),
					page.Opt("false", s.ruleCertificate(new(false)))}, organic),
				Faults: f.Faults, Places: listed,
			}})
}

func (s rules) saveRule(w http.ResponseWriter, r *http.Request) {
	get := func(k string) string { return page.Clean(r.PostForm.Get(k)) }
	f := ruleForm{Seen: page.Seen(r.PostForm), Was: get("was"), Faults: map[string]string{}, Rule: practice.Rule{
		Wash: practice.Wash(get("wash")), Spout: practice.Spout(get("spout")), Product: get("product"),
		Chemical:   get("chemical") != "",
		Unlabelled: get("unlabelled") != "", Place: get("place"), Verdict: practice.Verdict(get("verdict")),
		Reason: get("reason"), Checked: get("checked"),
	}}
	switch get("organic") {
	case "true":
		f.Rule.Organic = new(true)
	case "false":
		f.Rule.Organic = new(false)
	}
	var items []book.Item
	what := s.Voice.Text("edited the rule %s", f.Rule.Case())
	if get("do") == "remove" {
		items, what = append(items, book.Remove(book.Rule, f.Was)), s.Voice.Text("removed the rule %s", f.Was)
	} else {
		day := s.ruleDay()
		if p := s.Have.Prices; p != nil {
			day = max(day, p.AsOf)
		}
		for _, n := range f.Rule.Faults(nil, day) {
			column := n.Where.Column
			f.Faults[column] = strings.TrimSpace(f.Faults[column] + " " + s.Said(note.Faults{n})[0])
		}
		if n := len(f.Faults); n > 0 {
			s.rule(w, f, page.Refused(s.Voice.Text("%d faults: each stands beside what it is about. "+
				"Nothing was kept.", n)))
			return
		}
		if f.Was != "" && f.Was != f.Rule.Case() {
			items = append(items, book.Remove(book.Rule, f.Was))
		}
		items = append(items, book.Keep(f.Rule))
	}
	key := f.Rule.Case()
	if err := s.Save(r.PostForm, what, f.Seen, f.Was == key, items...); err != nil {
		t, at := s.Troubled(err, s.besideRule(f.Rule))
		if t.Theirs == nil && f.Was != key &&
			slices.ContainsFunc(s.Have.Rules, func(r practice.Rule) bool { return r.Case() == key }) {
			t.Faults = []string{s.Voice.Text("There is a rule of yours for this case already. Nothing was kept: edit " +
				"that one, or let this one speak of another case.")}
		}
		f.Seen = cmp.Or(at, f.Seen)
		s.rule(w, f, t)
		return
	}
	page.SeeOther(w, r, "/rules")
}

// besideRule puts a rule beside that of another: what differs.
func (s rules) besideRule(mine practice.Rule) page.Beside {
	return func(l book.Later) [][3]string {
		theirs, ok := l.Value.(practice.Rule)
		if !ok {
			return nil
		}
		v := s.Voice
		var list [][3]string
		say := func(name, their, my string) {
			if their != my {
				list = append(list, [3]string{name, their, my})
			}
		}
		say(v.Text("speaks of"), s.ruleOf(theirs), s.ruleOf(mine))
		say(v.Text("place"), s.rulePlace(theirs.Place), s.rulePlace(mine.Place))
		say(v.Text("certificate"), s.ruleCertificate(theirs.Organic), s.ruleCertificate(mine.Organic))
		say(v.Text("decision"), v.Term(note.Term(theirs.Verdict)), v.Term(note.Term(mine.Verdict)))
		say(v.Text("reason"), theirs.Reason, mine.Reason)
		say(v.Text("checked"), theirs.Checked, mine.Checked)
		return list
	}
}
