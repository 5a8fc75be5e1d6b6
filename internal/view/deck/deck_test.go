package deck

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func talk(t interface{ Fatal(...any) }) Deck {
	var dot bytes.Buffer
	if err := png.Encode(&dot, image.NewGray(image.Rect(0, 0, 16, 9))); err != nil {
		t.Fatal(err)
	}
	return Deck{
		Title: "Which way pays?", Author: "An orchard & a stand", Language: "en-US",
		Date: time.Date(2025, 11, 1, 0, 0, 0, 0, time.UTC),
		Look: Look{color.White, color.Black, color.Gray{0x60}, color.Gray{0xd0}, color.NRGBA{0xa3, 0x3f, 0x16, 0xff},
			"Georgia"},
		Slides: []Slide{
			{Title: "Which way pays?", Text: []string{"Fern Gate, 1 November 2025"}, Notes: []string{"Good morning."}},
			{Title: "Valves gave more", Picture: &Picture{
				SVG: []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 9"><rect width="16" height="9"/></svg>`),
				PNG: dot.Bytes(), Width: 16, Height: 9, Alt: "bars <of> gains"}},
			{Title: "What caveats do",
				Table: &Table{Alt: "caveats", Heads: []string{"without", "gain, %"}, Right: []bool{false, true},
					Parts: []float64{3, 1}, Rows: [][]string{{"freak season", "41"}, {"interest & \"more\"", "39"}}}},
			{Title: "What we do not know", Text: []string{"Drops beyond season 6.", "Red maple."},
				Notes: []string{"a", "b"}},
		},
	}
}

func unzip(t interface{ Fatal(...any) }, data []byte) map[string][]byte {
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	parts := map[string][]byte{}
	for _, f := range r.File {
		open, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if parts[f.Name], err = io.ReadAll(open); err != nil {
			t.Fatal(err)
		}
	}
	return parts
}

// whole holds a package against what ECMA-376 Part 2 (OPC) asks: every part is well-formed, has a content type, and
// every relationship leads to a part that is there; every r:id that a part uses is one of its relationships.
func whole(t interface{ Errorf(string, ...any) }, parts map[string][]byte) {
	var types struct {
		Default []struct {
			Extension string `xml:",attr"`
		}
		Override []struct {
			PartName string `xml:",attr"`
		}
	}
	for name, data := range parts {
		if strings.HasSuffix(name, ".png") {
			continue
		}
		d := xml.NewDecoder(bytes.NewReader(data))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Errorf("%s is not well-formed: %v", name, err)
				break
			}
		}
	}
	if err := xml.Unmarshal(parts["[Content_Types].xml"], &types); err != nil {
		t.Errorf("content types: %v", err)
	}
	said, by := map[string]bool{}, map[string]bool{}
	for _, o := range types.Override {
		name := strings.TrimPrefix(o.PartName, "/")
		if said[name] || parts[name] == nil {
			t.Errorf("the content type of %s is said twice, or of a part that is not there", name)
		}
		said[name] = true
	}
	for _, x := range types.Default {
		by["."+x.Extension] = true
	}
	for name := range parts {
		if name != "[Content_Types].xml" && !said[name] && !by[path.Ext(name)] {
			t.Errorf("%s has no content type", name)
		}
		if path.Ext(name) == ".xml" && name != "[Content_Types].xml" && !said[name] {
			t.Errorf("%s is said to be any XML", name)
		}
	}
	for name, data := range parts {
		folder, file := path.Split(name)
		if path.Ext(name) != ".rels" {
			continue
		}
		of := path.Join(path.Dir(path.Clean(folder)), strings.TrimSuffix(file, ".rels"))
		var rels struct {
			Relationship []struct {
				ID     string `xml:"Id,attr"`
				Target string `xml:"Target,attr"`
			}
		}
		if err := xml.Unmarshal(data, &rels); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		ids := map[string]bool{}
		for _, r := range rels.Relationship {
			target := path.Join(path.Dir(of), r.Target)
			if parts[target] == nil || ids[r.ID] {
				t.Errorf("%s: %s leads to %s", name, r.ID, target)
			}
			ids[r.ID] = true
		}
		for _, attr := range []string{`r:id="`, `r:embed="`} {
			for _, after := range strings.Split(string(parts[of]), attr)[1:] {
				if id, _, _ := strings.Cut(after, `"`); !ids[id] {
					t.Errorf("%s uses %s, which is no relationship of it", of, id)
				}
			}
		}
	}
}

func TestWhole(t *testing.T) {
	d := talk(t)
	data, err := d.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	parts := unzip(t, data)
	whole(t, parts)
	again, err := d.Bytes()
	if err != nil || !bytes.Equal(data, again) {
		t.Error("the same deck gives other bytes")
	}
	for name, want := range map[string]string{
		"ppt/slides/slide1.xml":           `type="ctrTitle"`,
		"ppt/slides/slide2.xml":           "bars &lt;of&gt; gains",
		"ppt/slides/slide3.xml":           "interest &amp; &#34;more&#34;",
		"ppt/notesSlides/notesSlide1.xml": "Good morning.",
		"docProps/core.xml":               "2025-11-01T00:00:00Z",
	} {
		if !strings.Contains(string(parts[name]), want) {
			t.Errorf("%s lacks %s", name, want)
		}
	}
}

func TestWholeProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var d Deck
		d.Look = talk(t).Look
		text := rapid.String()
		d.Title, d.Author = text.Draw(t, "title"), text.Draw(t, "author")
		for range rapid.IntRange(1, 5).Draw(t, "slides") {
			s := Slide{Title: text.Draw(t, "slide"), Text: rapid.SliceOf(text).Draw(t, "text"),
				Notes: rapid.SliceOf(text).Draw(t, "notes")}
			if rapid.Bool().Draw(t, "table") {
				s.Table = &Table{Heads: []string{"a", text.Draw(t, "head")},
					Rows: [][]string{{text.Draw(t, "cell"), ""}}}
			}
			d.Slides = append(d.Slides, s)
		}
		data, err := d.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		whole(t, unzip(t, data))
	})
}

// Another program opens it, shows as many pages, and the same text.
func TestOpensElsewhere(t *testing.T) {
	if testing.Short() {
		t.Skip("starts another program")
	}
	office, err := exec.LookPath("soffice")
	if err != nil {
		t.Skip("LibreOffice is not here")
	}
	dir := t.TempDir()
	d := talk(t)
	data, err := d.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "talk.pptx")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	c := exec.Command(office, "-env:UserInstallation=file://"+dir+"/profile", "--headless", "--convert-to", "pdf",
		"--outdir", dir, file)
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	text, err := exec.Command("pdftotext", "-layout", filepath.Join(dir, "talk.pdf"), "-").Output()
	if err != nil {
		t.Skip("poppler is not here")
	}
	pages := strings.Split(strings.TrimSuffix(string(text), "\f"), "\f")
	if len(pages) != len(d.Slides) {
		t.Fatalf("%d pages of %d slides", len(pages), len(d.Slides))
	}
	for i, s := range d.Slides {
		want := append([]string{s.Title}, s.Text...)
		if s.Table != nil {
			want = append(want, s.Table.Heads...)
			for _, r := range s.Table.Rows {
				want = append(want, r...)
			}
		}
		if i > 0 {
			want = append(want, fmt.Sprint(i+1))
		}
		for _, w := range want {
			if !strings.Contains(pages[i], w) {
				t.Errorf("page %d lacks %q: %s", i+1, w, pages[i])
			}
		}
	}
}
