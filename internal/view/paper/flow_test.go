package paper

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"
)

func plainLook(width, height vg.Length) Look {
	return Look{
		Width: width, Height: height, Side: 40, Top: 40, Bottom: 50, Measure: 400,
		Heading: 16, Lead: 14, Body: 10, Caption: 11, Table: 9, Note: 8, Least: 6,
		Ink: color.Black, Faint: color.Black, Rule: color.Black, Accent: color.Black,
	}
}

// pageOf is the page of each word that begins with one of the given letters.
func pageOf(pages []sheet, begins string) map[string]int {
	where := map[string]int{}
	for i, p := range pages {
		for _, w := range p.Words {
			if strings.HasPrefix(w.Text, begins) {
				where[w.Text] = i
			}
		}
	}
	return where
}

// Whatever the lengths, a heading stands on the page of what follows it, and nothing leaves the margins.
func TestHeadingsStandOverWhatFollows(t *testing.T) {
	f := NewFlow(About{}, plainLook(400, 500))
	const sections = 150
	for i := range sections {
		f.Head(fmt.Sprintf("HEAD%d", i))
		switch i % 4 {
		case 0, 1:
			f.Para(strings.TrimSpace(fmt.Sprintf("AFTER%d ", i) + strings.Repeat("words that fill it ", 3+(i*7)%60)))
		case 2:
			f.Table(Table{Title: fmt.Sprintf("AFTER%d", i), Columns: []Column{{Head: "c"}}, Rows: some(3 + i%30)})
		case 3:
			f.Figure(300, vg.Length(40+(i*37)%600), 0, "in words", func(c vg.Canvas) {
				c.FillString(Regular.Face(10), vg.Point{X: 2, Y: 2}, fmt.Sprintf("AFTER%d", i))
			})
		}
	}
	f.Feet("foot", func(page, of int) string { return fmt.Sprint(page, "/", of) })
	pages := boxes(t, closed(t, f.PDF))
	heads, after := pageOf(pages, "HEAD"), pageOf(pages, "AFTER")
	if len(heads) != sections {
		t.Fatalf("%d headings came out", len(heads))
	}
	for i := range sections {
		h, a := heads[fmt.Sprint("HEAD", i)], after[fmt.Sprint("AFTER", i)]
		if h != a {
			t.Errorf("heading %d is on page %d, what follows it on page %d", i, h, a)
		}
	}
	inside(t, pages)
}

func some(n int) (rows []Row) {
	for range n {
		rows = append(rows, Row{Cells: []Cell{{Text: "row"}}})
	}
	return rows
}

// inside wants every word but the foot's between the margins of plainLook; a word's box reaches below its letters.
func inside(t *testing.T, pages []sheet) {
	t.Helper()
	for i, p := range pages {
		for _, w := range p.Words {
			foot := w.Text == "foot" || strings.Contains(w.Text, "/")
			if w.XMin < 40-0.1 || w.XMax > p.Width-40+0.1 || w.YMin < 36 || !foot && w.YMax > p.Height-50+5 {
				t.Errorf("page %d: %q leaves the page: %+v", i+1, w.Text, w)
			}
		}
	}
}

// A long table: every cell once, in order, the head on every page it takes, no row cut, no two words on one another.
func TestTableOverPages(t *testing.T) {
	f := NewFlow(About{}, plainLook(420, 500))
	f.Para("before")
	table := Table{
		Title: "TITLE", Continued: "CONTINUED", Lead: "how to read it",
		Columns: []Column{{Head: "COLHEAD"}, {Head: "long words in the head", Unit: "%", Right: true}, {Head: "what"}},
		Notes:   []Note{{"a", "a footnote"}, {"", strings.Repeat("a general note ", 20)}},
	}
	const rows = 90
	for i := range rows {
		table.Rows = append(table.Rows, Row{Strong: i%9 == 0, Dim: i%7 == 0, Cells: []Cell{
			{Text: fmt.Sprintf("row%d of the table", i), Marks: "a"},
			{Text: "−12.5", Marks: "b,c", Within: fmt.Sprintf("(−%d\u00a0to\u00a013)", i)},
			{Text: strings.TrimSpace(strings.Repeat("text that wraps ", i%9))},
		}})
	}
	table.Rows[40].Cells[2] = Cell{Text: strings.TrimSpace(strings.Repeat("a cell as long as a tale ", 120)),
		Marks: "a"}
	f.Table(table)
	pages := boxes(t, closed(t, f.PDF))
	next := 0
	for i, p := range pages {
		heads, continued := 0, 0
		down := slices.Clone(p.Words) // poppler tells them by blocks of its own guess
		slices.SortStableFunc(down, func(a, b box) int { return cmp.Compare(a.YMin, b.YMin) })
		for _, w := range down {
			switch {
			case w.Text == "COLHEAD":
				heads++
			case w.Text == "CONTINUED":
				continued++
			case strings.HasPrefix(w.Text, "row"):
				if w.Text != fmt.Sprintf("row%d", next) {
					t.Fatalf("%s where row %d should be", w.Text, next)
				}
				next++
			}
		}
		if heads != 1 || continued != min(i, 1) {
			t.Errorf("page %d has %d heads and says %d times that it continues", i+1, heads, continued)
		}
	}
	tale := 0
	for _, p := range pages {
		for _, w := range p.Words {
			if w.Text == "tale" {
				tale++
			}
		}
	}
	if tale != 120 {
		t.Errorf("%d of a long cell's words", tale)
	}
	if next != rows || len(pages) < 3 {
		t.Errorf("%d rows on %d pages", next, len(pages))
	}
	inside(t, pages)
	apart(t, pages)
}

// apart wants no two words of a page on one another.
func apart(t *testing.T, pages []sheet) {
	t.Helper()
	for i, p := range pages {
		for j, a := range p.Words {
			for _, b := range p.Words[j+1:] {
				w, h := min(a.XMax, b.XMax)-max(a.XMin, b.XMin), min(a.YMax, b.YMax)-max(a.YMin, b.YMin)
				if w > 0.5 && h > 0.5*min(a.YMax-a.YMin, b.YMax-b.YMin) {
					t.Errorf("page %d: %q stands on %q", i+1, a.Text, b.Text)
				}
			}
		}
	}
}

// Any table fits its width, if need be in smaller text and with words broken, and holds each of its texts.
func TestLayoutFits(t *testing.T) {
	text := rapid.StringMatching(`([a-z]{1,14}[ -]){0,6}[a-z]{1,30}`)
	rapid.Check(t, func(t *rapid.T) {
		table := Table{}
		n := rapid.IntRange(1, 9).Draw(t, "columns")
		for range n {
			table.Columns = append(table.Columns,
				Column{Head: text.Draw(t, "head"), Unit: rapid.SampledFrom([]string{"", "%", "USD"}).Draw(t, "unit"),
					Right: rapid.Bool().Draw(t, "right")})
		}
		for range rapid.IntRange(1, 6).Draw(t, "rows") {
			r := Row{Strong: rapid.Bool().Draw(t, "strong")}
			for _, c := range table.Columns {
				x := Cell{Text: rapid.SampledFrom([]string{"", "1", "−12.45"}).Draw(t, "number"),
					Marks: rapid.SampledFrom([]string{"", "a", "1,2"}).Draw(t, "marks")}
				if c.Right {
					x.Within = rapid.SampledFrom([]string{"", "(−1.25\u00a0to\u00a03.40)"}).Draw(t, "within")
				} else {
					x.Text = text.Draw(t, "text")
				}
				r.Cells = append(r.Cells, x)
			}
			table.Rows = append(table.Rows, r)
		}
		const width = 520
		g := layout(table, 9, 6.5, width)
		if g.across() > width+0.5 {
			t.Fatalf("%v wide at size %v", g.across(), g.size)
		}
		for k, r := range table.Rows {
			for i, c := range table.Columns {
				for _, l := range g.lines[k][i] {
					if !c.Right && r.style().Width(l, g.size) > g.wide[i]+0.1 && len(l) > 1 {
						t.Fatalf("%q does not fit %v", l, g.wide[i])
					}
				}
				if got := strings.Join(g.lines[k][i], ""); !c.Right &&
					strings.ReplaceAll(got, " ", "") != strings.ReplaceAll(r.Cells[i].Text, " ", "") {
					t.Fatalf("%q became %q", r.Cells[i].Text, g.lines[k][i])
				}
			}
		}
		if math.IsNaN(float64(g.height())) || g.height() <= 0 {
			t.Fatal("no height")
		}
	})
}

// What runs over to another page is headed there too.
func TestHeadedAgain(t *testing.T) {
	f := NewFlow(About{}, plainLook(420, 500))
	f.Head("HEAD")
	f.Again = "AGAIN"
	for range 60 {
		f.Bullet("a remark that takes a line or so of the page, more or less")
	}
	f.Again = ""
	f.Para("after")
	pages := boxes(t, closed(t, f.PDF))
	if len(pages) < 2 {
		t.Fatal("all of it stands on one page")
	}
	for i, p := range pages {
		if first := p.Words[0].Text; first != []string{"HEAD", "AGAIN"}[min(i, 1)] {
			t.Errorf("page %d begins with %s", i+1, first)
		}
	}
}

// A figure for which a page has no room waits for the next one, and what follows it fills the page; it stands before
// the next section, and each page is there once.
func TestFiguresWait(t *testing.T) {
	l := plainLook(400, 500)
	l.Floats = true
	f := NewFlow(About{}, l)
	figure := func(name string, height vg.Length) {
		f.Figure(300, height, 0, name, func(c vg.Canvas) { c.FillString(Regular.Face(10), vg.Point{X: 2, Y: 2}, name) })
	}
	f.Head("HEAD1")
	f.Para("WORD0 " + strings.TrimSpace(strings.Repeat("words that fill it ", 40)))
	figure("DRAWN1", 330)
	f.Para("WORD1")
	figure("DRAWN2", 330)
	f.Table(Table{Title: "WORD2", Continued: "again", Columns: []Column{{Head: "c"}}, Rows: some(60)})
	f.Head("HEAD2")
	f.Para("WORD3")
	f.Feet("foot", func(page, of int) string { return fmt.Sprint(page, "/", of) })
	pages := boxes(t, closed(t, f.PDF))
	inside(t, pages)
	words, drawn, heads := pageOf(pages, "WORD"), pageOf(pages, "DRAWN"), pageOf(pages, "HEAD")
	if words["WORD1"] != words["WORD0"] || drawn["DRAWN1"] != words["WORD0"]+1 {
		t.Errorf("words %v, figures %v: the first figure does not wait for the second page", words, drawn)
	}
	if drawn["DRAWN2"] <= drawn["DRAWN1"] || drawn["DRAWN2"] > heads["HEAD2"] || heads["HEAD2"] != words["WORD3"] {
		t.Errorf("words %v, figures %v, heads %v", words, drawn, heads)
	}
}

// Two narrow tables stand beside each other, two wide ones do not.
func TestNarrowTablesStandBesideEachOther(t *testing.T) {
	tables := func(columns int) (list []Table) {
		for i := range 2 {
			x := Table{Title: fmt.Sprint("TITLE", i)}
			for range columns {
				x.Columns = append(x.Columns, Column{Head: "column of numbers", Right: true})
			}
			for range 5 {
				x.Rows = append(x.Rows, Row{Cells: make([]Cell, columns)})
			}
			list = append(list, x)
		}
		return list
	}
	for columns, beside := range map[int]bool{2: true, 6: false} {
		f := NewFlow(About{}, plainLook(600, 500))
		f.Tables(tables(columns)...)
		at := map[string]float64{}
		for _, w := range boxes(t, closed(t, f.PDF))[0].Words {
			at[w.Text] = w.YMin
		}
		if (math.Abs(at["TITLE0"]-at["TITLE1"]) < 0.1) != beside {
			t.Errorf("of %d columns the titles stand at %v", columns, at)
		}
	}
}
