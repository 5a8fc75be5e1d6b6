package report_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"spile/internal/engine/advice"
	"spile/internal/trade/input"
	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// document is one form of the report and the voice it is asked for in.
type document struct {
	name   string
	write  func(*advice.Advice, *say.Voice, string, ...string) ([]byte, error)
	voice  *say.Voice
	width  float64
	height float64
}

var documents = []document{
	{"letter", report.PDF, say.In("en-US"), 612, 792},
	{"A4", report.PDF, say.In("en-GB"), 595.28, 841.89},
	{"slides", report.Talk{}.PDF, say.In("en"), 960, 540},
}

func (d document) of(t *testing.T, a *advice.Advice, tried ...string) []byte {
	t.Helper()
	b, err := d.write(a, d.voice, "1.2.3", tried...)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// usual is the document of the usual answer, made once for all tests.
func (d document) usual(t *testing.T) []byte {
	t.Helper()
	if made[d.name] == nil {
		made[d.name] = d.of(t, answer())
	}
	return made[d.name]
}

var made = map[string][]byte{}

// poppler runs a program of poppler-utils on a document.
func poppler(t *testing.T, doc []byte, program string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skip("NOT RUN: no poppler")
	}
	path := filepath.Join(t.TempDir(), "doc.pdf")
	if err := os.WriteFile(path, doc, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(program, append(args, path, "-")...).Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// run is a text without its spaces and hyphens' breaks: lines break elsewhere in each form.
func run(text string) string { return strings.Join(strings.Fields(text), "") }

func TestDocumentsAreTheSameBytes(t *testing.T) {
	for _, d := range documents {
		if !bytes.Equal(d.usual(t), d.of(t, answer())) {
			t.Errorf("%s: the same answer gives other bytes", d.name)
		}
	}
}

// The contents name every chapter with the page on which it begins, and a paper finds its methods and captions on a
// page of their own.
func TestContentsHavePages(t *testing.T) {
	a := answer()
	for _, d := range documents[:2] {
		file := d.usual(t)
		first := poppler(t, file, "pdftotext", "-layout", "-l", "1")
		listed := regexp.MustCompile(`([^\s.][^.\n]*?) *(?: \.){2,} *(\d+)`).FindAllStringSubmatch(first, -1)
		if len(listed) < 8 {
			t.Errorf("%s: %d chapters in the contents of %s", d.name, len(listed), first)
		}
		for _, m := range listed {
			there := poppler(t, file, "pdftotext", "-f", m[2], "-l", m[2])
			if !strings.Contains(run(there), run(m[1])) {
				t.Errorf("%s: %s is not on page %s", d.name, m[1], m[2])
			}
		}
		paper := poppler(t, file, "pdftotext", "-f", listed[len(listed)-1][2])
		for _, want := range []string{"net.svg", "ranking.csv", run(show.Of(a, d.voice).Methods())[:40]} {
			if !strings.Contains(run(paper), want) {
				t.Errorf("%s: a paper does not find %s", d.name, want)
			}
		}
	}
}

// Pages are filled: what stands lowest on them, as poppler draws them, stands low, but on the last one.
func TestPagesAreFilled(t *testing.T) {
	for _, d := range documents[:2] {
		dir := t.TempDir()
		path := filepath.Join(dir, "doc.pdf")
		if err := os.WriteFile(path, d.usual(t), 0o644); err != nil {
			t.Fatal(err)
		}
		drawn, err := exec.Command("pdftoppm", "-r", "20", "-gray", path).Output()
		if err != nil {
			t.Skipf("NOT RUN: pdftoppm: %v", err)
		}
		var filled []float64
		for len(drawn) > 0 {
			var width, height int
			if _, err := fmt.Sscanf(string(drawn[:20]), "P5\n%d %d\n255\n", &width, &height); err != nil {
				t.Fatal(err)
			}
			grey := drawn[bytes.Index(drawn, []byte("255\n"))+4:]
			top, foot, low := height/20, height*94/100, 0 // the margin, and where the number of the page begins
			for y := top; y < foot; y++ {
				if slices.Min(grey[y*width:(y+1)*width]) < 200 {
					low = y
				}
			}
			filled = append(filled, float64(low-top)/float64(foot-top))
			drawn = grey[width*height:]
		}
		sum := 0.0
		for i, x := range filled[:len(filled)-1] {
			if sum += x; x < 0.4 { // a chapter may end above the figure that opens the next
				t.Errorf("%s: page %d is filled to %.0f %%", d.name, i+1, 100*x)
			}
		}
		if mean := sum / float64(len(filled)-1); mean < 0.8 || len(filled) < 10 {
			t.Errorf("%s: %d pages are filled to %.0f %%", d.name, len(filled), 100*mean)
		}
	}
}

// The words of the document in the order of the report, and those of every table and figure.
func TestDocumentHoldsTheReport(t *testing.T) {
	a := answer()
	for _, d := range documents[:2] {
		w := show.Of(a, d.voice)
		text := run(poppler(t, d.of(t, a, "wage 30 an hour"), "pdftotext", "-raw"))
		at := 0
		order := append(w.Recommendation(), "wage 30 an hour", w.Net().Title, w.Gains().Title, w.Shares().Title,
			w.Rotation().Title, w.Ranking().Title,
			w.Budget(a.Ranking[a.Recommended], true).Title,
			w.Caveats().Title, w.Evidence().Title, w.Cautions().Title, w.Assumptions().Title, w.Sources().Title)
		for _, s := range append(order, "1.2.3") {
			i := strings.Index(text[at:], run(s))
			if i < 0 {
				t.Fatalf("%s: %.60q is missing, or stands too early", d.name, s)
			}
			at += i
		}
		floats := []string{w.Intervals().Title, w.AgeingFigure().Title}
		for _, s := range append(append(w.Warnings(), floats...), a.Input.Sources[0].Digest) {
			if !strings.Contains(text, run(s)) {
				t.Errorf("%s: %q is missing", d.name, s)
			}
		}
		for _, table := range []show.Table{w.Ranking(), w.Gains(), w.Rotation(), w.Evidence(), w.Cautions(),
			w.Between(), w.Sources()} {
			for _, n := range table.Notes {
				if !strings.Contains(text, run(n.Text)) {
					t.Errorf("%s: %s lacks its note %q", d.name, table.ID, n.Text)
				}
			}
		}
	}
}

// Every word on the paper it was asked for, and no two words of tables and text on one another.
func TestDocumentsKeepToThePage(t *testing.T) {
	for _, d := range documents {
		if n := keepsToPage(t, d.name, d.usual(t), d.width, d.height); n < 5 {
			t.Errorf("%s: %d pages", d.name, n)
		}
	}
}

// keepsToPage checks a document's words and gives the number of its pages.
func keepsToPage(t *testing.T, name string, file []byte, width, height float64) int {
	t.Helper()
	var doc struct {
		Pages []struct {
			Width  float64 `xml:"width,attr"`
			Height float64 `xml:"height,attr"`
			Words  []struct {
				XMin float64 `xml:"xMin,attr"`
				YMin float64 `xml:"yMin,attr"`
				XMax float64 `xml:"xMax,attr"`
				YMax float64 `xml:"yMax,attr"`
				Text string  `xml:",chardata"`
			} `xml:"word"`
		} `xml:"body>doc>page"`
	}
	dec := xml.NewDecoder(strings.NewReader(poppler(t, file, "pdftotext", "-bbox")))
	dec.Strict, dec.Entity = false, xml.HTMLEntity
	if err := dec.Decode(&doc); err != nil {
		t.Fatal(err)
	}
	for i, p := range doc.Pages {
		if max(p.Width-width, width-p.Width, p.Height-height, height-p.Height) > 0.1 {
			t.Errorf("%s: page %d is %v by %v", name, i+1, p.Width, p.Height)
		}
		for j, a := range p.Words {
			if a.XMin < 10 || a.YMin < 5 || a.XMax > p.Width-10 || a.YMax > p.Height-5 {
				t.Errorf("%s, page %d: %q leaves the page: %+v", name, i+1, a.Text, a)
			}
			for _, b := range p.Words[j+1:] {
				w, h := min(a.XMax, b.XMax)-max(a.XMin, b.XMin), min(a.YMax, b.YMax)-max(a.YMin, b.YMin)
				if w > 1 && h > 0.6*min(a.YMax-a.YMin, b.YMax-b.YMin) {
					t.Errorf("%s, page %d: %q stands on %q", name, i+1, a.Text, b.Text)
				}
			}
		}
	}
	return len(doc.Pages)
}

// A hall can read it: no text under 24 points.
func TestSlidesAreLarge(t *testing.T) {
	d := documents[2]
	for _, n := range sizesOf(t, d.usual(t)) {
		if n < 24 {
			t.Errorf("text of %d points", n)
		}
	}
}

// sizesOf lists the sizes of text in a document, in whole points.
func sizesOf(t *testing.T, file []byte) (list []int) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "talk.pdf")
	if err := os.WriteFile(path, file, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := exec.LookPath("pdftohtml"); err != nil {
		t.Skip("NOT RUN: no poppler")
	}
	out, err := exec.Command("pdftohtml", "-xml", "-zoom", "1", "-i", "-stdout", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range regexp.MustCompile(`fontspec id="\d+" size="(\d+)"`).FindAllStringSubmatch(string(out), -1) {
		n, _ := strconv.Atoi(s[1])
		list = append(list, n)
	}
	if len(list) == 0 {
		t.Fatal("no text")
	}
	return list
}

// The talk builds its argument: question, what was compared, figures from evidence to money, then doubts, and what to
// do. What is not known takes one slide, with what is invented on it; every warning and caution is there or in the
// speaker's notes.
func TestSlidesAreInOrder(t *testing.T) {
	a, d := answer(), documents[2]
	w := show.Of(a, d.voice)
	text := run(poppler(t, d.usual(t), "pdftotext", "-raw"))
	at, notes := 0, ""
	for _, s := range w.Talk("", "", nil) {
		i := strings.Index(text[at:], run(s.Title))
		if i < 0 {
			t.Fatalf("%.60q is missing, or stands too early", s.Title)
		}
		at += i
		notes += run(strings.Join(s.Notes, " "))
	}
	bare := strings.ReplaceAll(text, "–", "") // before each sentence of what to do
	for i, s := range append([]string{w.Recommendation()[0]}, w.Warnings()...) {
		s = strings.ReplaceAll(run(s), "–", "")
		if !strings.Contains(bare, s) && (i == 1 || !strings.Contains(notes, s)) {
			t.Errorf("%q is missing", s)
		}
	}
	for _, r := range w.Cautions().Rows {
		if !strings.Contains(notes, run(r.Cells[1].Text)) {
			t.Errorf("the caution %q is missing", r.Cells[1].Text)
		}
	}
}

// Answers with little in them make documents too: no prices; no study that can be pooled.
func TestThinAnswers(t *testing.T) {
	bare := answer().Input
	bare.Prices = nil
	few := answer().Input
	few.Studies = few.Studies[:1]
	for name, in := range map[string]advice.Input{"no prices": bare, "one study": few,
		"nothing": {Input: input.Input{Practices: bare.Practices}}} {
		a, err := memo.Of(in)
		if err != nil {
			t.Logf("%s: %v", name, err)
			continue
		}
		for _, d := range documents {
			if _, err := d.write(a, d.voice, "1"); err != nil {
				t.Errorf("%s, %s: %v", name, d.name, err)
			}
		}
	}
}

func BenchmarkPDF(b *testing.B) {
	a := answer()
	for _, d := range documents {
		b.Run(d.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := d.write(a, d.voice, "1"); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// Two hundred studies: the figures of studies take more pages, none is made too small to read.
func TestManyStudies(t *testing.T) {
	in := answer().Input
	in.Studies = nil
	for i := range 6 {
		for _, s := range answer().Input.Studies {
			s.Name += " " + strings.Repeat("i", i+1)
			s.Site += " " + strings.Repeat("i", i+1)
			in.Studies = append(in.Studies, s)
		}
	}
	a, err := memo.Of(in)
	if err != nil {
		t.Fatal(err)
	}
	doc := documents[0].of(t, a)
	path := filepath.Join(t.TempDir(), "many.pdf")
	if err := os.WriteFile(path, doc, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := exec.LookPath("pdftohtml"); err != nil {
		t.Skip("NOT RUN: no poppler")
	}
	out, err := exec.Command("pdftohtml", "-xml", "-zoom", "1", "-i", "-stdout", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile(`height="(\d+)" font="\d+">(Larkmoor|Greyfen)`).
		FindAllStringSubmatch(string(out), -1) {
		if h, _ := strconv.Atoi(m[1]); h < 8 { // the height of its line, about 1.4 times its size
			t.Fatalf("a study's name in a line of %d points", h)
		}
	}
	voice := documents[0].voice
	text := run(poppler(t, doc, "pdftotext", "-raw"))
	title := show.Of(a, voice).Intervals().Title
	if n := strings.Count(text, run(title)); n < 4 {
		t.Errorf("%q stands over %d figures", title, n)
	}
}

// The whole report of the demo is what a reader still opens: thirty pages, on either paper.
func TestTheReportIsThirtyPages(t *testing.T) {
	a, err := show.Whole.Ask(&memo, answer(), answer().Everything())
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range documents[:2] {
		if n := strings.Count(poppler(t, d.of(t, a), "pdftotext"), "\f"); n > 30 {
			t.Errorf("%s: %d pages", d.name, n)
		}
	}
}
