//go:build !js

package paper

import (
	"image/color"
	"strconv"
	"strings"
	"unicode/utf8"

	"gonum.org/v1/plot/vg"
)

// Look is how a document is set: its page, margins, sizes of text and colours, all in points.
type Look struct {
	Width, Height     vg.Length
	Side, Top, Bottom vg.Length // margins
	Measure           vg.Length // the widest paragraph

	Heading, Lead, Body, Caption, Table, Note vg.Length // sizes of text
	Least                                     vg.Length // the smallest that a table too wide for the page is set in
	Titles                                    Style     // of headings and titles of tables
	Whole                                     vg.Length // the part of a page that a table may take and not be parted
	Floats                                    bool      // figures may wait for the next page; what follows fills this

	Ink, Faint, Rule, Accent color.Color
}

// Flow sets headings, paragraphs, tables and figures down the pages of a document. What belongs together stays
// together: a heading with what follows it, a figure whole, a table's head with its rows.
type Flow struct {
	*PDF
	Look
	canvas  *Canvas
	y       vg.Length // from the top of the page to where the next thing begins
	fresh   bool      // nothing stands on this page yet
	pending []string  // headings that wait for what they stand over
	waiting []func()  // figures that wait for the next page
	listed  []entry   // of the contents
	begun   map[string]int
	across  vg.Length // width of a page; Look.Width is less within a column

	Again string // heads each page that what is set runs over to; "": nothing does
}

// entry is a line of the contents, and where it stands.
type entry struct {
	name       string
	page       int
	x, edge, y vg.Length
}

// NewFlow begins a document with a first page.
func NewFlow(a About, l Look) *Flow {
	f := &Flow{PDF: NewPDF(a), Look: l, across: l.Width, begun: map[string]int{}}
	if f.Whole == 0 {
		f.Whole = 0.9
	}
	f.Break()
	return f
}

// inner is the width between the margins.
func (f *Flow) inner() vg.Length { return f.Width - 2*f.Side }

// room is how much of the page is left.
func (f *Flow) room() vg.Length { return f.Height - f.Bottom - f.y }

// whole is how much an empty page holds.
func (f *Flow) whole() vg.Length { return f.Height - f.Bottom - f.Top }

// Break begins a page, unless this one is empty.
func (f *Flow) Break() {
	if f.canvas != nil && f.fresh {
		return
	}
	f.canvas = f.Page(f.across, f.Height)
	f.y, f.fresh = f.Top, true
	if len(f.waiting) > 0 {
		heads := f.pending // they stand over what is to come
		f.pending = nil
		f.next()
		f.pending = heads
	}
}

// next sets the figure that has waited longest.
func (f *Flow) next() {
	set := f.waiting[0]
	f.waiting = f.waiting[1:]
	set()
}

// settle sets all figures that still wait.
func (f *Flow) settle() {
	for len(f.waiting) > 0 {
		f.next()
	}
}

// Pages is how many pages there are so far.
func (f *Flow) Pages() int { return f.doc.PageCount() }

// Lane is a part of the width, by its weight among those beside it, and what sets it.
type Lane struct {
	Weight float64
	Set    func()
}

// Beside sets columns beside each other, and goes on below the longest. They are for what fits the page.
func (f *Flow) Beside(gap vg.Length, columns ...Lane) {
	whole := 0.0
	for _, c := range columns {
		whole += c.Weight
	}
	side, width, top, fresh := f.Side, f.Width, f.y, f.fresh
	room := f.inner() - gap*vg.Length(len(columns)-1)
	x, low := side, top
	for _, c := range columns {
		w := room * vg.Length(c.Weight/whole)
		f.Side, f.Width, f.y, f.fresh = x, 2*x+w, top, fresh
		c.Set()
		x, low = x+w+gap, max(low, f.y)
	}
	f.Side, f.Width, f.y, f.fresh = side, width, low, false
}

// Set sets a paragraph over the whole width in a cut, size and colour of its own. In bold ink it is a heading.
func (f *Flow) Set(s Style, size vg.Length, c color.Color, text string) {
	kind := TagPara
	if s == Bold && (c == f.Ink || !f.tags.titled) {
		kind = f.Headed()
	}
	f.Within(kind, "", func() { f.paragraph(s, size, 1.25, c, "", text, f.inner()) })
	f.y += f.Body*0.35 - size*0.55
}

// Step is a paragraph with a number, or another mark, before it.
func (f *Flow) Step(mark, text string) {
	f.Within(TagPara, "", func() {
		f.paragraph(Regular, f.Body, 1.36, f.Ink, mark, text, min(f.Measure, f.inner()))
	})
}

// Across draws a stroke from margin to margin, and leaves room below it.
func (f *Flow) Across() {
	f.rule(0.8, f.Ink, f.Side, f.Width-f.Side, f.y)
	f.y += f.Body * 0.8
}

// Space leaves so much room, unless the page begins here.
func (f *Flow) Space(h vg.Length) {
	if !f.fresh {
		f.y += h
	}
}

// Lower begins a page that much below its head.
func (f *Flow) Lower(h vg.Length) {
	f.Break()
	f.y, f.fresh = f.y+h, false
}

// over is how much room the headings that wait take, at the head of a page.
func (f *Flow) over() (h vg.Length) {
	for _, head := range f.pending {
		h += f.Heading * (1.3*vg.Length(len(Lines(f.Titles, f.Heading, head, f.inner()))) + 0.55)
	}
	return h
}

// begin makes sure that h points are left, with the headings that wait above them, and sets those.
func (f *Flow) begin(h vg.Length) {
	size := f.Heading
	need := h + f.over()
	if !f.fresh && len(f.pending) > 0 {
		need += size * 1.2
	}
	for need > f.room()+0.01 && !f.fresh {
		f.Break()
		if f.Again != "" && len(f.pending) == 0 {
			f.pending = []string{f.Again}
		}
	}
	heads := f.pending
	f.pending = nil
	for _, head := range heads {
		f.Space(size * 1.2)
		f.Mark(head, f.Height-f.y)
		f.begun[head] = f.Pages()
		f.apart(f.Headed(), "", func() {
			for _, line := range Lines(f.Titles, size, head, f.inner()) {
				f.line(f.Titles, size, f.Ink, f.Side, line, 1.3)
			}
		})
		f.y += size * 0.55
	}
	f.fresh = false
}

// line sets one line of text and goes down by lead times its size.
func (f *Flow) line(s Style, size vg.Length, c color.Color, x vg.Length, text string, lead vg.Length) {
	f.text(s, size, c, x, f.y+size, text)
	f.y += size * lead
	f.fresh = false
}

// text sets text at a baseline measured from the top.
func (f *Flow) text(s Style, size vg.Length, c color.Color, x, baseline vg.Length, text string) {
	f.Marked(func() {
		f.canvas.SetColor(c)
		f.canvas.Text(s, size, vg.Point{X: x, Y: f.Height - baseline}, text)
	})
}

// rule draws a level stroke.
func (f *Flow) rule(width vg.Length, c color.Color, x0, x1, y vg.Length) {
	f.canvas.SetColor(c)
	f.canvas.SetLineWidth(width)
	f.canvas.SetLineDash(nil, 0)
	var p vg.Path
	p.Move(vg.Point{X: x0, Y: f.Height - y})
	p.Line(vg.Point{X: x1, Y: f.Height - y})
	f.Aside(func() { f.Marked(func() { f.canvas.Stroke(p) }) })
}

// Title sets the name of the document over a rule: the head of its first page.
func (f *Flow) Title(text string) {
	f.begin(f.Body * 3)
	f.Within(f.Headed(), "", func() { f.line(Italic, f.Body, f.Ink, f.Side, text, 1.6) })
	f.rule(0.8, f.Ink, f.Side, f.Width-f.Side, f.y)
	f.y += f.Body * 1.4
}

// Head begins a section; it is set with what follows.
func (f *Flow) Head(text string) {
	f.settle()
	f.pending = append(f.pending, text)
}

// Contents is a list of headings that are to come, in two columns; Feet writes their pages. One that never comes has
// none.
func (f *Flow) Contents(title string, heads []string) {
	half := (len(heads) + 1) / 2
	f.begin(f.Caption*2 + f.Body*1.4*vg.Length(half))
	f.Space(f.Body)
	f.Within(TagHeading, "", func() { f.line(f.Titles, f.Caption, f.Ink, f.Side, title, 1.5) })
	column := func(heads []string) Lane {
		return Lane{1, func() {
			for _, h := range heads {
				f.listed = append(f.listed, entry{h, f.Pages(), f.Side, f.Width - f.Side, f.y + f.Body})
				f.Within(TagPara, "", func() { f.line(Regular, f.Body, f.Ink, f.Side, h, 1.4) })
			}
		}}
	}
	f.Beside(f.Body*2.4, column(heads[:half]), column(heads[half:]))
	f.y += f.Body
}

// Kicker is a small italic word in the accent over what follows.
func (f *Flow) Kicker(text string) {
	f.begin(f.Body * 5)
	f.Within(TagPara, "", func() { f.line(Italic, f.Body, f.Accent, f.Side, text, 1.45) })
}

// Lede is a paragraph in the size of what matters most.
func (f *Flow) Lede(text string) {
	f.Within(TagPara, "", func() { f.paragraph(Regular, f.Lead, 1.36, f.Ink, "", text, f.inner()) })
}

// Para is a paragraph.
func (f *Flow) Para(text string) {
	f.Within(TagPara, "", func() {
		f.paragraph(Regular, f.Body, 1.42, f.Ink, "", text, min(f.Measure, f.inner()))
	})
}

// Quiet is a paragraph of lesser words.
func (f *Flow) Quiet(text string) {
	f.Within(TagPara, "", func() {
		f.paragraph(Regular, f.Note, 1.36, f.Faint, "", text, min(f.Measure, f.inner()))
	})
}

// Bullet is a paragraph with a mark before it.
func (f *Flow) Bullet(text string) {
	f.Within(TagPara, "", func() {
		f.paragraph(Regular, f.Body, 1.42, f.Ink, "–", text, min(f.Measure, f.inner()))
	})
}

func (f *Flow) paragraph(style Style, size, lead vg.Length, c color.Color, mark, text string, width vg.Length) {
	indent := vg.Length(0)
	if mark != "" {
		indent = Regular.Width(mark, size) + size*0.45
	}
	lines := Lines(style, size, text, width-indent)
	for i := 0; i < len(lines); {
		keep := 2 // lines that must stand together: two at the foot of a page, two at the head of the next
		if left := len(lines) - i; left <= 4 {
			keep = left
		}
		f.begin(size * lead * vg.Length(keep))
		if mark != "" && i == 0 {
			f.text(Regular, size, f.Accent, f.Side, f.y+size, mark)
		}
		for range keep {
			f.line(style, size, c, f.Side+indent, lines[i], lead)
			i++
		}
	}
	f.y += size * 0.55
}

// Figure sets a picture of a width and height whose own margin may reach into that of the page, so that what it shows
// stands flush with the text; it is made smaller where it would be wider than that or taller than the page, or so that
// it shares a page where a little is lacking. alt says it in words.
func (f *Flow) Figure(width, height, margin vg.Length, alt string, draw func(vg.Canvas)) {
	set := func(wait bool) bool {
		scale := min(1, (f.inner()+2*margin)/width, (f.whole()-f.over())/height)
		const little = 0.78 // its text stays above seven points
		if left := (f.room() - f.over() - f.Heading*1.2) / height; left < scale && left > little {
			scale = left
		}
		if wait && height*scale+f.over() > f.room() && f.room() > f.whole()*worth {
			return false
		}
		f.Space(f.Body * 0.4)
		f.begin(height * scale)
		f.picture(f.Side-margin*scale, f.Height-f.y-height*scale, scale, alt, draw)
		f.y += height*scale + f.Body
		return true
	}
	if len(f.waiting) > 0 || !set(f.Floats) {
		f.waiting = append(f.waiting, func() { set(false) })
	}
}

// worth is the part of a page that is worth filling with what follows a figure.
const worth = 0.15

// Rest sets a picture as Figure does, made as small as what is left of the page asks for; the page is full then. Its
// own margin may reach up to what stands over it.
func (f *Flow) Rest(width, height, margin vg.Length, alt string, draw func(vg.Canvas)) {
	scale := min(1, (f.inner()+2*margin)/width, (f.Height-f.y+margin)/height)
	f.picture((f.Width-width*scale)/2, f.Height-f.y+(margin-height)*scale, scale, alt, draw)
	f.y = f.Height
}

func (f *Flow) picture(x, y, scale vg.Length, alt string, draw func(vg.Canvas)) {
	f.apart(TagFigure, alt, func() {
		f.Marked(func() {
			f.canvas.Push()
			f.canvas.Translate(vg.Point{X: x, Y: y})
			f.canvas.Scale(float64(scale), float64(scale))
			draw(f.canvas)
			f.canvas.Pop()
		})
	})
	f.fresh = false
}

// numbers writes the pages of the contents, each behind a leader of dots.
func (f *Flow) numbers() {
	for _, e := range f.listed {
		page, found := f.begun[e.name]
		if !found {
			continue
		}
		f.canvas = f.again(e.page, f.Height)
		n := strconv.Itoa(page)
		from := e.edge - Regular.Width(n, f.Body)
		f.text(Regular, f.Body, f.Ink, from, e.y, n)
		dot := Regular.Width(" .", f.Body)
		if dots := int((from - f.Body*0.5 - e.x - Regular.Width(e.name, f.Body)) / dot); dots > 1 {
			leader := strings.Repeat(" .", dots-1)
			f.text(Regular, f.Body, f.Faint, from-f.Body*0.3-Regular.Width(leader, f.Body), e.y, leader)
		}
	}
}

// Feet sets a foot on every page: words to the left, and what number says of its page to the right.
func (f *Flow) Feet(left string, number func(page, of int) string) {
	f.settle()
	f.Aside(func() { f.feet(left, number) })
}

func (f *Flow) feet(left string, number func(page, of int) string) {
	f.numbers()
	pages := f.doc.PageCount()
	for i := 1; i <= pages; i++ {
		f.canvas = f.again(i, f.Height)
		at := f.Height - f.Bottom/2
		f.text(Italic, f.Note, f.Faint, f.Side, at, left)
		n := number(i, pages)
		f.text(Regular, f.Note, f.Faint, f.Width-f.Side-Regular.Width(n, f.Note), at, n)
	}
}

// Lines breaks text at its spaces, not at those that hold a number to its unit, into lines no wider than width. A
// word that is wider by itself is broken after a hyphen, slash, dot or underscore, or else anywhere.
func Lines(s Style, size vg.Length, text string, width vg.Length) []string {
	var lines []string
	line := ""
	for word := range strings.SplitSeq(text, " ") {
		if line != "" && s.Width(line+" "+word, size) <= width {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		for s.Width(word, size) > width {
			n := fitting(s, size, word, width)
			if n == len(word) {
				break
			}
			lines = append(lines, word[:n])
			word = word[n:]
		}
		line = word
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// fitting is how many bytes of a word fit a width: at least one character, and up to a hyphen or the like where one
// stands in the later half.
func fitting(s Style, points vg.Length, word string, width vg.Length) int {
	n, soft := 0, 0
	for n < len(word) {
		r, size := utf8.DecodeRuneInString(word[n:])
		if n > 0 && s.Width(word[:n+size], points) > width {
			break
		}
		n += size
		if strings.ContainsRune("-/._;,", r) {
			soft = n
		}
	}
	if soft > n/2 {
		return soft
	}
	return n
}
