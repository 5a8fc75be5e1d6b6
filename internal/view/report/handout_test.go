package report_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/engine/plan"
	"spile/internal/files/sheet"
	"spile/internal/trade/bush"
	"spile/internal/trade/price"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// plans are those of the sugarbushes of the demo, each worked out once.
var plans = map[string]*plan.Plan{}

// planned is the plan of a sugarbush of the demo.
func planned(t *testing.T, name string, v *say.Voice) show.PlanView {
	t.Helper()
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	b, err := sheet.Sugarbush("../../demo/sugarbush-"+name+".toml", in.Prices, in.Practices)
	if err != nil {
		t.Fatal(err)
	}
	if plans[name] == nil {
		if plans[name], err = memo.Plan(advice.Usual(in), b); err != nil {
			t.Fatal(err)
		}
	}
	return show.PlanView{P: plans[name], V: v, Set: in.Practices}
}

var handouts = []struct {
	bush          string
	voice         *say.Voice
	width, height float64
}{
	{"gravity", say.In("en-US"), 612, 792},
	{"organic", say.In("en-US"), 612, 792},
	{"quebec", say.In("fr-CA"), 612, 792},
	{"quebec", say.In("en-CA"), 612, 792},
	{"organic", say.In("fr-CA"), 612, 792},
	{"gravity", say.In("fr-CA"), 612, 792},
}

// A handout is one sheet of two sides, the large one a single page; every word stands on the paper and on no other,
// and the fonts travel with it.
func TestHandoutsKeepToTheSheet(t *testing.T) {
	for _, h := range handouts {
		w := planned(t, h.bush, h.voice)
		for pages, write := range map[int]func(show.PlanView, string) ([]byte, error){1: report.HandoutLarge,
			2: report.Handout} {
			file, err := write(w, "1.2.3")
			if err != nil {
				t.Fatal(err)
			}
			if n := keepsToPage(t, h.bush+" "+h.voice.Lang(), file, h.width, h.height); n != pages {
				t.Errorf("%s, %s: %d pages, want %d", h.bush, h.voice.Lang(), n, pages)
			}
			again, _ := write(w, "1.2.3")
			if !bytes.Equal(file, again) {
				t.Errorf("%s: the same plan gives other bytes", h.bush)
			}
			for _, line := range fonts(t, file) {
				// embedded, subset, unicode, object number
				if f := strings.Fields(line); len(f) < 5 || f[len(f)-5] != "yes" {
					t.Errorf("%s: a font is not embedded: %s", h.bush, line)
				}
			}
		}
	}
}

// fonts are the lines in which pdffonts tells of a document's fonts.
func fonts(t *testing.T, file []byte) []string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "doc.pdf")
	if err := os.WriteFile(path, file, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdffonts", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) < 3 {
		t.Fatal("no fonts")
	}
	return lines[2:]
}

// PDF and HTML hold the same words: all panels, with accents.
func TestHandoutHoldsThePlan(t *testing.T) {
	for _, h := range handouts {
		w := planned(t, h.bush, h.voice)
		x := w.Handout()
		pdf, err := report.Handout(w, "1.2.3")
		if err != nil {
			t.Fatal(err)
		}
		html, err := report.HandoutHTML(w, "1.2.3", false)
		if err != nil {
			t.Fatal(err)
		}
		text := run(poppler(t, pdf, "pdftotext", "-raw"))
		page := run(strings.NewReplacer("&#39;", "'", "&#34;", `"`, "&amp;", "&", "&lt;", "<", "&#43;", "+").
			Replace(string(html)))
		want := append([]string{x.Title, x.Lead, x.Foot, x.Do.Title, x.Buy.Title, x.Hours.Title, x.Years.Title,
			x.Figure.Title}, x.Why...)
		for _, p := range append(x.Left, x.Right...) {
			want = append(append(append(append(want, p.Title), p.Text...), p.Steps...), p.Bullets...)
		}
		for _, s := range want {
			if !strings.Contains(text, run(s)) {
				t.Errorf("%s, %s: the PDF lacks %q", h.bush, h.voice.Lang(), s)
			}
			if !strings.Contains(page, run(s)) {
				t.Errorf("%s, %s: the page lacks %q", h.bush, h.voice.Lang(), s)
			}
		}
		for _, id := range []string{"leaks", "calendar", "seat", "sure", "changes", "unknown", "rests", "cautions"} {
			if !bytes.Contains(html, []byte(`id="`+id+`"`)) {
				t.Errorf("%s: no panel %s", h.bush, id)
			}
		}
	}
}

// Of the sheet for a meeting nothing but the foot is under 12 points, and no large number is broken.
func TestHandoutLargeIsLarge(t *testing.T) {
	for _, h := range handouts {
		w := planned(t, h.bush, h.voice)
		file, err := report.HandoutLarge(w, "1.2.3")
		if err != nil {
			t.Fatal(err)
		}
		tight := strings.NewReplacer(" ", "", "\u00a0", "", "\u202f", "").Replace // pdftotext drops narrow spaces
		text := tight(poppler(t, file, "pdftotext", "-layout"))
		for _, m := range w.Handout().Marks {
			if !strings.Contains(text, tight(m.Value)) {
				t.Errorf("%s, %s: %q is not on one row", h.bush, h.voice.Lang(), m.Value)
			}
		}
		for _, size := range sizesOf(t, file) {
			if size < 12 && size != 8 { // 8: the foot
				t.Errorf("%s, %s: text of %d points", h.bush, h.voice.Lang(), size)
			}
		}
	}
}

// A section that brings less than last season by more than pennies is not told that it loses next to nothing.
func TestWhyIsTrueOfItsRow(t *testing.T) {
	w := planned(t, "quebec", say.In("en"))
	for over, want := range map[float64]string{-0.2: "leaves hours, cash or quota to others",
		-0.01: "plainer, for next to nothing less"} {
		p := *w.P
		p.Sections = slices.Clone(p.Sections)
		for i := range p.Sections { // a tap each season, over 15 seasons at 5 %: an annuity of 10.9
			p.Sections[i].AsLast, p.Sections[i].OverLast = false, over*10.9*float64(p.Sections[i].Section.Taps)
			p.Sections[i].Steps = slices.Clone(p.Sections[i].Steps)
			p.Sections[i].Steps[0].Treatment.Practice = p.Sections[i].Steps[0].Practice
			// no wash is left to count, and something else is done from the first season on
			p.Sections[i].Section.Practice = ""
		}
		p.Stops = nil
		w.P = &p
		for _, r := range w.Handout().Do.Rows {
			if got := r.Cells[3].Text; got != want {
				t.Errorf("%v a tap: %q, want %q", over, got, want)
			}
		}
	}
}

// A plan that goes on as last season is not said to net nothing more than that, nor what a change for pennies would
// bring to be the price of limits.
func TestAPlanThatGoesOnSaysSo(t *testing.T) {
	w := planned(t, "quebec", say.In("en"))
	p := *w.P
	p.Sections = slices.Clone(p.Sections)
	for i := range p.Sections {
		p.Sections[i].AsLast = true
	}
	p.Plainer, p.Uncapped = 1140, p.Profit.Expected+1140
	p.OverLast, p.Single.Over = &plan.Profit{}, [3]float64{}
	w.P = &p
	for _, stops := range [][]plan.Stop{nil, {{}}} { // what has to stop is compared with what it is taken to
		p.Stops = stops
		text := strings.Join(w.Answer(), "\n")
		want := "go on as last season: the best that was found would bring CA$1,140 more"
		if strings.Contains(text, want) != (stops == nil) {
			t.Errorf("%d stops: %q in\n%s", len(stops), want, text)
		}
		for _, not := range []string{"CA$0.00", "CA$0 more", "The limits"} {
			if strings.Contains(text, not) {
				t.Errorf("%d stops: %q in\n%s", len(stops), not, text)
			}
		}
	}
}

// asked is the handout of a sugarbush of the demo after a change.
func asked(t *testing.T, change func(*bush.Sugarbush)) show.Handout {
	t.Helper()
	return changed(t, change).Handout()
}

// changed is the plan of a section of a sugarbush of the demo after a change.
func changed(t *testing.T, change func(*bush.Sugarbush)) show.PlanView {
	t.Helper()
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	b, err := sheet.Sugarbush("../../demo/sugarbush-organic.toml", in.Prices, in.Practices)
	if err != nil {
		t.Fatal(err)
	}
	b.Cash, b.Crews, b.Sections = nil, nil, b.Sections[:1]
	change(&b)
	p, err := memo.Plan(advice.Usual(in), b)
	if err != nil {
		t.Fatal(err)
	}
	return show.PlanView{P: p, V: say.In("en-US"), Set: in.Practices}
}

// Where no section was studied the sheet still has every tap, what last season's way takes, and what to buy for it.
func TestASheetWithoutEvidenceCarriesOn(t *testing.T) {
	h := asked(t, func(b *bush.Sugarbush) {
		b.Sections[0].Species, b.Sections[0].Practice, b.Sections[0].Every = "red maple", "new-spout", 0
	})
	if !strings.Contains(h.Lead, "as last season") || len(h.Do.Rows) != 1 || len(h.Buy.Rows) != 1 {
		t.Errorf("%s: %d sections, %d things to buy", h.Lead, len(h.Do.Rows), len(h.Buy.Rows))
	}
}

// Where no more sap can be boiled nothing new is advised, and the sheet does not call that as good as itself, have a
// spare of nothing bought, or count what mended leaks would bring.
func TestASheetThatAdvisesNothingNew(t *testing.T) {
	h := asked(t, func(b *bush.Sugarbush) {
		b.Sections[0].Practice, b.Sections[0].Every = "new-spout", 0
		b.Prices.Sells.CapacityL = &price.Value{Best: 10}
	})
	text := strings.Join(append(h.Why, h.Lead), " ")
	for _, x := range h.Left {
		text += " " + strings.Join(x.Text, " ")
	}
	for _, n := range h.Buy.Notes {
		text += " " + n.Text
	}
	for _, foolish := range []string{"Either will do", "best simple rule", "spare allowance", "won back"} {
		if strings.Contains(text, foolish) {
			t.Errorf("%q in %s", foolish, text)
		}
	}
	if !strings.Contains(text, "nothing new") || !strings.Contains(text, "Nothing is to be bought") {
		t.Error(text)
	}
}
