package practice

import (
	"strings"
	"testing"

	"spile/internal/note"
)

func sayAll(f note.Faults) string {
	var list []string
	for _, n := range f {
		list = append(list, n.Where.Column+": "+n.English())
	}
	return strings.Join(list, "\n")
}

// Each fault of a practice is one fault, and all come at once.
func TestPracticeFaults(t *testing.T) {
	good := Practice{"steam-rinse", "steam rinse", SpoutReused, DropsKept, WashAirWater}
	with := func(change func(*Practice)) Practice {
		p := good
		change(&p)
		return p
	}
	others := append(Shipped(), Practice{"hot-water", "hot water, once", SpoutReused, DropsKept, WashNone},
		Practice{"nameless", "", SpoutReused, DropsKept, WashNone})
	for _, c := range []struct {
		name string
		p    Practice
		want []string // column and what is said
	}{
		{"sound", good, nil},
		{"no name", with(func(p *Practice) { p.Name = " " }), []string{"name", "no name"}},
		{"the name of a shipped one", with(func(p *Practice) { p.Name = "Chlorine  rinse" }),
			[]string{"name", "chlorine-rinse"}},
		{"the key of a shipped one for a name", with(func(p *Practice) { p.Name = "new-spout" }),
			[]string{"name", "new-spout"}},
		{"the name of another of one's own", with(func(p *Practice) { p.Name = "hot water, once" }),
			[]string{"name", "hot-water"}},
		{"the key of another", with(func(p *Practice) { p.Key = "hot-water" }), []string{"key", "already"}},
		{"a key that cannot be", with(func(p *Practice) { p.Key = "Steam rinse" }), []string{"key", "cannot name"}},
		{"a misspelt wash", with(func(p *Practice) { p.Wash = "alcohl" }), []string{"wash", "did you mean alcohol"}},
		{"a misspelt spout", with(func(p *Practice) { p.Spout = "sliver" }), []string{"spout", "did you mean silver"}},
		{"drops that are none", with(func(p *Practice) { p.Drops = "" }),
			[]string{"drops", "kept, replaced, with-lateral"}},
	} {
		f := c.p.Faults(others)
		if len(f) != min(1, len(c.want)) {
			t.Errorf("%s: %d faults\n%s", c.name, len(f), sayAll(f))
			continue
		}
		for _, want := range c.want {
			if !strings.Contains(sayAll(f), want) {
				t.Errorf("%s: %q is not said: %s", c.name, want, sayAll(f))
			}
		}
	}
	if f := (Practice{}).Faults(Shipped()); len(f) != 5 {
		t.Errorf("nothing at all is %d faults, want 5:\n%s", len(f), sayAll(f))
	}
}

func TestRuleFaults(t *testing.T) {
	good := Rule{Wash: WashPeroxide, Place: "CA-QC", Verdict: HeldBack, Reason: "ask first", Checked: "2025-10-01"}
	with := func(change func(*Rule)) Rule {
		r := good
		change(&r)
		return r
	}
	other := with(func(r *Rule) { r.Verdict, r.Reason = Permitted, "asked" })
	for _, c := range []struct {
		name   string
		r      Rule
		others []Rule
		latest string
		want   []string
	}{
		{"sound", good, nil, "2025-11-01", nil},
		{"checked on the very day", good, nil, "2025-10-01", nil},
		{"no day is known", with(func(r *Rule) { r.Checked = "2099-01-01" }), nil, "", nil},
		{"from the future", good, nil, "2025-09-30", []string{"checked", "lies ahead of 2025-09-30"}},
		{"a misspelt wash", with(func(r *Rule) { r.Wash = "peroxid" }), nil, "",
			[]string{"wash", "did you mean peroxide"}},
		{"a place that is none", with(func(r *Rule) { r.Place = "XX" }), nil, "", []string{"place", "is not a place"}},
		{"a place with letters swapped", with(func(r *Rule) { r.Place = "US-TV" }), nil, "",
			[]string{"place", "US-VT"}},
		{"a place not known", with(func(r *Rule) { r.Place = "?" }), nil, "", nil},
		{"a part of a country that is not listed", with(func(r *Rule) { r.Place = "JP-01" }), nil, "", nil},
		{"another verdict of the same case", good, []Rule{other}, "", []string{"verdict", "another rule"}},
		{"the same verdict of the same case", good, []Rule{good}, "", nil},
		{"another verdict of another case", good, []Rule{{Wash: WashPeroxide, Place: "CA", Verdict: Permitted}},
			"", nil},
		{"of nothing", with(func(r *Rule) { r.Wash = "" }), nil, "", []string{"wash", "no wash, no spout"}},
		{"no reason", with(func(r *Rule) { r.Reason = "" }), nil, "", []string{"reason"}},
	} {
		f := c.r.Faults(c.others, c.latest)
		if len(f) != min(1, len(c.want)) {
			t.Errorf("%s: %d faults\n%s", c.name, len(f), sayAll(f))
			continue
		}
		for _, want := range c.want {
			if !strings.Contains(sayAll(f), want) {
				t.Errorf("%s: %q is not said: %s", c.name, want, sayAll(f))
			}
		}
	}
}

// A wash that no list knows, as a workbook of a later release may hold, is called by its key and held back.
func TestAWashOfALaterRelease(t *testing.T) {
	p := Practice{"ozone-rinse", "ozone rinse", SpoutReused, DropsKept, "ozone"}
	if w := p.Wash.Info(); w.Name != "ozone" || !p.Chemical() {
		t.Errorf("%+v", w)
	}
	if v, _ := Permission(ShippedRules(),
		Case{Practice: p, Place: "CA-QC", Labelled: true, AsOf: "2026-11-01"}); v != HeldBack {
		t.Errorf("it is %s", v)
	}
}

// What shrinkage may take as alike (method, families).
func TestFamilies(t *testing.T) {
	want := map[Key]Family{Unsanitized: "", NewSpout: NewPlastic, CheckValve: NewPlastic, NewDrop: NewPlastic,
		NewLateral:  NewPlastic,
		SilverSpout: NewPlastic, ChlorineRinse: Washed, PeroxideRinse: Washed, AlcoholFlush: Washed}
	for _, p := range Shipped() {
		if p.Family() != want[p.Key] {
			t.Errorf("%s: %q", p.Key, p.Family())
		}
	}
}
