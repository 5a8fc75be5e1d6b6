// Package show turns an answer into tables, figure inputs, sentences and JSON: once, for terminal, page, report and CSV.
package show

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"spile/say"
)

// Table is a finished table: every word said, every number also there as a number.
type Table struct {
	ID      string // stable name, for file names and addresses: "gains"
	Title   string
	Lead    string // one sentence on how to read it, or ""
	Columns []Column
	Rows    []Row
	Notes   []Footnote // of the marks in its cells first, then general ones without a mark
}

// Column is the head of a column. ID is the stable header in a CSV; Unit, where there is one, is said in the head so
// that cells need not repeat it.
type Column struct {
	ID       string
	Name     string
	Unit     string
	Right    bool // numbers stand to the right
	Interval bool // its cells carry Low and High: three columns in a CSV
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
}

// Cell is one cell. Number is nil where there is none; Low and High are its 95 % interval where the column has one.
type Cell struct {
	Text      string
	Number    *float64
	Low, High *float64
	Marks     []string // footnotes
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
// columns (NAME_low, NAME_high), footnote marks in a last column where there are any. Footnotes themselves follow
// after an empty row, one a row.
func (t Table) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	marked := false
	for _, r := range t.Rows {
		for _, c := range r.Cells {
			marked = marked || len(c.Marks) > 0
		}
	}
	var head []string
	for _, c := range t.Columns {
		head = append(head, c.ID)
		if c.Interval {
			head = append(head, c.ID+"_low", c.ID+"_high")
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
			marks = append(marks, c.Marks...)
			switch {
			case c.Number != nil:
				row = append(row, raw(c.Number))
			case t.Columns[i].Right:
				row = append(row, "")
			default:
				row = append(row, c.Text)
			}
			if t.Columns[i].Interval {
				row = append(row, raw(c.Low), raw(c.High))
			}
		}
		if marked {
			row = append(row, strings.Join(marks, ";"))
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

// Terminal writes the table as aligned text no wider than width. Where it is too wide, text is wrapped, and then an
// interval goes under its number. An arrow points to the best row.
func (t Table) Terminal(w io.Writer, width int) error {
	const gap = 2
	margin, arrow := "", ""
	for _, r := range t.Rows {
		if r.Best {
			margin, arrow = "  ", "→ "
		}
	}
	heads := make([]string, len(t.Columns))
	wide := make([]int, len(t.Columns)) // as wide as its widest cell
	word := make([]int, len(t.Columns)) // as narrow as its longest word
	for i, c := range t.Columns {
		heads[i] = c.Head()
		wide[i] = runes(heads[i])
		word[i] = longestWord(heads[i])
		for _, r := range t.Rows {
			text := r.Cells[i].Plain()
			wide[i] = max(wide[i], runes(text))
			word[i] = max(word[i], longestWord(text))
		}
	}
	// Give up width where it hurts least: heads first, then text down to readable, then intervals, then text.
	total := func() int {
		sum := runes(margin) + gap*(len(wide)-1)
		for _, x := range wide {
			sum += x
		}
		return sum
	}
	cells := make([]int, len(t.Columns)) // as wide as its cells, whatever the head
	for i := range t.Columns {
		cells[i] = word[i]
		for _, r := range t.Rows {
			cells[i] = max(cells[i], runes(r.Cells[i].Plain()))
		}
	}
	const readable = 20
	shrink := func(floor func(i int) int) {
		for total() > width {
			widest := -1
			for i := range wide {
				if wide[i] > floor(i) && (widest < 0 || wide[i] > wide[widest]) {
					widest = i
				}
			}
			if widest < 0 {
				return
			}
			wide[widest]--
		}
	}
	shrink(func(i int) int { return cells[i] })
	shrink(func(i int) int {
		if t.Columns[i].Right {
			return cells[i]
		}
		return max(word[i], min(readable, wide[i]))
	})
	shrink(func(i int) int {
		if t.Columns[i].Right {
			return word[i]
		}
		return wide[i]
	})
	shrink(func(i int) int { return word[i] })
	for i, c := range t.Columns { // an interval that goes under its number anyway leaves its room to the text
		if c.Right && wide[i] < cells[i] {
			wide[i] = word[i]
		}
	}
	t.level(wide, word, width-total())

	var b strings.Builder
	if t.Title != "" {
		b.WriteString(t.Title + "\n")
		if t.Lead != "" {
			for _, l := range wrap(t.Lead, width) {
				b.WriteString(l + "\n")
			}
		}
		b.WriteString("\n")
	}
	line := func(lead string, texts []string, head bool) {
		wrapped := make([][]string, len(texts))
		height := 1
		for i, c := range texts {
			wrapped[i] = wrap(c, wide[i])
			if t.Columns[i].Right && !head && wide[i] < cells[i] {
				wrapped[i] = strings.Split(c, " ")
			}
			height = max(height, len(wrapped[i]))
		}
		for k := range height {
			var l strings.Builder
			if k > 0 {
				lead = margin
			}
			l.WriteString(lead)
			for i := range texts {
				at := k
				if head {
					at = k - (height - len(wrapped[i]))
				}
				text := ""
				if at >= 0 && at < len(wrapped[i]) {
					text = wrapped[i][at]
				}
				pad := strings.Repeat(" ", max(0, wide[i]-runes(text)))
				if i > 0 {
					l.WriteString(strings.Repeat(" ", gap))
				}
				if t.Columns[i].Right {
					l.WriteString(pad + text)
				} else {
					l.WriteString(text + pad)
				}
			}
			b.WriteString(strings.TrimRight(l.String(), " ") + "\n")
		}
	}
	line(margin, heads, true)
	rule := runes(margin)
	for i, x := range wide {
		rule += x
		if i > 0 {
			rule += gap
		}
	}
	b.WriteString(strings.Repeat("─", rule) + "\n")
	for _, r := range t.Rows {
		texts := make([]string, len(r.Cells))
		for i, c := range r.Cells {
			texts[i] = c.Plain()
		}
		lead := margin
		if r.Best {
			lead = arrow
		}
		line(lead, texts, false)
	}
	if len(t.Notes) > 0 {
		b.WriteString("\n")
	}
	for _, n := range t.Notes {
		lead := ""
		if n.Mark != "" {
			lead = "[" + n.Mark + "] "
		}
		for i, l := range wrap(n.Text, width-runes(lead)) {
			if i > 0 {
				lead = strings.Repeat(" ", runes(lead))
			}
			b.WriteString(lead + l + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// level gives spare width to the columns of text, and moves width between them, where that makes the table shorter.
func (t Table) level(wide, word []int, spare int) {
	var text []int
	for i, c := range t.Columns {
		if !c.Right {
			text = append(text, i)
		}
	}
	if len(text) == 0 {
		return
	}
	lines := map[[2]int][]int{} // by column and width: how many lines each row takes
	height := func() int {
		sum := 0
		for k := range t.Rows {
			high := 1
			for _, i := range text {
				at := [2]int{i, wide[i]}
				if lines[at] == nil {
					for _, r := range t.Rows {
						lines[at] = append(lines[at], len(wrap(r.Cells[i].Plain(), wide[i])))
					}
				}
				high = max(high, lines[at][k])
			}
			sum += high
		}
		return sum
	}
	try := func(from, to, n, least int) int { // the height with n columns moved; from −1 is the spare width
		if from >= 0 {
			wide[from] -= n
		}
		wide[to] += n
		h := height()
		if h < least {
			return h
		}
		if from >= 0 {
			wide[from] += n
		}
		wide[to] -= n
		return least
	}
	for least, before := height(), -1; least != before; {
		before = least
		for _, to := range text {
			for n := 1; n <= spare; n++ {
				if h := try(-1, to, n, least); h < least {
					least, spare = h, spare-n
				}
			}
			for _, from := range text {
				for n := 1; from != to && n <= wide[from]-word[from]; n++ {
					least = try(from, to, n, least)
				}
			}
		}
	}
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
