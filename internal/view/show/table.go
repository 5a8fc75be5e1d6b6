// Package show turns an answer into tables, figure inputs, sentences and JSON: once, for terminal, page, report and
// CSV.
package show

import (
	"cmp"
	"encoding/csv"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"spile/internal/files/sheet"
	"spile/internal/view/say"
)

// Table is a finished table: every word said, every number also there as a number.
type Table struct {
	ID      string // stable name, for file names and addresses: "gains"
	Title   string
	Lead    string // one sentence on how to read it, or ""
	Columns []Column
	Rows    []Row
	Notes   []Footnote // of the marks in its cells first, then general ones without a mark

	Cards bool // on a phone each row is a card, its cells below one another

	Rest string // on a page: what is behind the click that shows the rows that are Later
	Read int    // on a page: how many notes without a mark stand before that click, where others stand behind it
	Hint string // on a phone: that there are more columns to the side
}

// Column is the head of a column. ID is the stable header in a CSV; Unit, where there is one, is said in the head so
// that cells need not repeat it.
type Column struct {
	ID       string
	Name     string
	Unit     string
	Currency string // of money, whose unit is as the reader writes it
	Right    bool   // numbers stand to the right
	Interval bool   // its cells carry Low and High: three columns in a CSV

	Spare string // what to say where a terminal is too narrow for it and it is left out; "": it never is
}

// wordy is a column of words, numeric one of numbers, and interval one of numbers with their intervals.
func wordy(id, name string) Column { return Column{ID: id, Name: name} }

func numeric(id, name, unit string) Column {
	return Column{ID: id, Name: name, Unit: unit, Right: true}
}

func interval(id, name, unit string) Column { return numeric(id, name, unit).ranged() }

// sums is a column of money.
func sums(v *say.Voice, id, name, currency string) Column {
	c := numeric(id, name, v.MoneyUnit(currency))
	c.Currency = currency
	return c
}

// ranged is the column of numbers with their intervals.
func (c Column) ranged() Column {
	c.Interval = true
	return c
}

// Head is the name with the unit: "net, USD a tap".
func (c Column) Head() string {
	if c.Unit == "" {
		return c.Name
	}
	return c.Name + ", " + c.Unit
}

// Row is a row; ID is stable (a practice's key, a study's name). The Best row is the recommended one, a Strong one is
// set bold (the best, a sum), Dim rows are out of the running: a study not admitted, a practice not permitted.
type Row struct {
	ID     string
	Cells  []Cell
	Best   bool
	Strong bool
	Dim    bool
	Later  bool // on a page it stands behind a click
}

// row adds a row.
func (t *Table) row(id string, cells ...Cell) *Row {
	t.Rows = append(t.Rows, Row{ID: id, Cells: cells})
	return &t.Rows[len(t.Rows)-1]
}

// drop takes a column out.
func (t *Table) drop(id string) {
	i := slices.IndexFunc(t.Columns, func(c Column) bool { return c.ID == id })
	t.Columns = slices.Delete(t.Columns, i, i+1)
	for r := range t.Rows {
		t.Rows[r].Cells = slices.Delete(t.Rows[r].Cells, i, i+1)
	}
}

// note adds a note without a mark, unless there is nothing to say.
func (t *Table) note(text string) {
	if text != "" {
		t.Notes = append(t.Notes, Footnote{Text: text})
	}
}

// Cell is one cell. Number is nil where there is none; Low and High are its 95 % interval where the column has one.
type Cell struct {
	Text      string
	Number    *float64
	Low, High *float64
	Marks     []string // footnotes
}

// Parted is the text with its interval apart, which can stand on a line of its own.
func (c Cell) Parted() (text, within string) {
	if i := strings.Index(c.Text, " ("); i > 0 {
		return c.Text[:i], c.Text[i+1:]
	}
	return c.Text, ""
}

// Footnote is a note under a table or figure. Mark is "" for a general one.
type Footnote struct {
	Mark string
	Text string
}

// Plain is the text of a cell with its footnote marks: "Aldane 2017 [1,3]".
func (c Cell) Plain() string {
	if len(c.Marks) == 0 {
		return c.Text
	}
	marks := "[" + strings.Join(c.Marks, ",") + "]"
	if c.Text == "" {
		return marks
	}
	return c.Text + " " + marks
}

// FileName is a name as it stands in an address and of a file: that of an option may hold a slash.
func FileName(id string) string { return strings.NewReplacer("/", "-", "+", "-with-").Replace(id) }

func words(text string) Cell { return Cell{Text: text} }

// num is a cell with a number behind its text; what is not finite is no number.
func num(text string, x float64) Cell {
	c := Cell{Text: text}
	if finite(x) {
		c.Number = &x
	}
	return c
}

// within is a cell with a number and its interval behind its text.
func within(text string, x, low, high float64) Cell {
	c := num(text, x)
	if finite(low) {
		c.Low = &low
	}
	if finite(high) {
		c.High = &high
	}
	return c
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// CSV writes the table as UTF-8 CSV: stable English headers, raw numbers with a decimal point, an interval as two more
// columns (NAME_low, NAME_high), the footnotes of a row, in words, in a last column where there are any.
func (t Table) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	marked := false
	for _, r := range t.Rows {
		for _, c := range r.Cells {
			marked = marked || len(c.Marks) > 0
		}
	}
	said := map[string]string{}
	for _, n := range t.Notes {
		said[n.Mark] = n.Text
	}
	var head []string
	for _, c := range t.Columns {
		id := c.ID
		if c.Currency != "" { // money without its currency is no number
			id += "_" + strings.ToLower(c.Currency)
		}
		head = append(head, id)
		if c.Interval {
			head = append(head, id+"_low", id+"_high")
		}
	}
	if marked {
		head = append(head, "notes")
	}
	if err := out.Write(head); err != nil {
		return err
	}
	for _, r := range t.Rows {
		var row, marks []string
		for i, c := range r.Cells {
			for _, m := range c.Marks {
				marks = append(marks, cmp.Or(said[m], m))
			}
			switch {
			case c.Number != nil:
				row = append(row, raw(c.Number))
			case t.Columns[i].Right:
				row = append(row, "")
			default:
				row = append(row, sheet.Harmless(c.Text))
			}
			if t.Columns[i].Interval {
				row = append(row, raw(c.Low), raw(c.High))
			}
		}
		if marked {
			row = append(row, strings.Join(marks, "; "))
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func raw(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'g', 10, 64)
}

// Width is how wide a terminal is taken to be.
const Width = 100

// Terminal writes the table as aligned text no wider than width. Where it is too wide, text is wrapped and intervals go
// under their numbers, whichever makes the shorter table; where even that is too wide, spare columns are left out. An
// arrow points to the best row. A table without rows is its title and notes.
func (t Table) Terminal(w io.Writer, width int) error {
	margin, arrow := "", ""
	for _, r := range t.Rows {
		if r.Best {
			margin, arrow = "  ", "→ "
		}
	}
	wide, stacked, fits := t.either(width - runes(margin))
	for i := len(t.Columns) - 1; i >= 0 && !fits; i-- {
		if spare := t.Columns[i].Spare; spare != "" {
			t = t.Without(t.Columns[i].ID)
			if !slices.ContainsFunc(t.Notes, func(f Footnote) bool { return f.Text == spare }) {
				t.Notes = append(slices.Clone(t.Notes), Footnote{Text: spare})
			}
			wide, stacked, fits = t.either(width - runes(margin))
		}
	}

	var b strings.Builder
	if t.Title != "" {
		b.WriteString(Wrap("", t.Title, width) + "\n")
		if t.Lead != "" {
			b.WriteString(Wrap("", t.Lead, width) + "\n")
		}
		b.WriteString("\n")
	}
	line := func(lead string, cells [][]string, bottom bool) {
		height := 1
		for _, c := range cells {
			height = max(height, len(c))
		}
		for k := range height {
			l := lead
			for i, c := range cells {
				at := k
				if bottom {
					at -= height - len(c)
				}
				text := ""
				if at >= 0 && at < len(c) {
					text = c[at]
				}
				pad := strings.Repeat(" ", max(0, wide[i]-runes(text)))
				if i > 0 {
					l += strings.Repeat(" ", gap)
				}
				if t.Columns[i].Right {
					l += pad + text
				} else {
					l += text + pad
				}
			}
			b.WriteString(strings.TrimRight(l, " ") + "\n")
			lead = margin
		}
	}
	if len(t.Rows) > 0 {
		var heads [][]string
		rule := runes(margin) + gap*(len(wide)-1)
		for i, c := range t.Columns {
			heads = append(heads, wrap(c.Head(), wide[i]))
			rule += wide[i]
		}
		line(margin, heads, true)
		b.WriteString(strings.Repeat("─", rule) + "\n")
		for _, r := range t.Rows {
			var cells [][]string
			for i := range t.Columns {
				cells = append(cells, t.lines(r, i, wide[i], stacked))
			}
			lead := margin
			if r.Best {
				lead = arrow
			}
			line(lead, cells, false)
		}
	}
	if len(t.Rows) > 0 && len(t.Notes) > 0 {
		b.WriteString("\n")
	}
	for _, n := range t.Notes {
		hang := ""
		if n.Mark != "" {
			hang = "[" + n.Mark + "] "
		}
		b.WriteString(Wrap(hang, n.Text, width) + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// either lays the table out with intervals beside their numbers or under them, whichever is shorter.
func (t Table) either(width int) (wide []int, stacked, fits bool) {
	wide, high := t.fit(width, false)
	if under, h := t.fit(width, true); h < high {
		wide, high, stacked = under, h, true
	}
	return wide, stacked, high < math.MaxInt
}

// Without is the table without the columns of these IDs.
func (t Table) Without(ids ...string) Table {
	return t.filter(func(c Column) bool { return !slices.Contains(ids, c.ID) })
}

// filter is the table with the columns that are kept alone.
func (t Table) filter(kept func(Column) bool) Table {
	out := t
	out.Columns, out.Rows = nil, slices.Clone(t.Rows)
	for i := range out.Rows {
		out.Rows[i].Cells = nil
	}
	for i, c := range t.Columns {
		if !kept(c) {
			continue
		}
		out.Columns = append(out.Columns, c)
		for k, r := range t.Rows {
			out.Rows[k].Cells = append(out.Rows[k].Cells, r.Cells[i])
		}
	}
	return out
}

// gap is the blanks between two columns.
const gap = 2

// lines are a cell's lines in a column of a width. Numbers are broken only where they are stacked.
func (t Table) lines(r Row, i, wide int, stacked bool) []string {
	c := r.Cells[i]
	if !t.Columns[i].Right {
		return wrap(c.Plain(), wide)
	}
	if number, interval, ok := strings.Cut(c.Text, " "); ok && stacked {
		return []string{Cell{Text: number, Marks: c.Marks}.Plain(), interval}
	}
	return []string{c.Plain()}
}

// fit finds the widths of the columns that make the table shortest, and how many lines its rows then take; more than
// any table has where it does not fit at all. Columns of numbers are as wide as they must be; those of text share
// what is left.
func (t Table) fit(width int, stacked bool) (wide []int, high int) {
	wide = make([]int, len(t.Columns))
	least := make([]int, len(t.Columns)) // the longest word
	ideal := make([]int, len(t.Columns)) // nothing wrapped
	var text []int
	spare := width - gap*(len(wide)-1)
	for i, c := range t.Columns {
		least[i], ideal[i] = longestWord(c.Head()), runes(c.Head())
		if c.Right {
			ideal[i] = least[i]
		} else {
			text = append(text, i)
		}
		for _, r := range t.Rows {
			for _, l := range t.lines(r, i, 1, stacked) {
				least[i] = max(least[i], runes(l))
			}
			if !c.Right {
				ideal[i] = max(ideal[i], runes(r.Cells[i].Plain()))
			}
		}
		wide[i] = least[i]
		spare -= wide[i]
	}
	for spare > 0 { // first to the text that lacks most
		lacks := -1
		for i := range wide {
			if wide[i] < ideal[i] && (lacks < 0 || ideal[i]-wide[i] > ideal[lacks]-wide[lacks]) {
				lacks = i
			}
		}
		if lacks < 0 {
			break
		}
		wide[lacks]++
		spare--
	}
	for { // then the tallest head is made lower, as long as there is room
		tall, most := -1, 1
		for i, c := range t.Columns {
			if n := len(wrap(c.Head(), wide[i])); n > most {
				tall, most = i, n
			}
		}
		more := 1
		for ; tall >= 0 && more <= spare && len(wrap(t.Columns[tall].Head(), wide[tall]+more)) == most; more++ {
		}
		if tall < 0 || more > spare {
			break
		}
		wide[tall] += more
		spare -= more
	}

	heights := map[[2]int][]int{} // by column and width: the lines of each row
	height := func() int {
		sum := 0
		for k := range t.Rows {
			most := 1
			for i := range wide {
				at := [2]int{i, wide[i]}
				if heights[at] == nil {
					for _, r := range t.Rows {
						heights[at] = append(heights[at], len(t.lines(r, i, wide[i], stacked)))
					}
				}
				most = max(most, heights[at][k])
			}
			sum += most
		}
		return sum
	}
	high = height()
	for before := high + 1; high < before; { // move width between columns of text while that saves lines
		before = high
		for _, to := range text {
			for _, from := range text {
				for n := 1; from != to && n <= wide[from]-least[from]; n++ {
					wide[from], wide[to] = wide[from]-n, wide[to]+n
					if h := height(); h < high {
						high = h
						continue
					}
					wide[from], wide[to] = wide[from]+n, wide[to]-n
				}
			}
		}
	}
	if spare < 0 {
		high = math.MaxInt
	}
	return wide, high
}

func runes(s string) int { return utf8.RuneCountInString(s) }

func longestWord(s string) int {
	n := 0
	for f := range strings.SplitSeq(s, " ") {
		n = max(n, runes(f))
	}
	return n
}

// wrap breaks a text at its spaces (not at those that hold a number to its unit) into pieces no longer than width; a
// longer word stands alone.
func wrap(s string, width int) []string {
	if s == "" {
		return []string{""}
	}
	var lines []string
	line := ""
	for word := range strings.SplitSeq(s, " ") {
		switch {
		case line == "":
			line = word
		case runes(line)+1+runes(word) <= width:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	return append(lines, line)
}

// none is the cell of what does not exist.
func none(v *say.Voice) Cell { return words(v.None()) }

// Wrap breaks a paragraph for a terminal; hang stands before its first line, and as many blanks before the others.
func Wrap(hang, s string, width int) string {
	lines := wrap(s, width-runes(hang))
	return hang + strings.Join(lines, "\n"+strings.Repeat(" ", runes(hang)))
}
