package paper

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
)

// What a document says is there as headings, paragraphs, tables by row and cell, and figures in words, in the order in
// which it is read and once each, over pages too; feet, strokes and repeated heads are not among it.
func TestStructure(t *testing.T) {
	f := NewFlow(About{Title: "A document", Lang: "en"}, plainLook(400, 300))
	f.Title("TITLE")
	f.Head("FIRST")
	f.Para("one paragraph")
	f.Bullet("one point")
	f.Figure(100, 50, 0, "bars, é", func(c vg.Canvas) {
		c.FillString(Regular.Face(10), vg.Point{X: 2, Y: 2}, "drawn")
	})
	f.Head("SECOND")
	rows := some(40)
	rows[3].Cells[0] = Cell{Text: "a cell", Marks: "a"}
	f.Table(Table{Title: "CAPTION", Continued: "CAPTION again", Columns: []Column{{Head: "column", Unit: "%"}},
		Rows: rows, Notes: []Note{{"a", "a footnote"}}})
	f.Feet("foot", func(page, of int) string { return "page" })
	doc := closed(t, f.PDF)

	says := regexp.MustCompile(`\s+`).ReplaceAllString(poppler(t, doc, "pdfinfo", "-struct-text"), " ")
	at := 0
	for _, want := range []string{`Document H1 (block) "TITLE"`, `H2 (block) "FIRST" P (block) "one paragraph"`,
		`P (block) "–" "one point" Figure`, `H2 (block) "SECOND" Table (block) Caption "CAPTION"`,
		`TR TH`, `"column" "%"`, `TR TD`, `TD "a cell"`, `P (block) "a" "a footnote"`} {
		i := strings.Index(says[at:], want)
		if i < 0 {
			t.Fatalf("%q does not come next in\n%s", want, says[at:])
		}
		at += i
	}
	if n := strings.Count(says, "TR TD"); n != 40 {
		t.Errorf("%d rows of 40", n)
	}
	for _, not := range []string{"CAPTION again", "foot\"", "page"} {
		if strings.Contains(says, not) {
			t.Errorf("%q is read among it", not)
		}
	}
	if info := poppler(t, doc, "pdfinfo"); !regexp.MustCompile(`Tagged: +yes`).MatchString(info) {
		t.Error(info)
	}
	packed := doc[bytes.Index(doc, []byte("/Type/ObjStm")):]
	z, err := zlib.NewReader(bytes.NewReader(packed[bytes.Index(packed, []byte("stream\n"))+7:]))
	if err != nil {
		t.Fatal(err)
	}
	objects, _ := io.ReadAll(z)
	if alt := "/Alt<FEFF0062006100720073002C002000E9>"; !strings.Contains(string(objects), alt) {
		t.Errorf("the figure's words, %s, are not there", alt)
	}
}
