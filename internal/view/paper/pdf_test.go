package paper

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"
)

// poppler runs a program of poppler-utils on a document: what it reads is the outside's word on what we wrote.
func poppler(t *testing.T, doc []byte, program string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skip("NOT RUN: no poppler")
	}
	path := filepath.Join(t.TempDir(), "doc.pdf")
	if err := os.WriteFile(path, doc, 0o644); err != nil {
		t.Fatal(err)
	}
	var faults bytes.Buffer
	cmd := exec.Command(program, append(append([]string{"-q"}, args...), path, "-")...)
	if program == "pdffonts" || program == "pdfinfo" {
		cmd = exec.Command(program, append(args, path)...)
	}
	cmd.Stderr = &faults
	out, err := cmd.Output()
	if err != nil || faults.Len() > 0 {
		t.Fatalf("%s: %v %s", program, err, &faults)
	}
	return string(out)
}

type box struct {
	XMin float64 `xml:"xMin,attr"`
	YMin float64 `xml:"yMin,attr"`
	XMax float64 `xml:"xMax,attr"`
	YMax float64 `xml:"yMax,attr"`
	Text string  `xml:",chardata"`
}

type sheet struct {
	Width  float64 `xml:"width,attr"`
	Height float64 `xml:"height,attr"`
	Words  []box   `xml:"word"`
}

// boxes are the words of each page with their places.
func boxes(t *testing.T, doc []byte) []sheet {
	t.Helper()
	var d struct {
		Pages []sheet `xml:"body>doc>page"`
	}
	text := strings.Map(func(r rune) rune { // a word of the outside's own making may hold what XML forbids
		if r < ' ' && r != '\n' {
			return -1
		}
		return r
	}, poppler(t, doc, "pdftotext", "-bbox"))
	dec := xml.NewDecoder(strings.NewReader(text))
	dec.Strict, dec.Entity = false, xml.HTMLEntity
	if err := dec.Decode(&d); err != nil {
		t.Fatal(err)
	}
	return d.Pages
}

func closed(t *testing.T, p *PDF) []byte {
	t.Helper()
	b, err := p.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Every character we set comes out of the document as itself, in all three cuts: composite glyphs too.
func TestCharactersComeOut(t *testing.T) {
	text := "ÉÈÊËÀÂÇÎÏÔŒÙÛÜŸ éèêëàâçîïôœùûüÿ «61,3\u202f%» −4 ≥3 ≤5 10² x³ ¹⁰⁴⁵⁶⁷⁸⁹ ½ ° · … † € τ² σ ’ “drops” (a\\b)"
	p := NewPDF(About{Title: "Chalumeau réutilisé", Lang: "fr"})
	c := p.Page(800, 200)
	for s := Regular; s <= Italic; s++ {
		c.Text(s, 12, vg.Point{X: 20, Y: 150 - 40*vg.Length(s)}, text)
	}
	doc := closed(t, p)
	got := strings.Fields(poppler(t, doc, "pdftotext", "-raw", "-enc", "UTF-8"))
	// pdftotext tells words by their distance, and joins what a narrow space parts.
	want := strings.Fields(strings.ReplaceAll(strings.Repeat(text+" ", 3), "\u202f", ""))
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("out came\n%q, not\n%q", got, want)
	}
	if info := poppler(t, doc, "pdfinfo"); !strings.Contains(info, "Chalumeau réutilisé") {
		t.Errorf("the title is lost:\n%s", info)
	}
	for line := range strings.Lines(poppler(t, doc, "pdffonts")) {
		if strings.Contains(line, "literata") && !regexp.MustCompile(`Identity-H +yes +\w+ +yes`).MatchString(line) {
			t.Errorf("a font is not embedded, or its text not known: %s", line)
		}
	}
}

// A subset: a page of one word must be far smaller than the three fonts.
func TestFontsAreCut(t *testing.T) {
	p := NewPDF(About{})
	p.Page(100, 100).Text(Regular, 12, vg.Point{X: 10, Y: 50}, "drop")
	if n, whole := len(closed(t, p)), len(Regular.TTF()); n > whole/2 {
		t.Errorf("%d bytes, where the font alone has %d", n, whole)
	}
}

// Text stands where the axes put it, through Push, Scale, Rotate and Pop, and is as wide as Width says.
func TestPlace(t *testing.T) {
	p := NewPDF(About{})
	c := p.Page(400, 300)
	c.Push()
	c.Translate(vg.Point{X: 100, Y: 50})
	c.Scale(2, 2)
	c.Text(Regular, 10, vg.Point{X: 5, Y: 5}, "scaled")
	c.Push()
	c.Rotate(math.Pi / 2)
	c.Text(Bold, 10, vg.Point{X: 20, Y: 0}, "turned")
	c.Pop()
	c.Pop()
	c.Text(Italic, 12, vg.Point{X: 30, Y: 250}, "plain")
	want := map[string][3]float64{ // left, right, and a level through the middle of the word, from the top
		"scaled": {110, 110 + float64(Regular.Width("scaled", 20)), 300 - 60 - 5},
		"plain":  {30, 30 + float64(Italic.Width("plain", 12)), 300 - 250 - 3},
	}
	for _, w := range boxes(t, closed(t, p))[0].Words {
		if w.Text == "turned" {
			if w.XMax > 101+20 || w.XMin < 100-25 || math.Abs(w.YMax-(300-50-40)) > 0.1 ||
				math.Abs(w.YMax-w.YMin-float64(Bold.Width("turned", 20))) > 0.1 {
				t.Errorf("turned stands at %+v", w)
			}
			continue
		}
		x := want[w.Text]
		if math.Abs(w.XMin-x[0]) > 0.05 || math.Abs(w.XMax-x[1]) > 0.05 || w.YMin > x[2] || w.YMax < x[2] {
			t.Errorf("%q stands at %+v, want %v", w.Text, w, x)
		}
	}
}

// The end of an arc's curves is that of the arc.
func TestArc(t *testing.T) {
	p := NewPDF(About{})
	c := p.Page(100, 100)
	for _, sweep := range []float64{0.1, math.Pi / 2, -2, 2 * math.Pi} {
		got := c.arc(vg.PathComp{Type: vg.ArcComp, Pos: vg.Point{X: 40, Y: 60}, Radius: 10, Start: 0.3, Angle: sweep})
		x, y := 40+10*math.Cos(0.3+sweep), 60+10*math.Sin(0.3+sweep)
		if math.Hypot(float64(got.X)-x, float64(got.Y)-y) > 1e-9 {
			t.Errorf("sweep %v ends at %v, not at %v %v", sweep, got, x, y)
		}
	}
}

func TestDates(t *testing.T) {
	page := func(date time.Time) []byte {
		p := NewPDF(About{Title: "t", Date: date})
		p.Page(100, 100).Text(Regular, 12, vg.Point{X: 10, Y: 50}, "drop")
		return closed(t, p)
	}
	dated, bare := page(time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC)), page(time.Time{})
	if !bytes.Contains(dated, []byte("/CreationDate (D:20251101000000)")) {
		t.Error("the date is not that of the data")
	}
	if bytes.Contains(bare, []byte("Date (D:")) {
		t.Error("a date nobody gave")
	}
	if !bytes.Equal(bare, page(time.Time{})) {
		t.Error("other bytes the second time")
	}
	if got := poppler(t, bare, "pdfinfo"); strings.Contains(got, "Date") {
		t.Errorf("a date nobody gave:\n%s", got)
	}
}

func TestRefusals(t *testing.T) {
	if _, err := NewPDF(About{}).Bytes(); err == nil {
		t.Error("a document without a page")
	}
	p := NewPDF(About{})
	p.Page(10, 10).DrawImage(vg.Rectangle{}, nil)
	if _, err := p.Bytes(); err == nil {
		t.Error("a picture was dropped without a word")
	}
}

// Any text is set without a panic, and is broken into lines that hold it all and keep to the width.
func TestLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.SampledFrom([]rune("aé -/W…\u00a0\u202f9😀.,\t"))).Draw(t, "text") +
			rapid.SampledFrom([]string{"", "\xff", "\xe2\x82", "a\xffb c"}).Draw(t, "broken")
		width := vg.Length(rapid.Float64Range(1, 80).Draw(t, "width"))
		lines := Lines(Bold, 10, text, width)
		squeeze := func(s string) string { return strings.ReplaceAll(s, " ", "") }
		if squeeze(strings.Join(lines, "")) != squeeze(text) {
			t.Fatalf("%q became %q", text, lines)
		}
		for _, l := range lines {
			if Bold.Width(l, 10) > width+1e-9 && utf8.RuneCountInString(l) > 1 {
				t.Fatalf("%q is wider than %v", l, width)
			}
		}
		p := NewPDF(About{Title: text})
		p.Page(100, 100).Text(Italic, 10, vg.Point{X: 1, Y: 1}, text)
		if _, err := p.Bytes(); err != nil {
			t.Fatal(err)
		}
	})
}
