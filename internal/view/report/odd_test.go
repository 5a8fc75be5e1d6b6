package report_test

import (
	"strings"
	"testing"

	"spile/internal/trade/bush"
	"spile/internal/view/report"
	"spile/internal/view/say"
)

// odd is what the sheets of sugarbushes must and must not say, in English and French; both sides of paper read as one.
var odd = map[string]struct{ want, not []string }{
	// who has no tubing is told nothing of it
	"11-buckets en": {[]string{"Carry on as last season", "25", "15 × spout", "a clean spout each season"},
		[]string{"leak", "lateral", "pump", "Nothing is planned", "34 studies"}},
	"11-buckets fr": {[]string{"Continuez comme la saison passée", "15 × chalumeau"},
		[]string{"fuite", "latéraux", "tubulure, pompe"}},
	// where no study speaks, the season has its steps, and the leaks stand in front
	"12-narrow en": {[]string{"In winter: order what is on the list", "Pull, within days of the last run",
		"Walk the tubing and mend every leak and sag before you spend"}, []string{"net a tap", "Nothing is planned"}},
	"21-dry en": {[]string{"Every inch of mercury of vacuum won back", "There is no work over and above tapping"},
		[]string{"Season by season", "Pieces: what is fitted", "The studies do not tell for sure"}},
	"21-dry fr": {[]string{"Rien ne s’ajoute à l’entaillage et au désentaillage."}, []string{"Saison par saison"}},
	// what goes on without evidence is in the calendar too
	"14-washed en": {[]string{"Last season's are used again only where nothing new is planned",
		"Wash, after the season, as the plan says"}, []string{"Last season's are not used again"}},
	"14-washed fr": {[]string{"Lavage, après la saison", "dans toutes les sections du plan"},
		[]string{"Ne réutilisez pas ceux de la saison passée.", "partout"}},
	// a quota is the number that was stated, and what is simple is told once
	"15-over fr": {[]string{"Il est de 6 000 lb de sirop", "C’est tout simple : chalumeau à l’argent partout.",
		"« sans assainissement »", "pour toutes les entailles"}, []string{"la plupart des entailles"}},
	"24-silver en": {[]string{"It is 99,999 lb of bulk syrup."}, []string{"If you want it simple", "$16 more"}},
	// other trees are no sugar maples
	"16-trees en": {[]string{"red maple, and too few studies say that they were made on it. Common practice, no " +
		"source: as on sugar maple", "since it is no maple", "check-valve spout each season in all planned sections",
		"Reds (24.0 inHg)"}, []string{"Birch (22.0 inHg)", "everywhere"}},
	"18-height en": {[]string{"that you state for a tight system"}, []string{"usually attains"}},
	// a limit below last season stands beside the hours
	"19-family en": {[]string{"Going on as last season takes up to 2.5 hours (tapping), and 0 are given",
		"Going on as last season takes up to $614 in cash, and $0 is given"}, []string{"and 0.0", "wages for them"}},
	"26-laterals fr": {[]string{"Continuer comme la saison passée demande jusqu’à 20 400 $ de liquidités", " lb",
		"po Hg"}, []string{"la saison passée a demandé", "kPa", " kg de plus par entaille"}},
	"25-metric fr": {[]string{"kPa", " kg de plus par entaille"}, []string{"po Hg"}},
	// most hours: valves on all, 4,000 × 0.15 minutes, over those of last season, 4,000 × 0.1: 3.33, told as 4 at $26;
	// most cash: valves on 1,900 and silver on 2,100. (0.72 × 1,995 + 0.85 × 2,205 + 0.01 × 4,000) × 1.38 and 8.25
	// hours at $26 are $4,838.40, over $2,500
	"23-short fr": {[]string{"avec 4 heures de plus (à l’entaillage), environ 104 $ de salaires et 2 340 $ de " +
		"liquidités de plus avant la vente de l’eau d’érable, le plan rapporterait",
		"un chalumeau à l’argent sur 2 100 entailles et un chalumeau antiretour neuf sur 1 900 entailles"},
		[]string{"87 $ de salaires"}},
	// one season has no next
	"22-spring en": {[]string{"per tap, compared with last year's way"}, []string{"season after", "per tap each season",
		"Money of later seasons"}},
}

// A sheet on which no study speaks leaves no half of its front empty: what there is to say stands on one side, or the
// calendar and what is not known stand on the first; of buckets nothing is said that is about tubing.
func TestASheetWithoutEvidenceFillsItsFront(t *testing.T) {
	for name, x := range map[string]struct {
		change func(*bush.Sugarbush)
		not    []string
	}{
		"buckets": {func(b *bush.Sugarbush) { b.Sections[0].Buckets, b.Sections[0].Practice = true, "unsanitized" },
			[]string{"tubing for sap", "laterals", "drops age", "Drain"}},
		"red maple": {func(b *bush.Sugarbush) {
			b.Sections[0].Species, b.Sections[0].Practice = "red maple", "new-spout"
		}, nil},
	} {
		w := changed(t, x.change)
		pdf, err := report.Handout(w, "1.2.3")
		if err != nil {
			t.Fatal(err)
		}
		front := run(poppler(t, pdf, "pdftotext", "-raw", "-l", "1"))
		for _, s := range []string{"Calendar", "What we do not know", "Common practice, no source"} {
			if !strings.Contains(front, run(s)) {
				t.Errorf("%s: no %q in front:\n%s", name, s, front)
			}
		}
		says(t, name, pdf, []string{"Cautions", "This sheet permits nothing", "What it rests on"}, x.not)
		if pages := strings.Count(poppler(t, pdf, "pdftotext"), "\f"); name == "buckets" && pages != 1 {
			t.Errorf("%s: %d pages", name, pages)
		}
	}
}

func TestOddSugarbushes(t *testing.T) {
	list := bushes(t)
	for name, x := range odd {
		file, lang, _ := strings.Cut(name, " ")
		w, ok := list[file]
		if !ok {
			t.Errorf("%s: no such sugarbush", file)
			continue
		}
		b := w.P.Sugarbush
		w.V = say.In(map[string]string{"en": "en-US", "fr": "fr-CA"}[lang]).With(say.UnitsIn(b.Prices.Place,
			b.Prices.Units["units.mass"]))
		pdf, err := report.Handout(w, "1.2.3")
		if err != nil {
			t.Fatal(err)
		}
		says(t, name, pdf, x.want, x.not)
	}
}
