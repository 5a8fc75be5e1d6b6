package figure

import (
	"cmp"
	"strings"

	"gonum.org/v1/plot/vg"

	"spile/internal/view/paper"
)

// board is a sheet being laid out for a size.
type board struct {
	*Sheet
	Words
	size                       Size
	margin                     vg.Length
	left, edge                 vg.Length // the edges of what may be drawn on
	y                          vg.Length // the top of what is still free
	gap                        vg.Length // between blocks
	terse                      bool      // an entry of a key takes one line
	rows                       int       // that a key may take on a slide; 0: three
	hair                       vg.Length // the thinnest stroke
	heading, bold, base, small pen
	note                       pen // footnote numbers
}

// slideHeight is the height of a 16:9 slide 13.33 in wide.
const slideHeight = 540

// newBoard begins a figure with its title.
func newBoard(size Size, w Words) *board {
	b := &board{Sheet: &Sheet{title: w.Title, desc: w.Desc}, Words: w, size: size}
	if b.Number == nil {
		b.Number = english
	}
	switch size {
	case Slide:
		b.Width, b.Height, b.margin, b.gap, b.hair = 960, slideHeight, 30, 10, 1.25
		b.heading = pen{paper.Bold, 30}
		b.bold, b.base, b.small, b.note = pen{paper.Bold, 24}, pen{paper.Regular, 24}, pen{paper.Regular, 24},
			pen{paper.Italic, 24}
	case Phone:
		b.Width, b.margin, b.gap, b.hair = 270, 8, 7, 0.6
		b.heading = pen{paper.Bold, 12}
		b.bold, b.base, b.small, b.note = pen{paper.Bold, 10}, pen{paper.Regular, 10}, pen{paper.Regular, 9.25},
			pen{paper.Italic, 9.25}
	default:
		b.Width, b.margin, b.gap, b.hair = 540, 12, 8, 0.6
		b.heading = pen{paper.Bold, 13.5}
		b.bold, b.base, b.small, b.note = pen{paper.Bold, 10.5}, pen{paper.Regular, 10.5}, pen{paper.Regular, 9.75},
			pen{paper.Italic, 9.75}
	}
	b.left, b.edge, b.y = b.margin, b.Width-b.margin, b.margin
	if b.Title != "" {
		b.block(b.heading, ink, b.Title, b.most(2))
		b.y += b.gap / 2
		b.headed, b.below = len(b.marks), b.y
	}
	return b
}

// axis says what an axis measures, which on a slide stands among the entries of the key: it gives the first of these.
func (b *board) axis(words string) []sample {
	if b.size == Slide {
		return []sample{{text: words}}
	}
	b.block(b.base, ink, words, 0)
	b.y += b.gap / 2
	return nil
}

// done closes the sheet below the last block.
func (b *board) done() *Sheet {
	if b.size != Slide {
		b.Height = b.y + b.margin
	}
	return b.Sheet
}

// most is the number of lines that a text may take: a slide has no room without end.
func (b *board) most(lines int) int {
	if b.size == Slide {
		return lines
	}
	return 0
}

// Strokes, in hairs.
var (
	dashes  = []vg.Length{7, 5}     // of what no study supports
	dots    = []vg.Length{1.6, 3.2} // of a level
	ranged  = []vg.Length{5, 3.5}   // of a range behind an estimate, or a part of a mean
	outside = []vg.Length{4, 3}     // of what is no part of the estimate
)

// stroke draws along a path; its width and dashes are in hairs, the thinnest stroke of the size.
func (b *board) stroke(c Colour, width vg.Length, dash []vg.Length, p vg.Path) {
	if len(p) == 0 {
		return
	}
	m := mark{colour: c, path: p, width: width * b.hair}
	for _, d := range dash {
		m.dash = append(m.dash, d*b.hair)
	}
	b.add(m)
}

func (b *board) line(c Colour, width vg.Length, dash []vg.Length, points ...vg.Point) {
	b.stroke(c, width, dash, trace(points...))
}

// across is a level line, and down an upright one.
func (b *board) across(c Colour, width vg.Length, dash []vg.Length, x0, x1, y vg.Length) {
	b.line(c, width, dash, at(x0, y), at(x1, y))
}

func (b *board) down(c Colour, width vg.Length, dash []vg.Length, x, y0, y1 vg.Length) {
	b.line(c, width, dash, at(x, y0), at(x, y1))
}

// block sets a paragraph and moves below it.
func (b *board) block(p pen, c Colour, text string, most int) {
	for _, l := range p.wrap(text, b.edge-b.left, most) {
		b.text(p, c, b.left, b.y+p.rise(), l)
		b.y += p.lead()
	}
}

// wrap breaks a text into lines no wider than a width: at spaces, behind hyphens and slashes, and where a word alone is
// too wide, inside it. With most > 0 there are no more lines than that, and the last says by an ellipsis that words are
// missing.
func (p pen) wrap(text string, width vg.Length, most int) []string {
	var lines []string
	line := ""
	put := func(piece string) {
		if p.of(strings.TrimRight(line+piece, " ")) <= width {
			line += piece
			return
		}
		if t := strings.TrimRight(line, " "); t != "" {
			lines = append(lines, t)
		}
		line = ""
		for _, r := range piece {
			if line != "" && p.of(line+string(r)) > width && r != ' ' {
				lines = append(lines, line)
				line = ""
			}
			line += string(r)
		}
	}
	start := 0
	text = strings.TrimSpace(text)
	for i, r := range text {
		if r == ' ' || r == '-' || r == '/' {
			put(text[start : i+1])
			start = i + 1
		}
	}
	put(text[start:])
	if t := strings.TrimRight(line, " "); t != "" {
		lines = append(lines, t)
	}
	if most > 0 && len(lines) > most {
		lines = lines[:most]
		last := []rune(lines[most-1])
		for len(last) > 0 && p.of(string(last)+"…") > width {
			last = last[:len(last)-1]
		}
		short := string(last)
		if i := strings.LastIndexByte(short, ' '); i > len(short)*6/10 { // between words, unless too much were lost
			short = short[:i]
		}
		lines[most-1] = strings.TrimRight(short, " ,;:(") + "…"
	}
	return lines
}

// clip shortens a number's words that are wider than its column; only absurd ones are.
func (p pen) clip(text string, width vg.Length) string {
	if p.of(text) <= width+0.01 {
		return text
	}
	return p.wrap(text, width, 1)[0]
}

// widest is the width of the widest word that wrap would keep whole.
func (p pen) widest(text string) vg.Length {
	var w vg.Length
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '/' }) {
		for _, part := range strings.SplitAfter(word, "-") {
			w = max(w, p.of(part))
		}
	}
	return w
}

// sample is an entry of a key: a small drawing and its words.
type sample struct {
	width vg.Length
	draw  func(x, mid vg.Length) // x: left end, mid: height of the middle
	text  string
}

// key sets samples in rows, breaking where a row is full. It reports false where a slide has no room for all of them.
func (b *board) key(samples []sample) (all bool) {
	all = true
	p, from, to, most := b.small, b.left, b.edge, b.most(cmp.Or(b.rows, 3))
	between, space := p.size*1.1, p.size*0.45
	x, rows, open := from, 0, false
	for _, s := range samples {
		if strings.TrimSpace(s.text) == "" {
			continue
		}
		indent := s.width
		if s.width > 0 {
			indent += space
		}
		if open && x+indent+p.of(s.text) > to {
			b.y += p.lead()
			x, open = from, false
		}
		if !open {
			rows++
			if most > 0 && rows > most {
				b.y += b.gap / 2
				return false
			}
		}
		words := 2
		if b.terse {
			words = 1
		}
		lines := p.wrap(s.text, to-x-indent, b.most(words))
		all = all && !strings.HasSuffix(lines[len(lines)-1], "…")
		if s.draw != nil {
			s.draw(x, b.y+p.rise()-p.size*0.25)
		}
		for i, l := range lines {
			if i > 0 {
				b.y += p.lead()
			}
			b.text(p, ink, x+indent, b.y+p.rise(), l)
		}
		open = true
		x += indent + p.of(lines[len(lines)-1]) + between
		if len(lines) > 1 {
			b.y += p.lead()
			x, open = from, false
		}
	}
	if open {
		b.y += p.lead()
	}
	if rows > 0 {
		b.y += b.gap / 2
	}
	return all
}

// footnotes sets the notes that are used, numbered from 1, in running rows. It reports false where a slide has no room
// for all of them in full.
func (b *board) footnotes(used map[int]bool) bool {
	var samples []sample
	for i, n := range b.Notes {
		if !used[i+1] {
			continue
		}
		no := numeral(i + 1)
		p := b.note
		samples = append(samples, sample{width: p.of(no) - b.small.size*0.25, text: n, draw: func(x, mid vg.Length) {
			b.text(p, accent, x, mid+b.small.size*0.25-b.lift(), no)
		}})
	}
	return b.key(samples)
}

// tall is the height that a block would take, without drawing it.
func (b *board) tall(draw func()) vg.Length {
	y, n := b.y, len(b.marks)
	draw()
	height := b.y - y
	b.y, b.marks = y, b.marks[:n]
	return height
}

// lift is how far a footnote number stands above the baseline of its text.
func (b *board) lift() vg.Length {
	if b.size == Slide {
		return 0
	}
	return b.small.size * 0.3
}

// aside is the space before a footnote number, wider where the number is as large as the text before it.
func (b *board) aside() vg.Length {
	if b.size == Slide {
		return b.small.size * 0.35
	}
	return 1
}

// numeral writes a small whole number.
func numeral(n int) string { return english(float64(n), 0) }

// marksText is footnote numbers in words: "1,4".
func marksText(marks []int) string {
	var t []string
	for _, m := range marks {
		t = append(t, numeral(m))
	}
	return strings.Join(t, ",")
}

// gridX draws the upright lines of a horizontal scale from top to bottom, the one at zero stronger.
func (b *board) gridX(s scale, top, bottom vg.Length) {
	var p vg.Path
	ticks, _ := b.ticksX(s)
	for _, v := range ticks {
		if v == 0 {
			continue
		}
		x := s.at(v)
		p.Move(at(x, top))
		p.Line(at(x, bottom))
	}
	b.stroke(rule, 1, nil, p)
	if s.holds(0) {
		b.down(faint, 1.5, nil, s.at(0), top, bottom)
	}
}

// ticksX are the ticks of a horizontal scale whose numbers stand clear of each other.
func (b *board) ticksX(s scale) ([]float64, int) {
	length := s.to - s.from
	for n := int(length / (b.small.size * 1.2)); n >= 1; n-- {
		ticks, decimals := s.ticks(n)
		end := vg.Length(-1e9)
		clear := true
		for _, v := range ticks {
			w := b.small.of(b.Number(v, decimals))
			if s.at(v)-w/2 < end+b.small.size*0.9 {
				clear = false
				break
			}
			end = s.at(v) + w/2
		}
		if clear {
			return ticks, decimals
		}
	}
	return nil, 0
}

// numbersX writes the numbers of a horizontal scale on one row; numbers that would leave the edges are left out.
func (b *board) numbersX(s scale, baseline, from, to vg.Length) {
	ticks, decimals := b.ticksX(s)
	for _, v := range ticks {
		t := b.Number(v, decimals)
		w := b.small.of(t)
		if x := s.at(v); x-w/2 >= from && x+w/2 <= to {
			b.centre(b.small, faint, x, baseline, t)
		}
	}
}

// leftWords says that so many rows are left out or not named; nothing where there are none.
func (b *board) leftWords(rows int) string {
	if rows == 0 || b.Left == nil {
		return ""
	}
	return b.Left(rows)
}

// namesFor wraps the names of a slide's rows into a column: in up to three lines and in rows of a good height, or in
// fewer lines and in lower rows where otherwise not every row would have room. Rows that have none even so are left
// out.
func (b *board) namesFor(names []string, p pen, width, good, room vg.Length) (lines [][]string, heights []vg.Length) {
	low := p.lead()
	for _, try := range []struct {
		most       int
		least, pad vg.Length
	}{{3, good, 4}, {2, good, 4}, {2, low, 2}, {1, good, 4}, {1, low, 0}} {
		lines, heights = nil, nil
		used := vg.Length(0)
		for _, n := range names {
			l := p.wrap(n, width, try.most)
			h := max(vg.Length(len(l))*low+try.pad, try.least)
			if used += h; used > room {
				break
			}
			lines, heights = append(lines, l), append(heights, h)
		}
		if len(lines) == len(names) {
			break
		}
	}
	return lines, heights
}

// lanes are the heights, within a row of a folded slide, of the mark of its practice and of the ticks of its studies.
func lanes(row vg.Length) (mark, ticks vg.Length) { return min(22, row*0.6), min(12, row*0.3) }

// column sets lines in the middle of a row's height.
func (b *board) column(p pen, c Colour, x, top, height vg.Length, lines []string) {
	y := top + (height-vg.Length(len(lines))*p.lead())/2
	for _, l := range lines {
		b.text(p, c, x, y+p.rise(), l)
		y += p.lead()
	}
}
