package web

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// picture keeps the page as a picture where SPILE_SHOTS names a folder, to be looked at.
func (b *tab) picture(name string) {
	b.Helper()
	dir := os.Getenv("SPILE_SHOTS")
	if dir == "" {
		return
	}
	for _, width := range []int64{1280, 390} {
		b.do(chromedp.EmulateViewport(width, 900))
		data, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
		if err != nil {
			b.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name+map[int64]string{1280: "", 390: "-phone"}[width]+".png"), data,
			0o644); err != nil {
			b.Fatal(err)
		}
	}
	b.do(chromedp.EmulateViewport(1280, 900))
}

// upload takes files into the page's form.
func (b *tab) upload(files ...string) {
	b.Helper()
	b.open("/take")
	b.do(chromedp.SetUploadFiles("#file", files), chromedp.Click(`form[action="/take"] button`))
}

// From an empty workbook to its report in the browser alone: a file with faults beside its cells, mended there and
// taken in whole; prices; a decision that two make at once, of which the second sees the first.
func TestASeasonInTheBrowser(t *testing.T) {
	d := sit(t, false)
	b := browseOn(t, d.Handler, nil)
	b.quiet.Store(true) // a refused form is told to the console as well
	dir := t.TempDir()
	table, err := os.ReadFile("../../demo/evidence.csv")
	if err != nil {
		t.Fatal(err)
	}
	b.open("/workbook")
	b.picture("empty")
	bad := filepath.Join(dir, "evidence.csv")
	broken := strings.Replace(string(table), ",20.3,", ",-20.3,", 1)
	if err := os.WriteFile(bad, []byte(broken), 0o644); err != nil {
		t.Fatal(err)
	}
	b.upload(bad)
	b.until(`document.querySelector("form.rows") !== null`)
	if !eval[bool](b, `[...document.querySelectorAll(".fault")].some(f => f.innerText.includes("-20.3"))`) {
		t.Error("the fault does not stand beside its cell")
	}
	b.picture("faults")
	b.do(chromedp.Click(`form.rows button[value=save]`))
	b.until(`location.pathname === "/study" && document.readyState === "complete" && document.querySelector("#trouble") !== null`)
	if n := len(d.contents().Studies); n != 0 {
		t.Fatalf("%d studies were taken in from a table with a fault", n)
	}
	eval[bool](b, `(cell => { cell.querySelector("input, select").value = "20.3"; return true })([...document.querySelectorAll("form.rows td")].find(c => c.querySelector(".fault")))`)
	b.do(chromedp.Click(`form.rows button[value=save]`))
	b.until(`location.pathname !== "/study" && document.querySelector("form.rows") === null`)
	if n := len(d.contents().Studies); n != 35 {
		t.Fatalf("%d studies after the fault was mended", n)
	}
	b.upload(absolute(t, "../../demo/prices.toml"))
	b.until(`location.pathname !== "/take" && document.readyState === "complete"`)
	b.open("/profit")
	b.until(`document.querySelector("#first svg") !== null`)
	b.picture("profit")

	// Another saves the wage first.
	b.open("/prices")
	b.do(chromedp.SetValue(`input[name="best.wage"]`, "27"))
	theirs := d.form(d.get("/prices"), "/prices")
	theirs.Set("best.wage", "22")
	theirs.Set("best.discount", "4")
	d.wants(d.post("/prices", theirs), http.StatusSeeOther)
	eval[any](b, `document.querySelector(".actions button[value=save]").click(); 0`)
	b.until(`document.querySelector("#trouble table") !== null`)
	if said := eval[string](b, `document.querySelector("#trouble").innerText`); !strings.Contains(said, "22") ||
		!strings.Contains(said, "27") || !strings.Contains(said, "Nothing was overwritten") {
		t.Errorf("the second is told %s", said)
	}
	b.picture("conflict")
	eval[any](b, `document.querySelector(".actions button[value=save]").click(); 0`)
	b.until(`document.querySelector("#trouble") === null && document.readyState === "complete"`)
	if p := d.contents().Prices; p.Wage.Best != 27 || p.Discount.Best != 0.04 {
		t.Errorf("wage %v, discount %v", p.Wage.Best, p.Discount.Best)
	}
	b.open("/history")
	b.picture("history")
	b.open("/rules")
	b.picture("rules")
	b.open("/rule")
	b.do(chromedp.SetValue("#place", "Vermont"), chromedp.Click(`form[action="/rule"] button`))
	b.until(`document.querySelector("#place-fault") !== null`)
	b.picture("rule")
	b.open("/workbook")
	b.picture("workbook")
	b.open("/take")
	b.picture("take")
	for _, address := range []string{"/report.html", "/report.pdf", "/slides.pdf"} {
		if w := ask(d, "GET", address); w.Code != http.StatusOK || w.Body.Len() < 10000 {
			t.Errorf("%s answers %d with %d bytes", address, w.Code, w.Body.Len())
		}
	}
}

func absolute(t *testing.T, path string) string {
	t.Helper()
	full, err := filepath.Abs(path)
	if err != nil {
		t.Fatal(err)
	}
	return full
}
