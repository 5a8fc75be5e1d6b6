package report_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"

	"golang.org/x/net/html"

	"spile/internal/demo"
	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/view/markup"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// memo keeps what the tests have worked out.
var memo advice.Memo

var answer = sync.OnceValue(func() *advice.Advice {
	dir, err := os.MkdirTemp("", "spile")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	if err := os.CopyFS(dir, demo.Files()); err != nil {
		panic(err)
	}
	in, err := sheet.Read(filepath.Join(dir, "evidence.csv"), filepath.Join(dir, "prices.toml"))
	if err != nil {
		panic(err)
	}
	a, err := memo.Of(advice.Usual(in))
	if err != nil {
		panic(err)
	}
	if a, err = memo.Thorough(a); err == nil {
		a, err = memo.Weigh(a, a.Everything())
	}
	if err != nil {
		panic(err)
	}
	return a
})

func written(t *testing.T, a *advice.Advice) []byte {
	t.Helper()
	b, err := report.HTML(a, say.In("en"), "1.2.3")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestSameBytes(t *testing.T) {
	if !bytes.Equal(written(t, answer()), written(t, answer())) {
		t.Error("the same answer gives other bytes")
	}
}

// One file that asks nothing of the network and runs nothing.
func TestSelfContained(t *testing.T) {
	doc, err := html.Parse(bytes.NewReader(written(t, answer())))
	if err != nil {
		t.Fatal(err)
	}
	ids := map[string]bool{}
	var links []string
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		switch n.Data {
		case "script", "link", "iframe", "object", "embed", "form":
			if n.Type == html.ElementNode {
				t.Errorf("the report holds <%s>", n.Data)
			}
		case "style":
			for _, m := range regexp.MustCompile(`url\(([^)]{0,12})`).FindAllStringSubmatch(n.FirstChild.Data, -1) {
				if !strings.HasPrefix(m[1], "data:") {
					t.Errorf("the stylesheet asks for %s", m[1])
				}
			}
			if strings.Contains(n.FirstChild.Data, "@import") {
				t.Error("the stylesheet imports another")
			}
			if n := strings.Count(n.FirstChild.Data, "@font-face"); n != 3 {
				t.Errorf("%d fonts, not one of each cut", n)
			}
		}
		for _, a := range n.Attr {
			switch {
			case a.Key == "id":
				if ids[a.Val] {
					t.Errorf("two things are called %s", a.Val)
				}
				ids[a.Val] = true
			case a.Key == "href":
				links = append(links, a.Val)
			case a.Key == "src" || strings.HasPrefix(a.Key, "on"):
				t.Errorf("%s=%.40s", a.Key, a.Val)
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
	for _, l := range links {
		if !strings.HasPrefix(l, "#") || !ids[l[1:]] {
			t.Errorf("a link to %s leads nowhere in the report", l)
		}
	}
}

// The recommendation is first, in two sentences; then the parts in their order, each with what it must hold.
func TestOrder(t *testing.T) {
	a := answer()
	v := say.In("en")
	w := show.Of(a, v)
	text := html.UnescapeString(string(written(t, a)))
	_, text, _ = strings.Cut(text, "<main")
	at := 0
	want := append(w.Recommendation(), `id="figure-net"`, `id="gains"`, `id="figure-intervals-1"`,
		w.Gains().Title, w.Shares().Title, `id="rotation"`, `id="figure-ageing"`, w.Rotation().Title, `id="profit"`, w.Ranking().Title,
		w.Budget(a.Ranking[a.Recommended], true).Title, `id="caveats"`, w.Caveats().Title, `id="evidence"`,
		`id="cautions"`,
		`id="assumptions"`, w.Assumptions().Title, `id="methods"`, w.Methods(), w.Sources().Title)
	for _, s := range a.Input.Sources {
		want = append(want, s.Digest)
	}
	for _, s := range append(want, "1.2.3") {
		i := strings.Index(text[at:], s)
		if i < 0 {
			t.Fatalf("%.60q is missing, or stands too early", s)
		}
		at += i
	}
	for _, warning := range w.Warnings() {
		if !strings.Contains(text, warning) {
			t.Errorf("the warning %q is not in the report", warning)
		}
	}
	for _, as := range a.Input.Prices.Assumptions() {
		if !strings.Contains(text, v.Note(as.Name)) || !strings.Contains(text, as.Value.Source) {
			t.Errorf("%s, or its source, is not in the report", as.Key)
		}
	}
	if strings.Contains(text, "NaN") || strings.Contains(text, "%!") {
		t.Error("a number or word gone wrong")
	}
}

func TestWithoutPrices(t *testing.T) {
	in := answer().Input
	in.Prices = nil
	a, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	text := string(written(t, a))
	if strings.Contains(text, `id="profit"`) || !strings.Contains(text, `id="gains"`) {
		t.Error("a report without prices speaks of profit, or not of gains")
	}
}

// Contrast as WCAG 2.2 defines it: 4.5 to 1 for text, 3 to 1 for what marks a field or focus. Success criteria 1.4.3
// and 1.4.11; relative luminance as in its glossary.
func TestContrast(t *testing.T) {
	css := markup.Stylesheet()
	colours := func(block string) map[string][3]float64 {
		found := map[string][3]float64{}
		for _, m := range regexp.MustCompile(`(--[a-z-]+):\s*#([0-9a-f]{6})`).FindAllStringSubmatch(block, -1) {
			n, err := strconv.ParseUint(m[2], 16, 32)
			if err != nil {
				t.Fatal(err)
			}
			found[m[1]] = [3]float64{float64(n >> 16 & 255), float64(n >> 8 & 255), float64(n & 255)}
		}
		return found
	}
	before, rest, _ := strings.Cut(css, "@media screen and (prefers-color-scheme: dark)")
	night, _, _ := strings.Cut(rest, "}")
	light, dark := colours(before), colours(night)
	luminance := func(c [3]float64) float64 {
		sum := 0.0
		for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
			x := c[i] / 255
			if x <= 0.04045 {
				x /= 12.92
			} else {
				x = math.Pow((x+0.055)/1.055, 2.4)
			}
			sum += weight * x
		}
		return sum
	}
	contrast := func(a, b [3]float64) float64 {
		x, y := luminance(a), luminance(b)
		return (max(x, y) + 0.05) / (min(x, y) + 0.05)
	}
	// Black on white is 21 to 1, and #767676 on white 4.5422 to 1 (crosscheck/values.R).
	if c := contrast([3]float64{}, [3]float64{255, 255, 255}); math.Abs(c-21) > 1e-9 {
		t.Fatalf("black on white: %f", c)
	}
	if c := contrast([3]float64{0x76, 0x76, 0x76}, [3]float64{255, 255, 255}); math.Abs(c-4.542225) > 1e-6 {
		t.Fatalf("grey on white: %f", c)
	}
	for name, set := range map[string]map[string][3]float64{"day": light, "night": dark} {
		for _, c := range []struct {
			front, back string
			least       float64
		}{
			{"--ink", "--paper", 7}, {"--faint", "--paper", 4.5}, {"--accent", "--paper", 4.5},
			{"--fault", "--paper", 4.5},
			{"--ink", "--accent-soft", 4.5}, {"--ink", "--ink-soft", 4.5},
		} {
			front, ok1 := set[c.front]
			back, ok2 := set[c.back]
			if !ok1 || !ok2 {
				t.Errorf("%s: no colour %s or %s", name, c.front, c.back)
				continue
			}
			if got := contrast(front, back); got < c.least {
				t.Errorf("%s: %s on %s is %.2f to 1, at least %.1f is asked", name, c.front, c.back, got, c.least)
			}
		}
	}
}

func BenchmarkReport(b *testing.B) {
	a := answer()
	for b.Loop() {
		if _, err := report.HTML(a, say.In("en"), "1"); err != nil {
			b.Fatal(err)
		}
	}
}
