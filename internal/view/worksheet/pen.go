package worksheet

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// style is how a cell looks.
type style int

const (
	words style = iota
	heading
	headed  // heading of words behind a number
	numbers // heading of numbers
	section
	title
	hint
	beside // words behind a number
	called // the name of a number
	input  // a number that is there to be changed
	chosen // a word that is there to be changed
	money
	total
	mark // a word among numbers
	plain
	fine
	percent
	share // a part that is there to be changed
)

const ink, paper, accent, family = "1F2A33", "FFF7DC", "7A2E1D", "Arial"

// styles is how each looks.
var styles = map[style]excelize.Style{
	words:   {Alignment: &excelize.Alignment{Vertical: "top"}},
	heading: {Font: &excelize.Font{Bold: true}, Alignment: wrapped, Border: under},
	headed: {Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top",
		Horizontal: "left", Indent: 1}, Border: under},
	numbers: {Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top",
		Horizontal: "right"}, Border: under},
	section: {Font: &excelize.Font{Bold: true}},
	title:   {Font: &excelize.Font{Bold: true, Size: 15, Color: accent}},
	hint:    {Font: &excelize.Font{Italic: true, Color: "5A6570"}},
	beside:  {Alignment: indented},
	called:  {Font: &excelize.Font{Italic: true, Color: "5A6570"}, Alignment: indented},
	input:   {Fill: filled, Font: &excelize.Font{Color: ink}, CustomNumFmt: new("General")},
	chosen:  {Fill: filled, Font: &excelize.Font{Color: ink, Bold: true}},
	money:   {CustomNumFmt: new(`#,##0.00;-#,##0.00;"–"`), Alignment: right},
	total: {CustomNumFmt: new(`#,##0.00;-#,##0.00;"–"`), Alignment: right, Font: &excelize.Font{Bold: true},
		Border: over},
	mark:    {Alignment: right},
	plain:   {CustomNumFmt: new("General")},
	fine:    {CustomNumFmt: new("0.0000")},
	percent: {CustomNumFmt: new("0.0%")},
	share:   {Fill: filled, CustomNumFmt: new("0%;-0%;")},
}

var (
	right    = &excelize.Alignment{Horizontal: "right"}
	indented = &excelize.Alignment{Horizontal: "left", Indent: 1} // of no side, some programs leave it out
	wrapped  = &excelize.Alignment{WrapText: true, Vertical: "top"}
	under    = []excelize.Border{{Type: "bottom", Style: 1, Color: ink}}
	over     = []excelize.Border{{Type: "top", Style: 1, Color: ink}}
	filled   = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{paper}}
)

// formula is what a cell works out, in the language of ECMA-376, Part 1, 18.17.
type formula string

// cell is what stands in one, and how.
type cell struct {
	value any // string, float64, int or formula
	style style
}

// pen writes a spreadsheet; what goes wrong first stays.
type pen struct {
	x     *excelize.File
	ids   map[style]int
	names map[string]bool // defined, in small letters
	err   error
}

func newPen() *pen {
	p := &pen{x: excelize.NewFile(), ids: map[style]int{}, names: map[string]bool{}}
	p.keep(p.x.SetDefaultFont(family))
	for s := words; s <= share; s++ {
		look, font := styles[s], excelize.Font{Size: 11}
		if look.Font != nil {
			font = *look.Font
			font.Size = max(11, font.Size)
		}
		font.Family = family
		look.Font = &font
		id, err := p.x.NewStyle(&look)
		p.ids[s] = id
		p.keep(err)
	}
	return p
}

func (p *pen) keep(err error) {
	if p.err == nil {
		p.err = err
	}
}

// sheet is one sheet of the spreadsheet, written from the top.
type sheet struct {
	*pen
	name   string
	row    int // the next
	widths []float64
}

func (p *pen) sheet(name string, widths ...float64) *sheet {
	if list := p.x.GetSheetList(); len(list) == 1 && list[0] == "Sheet1" {
		p.keep(p.x.SetSheetName("Sheet1", name))
	} else {
		_, err := p.x.NewSheet(name)
		p.keep(err)
	}
	for i, w := range widths {
		to := column(i + 1)
		if i == len(widths)-1 {
			to = column(i + 40) // the rest are as the last
		}
		p.keep(p.x.SetColWidth(name, column(i+1), to, w))
	}
	p.keep(p.x.SetSheetView(name, 0, &excelize.ViewOptions{ShowGridLines: new(false)}))
	p.keep(p.x.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: new("landscape"), FitToWidth: new(1),
		FitToHeight: new(0)}))
	p.keep(p.x.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: new(true)}))
	return &sheet{p, name, 1, widths}
}

// line writes a row and gives its number. A text is words; nil leaves a cell empty.
func (s *sheet) line(cells ...any) int {
	for i, v := range cells {
		c, ok := v.(cell)
		if !ok {
			c = cell{v, words}
		}
		if c.value == nil {
			continue
		}
		at := column(i+1) + strconv.Itoa(s.row)
		if f, ok := c.value.(formula); ok {
			s.keep(s.x.SetCellFormula(s.name, at, string(f)))
		} else {
			s.keep(s.x.SetCellValue(s.name, at, c.value))
		}
		s.keep(s.x.SetCellStyle(s.name, at, at, s.ids[c.style]))
	}
	s.row++
	return s.row - 1
}

// head writes a row of headings, the first so many over words.
func (s *sheet) head(words int, texts ...string) {
	var cells []any
	lines := 1.
	for i, t := range texts {
		cells = append(cells, cell{t, numbers})
		if i < words {
			cells[i] = cell{t, heading}
		}
		wide := s.widths[min(i, len(s.widths)-1)]
		lines = max(lines, math.Ceil(1.2*float64(utf8.RuneCountInString(t))/wide))
	}
	s.keep(s.x.SetRowHeight(s.name, s.row, 15*lines))
	s.line(cells...)
}

// over gives columns of the row of headings above another look.
func (s *sheet) over(look style, columns ...int) {
	for _, c := range columns {
		at := column(c) + strconv.Itoa(s.row-1)
		s.keep(s.x.SetCellStyle(s.name, at, at, s.ids[look]))
	}
}

// begin writes the title of a sheet and what is to be said of it.
func (s *sheet) begin(name string, hints ...string) {
	s.line(cell{name, title})
	for _, h := range hints {
		s.line(cell{h, hint})
	}
	s.row++
}

// at is a cell, or a range of them, of the sheet from any other.
func (s *sheet) at(col, row int, to ...int) string {
	ref := "'" + strings.ReplaceAll(s.name, "'", "''") + "'!$" + column(col) + "$" + strconv.Itoa(row)
	if len(to) == 2 {
		ref += ":$" + column(to[0]) + "$" + strconv.Itoa(to[1])
	}
	return ref
}

// here is a cell of a row of the sheet, for its own formulas.
func here(col, row int) string { return "$" + column(col) + strconv.Itoa(row) }

// define gives a cell or a range a name, which is made of a text, and gives that name.
func (p *pen) define(text, ref string) string {
	name := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return '_'
	}, text)
	for base, n := name, 2; p.names[strings.ToLower(name)]; n++ {
		name = base + "_" + strconv.Itoa(n)
	}
	p.names[strings.ToLower(name)] = true
	p.keep(p.x.SetDefinedName(&excelize.DefinedName{Name: name, RefersTo: ref}))
	return name
}

// choose makes a cell a choice among the cells of a range.
func (s *sheet) choose(at, from string) {
	d := excelize.NewDataValidation(false)
	d.Sqref = at
	d.SetSqrefDropList(from)
	s.keep(s.x.AddDataValidation(s.name, d))
}

func column(n int) string {
	name, _ := excelize.ColumnNumberToName(n)
	return name
}
