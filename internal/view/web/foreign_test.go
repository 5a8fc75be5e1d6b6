package web

import (
	"archive/zip"
	"bytes"
	"cmp"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"spile/internal/files/book"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
	"spile/internal/view/web/page"
)

// The notebooks are of internal/crosscheck/foreign.R: open data in French headers, words, numbers and days, with NA,
// percent signs, and one trial in gallons. What is wanted of them is what R printed.
func notebook(t *testing.T, d atDesk) {
	t.Helper()
	have := d.contents()
	if len(have.Studies) != 6 {
		t.Fatalf("%d studies, want 6", len(have.Studies))
	}
	for _, s := range have.Studies {
		for _, a := range s.Arms {
			switch {
			case s.Name == "Cossack" && a.Practice == "check-valve" &&
				(*a.Mean != 47.3 || a.MeanUnit != "l" || *a.N != 6),
				s.Name == "Ladak" && a.Practice == "unsanitized" &&
					(*a.Mean != 14.86 || a.MeanUnit != "gal" || *a.SD != 2.51),
				s.Name == "Cossack" && a.Practice == "chlorine-rinse" && a.SD != nil,
				s.Name == "Avoine Victory" && a.Practice == "new-drop" &&
					(a.Mean != nil || math.Round(a.Gain.Pct) != 55),
				s.Unit != "chamber" && a.N != nil,
				a.Where.Row > 0 && a.Vacuum != nil && float64(*a.Vacuum) != 84.7,
				a.Vacuum != nil && a.Tapped.Format("01-02") != "02-15":
				t.Errorf("%s: %+v", s.Name, a)
			}
		}
	}
	said := map[string]bool{}
	for _, w := range have.Words {
		if key := w.Of + " " + gloss.Fold(w.Said); said[key] {
			t.Errorf("%v is kept twice", w)
		} else {
			said[key] = true
		}
	}
}

// A notebook as CSV is read like the spreadsheet, each distinct word asked at most once.
func TestANotebookOfSomebodyElse(t *testing.T) {
	d := sit(t, false)
	data, err := os.ReadFile("testdata/cahier.csv")
	if err != nil {
		t.Fatal(err)
	}
	body := d.wants(d.upload("cahier.csv", string(data), nil), http.StatusOK, "Témoin (vieux chalumeaux)", "n.d.")
	f := d.form(body, "/take/words")
	var asked []string
	for i, said := range f["said"] {
		asked = append(asked, f["of"][i]+" "+said)
	}
	if sorted := slices.Sorted(slices.Values(asked)); len(slices.Compact(sorted)) != len(asked) || len(asked) != 11+8 {
		t.Errorf("asked %d, of 11 headers and 8 words: %q", len(asked), asked)
	}
	body = d.wants(d.post("/take/words", f), http.StatusOK, "Rows read: 18. Studies: 6.")
	d.wants(d.post("/study", with(d.form(body, "/study"), "do", "save")), http.StatusSeeOther)
	notebook(t, d)
}

// From an empty workbook to a ranking, as one who knows nothing of it: the start page leads, a spreadsheet of somebody
// else's is taken in with the guesses as they are and what it lacks typed once, each distinct word asked at most once,
// and the page says where to look. Gains are ratios of the means that internal/crosscheck/foreign.R printed. Each is
// done in the language of its reader; a picture is taken of every step, wide and on a phone.
func TestANewcomerInTheBrowser(t *testing.T) {
	ratio := func(t *testing.T, s evidence.Study, of practice.Key, want float64) {
		t.Helper()
		m := map[practice.Key]float64{}
		for _, a := range s.Arms {
			m[a.Practice] = *a.Mean
		}
		if got := m[of] / m[practice.Unsanitized]; math.Abs(got/want-1) > 1e-3 {
			t.Errorf("%s: %s over unsanitized is %g, want %g", s.Name, of, got, want)
		}
	}
	for _, c := range []struct {
		file  string
		lacks []string // what is typed for all rows
		words int      // asked
		// numbers that are unusual, which are asked about beside their cells
		unusual int
		check   func(t *testing.T, d atDesk)
		lang    string
		answers map[string]string // to words of which nothing is guessed
	}{
		{file: "cahier.xlsx", words: 8, check: notebook, lang: "fr"},
		// 2.99 over 1.93, of the first; the fourth is in gallons, 25.74 over 15.85; the fifth has one spread
		{file: "articles.csv", words: 1, lang: "fr", check: func(t *testing.T, d atDesk) {
			have := d.contents().Studies
			if len(have) != 10 || have[0].Site != "Article 121" || have[0].Season != 2009 ||
				have[4].Arms[1].SD != nil ||
				*have[4].Arms[0].SD != 16.9 || *have[0].Arms[0].N != 5 {
				t.Fatalf("%d studies, %+v", len(have), have)
			}
			ratio(t, have[0], practice.CheckValve, 2.99/1.93)
			ratio(t, have[3], practice.CheckValve, 25.74/15.85)
		}},
		{file: "articles.csv", words: 1, lang: "en", check: func(*testing.T, atDesk) {}},
		// tapply of R over the eastern rows: 24.875 over 18.1875, of four plots each
		{file: "codes.xlsx", words: 5, lang: "en", answers: map[string]string{"T1": "unsanitized", "T2": "new-spout",
			"T3": "chlorine-rinse", "T4": "check-valve"}, lacks: []string{"2021"}, check: func(t *testing.T, d atDesk) {
			have := d.contents().Studies
			if len(have) != 2 || have[0].Season != 2021 || len(have[0].Arms) != 4 || *have[0].Arms[0].N != 4 {
				t.Fatalf("%d studies, %+v", len(have), have)
			}
			ratio(t, have[0], practice.CheckValve, 24.875/18.1875)
		}},
		{file: "chilled.csv", words: 1, lang: "en", check: func(t *testing.T, d atDesk) {
			have := d.contents().Studies
			if g := have[0].Arms[1].Gain; len(have) != 14 || have[0].Season != 2013 || g.Pct != 18.7 ||
				*g.SEPct != 17.8 {
				t.Fatalf("%d studies, %+v", len(have), have[0])
			}
		}},
		// five practices and n.d.; UF in 2017 has no check valves
		{file: "rangs.csv", words: 6, check: func(t *testing.T, d atDesk) {
			have := d.contents().Studies
			if len(have) != 12 || len(have[0].Arms) != 4 || *have[1].Arms[1].Mean != 82.3 || have[1].Season != 2018 {
				t.Errorf("%d studies, %+v", len(have), have)
			}
		}},
		// each row a tree, which is asked; the practices are headers, and unit and numbers leave no doubt
		{file: "trees.txt", lacks: []string{"Home bush", "2019"}, words: 1, check: func(t *testing.T, d atDesk) {
			s := d.contents().Studies[0]
			m := map[practice.Key]float64{}
			for _, a := range s.Arms {
				m[a.Practice] = *a.Mean
				if *a.N != 10 || a.MeanUnit != "l" {
					t.Errorf("%+v", a)
				}
			}
			for k, want := range map[practice.Key]float64{
				practice.CheckValve: 4.661 / 5.032, practice.NewDrop: 5.526 / 5.032} {
				if got := m[k] / m[practice.Unsanitized]; math.Abs(got-want) > 1e-6 {
					t.Errorf("%s: %g, want %g", k, got, want)
				}
			}
		}},
		{file: "relative.csv", words: 3, unusual: 2, check: func(t *testing.T, d atDesk) {
			s := d.contents().Studies[0]
			if g := s.Arms[1].Gain; s.Season != 2020 || g == nil || math.Round(g.Pct) != -46 {
				t.Errorf("%+v", s)
			}
		}},
	} {
		t.Run(c.file+c.lang, func(t *testing.T) {
			d := sit(t, false)
			b := browseOn(t, d.Handler, nil)
			began := time.Now()
			b.open("/language/" + cmp.Or(c.lang, "en"))
			b.open("/")
			b.until(`document.querySelectorAll(".steps li").length === 3`)
			b.picture("begin-1-empty" + c.lang)
			b.do(chromedp.Click(`.steps a[href="/take"]`))
			b.until(`location.pathname === "/take"`)
			b.do(chromedp.SetUploadFiles("#file", []string{absolute(t, "testdata/"+c.file)}),
				chromedp.Click(`form[action="/take"] button`))
			b.until(`document.querySelector('form[action="/take/words"] .actions button') !== null`)
			if asked := eval[[]string](b, `[...document.querySelectorAll("tr:has([name=of])")]`+
				`.filter(row => row.querySelector("[name=of]").value !== "columns")`+
				`.map(row => row.querySelector("[name=said]").value)`); len(asked) != c.words {
				t.Errorf("%d words are asked, want %d: %q", len(asked), c.words, asked)
			}
			const left = `[...document.querySelectorAll("select[name=means]")].filter(s => s.value === "").length`
			for said, means := range c.answers {
				eval[string](b, fmt.Sprintf(`[...document.querySelectorAll("tr")].find(row => `+
					`row.querySelector("[name=said]")?.value === %q && row.querySelector("[name=of]").value === "practice")`+
					`.querySelector("select").value = %q`, said, means))
			}
			if open := eval[int](b, left); open > 0 {
				t.Errorf("%d questions have no guess", open)
			}
			const lacking = `[...document.querySelectorAll("input[type=text][name=means]")]`
			for i, text := range c.lacks {
				eval[string](b, fmt.Sprintf(`%s.filter(x => !x.labels[0].innerText.startsWith("study"))[%d].value = %q`,
					lacking, i, text))
			}
			b.picture("begin-2-words-" + c.file + c.lang)
			b.do(chromedp.Click(`form[action="/take/words"] .actions button`))
			b.until(`document.readyState === "complete" && document.querySelector("form.rows") !== null`)
			b.picture("begin-3-rows-" + c.file + c.lang)
			if c.unusual > 0 {
				b.do(chromedp.Click(`form.rows button[value=save]`))
				b.until(fmt.Sprintf(`location.pathname === "/study" && document.readyState === "complete" && `+
					`document.querySelectorAll("td input[name=accept]").length === %d`, c.unusual))
				b.picture("begin-3-unusual-" + c.file)
				eval[bool](b, `[...document.querySelectorAll("input[name=accept]")].every(x => x.checked = true)`)
			}
			b.do(chromedp.Click(`form.rows button[value=save]`))
			b.until(`document.querySelector(".taken") !== null`)
			said := eval[string](b, `document.querySelector(".taken").innerText`)
			name := d.contents().Studies[0].Name
			evidence, reference := "Evidence", string(practice.Unsanitized)
			if c.lang == "fr" {
				evidence, reference = "Données probantes", "sans assainissement"
			}
			if !strings.Contains(said, name) || !strings.Contains(said, evidence) {
				t.Errorf("it says %q", said)
			}
			b.picture("begin-4-taken-" + c.file + c.lang)
			c.check(t, d)
			b.open("/prices/list")
			b.picture("begin-5-prices-" + c.file + c.lang)
			b.do(chromedp.Click(`form[action="/prices/list"] .actions button`))
			b.until(`location.pathname !== "/prices/list" && document.readyState === "complete"`)
			b.open("/")
			b.picture("begin-6-answer-" + c.file + c.lang)
			b.do(chromedp.Click(`main a[href="/profit"]`))
			b.until(`document.querySelector("#first svg") !== null`)
			t.Logf("from the empty workbook to a ranking: %.1f s", time.Since(began).Seconds())
			b.picture("begin-7-ranking-" + c.file + c.lang)
			if table := eval[string](b, ranking); !strings.Contains(table, reference) {
				t.Errorf("no ranking: %q", table)
			}
			b.open("/workbook")
			b.picture("begin-8-workbook-" + c.file + c.lang)
		})
	}
}

// What is unusual is asked beside its cell, and kept once it is said to be meant; what an older program took in is
// asked on the page of the workbook.
func TestUnusualEvidenceIsAsked(t *testing.T) {
	old := evidence.Study{Name: "Elm 1962", Site: "Elm", Season: 1962, Arms: []evidence.Arm{
		{Practice: practice.Unsanitized, Reference: true, Mean: new(10.), N: new(4.)},
		{Practice: practice.NewSpout, Mean: new(11.), N: new(4.)}}}
	d := sitBefore(t, []book.Item{book.Keep(old)})
	body := d.wants(ask(d, "GET", "/workbook"), http.StatusOK, "Is this meant?", "season 1962")
	f := d.form(body, "/meant")
	if f["accept"] != nil {
		t.Error("it is answered before it is asked")
	}
	id := regexp.MustCompile(`name="accept" value="([0-9a-f]+)"`)
	f.Set("accept", id.FindStringSubmatch(body)[1])
	d.wants(d.post("/meant", f), http.StatusSeeOther)
	if body = d.get("/workbook"); strings.Contains(body, "Is this meant?") {
		t.Error("it is asked again")
	}

	body = d.wants(d.upload("a.csv", "study,site,season,practice,mean,mean_unit,n,sd\n"+
		"Fen,Fen,2020,unsanitized,500,gal,4,20\nFen,Fen,2020,new-spout,520,gal,4,20\n", nil),
		http.StatusUnprocessableEntity, "500 gal a tap", "520 gal a tap")
	f = with(d.form(body, "/study"), "do", "save")
	d.wants(d.post("/study", f), http.StatusUnprocessableEntity, "Something here is unusual")
	for _, m := range id.FindAllStringSubmatch(body, -1) {
		f.Add("accept", m[1])
	}
	d.wants(d.post("/study", f), http.StatusSeeOther)
	have := d.contents()
	if len(have.Studies) != 2 || len(have.Answers) != 3 {
		t.Errorf("%d studies, %d answers", len(have.Studies), len(have.Answers))
	}
	if body = d.get("/workbook"); strings.Contains(body, "Is this meant?") {
		t.Error("what was answered at its cell is asked again")
	}

	// Many questions that are alike are one box.
	rows := "study,site,season,practice,mean,mean_unit,n,sd\n"
	for i := range 5 {
		rows += fmt.Sprintf("Moor %d,Moor,2020,unsanitized,%d,gal,4,20\nMoor %d,Moor,2020,new-spout,%d,gal,4,20\n",
			i, 500+i, i, 520+i)
	}
	body = d.wants(d.upload("b.csv", rows, nil), http.StatusUnprocessableEntity, "All 10 of these are so")
	f = with(d.form(body, "/study"), "do", "save")
	f.Set("accept", regexp.MustCompile(`name="accept" value="(all-[0-9a-f]{8})"`).FindStringSubmatch(body)[1])
	d.wants(d.post("/study", f), http.StatusSeeOther)
	if have := d.contents(); len(have.Studies) != 7 || len(have.Answers) != 13 {
		t.Errorf("%d studies, %d answers", len(have.Studies), len(have.Answers))
	}
}

// The reason that a form gives for the history stands in it again where it is refused, and beside what the change did
// once it is kept.
func TestReasonsOfForms(t *testing.T) {
	const why = "told by letter"
	d := sit(t, true)
	for _, c := range []struct{ get, action string }{ // where a form is, and where it is sent to with a fault in it
		{"/prices", "/prices"}, {"/prices/list", "/prices/list"}, {"/rule", "/rule"},
		{"/take", "/take"}, {"/trials/new", "/trials/new"},
	} {
		body := d.get(c.get)
		f := d.form(body, c.action)
		if _, asks := f["why"]; !asks {
			t.Errorf("%s asks for no reason", c.action)
			continue
		}
		f.Set("why", why)
		for key := range f { // nothing of it can be right
			if key != "why" && key != "seen" && f.Get(key) != "" {
				f.Set(key, "\x01§")
			}
		}
		w := d.post(c.action, f)
		if w.Code == http.StatusSeeOther {
			t.Errorf("%s: it is kept", c.action)
			continue
		}
		if again := d.form(w.Body.String(), c.action); again.Get("why") != why {
			t.Errorf("%s: the reason is lost: %q", c.action, again.Get("why"))
		}
	}
	if body := d.post("/sugarbush/keep", url.Values{"why": {why}}).Body.String(); !strings.Contains(body, why) {
		t.Error("/sugarbush/keep: the reason is lost")
	}
	f := d.form(d.get("/exclude?name="+url.QueryEscape(d.contents().Studies[0].Name)), "/exclude")
	d.wants(d.post("/exclude", with(f, "reason", "asked for in a letter")), http.StatusSeeOther)
	f = d.form(d.get("/workbook"), "/restore")
	f.Set("why", why)
	d.wants(d.post("/restore", f), http.StatusSeeOther)
	if body := d.get("/history"); !strings.Contains(body, "why: "+why) {
		t.Error("the history does not say why")
	} else if !strings.Contains(body, "why: asked for in a letter") {
		t.Error("the history does not say why a study was left out")
	}
}

// A table that was pasted comes back in its own words, and its page shows them; a number changed in the form changes
// there too.
func TestPastedComesBackAsTyped(t *testing.T) {
	const text = "Place,Year,Treatment,Sap per tap,SD\nN,2018,Control,15.00 gal,2.0\nN,2018,Bleach,72 L,NA\n"
	d := sit(t, false)
	f := d.form(d.wants(d.upload("hers.csv", text, nil), http.StatusOK), "/take/words")
	f = d.form(d.wants(d.post("/take/words", f), http.StatusOK), "/study")
	d.wants(d.post("/study", with(f, "do", "save")), http.StatusSeeOther)
	comes := func(want string) {
		t.Helper()
		data := []byte(d.get("/data/as-typed.zip"))
		z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		if err != nil || len(z.File) != 2 || z.File[0].Name != "hers.csv" {
			t.Fatalf("%v: %v", err, z)
		}
		file, _ := z.File[0].Open()
		if got, _ := io.ReadAll(file); string(got) != want {
			t.Errorf("%s\nwant\n%s", got, want)
		}
	}
	comes(text)
	f = d.form(d.wants(ask(d, "GET", page.StudyAddress("N 2018")), http.StatusOK, "As it was typed", "72 L"), "/study")
	f["r0"][2] = "15.5"
	d.wants(d.post("/study", with(f, "do", "save")), http.StatusSeeOther)
	comes(strings.Replace(text, "15.00", "15.5", 1))
}

// So does a table with a title above, cells of two numbers and a total below.
func TestUploadedComesBackAsTyped(t *testing.T) {
	const text = "Trials of 2018,,,,\nPlace,Year,Treatment,Sap per tap (gal),n\nN,2018,Control,15 ± 2,6\n" +
		"N,2018,Bleach,19.5 ± 3,6\nTotal,,,34.5,12\n"
	d := sit(t, false)
	f := d.form(d.wants(d.upload("hers.csv", text, nil), http.StatusOK), "/take/words")
	f = d.form(d.wants(d.post("/take/words", f), http.StatusOK), "/study")
	d.wants(d.post("/study", with(f, "do", "save")), http.StatusSeeOther)
	data := []byte(d.get("/data/as-typed.zip"))
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil || len(z.File) < 1 {
		t.Fatal(err)
	}
	file, _ := z.File[0].Open()
	if got, _ := io.ReadAll(file); string(got) != text {
		t.Errorf("%s\nwant\n%s", got, text)
	}
}

// A field trial of another kind, as its own people would have written it: from the empty workbook to a ranking, with
// the answers that a page asks for, at most one a distinct word. The plots are those of npk of R's datasets (Yates
// 1937, The Design and Analysis of Factorial Experiments, by way of Venables & Ripley 2002); two stand in gallons, one
// is not known; what fertilizer has to do with spouts is nothing. The gain of the first block is
// (62.8 + 57.0) / (49.5 + 46.8) less one: 24 %.
func TestAFieldTrialInTheBrowser(t *testing.T) {
	d := sit(t, false)
	b := browseOn(t, d.Handler, nil)
	began := time.Now()
	b.open("/take")
	b.do(chromedp.SetUploadFiles("#file", []string{absolute(t, "testdata/parcelles.csv")}),
		chromedp.Click(`form[action="/take"] button`))
	answered := map[string]bool{} // by what they are of and said
	answer := func(picture string) {
		b.until(`!window.answered && document.readyState === "complete" &&
			document.querySelector('form[action="/take/words"] select') !== null`)
		for _, said := range eval[[]string](b, `[...document.querySelectorAll('form[action="/take/words"] tr')]
			.filter(row => row.querySelector("select")).map(row => row.querySelector("[name=of]").value + " " +
			row.querySelector("[name=said]").value)`) {
			answered[said] = true
		}
		eval[int](b, `[...document.querySelectorAll('form[action="/take/words"] tr')].reduce((n, row) => {
			const is = { "Bloc": "site", "Engrais": "practice", "Récolte": "mean", "avec azote": "check-valve",
				"sans azote": "unsanitized" }[row.querySelector("[name=said]")?.value];
			if (is && row.querySelector("[name=of]").value !== "repeats") row.querySelector("select").value = is;
			return is ? n + 1 : n;
		}, 0)`)
		b.picture(picture)
		eval[bool](b, `window.answered = true`) // which the page that comes next does not know
		b.do(chromedp.Click(`form[action="/take/words"] .actions button`))
	}
	answer("plots-1-headers")
	b.until(`document.querySelector('table[aria-label=Words]') !== null`)
	answer("plots-1-words")
	b.until(`document.querySelector("form.rows") !== null`)
	b.picture("plots-2-rows")
	if eval[bool](b, `document.querySelector("input[name=accept][value^=all-]") !== null`) { // seasons long ago
		b.do(chromedp.Click(`input[name=accept][value^=all-]`))
	}
	b.do(chromedp.Click(`form.rows button[value=save]`))
	b.until(`document.querySelector(".taken") !== null`)
	b.picture("plots-3-taken")
	have := d.contents()
	if len(have.Studies) != 6 {
		t.Fatalf("%d studies", len(have.Studies))
	}
	first := have.Studies[0]
	if gain := *first.Arms[1].Mean / *first.Arms[0].Mean; math.Abs(gain-119.8/96.3) > 1e-4 &&
		math.Abs(1/gain-119.8/96.3) > 1e-4 {
		t.Errorf("%s gains %v: %v over %v", first.Name, gain, *first.Arms[1].Mean, *first.Arms[0].Mean)
	}
	d.wants(d.post("/prices/list", d.form(d.get("/prices/list"), "/prices/list")), http.StatusSeeOther) // the example
	b.open("/profit")
	b.until(`document.querySelector("#first svg") !== null`)
	b.picture("plots-4-ranking")
	t.Logf("%d headers and words, %.1f s", len(answered), time.Since(began).Seconds())
	if len(answered) > 6+2+2 { // headers, treatments, what is not known, and that rows are units
		t.Errorf("asked %d: %v", len(answered), answered)
	}
}
