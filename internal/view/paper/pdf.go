//go:build !js

package paper

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"math"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// About is what a document says of itself.
type About struct {
	Title, Lang string
	Creator     string    // the program, with its version
	Date        time.Time // of the data; the zero time leaves the document undated
}

// PDF is a document of pages. Its fonts are embedded, cut to the characters used; its text can be selected and
// searched. The same calls give the same bytes: it never asks the clock.
type PDF struct {
	doc   *fpdf.Fpdf
	about About
	page  *Canvas
	tags  tags
}

// NewPDF begins a document without pages.
func NewPDF(a About) *PDF {
	doc := fpdf.New("P", "pt", "Letter", "")
	doc.SetCatalogSort(true)
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	for s := Regular; s <= Italic; s++ {
		doc.AddUTF8FontFromBytes(Family, letters[s], bytes.Clone(s.TTF())) // fpdf writes in what it is given
	}
	doc.SetTitle(settable(a.Title), true)
	doc.SetCreator(settable(a.Creator), true)
	doc.SetProducer(settable(a.Creator), true)
	if a.Lang != "" {
		doc.SetLang(a.Lang)
	}
	date := a.Date
	if date.IsZero() {
		date = placeholder
	}
	doc.SetCreationDate(date)
	doc.SetModificationDate(date)
	return &PDF{doc: doc, about: a, tags: newTags()}
}

// placeholder stands where fpdf would ask the clock, and is taken out again.
var placeholder = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)

// letters are fpdf's names of the cuts.
var letters = [...]string{"", "B", "I"}

// Page ends the page before and gives the canvas of a new one, its origin in the lower left corner.
func (p *PDF) Page(width, height vg.Length) *Canvas {
	p.end()
	p.doc.AddPageFormat("P", fpdf.SizeType{Wd: float64(width), Ht: float64(height)})
	return p.begin(height)
}

// again gives the canvas of an earlier page, from 1, to add to it.
func (p *PDF) again(page int, height vg.Length) *Canvas {
	p.end()
	p.doc.SetPage(page)
	return p.begin(height)
}

func (p *PDF) begin(height vg.Length) *Canvas {
	p.doc.TransformBegin()
	p.page = &Canvas{doc: p.doc, height: height, pens: []pen{{colour: color.Black, width: 1}}}
	return p.page
}

func (p *PDF) end() {
	for ; p.page != nil && len(p.page.pens) > 0; p.page.pens = p.page.pens[1:] {
		p.doc.TransformEnd()
	}
}

// Mark puts a place of the page into the document's contents, y up from its foot.
func (p *PDF) Mark(title string, y vg.Length) {
	p.doc.SetFont(Family, "", 10) // its title is UTF-16 only under such a font
	p.doc.Bookmark(settable(title), 0, float64(p.page.height-y))
}

// Bytes ends the document.
func (p *PDF) Bytes() ([]byte, error) {
	if p.page == nil {
		return nil, errors.New("a PDF without a page")
	}
	p.end()
	p.page = nil
	var b bytes.Buffer
	if err := p.doc.Output(&b); err != nil {
		return nil, err
	}
	file := b.Bytes()
	if p.about.Date.IsZero() {
		file = undated(file)
	}
	return p.tags.structured(file), nil
}

// undated takes the dates out of a file by blanks, so that nothing in it moves: its end tells where objects stand.
func undated(file []byte) []byte {
	for _, key := range []string{"/CreationDate", "/ModDate"} {
		whole := []byte(key + " (D:" + placeholder.Format("20060102150405") + ")")
		if i := bytes.LastIndex(file, whole); i >= 0 {
			copy(file[i:], bytes.Repeat([]byte(" "), len(whole)))
		}
	}
	return file
}

// settable is text as fpdf can set it: characters of the basic plane, no controls.
func settable(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r < ' ' || r == 0x7f:
			return ' '
		case r > 0xffff:
			return '\ufffd'
		}
		return r
	}, text)
}

// Canvas is a page as a vg.Canvas. Text must be in the family of this package; colours are taken as opaque.
type Canvas struct {
	doc    *fpdf.Fpdf
	height vg.Length
	pens   []pen // the last is in use
}

var _ vg.Canvas = (*Canvas)(nil)

// pen is the state that Push keeps.
type pen struct {
	colour color.Color
	width  vg.Length
	dash   []float64
	offset float64
}

func (c *Canvas) pen() *pen { return &c.pens[len(c.pens)-1] }

// SetLineWidth sets the width of strokes.
func (c *Canvas) SetLineWidth(w vg.Length) { c.pen().width = w }

// SetLineDash sets the dashes of strokes.
func (c *Canvas) SetLineDash(pattern []vg.Length, offset vg.Length) {
	dash := make([]float64, len(pattern))
	for i, d := range pattern {
		dash[i] = float64(d)
	}
	c.pen().dash, c.pen().offset = dash, float64(offset)
}

// SetColor sets the colour of all that follows; nil is black.
func (c *Canvas) SetColor(x color.Color) {
	if x == nil {
		x = color.Black
	}
	c.pen().colour = x
}

// Rotate, Translate and Scale change where things go; PDF and vg have the same axes.
func (c *Canvas) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	c.doc.Transform(fpdf.TransformMatrix{A: cos, B: sin, C: -sin, D: cos})
}

// Translate moves the origin.
func (c *Canvas) Translate(pt vg.Point) {
	c.doc.Transform(fpdf.TransformMatrix{A: 1, D: 1, E: float64(pt.X), F: float64(pt.Y)})
}

// Scale scales both axes.
func (c *Canvas) Scale(x, y float64) { c.doc.Transform(fpdf.TransformMatrix{A: x, D: y}) }

// Push keeps pen and axes.
func (c *Canvas) Push() {
	c.doc.TransformBegin()
	c.pens = append(c.pens, *c.pen())
}

// Pop brings back what Push kept.
func (c *Canvas) Pop() {
	c.doc.TransformEnd()
	c.pens = c.pens[:len(c.pens)-1]
}

// Stroke strokes a path. Everything drawn says its whole pen, since Pop changes that of the page unseen by fpdf.
func (c *Canvas) Stroke(p vg.Path) {
	pen := c.pen()
	if pen.width <= 0 {
		return
	}
	c.doc.SetDrawColor(rgb(pen.colour))
	c.doc.SetLineWidth(float64(pen.width))
	c.doc.SetDashPattern(pen.dash, pen.offset)
	c.trace(p)
	c.doc.DrawPath("D")
}

// Fill fills a path.
func (c *Canvas) Fill(p vg.Path) {
	c.doc.SetFillColor(rgb(c.pen().colour))
	c.trace(p)
	c.doc.DrawPath("F")
}

func (c *Canvas) trace(p vg.Path) {
	at := vg.Point{}
	for _, step := range p {
		x, y := c.place(step.Pos)
		switch step.Type {
		case vg.MoveComp:
			c.doc.MoveTo(x, y)
		case vg.LineComp:
			c.doc.LineTo(x, y)
		case vg.CloseComp:
			c.doc.ClosePath()
			continue
		case vg.ArcComp:
			at = c.arc(step)
			continue
		case vg.CurveComp:
			a, b := step.Control[0], step.Control[len(step.Control)-1]
			if len(step.Control) == 1 { // a quadratic curve as a cubic one
				q := a
				a = vg.Point{X: at.X + (q.X-at.X)*2/3, Y: at.Y + (q.Y-at.Y)*2/3}
				b = vg.Point{X: step.Pos.X + (q.X-step.Pos.X)*2/3, Y: step.Pos.Y + (q.Y-step.Pos.Y)*2/3}
			}
			ax, ay := c.place(a)
			bx, by := c.place(b)
			c.doc.CurveBezierCubicTo(ax, ay, bx, by, x, y)
		}
		at = step.Pos
	}
}

// arc goes from where the path stands to the start of a circle's arc and along it, a cubic curve for each eighth.
func (c *Canvas) arc(step vg.PathComp) vg.Point {
	on := func(angle, out float64) (x, y float64) { // the point at an angle, and that much further along the tangent
		sin, cos := math.Sincos(angle)
		r := float64(step.Radius)
		return c.place(vg.Point{X: step.Pos.X + vg.Length(r*(cos-out*sin)), Y: step.Pos.Y + vg.Length(r*(sin+out*cos))})
	}
	n := max(1, math.Ceil(math.Abs(step.Angle)/(math.Pi/4)))
	each := step.Angle / n
	out := 4.0 / 3 * math.Tan(each/4)
	x, y := on(step.Start, 0)
	c.doc.LineTo(x, y)
	for i := range int(n) {
		from := step.Start + float64(i)*each
		ax, ay := on(from, out)
		bx, by := on(from+each, -out)
		x, y = on(from+each, 0)
		c.doc.CurveBezierCubicTo(ax, ay, bx, by, x, y)
	}
	return vg.Point{X: vg.Length(x), Y: c.height - vg.Length(y)}
}

// FillString sets text with the left end of its baseline at a point.
func (c *Canvas) FillString(f font.Face, pt vg.Point, text string) {
	style := Regular
	switch {
	case f.Font.Weight == xfont.WeightBold:
		style = Bold
	case f.Font.Style == xfont.StyleItalic:
		style = Italic
	}
	c.Text(style, f.Font.Size, pt, text)
}

// Text sets text in a cut.
func (c *Canvas) Text(s Style, size vg.Length, pt vg.Point, text string) {
	if size <= 0 || text == "" {
		return
	}
	r, g, b := rgb(c.pen().colour)
	c.doc.SetFillColor(r, g, b)
	c.doc.SetTextColor(r, g, b)
	c.doc.SetFont(Family, letters[s], float64(size))
	x, y := c.place(pt)
	c.doc.Text(x, y, settable(text))
}

// DrawImage is refused: nothing of ours draws pictures, and the document's Bytes say so.
func (c *Canvas) DrawImage(vg.Rectangle, image.Image) {
	c.doc.SetError(errors.New("a picture on a PDF page"))
}

// place turns a point of the canvas to fpdf's, which counts down from the top.
func (c *Canvas) place(pt vg.Point) (x, y float64) { return float64(pt.X), float64(c.height - pt.Y) }

func rgb(x color.Color) (r, g, b int) {
	n := color.NRGBAModel.Convert(x).(color.NRGBA)
	return int(n.R), int(n.G), int(n.B)
}
