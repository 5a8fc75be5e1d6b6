// Package deck writes a talk as an Office Open XML presentation (ECMA-376, Part 1: PresentationML): 16:9, titles and
// text in placeholders, tables as tables, pictures as SVG with a PNG beside for programs that draw none, and the notes
// of who speaks. It is the least that the standard asks of such a package, and no more. The same deck gives the same
// bytes.
package deck

import (
	"archive/zip"
	"bytes"
	"embed"
	"encoding/xml"
	"fmt"
	"image/color"
	"strings"
	"text/template"
	"time"
)

// Deck is a talk.
type Deck struct {
	Title    string
	Author   string
	Language string    // BCP 47, such as en-US
	Date     time.Time // of the data; zero: 1980-01-01, the first that a ZIP file can state
	Look     Look
	Slides   []Slide
}

// Look is the colours of a talk and the font of its texts.
type Look struct {
	Paper, Ink, Faint, Rule, Accent color.Color
	Font                            string
}

// Slide is one slide. What is drawn under its title is its picture, else its table, else its text; the first slide of a
// talk has its text in the smaller type that stands under a talk's title.
type Slide struct {
	Title   string
	Text    []string // a paragraph each
	Picture *Picture
	Table   *Table
	Notes   []string // for who speaks, a paragraph each
}

// Picture is a figure in both forms, with the text that stands for it where it cannot be seen.
type Picture struct {
	SVG, PNG      []byte
	Width, Height float64 // in any one unit: their ratio counts
	Alt           string
}

// Table is rows of texts under heads; numbers stand to the right.
type Table struct {
	Alt   string
	Heads []string
	Right []bool    // by column
	Parts []float64 // of the width, by column; nil: all alike
	Rows  [][]string
}

// A slide is measured in EMU: 914,400 an inch, 12,700 a point (ECMA-376, Part 1, 20.1.2.1).
const (
	point  = 12700
	width  = 960 * point
	height = 540 * point
	side   = 40 * point
	top    = 112 * point // below the title
	bottom = 24 * point
)

// The kinds of slides; each has a layout of its own, numbered from 1 in this order.
const (
	opening = iota + 1
	texts
	pictured
	tabled
)

func (d Deck) kind(i int) int {
	switch s := d.Slides[i]; {
	case s.Picture != nil:
		return pictured
	case s.Table != nil:
		return tabled
	case i == 0:
		return opening
	}
	return texts
}

//go:embed part/*.xml
var sources embed.FS

var parts = template.Must(template.New("").Funcs(template.FuncMap{
	"xml": escaped, "hex": hex, "add": func(a, b int) int { return a + b },
}).ParseFS(sources, "part/*.xml"))

func escaped(text string) (string, error) {
	var b strings.Builder
	err := xml.EscapeText(&b, []byte(text))
	return b.String(), err
}

func hex(c color.Color) string {
	x := color.NRGBAModel.Convert(c).(color.NRGBA)
	return fmt.Sprintf("%02X%02X%02X", x.R, x.G, x.B)
}

// page is a slide as its part is written.
type page struct {
	Slide
	Deck   *Deck
	Number int // from 1
	Kind   int
	Box    box // of the picture or table
}

type box struct{ X, Y, W, H int }

// picture is where a picture stands: as large as fits under the title, in the middle.
func (p Picture) box() box {
	room := box{side, top, width - 2*side, height - top - bottom}
	scale := min(float64(room.W)/p.Width, float64(room.H)/p.Height)
	w, h := int(scale*p.Width), int(scale*p.Height)
	return box{room.X + (room.W-w)/2, room.Y, w, h}
}

// Columns is the width of each column, in EMU.
func (t Table) Columns() []int {
	whole, list := 0.0, make([]int, len(t.Heads))
	part := func(i int) float64 {
		if t.Parts == nil {
			return 1
		}
		return t.Parts[i]
	}
	for i := range list {
		whole += part(i)
	}
	for i := range list {
		list[i] = int(float64(width-2*side) * part(i) / whole)
	}
	return list
}

// cell is one cell of a table.
type cell struct {
	Text        string
	Right, Head bool
}

// Cell is what stands in a column.
func (t Table) Cell(column int, text string, head bool) cell {
	return cell{text, column < len(t.Right) && t.Right[column], head}
}

// rowHeight is the least that a row of a table takes.
const rowHeight = 30 * point

// RowHeight is the least that a row of a table takes.
func (Table) RowHeight() int { return rowHeight }

// Bytes is the talk as a .pptx file.
func (d Deck) Bytes() ([]byte, error) {
	w := &writer{deck: &d}
	w.zip = zip.NewWriter(&w.data)
	w.part("[Content_Types].xml", "types.xml", d)
	w.part("_rels/.rels", "package-rels.xml", d)
	w.part("docProps/core.xml", "core.xml", d)
	w.part("docProps/app.xml", "app.xml", d)
	w.part("ppt/presentation.xml", "presentation.xml", d)
	w.part("ppt/_rels/presentation.xml.rels", "presentation-rels.xml", d)
	w.part("ppt/slideMasters/slideMaster1.xml", "master.xml", d)
	w.part("ppt/slideMasters/_rels/slideMaster1.xml.rels", "master-rels.xml", d)
	for kind := opening; kind <= tabled; kind++ {
		w.part(fmt.Sprintf("ppt/slideLayouts/slideLayout%d.xml", kind), "layout.xml", kind)
		w.part(fmt.Sprintf("ppt/slideLayouts/_rels/slideLayout%d.xml.rels", kind), "layout-rels.xml", kind)
	}
	w.part("ppt/notesMasters/notesMaster1.xml", "notes-master.xml", d)
	w.part("ppt/notesMasters/_rels/notesMaster1.xml.rels", "notes-master-rels.xml", d)
	for i := 1; i <= 2; i++ { // a master's theme may not be another's
		w.part(fmt.Sprintf("ppt/theme/theme%d.xml", i), "theme.xml", d)
	}
	for i, s := range d.Slides {
		p := page{Slide: s, Deck: &d, Number: i + 1, Kind: d.kind(i)}
		if s.Picture != nil {
			p.Box = s.Picture.box()
			w.bytes(fmt.Sprintf("ppt/media/figure%d.png", i+1), s.Picture.PNG)
			w.bytes(fmt.Sprintf("ppt/media/figure%d.svg", i+1), s.Picture.SVG)
		} else if s.Table != nil {
			p.Box = box{side, top, width - 2*side, rowHeight * (1 + len(s.Table.Rows))}
		}
		w.part(fmt.Sprintf("ppt/slides/slide%d.xml", i+1), "slide.xml", p)
		w.part(fmt.Sprintf("ppt/slides/_rels/slide%d.xml.rels", i+1), "slide-rels.xml", p)
		w.part(fmt.Sprintf("ppt/notesSlides/notesSlide%d.xml", i+1), "notes.xml", p)
		w.part(fmt.Sprintf("ppt/notesSlides/_rels/notesSlide%d.xml.rels", i+1), "notes-rels.xml", p)
	}
	if w.err == nil {
		w.err = w.zip.Close()
	}
	return w.data.Bytes(), w.err
}

// writer puts parts into the package.
type writer struct {
	deck *Deck
	data bytes.Buffer
	zip  *zip.Writer
	err  error
}

func (w *writer) part(name, source string, value any) {
	var b bytes.Buffer
	b.WriteString(xml.Header)
	if w.err == nil {
		w.err = parts.ExecuteTemplate(&b, source, value)
	}
	w.bytes(name, b.Bytes())
}

func (w *writer) bytes(name string, data []byte) {
	if w.err != nil {
		return
	}
	at := w.deck.Date.UTC()
	if first := time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC); at.Before(first) {
		at = first
	}
	f, err := w.zip.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: at})
	if err == nil {
		_, err = f.Write(data)
	}
	w.err = err
}

// Pictured is true where a slide holds a picture.
func (d Deck) Pictured() bool {
	for _, s := range d.Slides {
		if s.Picture != nil {
			return true
		}
	}
	return false
}

// Stamp is the date of the data, as the core properties have it.
func (d Deck) Stamp() string {
	if d.Date.IsZero() {
		return ""
	}
	return d.Date.UTC().Format(time.RFC3339)
}
