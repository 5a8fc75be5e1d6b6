package report

import (
	"cmp"
	"image/color"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/view/paper"
	"spile/internal/view/say"
)

// Field is what the sheets for one season of a trial are made from.
type Field struct {
	Trial   trial.Trial // with its codes, where it is blind
	Season  int
	Set     practice.Set
	Hide    bool // codes stand for practices, so that who reads does not know them
	V       *say.Voice
	Version string
}

// Code is what stands for a unit's practice on hidden sheets.
func (f Field) Code(unit string) string { return f.codes()[unit] }

func (f Field) codes() map[string]string {
	codes := map[string]string{}
	r, _ := f.Trial.Record(f.Season)
	for _, p := range r.Plots {
		if p.Code != "" {
			codes[p.Unit] = p.Code
		}
	}
	return codes
}

// Check says whether there is anything to print. The error is note.Faults.
func (f Field) Check() error {
	r, ok := f.Trial.Record(f.Season)
	if !ok || len(r.Plots) == 0 {
		return note.Faults{note.New("the trial %s has no units in %d", f.Trial.Name, f.Season)}
	}
	if f.Hide && len(f.codes()) == 0 {
		return note.Faults{note.New("the trial %s was laid out without codes, so its sheets cannot hide the "+
			"practices; allowed: a design with codes (--blind)", f.Trial.Name)}
	}
	return nil
}

// Sizes of field sheets, in points: rows tall enough to write in with cold hands.
const (
	fieldMargin = 36
	fieldRow    = 26
	fieldText   = 10
	fieldSmall  = 8
	fieldTitle  = 15
	fieldDates  = 10
	fieldHead   = 40 // of the head over the columns
)

// fieldPage is a page of ruled boxes.
type fieldPage struct {
	doc           *paper.PDF
	c             *paper.Canvas
	width, height vg.Length
	y             vg.Length // where the next thing begins, from the top
	look          paper.Look
}

func (p *fieldPage) text(s paper.Style, size, x, y vg.Length, c color.Color, text string) {
	p.doc.Marked(func() {
		p.c.SetColor(c)
		p.c.Text(s, size, vg.Point{X: x, Y: p.height - y}, text)
	})
}

func (p *fieldPage) line(x1, y1, x2, y2 vg.Length, c color.Color, w vg.Length, dash ...vg.Length) {
	p.c.SetColor(c)
	p.c.SetLineWidth(w)
	p.c.SetLineDash(dash, 0)
	var path vg.Path
	path.Move(vg.Point{X: x1, Y: p.height - y1})
	path.Line(vg.Point{X: x2, Y: p.height - y2})
	p.doc.Aside(func() { p.doc.Marked(func() { p.c.Stroke(path) }) })
}

// fieldColumn is a column of a field sheet.
type fieldColumn struct {
	head  string
	width vg.Length // 0: what is left, shared evenly
	of    func(trial.Plot) string
}

// Sheets is the field sheets as a PDF, to be printed across: for each block a page of readings and one of its tap
// holes, then the map of the layout and tags to cut out.
func (f Field) Sheets() ([]byte, error) {
	if err := f.Check(); err != nil {
		return nil, err
	}
	v := f.V
	r, _ := f.Trial.Record(f.Season)
	title := v.Text("%s, %s", f.Trial.Name, v.Year(f.Season))
	doc := paper.NewPDF(paper.About{Title: title, Lang: v.Lang(), Creator: "spile " + f.Version})
	l := sheetOf(v)
	look := look()
	number := 0
	page := func(what string) *fieldPage {
		number++
		p := &fieldPage{doc: doc, c: doc.Page(l.Height, l.Width), width: l.Height, height: l.Width, look: look}
		doc.Within(doc.Headed(), "", func() {
			p.text(paper.Bold, fieldTitle, fieldMargin, fieldMargin+fieldTitle, look.Ink, title+"  ·  "+what)
		})
		foot := v.Text("sheet %d", number)
		if q := f.Trial.Question; q != nil {
			foot = v.Text("sheet %d; layout from seed %s", number, strconv.FormatUint(q.Seed, 10))
		}
		doc.Aside(func() {
			p.text(paper.Regular, fieldSmall, fieldMargin, p.height-fieldMargin+fieldSmall+6, look.Faint, foot)
		})
		p.y = fieldMargin + fieldTitle + 14
		return p
	}
	codes := f.codes()
	known := map[string]trial.Unit{}
	if q := f.Trial.Question; q != nil {
		for _, u := range q.Units {
			known[u.Name] = u
		}
	}
	who := fieldColumn{head: v.Text("practice"), width: 118,
		of: func(p trial.Plot) string { return f.practice(p.Practice) }}
	if f.Hide {
		who = fieldColumn{head: v.Text("code"), width: 44, of: func(p trial.Plot) string { return codes[p.Unit] }}
	}
	blank := func(trial.Plot) string { return "" }
	begin := []fieldColumn{
		{head: v.Text("unit"), width: 52, of: func(p trial.Plot) string { return p.Unit }}, who,
		{head: v.Text("taps"), width: 34, of: func(p trial.Plot) string { return strconv.Itoa(p.Taps) }},
	}
	readings := slices.Clone(begin)
	for range fieldDates {
		readings = append(readings, fieldColumn{of: blank})
	}
	holes := append(slices.Clone(begin),
		fieldColumn{head: v.Text("species"), width: 84, of: func(p trial.Plot) string { return known[p.Unit].Species }},
		fieldColumn{head: v.Text("diameter, cm"), of: func(p trial.Plot) string {
			if d := known[p.Unit].Diameter; d > 0 {
				return v.Decimal(d, 0)
			}
			return ""
		}},
		fieldColumn{head: v.Text("tapped on"), of: blank}, fieldColumn{head: v.Text("crew"), of: blank},
		fieldColumn{head: v.Text("bit"), of: blank},
		fieldColumn{head: v.Text("depth of the hole"), of: blank},
		fieldColumn{head: v.Text("shavings: white or stained"), of: blank},
		fieldColumn{head: v.Text("taps counted at the start"), of: blank},
		fieldColumn{head: v.Text("at pulling"), of: blank})
	blocks := blocksOf(r.Plots)
	for _, b := range blocks {
		name := v.Text("readings")
		if b[0].Block != "" {
			name = v.Text("block %s: readings", b[0].Block)
		}
		f.ruled(page, name, v.Text("Over each column the day and time, below it what was read: the counter, the "+
			"volume since the last reading (%s), or the depth of the tank. Write ≥ where a tank ran over. Leaks, "+
			"frozen or stopped units and resets are written below, with from and to.",
			v.VolumeUnit()), readings, b, true)
	}
	for _, b := range blocks {
		name := v.Text("tap holes")
		if b[0].Block != "" {
			name = v.Text("block %s: tap holes", b[0].Block)
		}
		f.ruled(page, name, v.Text("One block is worked in one day by one crew. A hole drilled again on the same "+
			"tree is written down as such, so that no tap is counted twice."), holes, b, false)
	}
	f.layoutMap(page, blocks)
	f.tags(page, r.Plots)
	return doc.Bytes()
}

func (f Field) practice(k practice.Key) string {
	if p, ok := f.Set.Find(k); ok {
		return f.V.Term(note.Term(p.Name))
	}
	return string(k)
}

func (f Field) label(p trial.Plot) string {
	if f.Hide {
		return f.V.Text("code %s", f.Code(p.Unit))
	}
	return f.practice(p.Practice)
}

// blocksOf parts plots by block, in the order in which blocks come.
func blocksOf(plots []trial.Plot) [][]trial.Plot {
	var names []string
	of := map[string][]trial.Plot{}
	for _, p := range plots {
		if len(of[p.Block]) == 0 {
			names = append(names, p.Block)
		}
		of[p.Block] = append(of[p.Block], p)
	}
	var list [][]trial.Plot
	for _, n := range names {
		list = append(list, of[n])
	}
	return list
}

// ruled sets a block's rows under columns, on as many pages as they take. A sheet of readings has more columns of days
// below, and what happened in what is left of the page.
func (f Field) ruled(page func(string) *fieldPage, name, lead string, columns []fieldColumn, plots []trial.Plot,
	readings bool) {
	for len(plots) > 0 {
		p := page(name)
		p.doc.Within(paper.TagPara, "", func() {
			for _, t := range paper.Lines(paper.Italic, fieldSmall+1, lead, p.width-2*fieldMargin) {
				p.text(paper.Italic, fieldSmall+1, fieldMargin, p.y+fieldSmall, p.look.Faint, t)
				p.y += fieldSmall + 4
			}
		})
		p.y += 6
		rows := plots[:min(len(plots), p.room())]
		plots = plots[len(rows):]
		p.boxes(columns, rows)
		if !readings {
			continue
		}
		const log = 3 // rows for what happened
		for n := 1; n < 3 && p.room() >= len(rows)+log+2; n++ {
			p.y += 14
			p.boxes(columns, rows)
		}
		if happened := p.room() - 1; happened >= log {
			v := f.V
			blank := func(trial.Plot) string { return "" }
			p.y += 14
			var kinds []string
			for _, k := range trial.EventKinds() {
				kinds = append(kinds, v.Term(note.Term(k)))
			}
			p.boxes([]fieldColumn{
				{head: v.Text("what happened: %s", strings.Join(kinds, ", ")), width: 300, of: blank},
				{head: v.Text("from, day and time"), width: 100, of: blank},
				{head: v.Text("to, day and time"), width: 100, of: blank},
				{head: v.Text("units"), width: 80, of: blank}, {head: v.Text("note"), of: blank},
			}, make([]trial.Plot, min(happened, 8)))
		}
	}
}

// room is how many rows fit under a head in what is left of the page.
func (p *fieldPage) room() int {
	return int((p.height - fieldMargin - 14 - p.y - fieldHead) / fieldRow)
}

// widths shares the room of a page out over columns, none of them narrower than the longest word of its head.
func widths(columns []fieldColumn, inner vg.Length) []vg.Length {
	list, least := make([]vg.Length, len(columns)), make([]vg.Length, len(columns))
	for i, c := range columns {
		for _, word := range strings.Fields(c.head) {
			least[i] = max(least[i], paper.Italic.Width(word, fieldSmall)+8)
		}
		if c.width > 0 {
			list[i] = max(c.width, least[i])
		}
	}
	for {
		left, free := inner, 0
		for _, w := range list {
			left -= w
			if w == 0 {
				free++
			}
		}
		share, narrow := left/vg.Length(max(1, free)), false
		for i := range list {
			if list[i] == 0 && least[i] > share {
				list[i], narrow = least[i], true
			}
		}
		if narrow {
			continue
		}
		for i := range list {
			if list[i] == 0 {
				list[i] = share
			}
		}
		return list
	}
}

// boxes sets rows of ruled boxes under their head.
func (p *fieldPage) boxes(columns []fieldColumn, plots []trial.Plot) {
	p.doc.Within(paper.TagTable, "", func() { p.table(columns, plots) })
}

func (p *fieldPage) table(columns []fieldColumn, plots []trial.Plot) {
	inner := p.width - 2*fieldMargin
	widths := widths(columns, inner)
	at := []vg.Length{fieldMargin}
	for _, w := range widths {
		at = append(at, at[len(at)-1]+w)
	}
	top := p.y
	bottom := top + fieldHead + vg.Length(len(plots))*fieldRow
	row := func(kind string, set func(i int, c fieldColumn)) {
		p.doc.Within(paper.TagRow, "", func() {
			for i, c := range columns {
				p.doc.Within(kind, "", func() { set(i, c) })
			}
		})
	}
	row(paper.TagHead, func(i int, c fieldColumn) {
		lines := paper.Lines(paper.Italic, fieldSmall, c.head, at[i+1]-at[i]-6)
		for k, t := range lines {
			p.text(paper.Italic, fieldSmall, at[i]+3, top+fieldHead-4-vg.Length(len(lines)-1-k)*(fieldSmall+1.5),
				p.look.Ink, t)
		}
	})
	for k, plot := range plots {
		y := top + fieldHead + vg.Length(k)*fieldRow
		row(paper.TagCell, func(i int, c fieldColumn) {
			style, size := paper.Regular, vg.Length(fieldText)
			if i == 0 {
				style, size = paper.Bold, fieldText+2
			}
			lines := paper.Lines(style, size, c.of(plot), at[i+1]-at[i]-6)
			if len(lines) > 1 {
				size = fieldSmall
				lines = paper.Lines(style, size, c.of(plot), at[i+1]-at[i]-6)
			}
			lines = lines[:min(2, len(lines))]
			for n, t := range lines {
				p.text(style, size, at[i]+3, y+fieldRow/2+size*0.35+(vg.Length(n)-vg.Length(len(lines)-1)/2)*(size+1),
					p.look.Ink, t)
			}
		})
		p.line(fieldMargin, y, fieldMargin+inner, y, p.look.Faint, 0.4)
	}
	for _, x := range at {
		p.line(x, top, x, bottom, p.look.Faint, 0.4)
	}
	p.line(fieldMargin, top+fieldHead, fieldMargin+inner, top+fieldHead, p.look.Ink, 1)
	p.line(fieldMargin, bottom, fieldMargin+inner, bottom, p.look.Ink, 1)
	p.y = bottom
}

// layoutMap is the map of the layout: each block a band, its units in their order.
func (f Field) layoutMap(page func(string) *fieldPage, blocks [][]trial.Plot) {
	v := f.V
	p := page(v.Text("map of the layout"))
	const wide, tall, gap = 112, 46, 8
	inner := p.width - 2*fieldMargin
	across := max(1, int((inner-64+gap)/(wide+gap)))
	for _, b := range blocks {
		for i, row := range slices.Collect(slices.Chunk(b, across)) {
			if p.y+tall > p.height-fieldMargin-10 {
				p = page(v.Text("map of the layout"))
			}
			if i == 0 && b[0].Block != "" {
				p.doc.Within(paper.TagPara, "", func() {
					for k, t := range paper.Lines(paper.Italic, fieldText, v.Text("block %s", b[0].Block), 58) {
						p.text(paper.Italic, fieldText, fieldMargin, p.y+18+vg.Length(k)*12, p.look.Ink, t)
					}
				})
			}
			for k, plot := range row {
				x := vg.Length(fieldMargin+64) + vg.Length(k)*(wide+gap)
				p.doc.Within(paper.TagPara, "", func() { f.box(p, x, p.y, wide, tall, plot) })
			}
			p.y += tall + gap
		}
		p.y += gap
	}
}

// box is a unit on the map: its tag, its taps, and its practice or code.
func (f Field) box(p *fieldPage, x, y, wide, tall vg.Length, plot trial.Plot) {
	c, w := p.look.Rule, vg.Length(0.8)
	if plot.Practice == cmp.Or(f.Trial.Options.Reference, practice.Unsanitized) && !f.Hide {
		c, w = p.look.Ink, 1.6
	}
	for _, e := range [][4]vg.Length{{x, y, x + wide, y}, {x, y + tall, x + wide, y + tall}, {x, y, x, y + tall},
		{x + wide, y, x + wide, y + tall}} {
		p.line(e[0], e[1], e[2], e[3], c, w)
	}
	p.text(paper.Bold, fieldText+2, x+5, y+15, p.look.Ink, plot.Unit)
	taps := f.V.Text("%d taps", plot.Taps)
	p.text(paper.Regular, fieldSmall, x+wide-5-paper.Regular.Width(taps, fieldSmall), y+14, p.look.Faint, taps)
	lines := paper.Lines(paper.Regular, fieldSmall, f.label(plot), wide-10)
	for i, t := range lines[:min(2, len(lines))] {
		p.text(paper.Regular, fieldSmall, x+5, y+28+vg.Length(i)*10, p.look.Ink, t)
	}
}

// tags are to be cut out along the dashes and hung at the units.
func (f Field) tags(page func(string) *fieldPage, plots []trial.Plot) {
	v := f.V
	const across, tall = 4, 92
	var p *fieldPage
	for i := 0; i < len(plots); {
		p = page(v.Text("tags to cut out"))
		wide := (p.width - 2*fieldMargin) / across
		top := p.y
		for i < len(plots) && p.y+tall <= p.height-fieldMargin-10 {
			for k := 0; k < across && i < len(plots); k++ {
				x := fieldMargin + vg.Length(k)*wide
				p.doc.Within(paper.TagPara, "", func() { f.tag(p, x, wide, tall, plots[i]) })
				i++
			}
			p.line(fieldMargin, p.y, p.width-fieldMargin, p.y, p.look.Faint, 0.5, 3, 3)
			p.y += tall
		}
		p.line(fieldMargin, p.y, p.width-fieldMargin, p.y, p.look.Faint, 0.5, 3, 3)
		for k := range across + 1 {
			x := fieldMargin + vg.Length(k)*wide
			p.line(x, top, x, p.y, p.look.Faint, 0.5, 3, 3)
		}
	}
}

// tag is what hangs at one unit.
func (f Field) tag(p *fieldPage, x, wide, tall vg.Length, plot trial.Plot) {
	v := f.V
	size := vg.Length(30)
	for paper.Bold.Width(plot.Unit, size) > wide-20 && size > 9 {
		size--
	}
	p.text(paper.Bold, size, x+10, p.y+38, p.look.Ink, plot.Unit)
	lines := paper.Lines(paper.Regular, fieldText, f.label(plot), wide-20)
	for n, t := range lines[:min(2, len(lines))] {
		p.text(paper.Regular, fieldText, x+10, p.y+54+vg.Length(n)*11, p.look.Ink, t)
	}
	under := v.Text("%s, %s", f.Trial.Name, v.Text("%d taps", plot.Taps))
	if plot.Block != "" {
		under = v.Text("%s, block %s, %s", f.Trial.Name, plot.Block, v.Text("%d taps", plot.Taps))
	}
	if lines := paper.Lines(paper.Italic, fieldSmall, under, wide-20); len(lines) > 0 {
		p.text(paper.Italic, fieldSmall, x+10, p.y+tall-7, p.look.Faint, lines[0])
	}
}
