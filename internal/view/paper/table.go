//go:build !js

package paper

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Table is a table of finished words.
type Table struct {
	Title     string
	Continued string // the title on the pages after the first
	Lead      string // how to read it
	Columns   []Column
	Rows      []Row
	Notes     []Note
	Wide      bool // over the whole width: the last column of words takes what the others leave
}

// Column is the head of a column; Right sets numbers to the right.
type Column struct {
	Head, Unit string
	Right      bool
}

// Row is one row, with a cell a column. A Strong one is bold, a Dim one pale.
type Row struct {
	Cells       []Cell
	Strong, Dim bool
}

// Cell is one cell: its text, the marks of its footnotes, and in a column of numbers the interval of the number,
// which stands beside or under it.
type Cell struct{ Text, Marks, Within string }

// Note is a footnote; a general one has no mark.
type Note struct{ Mark, Text string }

// grid is a table laid out: widths of its columns, and how its numbers stand in them.
type grid struct {
	Table
	size  vg.Length
	wide  []vg.Length
	under []bool      // intervals of this column stand under their numbers
	side  []vg.Length // room for an interval beside the number
	marks []vg.Length // room for marks behind the number
	lines [][][]string
	tall  []vg.Length // height of each row
	head  [][]string
}

const (
	leading = 1.32 // of a table's lines
	between = 0.36 // two of its rows
	markAt  = 0.68 // size of a mark, of that of its text
)

// gap is the space between two columns.
func (g *grid) gap() vg.Length {
	if len(g.Columns) > 8 {
		return g.size
	}
	return g.size * 1.3
}

func (g *grid) markWidth(marks string) vg.Length {
	if marks == "" {
		return 0
	}
	return Regular.Width("\u2009"+marks, g.size*markAt)
}

func (r Row) style() Style {
	if r.Strong {
		return Bold
	}
	return Regular
}

// words is the width of the longest word of a text.
func words(s Style, size vg.Length, text string) (w vg.Length) {
	for word := range strings.SplitSeq(text, " ") {
		w = max(w, s.Width(word, size))
	}
	return w
}

// layout finds the size and the widths at which a table fits a width and is shortest: intervals beside or under
// their numbers, text wrapped. Text is broken inside words only where nothing else helps.
func layout(t Table, size, least, width vg.Length) *grid {
	for ; ; size -= 0.5 {
		var best *grid
		for _, under := range []bool{false, true} {
			g, ok := fit(t, size, width, under, size-0.5 < least)
			if ok && (best == nil || g.height() < best.height()-0.1) {
				best = g
			}
		}
		if best != nil {
			return best
		}
	}
}

func fit(t Table, size, width vg.Length, under, force bool) (*grid, bool) {
	n := len(t.Columns)
	g := &grid{Table: t, size: size, wide: make([]vg.Length, n), under: make([]bool, n), side: make([]vg.Length, n),
		marks: make([]vg.Length, n)}
	least, ideal := make([]vg.Length, n), make([]vg.Length, n)
	spare := width - g.gap()*vg.Length(n-1)
	for i, c := range t.Columns {
		number := vg.Length(0)
		for _, r := range t.Rows {
			x := r.Cells[i]
			if c.Right {
				number = max(number, r.style().Width(x.Text, size))
				g.marks[i] = max(g.marks[i], g.markWidth(x.Marks))
				if x.Within != "" {
					g.side[i] = max(g.side[i], Regular.Width(x.Within, size*0.92))
				}
				continue
			}
			m := g.markWidth(x.Marks)
			least[i] = max(least[i], words(r.style(), size, x.Text)+m)
			ideal[i] = max(ideal[i], r.style().Width(x.Text, size)+m)
		}
		if c.Right {
			g.under[i] = under && g.side[i] > 0
			least[i] = number + g.marks[i]
			switch {
			case g.under[i]:
				least[i] = max(least[i], g.side[i]+g.marks[i])
			case g.side[i] > 0:
				least[i] += size*0.35 + g.side[i]
			}
		}
		head := c.Head
		if c.Right { // in a narrow column of numbers its words may break at hyphens
			head = strings.ReplaceAll(head, "-", "- ")
		}
		least[i] = max(least[i], words(Italic, size, head), words(Italic, size*0.92, c.Unit))
		if c.Right {
			ideal[i] = max(least[i], min(Italic.Width(c.Head, size), max(least[i]*1.6, words(Italic, size, c.Head))))
		}
		ideal[i] = max(ideal[i], least[i])
		if !c.Right {
			ideal[i] = max(ideal[i], Italic.Width(c.Head, size))
		}
		g.wide[i] = least[i]
		spare -= least[i]
	}
	if spare < 0 {
		if !force {
			return nil, false
		}
		for round := 0; spare < 0 && round < 200; round++ { // the widest column of text gives way
			widest := 0
			for i := range g.wide {
				if g.wide[i] > g.wide[widest] && (!t.Columns[i].Right || t.Columns[widest].Right) ||
					t.Columns[widest].Right && !t.Columns[i].Right && g.wide[i] > 4*size {
					widest = i
				}
			}
			g.wide[widest] -= min(-spare, size)
			spare += min(-spare, size)
		}
	}
	for _, text := range []bool{true, false} { // text first, then heads; each time to the column that lacks most
		for spare > 0 {
			lacks := -1
			for i, c := range t.Columns {
				if c.Right != text && g.wide[i] < ideal[i]-0.01 &&
					(lacks < 0 || ideal[i]-g.wide[i] > ideal[lacks]-g.wide[lacks]) {
					lacks = i
				}
			}
			if lacks < 0 {
				break
			}
			d := min(2, spare, ideal[lacks]-g.wide[lacks])
			g.wide[lacks] += d
			spare -= d
		}
	}
	for i := range g.wide {
		g.wide[i] += 0.01 // a text measured in two parts must still fit
	}
	g.trade(least)
	for i, c := range t.Columns {
		h := Lines(Italic, size, c.Head, g.wide[i])
		if c.Unit != "" {
			h = append(h, Lines(Italic, size*0.92, c.Unit, g.wide[i])...)
		}
		g.head = append(g.head, h)
	}
	for _, r := range t.Rows {
		var cells [][]string
		most := 1
		for i := range t.Columns {
			l := g.cell(r, i)
			cells = append(cells, l)
			most = max(most, len(l))
		}
		g.lines = append(g.lines, cells)
		g.tall = append(g.tall, size*(leading*vg.Length(most)+between))
	}
	return g, true
}

// cell is a cell in lines.
func (g *grid) cell(r Row, i int) []string {
	x := r.Cells[i]
	switch {
	case !g.Columns[i].Right:
		l := Lines(r.style(), g.size, x.Text, g.wide[i])
		if m := g.markWidth(x.Marks); m > 0 && r.style().Width(l[len(l)-1], g.size)+m > g.wide[i] {
			l = Lines(r.style(), g.size, x.Text, g.wide[i]-m)
		}
		return l
	case g.under[i] && x.Within != "":
		return []string{x.Text, x.Within}
	}
	return []string{x.Text}
}

// trade moves width between columns of text as long as that saves lines.
func (g *grid) trade(least []vg.Length) {
	known := map[int]map[vg.Length][]int{} // lines of each row, by column and width
	count := func(i int) []int {
		if known[i] == nil {
			known[i] = map[vg.Length][]int{}
		}
		n, ok := known[i][g.wide[i]]
		if !ok {
			for _, r := range g.Rows {
				n = append(n, len(g.cell(r, i)))
			}
			known[i][g.wide[i]] = n
		}
		return n
	}
	height := func() (sum int) {
		most := make([]int, len(g.Rows))
		for i := range g.wide {
			for k, n := range count(i) {
				most[k] = max(most[k], n)
			}
		}
		for _, n := range most {
			sum += n
		}
		return sum
	}
	high := height()
	for before := high + 1; high < before; {
		before = high
		for to := range g.wide {
			for from := range g.wide {
				if to == from || g.Columns[to].Right || g.Columns[from].Right {
					continue
				}
				for d := g.size; d <= g.wide[from]-least[from]; d += g.size {
					was := [2]vg.Length{g.wide[from], g.wide[to]}
					g.wide[from], g.wide[to] = was[0]-d, was[1]+d
					if h := height(); h < high {
						high = h
						break
					}
					g.wide[from], g.wide[to] = was[0], was[1]
				}
			}
		}
	}
}

func (g *grid) height() (h vg.Length) {
	for _, t := range g.tall {
		h += t
	}
	return h + g.headHeight()
}

// stretch gives room to heads that are broken, and the rest of it to the last column of words.
func (g *grid) stretch(room vg.Length) {
	last := 0
	for i, c := range g.Columns {
		if !c.Right {
			last = i
		}
		if more := Italic.Width(c.Head, g.size) + 0.1 - g.wide[i]; more > 0 && more <= room {
			g.wide[i] += more
			room -= more
			h := []string{c.Head}
			if c.Unit != "" {
				h = append(h, Lines(Italic, g.size*0.92, c.Unit, g.wide[i])...)
			}
			g.head[i] = h
		}
	}
	g.wide[last] += max(0, room)
}

func (g *grid) headHeight() vg.Length {
	most := 0
	for _, h := range g.head {
		most = max(most, len(h))
	}
	return g.size * (leading*vg.Length(most) + 0.9)
}

// across is the width of the whole table.
func (g *grid) across() vg.Length {
	w := g.gap() * vg.Length(len(g.wide)-1)
	for _, x := range g.wide {
		w += x
	}
	return w
}

// ready is a table laid out: its rows, title and notes, and how tall these are.
func (f *Flow) ready(t Table) (g *grid, title caption, notes []laid, noteTall vg.Length) {
	g = layout(t, f.Look.Table, f.Least, f.inner())
	if t.Wide {
		g.stretch(f.inner() - g.across())
	}
	title = f.titled(t.Title, t.Lead)
	g.split(max(1, int((f.whole()-title.tall-g.headHeight())/(g.size*leading))-2))
	notes, noteTall = f.notes(t.Notes)
	return g, title, notes, noteTall
}

// Tables sets tables, two beside each other where they are narrow.
func (f *Flow) Tables(list ...Table) {
	for len(list) > 0 {
		n := 1
		if len(list) > 1 && f.pair(list[0], list[1]) {
			n = 2
		} else {
			f.Table(list[0])
		}
		list = list[n:]
	}
}

// pair sets two tables beside each other; false where one of them would be the worse for it, or both take more than
// half a page.
func (f *Flow) pair(a, b Table) bool {
	gap, tall := f.Body*2.4, vg.Length(0)
	width := f.Width
	for _, t := range []Table{a, b} {
		wide := layout(t, f.Look.Table, f.Least, f.inner())
		f.Width -= (f.inner() + gap) / 2
		g, title, _, notes := f.ready(t)
		f.Width = width
		if len(t.Columns) == 0 || g.size < wide.size || g.height() > wide.height()+0.1 {
			return false
		}
		tall = max(tall, title.tall+g.height()+notes)
	}
	if tall > f.whole()/2 {
		return false
	}
	f.Space(f.Body)
	f.begin(tall)
	f.Beside(gap, Lane{1, func() { f.Table(a) }}, Lane{1, func() { f.Table(b) }})
	return true
}

// Table sets a table: its title, how to read it, its head on every page it takes, its rows and notes.
func (f *Flow) Table(t Table) {
	if len(t.Columns) == 0 {
		return
	}
	g, title, notes, noteTall := f.ready(t)
	f.Space(f.Body)
	start := title.tall + g.headHeight()
	all := title.tall + g.height() + noteTall
	switch {
	case all <= f.room() || all+f.over() <= f.whole()*f.Whole: // in one piece
		f.begin(all)
	default: // its head, and three rows at the least
		for _, h := range g.tall[:min(3, len(g.tall))] {
			start += h
		}
		f.begin(start)
	}
	f.Within(TagTable, "", func() { f.grid(g, t, title, noteTall) })
	f.y += f.Note * 0.5
	for _, n := range notes {
		f.Within(TagPara, "", func() { f.note(n) })
	}
	f.y += f.Body * 0.9
}

// grid sets the title, the head and the rows of a table.
func (f *Flow) grid(g *grid, t Table, title caption, noteTall vg.Length) {
	f.Within(TagCaption, "", title.set)
	if len(t.Rows) > 0 {
		f.Within(TagRow, "", func() { f.gridHead(g) })
	}
	for k := range g.Rows {
		need := g.tall[k]
		if k == len(g.Rows)-2 { // the last two stay together, and with the notes where that is little
			need += g.tall[k+1]
		}
		if k >= len(g.Rows)-2 && noteTall < f.whole()/4 {
			need += noteTall
		}
		if k > 0 && need > f.room()+0.01 {
			f.Break()
			for !f.fresh && need+title.tall+g.headHeight() > f.room() { // a figure had waited
				f.Break()
			}
			f.Aside(func() {
				f.titled(t.Continued, "").set()
				f.gridHead(g)
			})
		}
		f.Within(TagRow, "", func() { f.gridRow(g, k) })
	}
	if len(t.Rows) > 0 {
		f.rule(0.7, f.Ink, f.Side, f.Side+g.across(), f.y)
	}
}

func (f *Flow) note(n laid) {
	f.begin(f.Note * 1.36 * vg.Length(min(len(n.lines), 3)))
	if n.Mark != "" {
		f.text(Regular, f.Note, f.Accent, f.Side, f.y+f.Note, n.Mark)
	}
	for _, l := range n.lines {
		f.begin(f.Note * 1.36)
		f.line(Regular, f.Note, f.Faint, f.Side+n.indent, l, 1.36)
	}
}

// caption is a table's title and how to read it, ready to be set.
type caption struct {
	tall vg.Length
	set  func()
}

func (f *Flow) titled(title, lead string) caption {
	var lines []string
	if title != "" {
		lines = Lines(f.Titles, f.Caption, title, f.inner())
	}
	var leads []string
	if lead != "" {
		leads = Lines(Regular, f.Note, lead, min(f.Measure*1.1, f.inner()))
	}
	tall := f.Caption*1.3*vg.Length(len(lines)) + f.Note*1.36*vg.Length(len(leads)) + f.Note*0.5
	return caption{tall, func() {
		for _, l := range lines {
			f.line(f.Titles, f.Caption, f.Ink, f.Side, l, 1.3)
		}
		for _, l := range leads {
			f.line(Regular, f.Note, f.Faint, f.Side, l, 1.36)
		}
		f.y += f.Note * 0.5
	}}
}

// laid is a footnote in lines.
type laid struct {
	Note
	indent vg.Length
	lines  []string
}

func (f *Flow) notes(notes []Note) (list []laid, tall vg.Length) {
	indent := vg.Length(0)
	for _, n := range notes {
		if n.Mark != "" {
			indent = max(indent, Regular.Width(n.Mark, f.Note)+f.Note*0.5)
		}
	}
	for _, n := range notes {
		x := laid{Note: n}
		if n.Mark != "" {
			x.indent = indent
		}
		x.lines = Lines(Regular, f.Note, n.Text, min(f.Measure*1.1, f.inner())-x.indent)
		tall += f.Note * 1.36 * vg.Length(len(x.lines))
		list = append(list, x)
	}
	return list, tall + f.Note*0.5
}

// split parts rows of more than n lines, so that none is taller than a page.
func (g *grid) split(n int) {
	for k := 0; k < len(g.Rows); k++ {
		lines := int(math.Round(float64((g.tall[k]/g.size - between) / leading)))
		if lines <= n {
			continue
		}
		r := g.Rows[k]
		first, rest := r, r
		first.Cells, rest.Cells = slices.Clone(r.Cells), slices.Clone(r.Cells)
		above, below := make([][]string, len(r.Cells)), make([][]string, len(r.Cells))
		for i, l := range g.lines[k] {
			above[i] = l[:min(n, len(l))]
			if len(l) > n {
				below[i], first.Cells[i].Marks = l[n:], ""
			} else {
				below[i], rest.Cells[i] = []string{""}, Cell{}
			}
		}
		g.Rows = slices.Replace(g.Rows, k, k+1, first, rest)
		g.lines = slices.Replace(g.lines, k, k+1, above, below)
		g.tall = slices.Replace(g.tall, k, k+1, g.size*(leading*vg.Length(n)+between),
			g.size*(leading*vg.Length(lines-n)+between))
	}
}

// gridHead sets the heads of the columns between two rules, each at the foot of its space.
func (f *Flow) gridHead(g *grid) {
	f.rule(1.2, f.Ink, f.Side, f.Side+g.across(), f.y)
	tall := g.headHeight()
	x := f.Side
	for i, h := range g.head {
		c := g.Columns[i]
		units := 0
		if c.Unit != "" {
			units = len(Lines(Regular, g.size*0.92, c.Unit, g.wide[i]))
		}
		y := f.y + tall - g.size*(leading*vg.Length(len(h))+0.45)
		f.Within(TagHead, "", func() {
			for k, l := range h {
				size, colour := g.size, f.Ink
				if k >= len(h)-units {
					size, colour = g.size*0.92, f.Faint
				}
				at := x
				if c.Right {
					at = x + g.wide[i] - Italic.Width(l, size)
				}
				f.text(Italic, size, colour, at, y+g.size, l)
				y += g.size * leading
			}
		})
		x += g.wide[i] + g.gap()
	}
	f.y += tall
	f.rule(0.5, f.Ink, f.Side, f.Side+g.across(), f.y)
	f.fresh = false
}

func (f *Flow) gridRow(g *grid, k int) {
	size := g.size
	if k > 0 {
		f.rule(0.4, f.Rule, f.Side, f.Side+g.across(), f.y)
	}
	x := f.Side
	top := f.y + size*(1+between/2)
	for i := range g.Columns {
		f.Within(TagCell, "", func() { f.gridCell(g, k, i, x, top) })
		x += g.wide[i] + g.gap()
	}
	f.y += g.tall[k]
	f.fresh = false
}

func (f *Flow) gridCell(g *grid, k, i int, x, top vg.Length) {
	r, c, size := g.Rows[k], g.Columns[i], g.size
	style, cell, ink := r.style(), r.Cells[i], f.Ink
	if r.Dim {
		ink = f.Faint
	}
	switch {
	case !c.Right:
		y := top
		l := g.lines[k][i]
		for j, text := range l {
			f.text(style, size, ink, x, y, text)
			if j == len(l)-1 {
				f.mark(g, cell.Marks, x+style.Width(text, size), y)
			}
			y += size * leading
		}
	default:
		right := x + g.wide[i] - g.marks[i]
		if !g.under[i] && g.side[i] > 0 {
			right -= size*0.35 + g.side[i]
		}
		f.text(style, size, ink, right-style.Width(cell.Text, size), top, cell.Text)
		f.mark(g, cell.Marks, right, top)
		if cell.Within != "" {
			w := Regular.Width(cell.Within, size*0.92)
			if g.under[i] {
				f.text(Regular, size*0.92, f.Faint, right-w, top+size*leading, cell.Within)
			} else {
				f.text(Regular, size*0.92, f.Faint, x+g.wide[i]-g.side[i], top, cell.Within)
			}
		}
	}
}

// mark sets the marks of footnotes, raised, with a thin space before them so that copied text keeps them apart.
func (f *Flow) mark(g *grid, marks string, x, baseline vg.Length) {
	if marks != "" {
		f.text(Regular, g.size*markAt, f.Accent, x, baseline-g.size*0.34, "\u2009"+marks)
	}
}
