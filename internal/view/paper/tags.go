//go:build !js

package paper

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"regexp"
	"strconv"
	"unicode/utf16"

	"gonum.org/v1/plot/vg"
)

// The kinds of structure that a document has (ISO 32000-1, 14.8.4).
const (
	TagDocument = "Document"
	TagTitle    = "H1"
	TagHeading  = "H2"
	TagPara     = "P"
	TagFigure   = "Figure"
	TagTable    = "Table"
	TagCaption  = "Caption"
	TagRow      = "TR"
	TagHead     = "TH"
	TagCell     = "TD"
)

// element is a part of what a document says, in the order in which it is read: what a screen reader goes by, and what
// keeps a table a table where text is copied. Its kids are elements, and sequences of what is drawn on a page.
type element struct {
	kind, alt string
	parent    *element
	kids      []kid
	number    int // of its object
}

// kid is an element, or a marked sequence of a page.
type kid struct {
	*element
	page, mark int
}

// tags is the structure of a document.
type tags struct {
	root   *element
	open   *element           // of what is written now; nil: decoration
	titled bool               // the first heading has been set
	pages  map[int][]*element // of each marked sequence of a page
}

func newTags() tags {
	root := &element{kind: TagDocument}
	return tags{root: root, open: root, pages: map[int][]*element{}}
}

// Within sets what is an element of the structure, with words in its place where it is a picture.
func (p *PDF) Within(kind, alt string, set func()) {
	p.inside(&element{kind: kind, alt: alt, parent: p.tags.open}, set)
}

// Headed is the kind of the next heading: the first is the title.
func (p *PDF) Headed() string {
	if !p.tags.titled {
		p.tags.titled = true
		return TagTitle
	}
	return TagHeading
}

// apart sets what is an element by itself, wherever it stands.
func (p *PDF) apart(kind, alt string, set func()) {
	p.inside(&element{kind: kind, alt: alt, parent: p.tags.root}, set)
}

// Aside sets what is no part of the structure: strokes, feet, a head that is repeated.
func (p *PDF) Aside(set func()) { p.inside(nil, set) }

func (p *PDF) inside(e *element, set func()) {
	was := p.tags.open
	if e != nil && was == nil {
		e = nil // what stands in decoration is decoration
	}
	p.tags.open = e
	set()
	p.tags.open = was
}

// Marked writes a sequence of the element that is open.
func (p *PDF) Marked(write func()) {
	e := p.tags.open
	if e == nil {
		p.doc.RawWriteStr("/Artifact BMC")
	} else {
		page := p.doc.PageNo()
		e.join()
		mark := len(p.tags.pages[page])
		e.kids = append(e.kids, kid{page: page, mark: mark})
		p.tags.pages[page] = append(p.tags.pages[page], e)
		p.doc.RawWriteStr(fmt.Sprintf("/%s <</MCID %d>> BDC", e.kind, mark))
	}
	write()
	p.doc.RawWriteStr("EMC")
}

// join makes an element one of its parent's kids, which it is from when it first holds something.
func (e *element) join() {
	if e.parent != nil && e.kids == nil {
		e.parent.join()
		e.parent.kids = append(e.parent.kids, kid{element: e})
	}
}

// Figure is a page of its own for one figure, with words in its place.
func (p *PDF) Figure(width, height vg.Length, alt string, draw func(vg.Canvas)) {
	page := p.Page(width, height)
	p.Within(TagFigure, alt, func() { p.Marked(func() { draw(page) }) })
}

var (
	rootOf  = regexp.MustCompile(`/Root (\d+) 0 R`)
	infoOf  = regexp.MustCompile(`/Info (\d+) 0 R`)
	kidsOf  = regexp.MustCompile(`/Kids \[([0-9 R]*)\]`)
	oneOf   = regexp.MustCompile(`(\d+) 0 R`)
	startOf = regexp.MustCompile(`startxref\s+(\d+)\s+%%EOF\s*$`)
)

// structured is a file of fpdf with the structure of what it says. Its pages and its catalogue are written again, with
// what leads to that, and its table of objects as a stream (ISO 32000-1, 7.5.7 and 7.5.8), which holds what is packed.
// A document that says nothing of it stays as it is.
func (t *tags) structured(file []byte) []byte {
	if t.root.kids == nil {
		return file
	}
	from := number(startOf.FindSubmatch(file))
	offsets := map[int]int{}
	size := 0
	for line := range bytes.Lines(file[from:]) {
		if len(line) == 20 && bytes.HasSuffix(line, []byte(" n \n")) {
			offsets[size] = number([][]byte{nil, line[:10]})
		}
		if len(line) == 20 {
			size++
		}
	}
	root, info := number(rootOf.FindSubmatch(file[from:])), number(infoOf.FindSubmatch(file[from:]))
	object := func(n int) string {
		text := file[offsets[n]:from]
		return string(text[:bytes.Index(text, []byte("endobj"))])
	}
	var pages []int // objects
	for _, m := range oneOf.FindAllStringSubmatch(kidsOf.FindStringSubmatch(object(1))[1], -1) {
		n, _ := strconv.Atoi(m[1])
		pages = append(pages, n)
	}

	out := bytes.NewBuffer(bytes.Clone(file[:from]))
	copy(out.Bytes(), "%PDF-1.7")
	again := func(n int, after, more string) {
		text := object(n)
		offsets[n] = out.Len()
		out.WriteString(regexp.MustCompile(after).ReplaceAllLiteralString(text, after+more) + "endobj\n")
	}
	packed, tree := size, size+1 // of the stream, and of the first object in it
	for i, n := range pages {
		again(n, "/Type /Page\n", fmt.Sprintf("/StructParents %d /Tabs /S\n", i))
	}
	again(root, "/Type /Catalog\n", fmt.Sprintf("/MarkInfo <</Marked true>> /StructTreeRoot %d 0 R "+
		"/ViewerPreferences <</DisplayDocTitle true>>\n", tree))

	all := t.root.all(nil)
	for i, e := range all {
		e.number = tree + 2 + i
	}
	objects := []string{fmt.Sprintf("<</Type/StructTreeRoot/K %d 0 R/ParentTree %d 0 R/ParentTreeNextKey %d>>",
		t.root.number, tree+1, len(pages)), t.parents(len(pages))}
	for _, e := range all {
		objects = append(objects, e.object(pages, tree))
	}
	var heads, bodies bytes.Buffer
	for i, x := range objects {
		fmt.Fprintf(&heads, "%d %d ", tree+i, bodies.Len())
		bodies.WriteString(x + "\n")
	}
	stream := func(n int, keys string, data []byte) {
		offsets[n] = out.Len()
		var z bytes.Buffer
		w := zlib.NewWriter(&z)
		w.Write(data)
		w.Close()
		fmt.Fprintf(out, "%d 0 obj\n<<%s/Filter/FlateDecode/Length %d>>\nstream\n%s\nendstream\nendobj\n", n, keys,
			z.Len(), z.Bytes())
	}
	stream(packed, fmt.Sprintf("/Type/ObjStm/N %d/First %d", len(objects), heads.Len()),
		append(heads.Bytes(), bodies.Bytes()...))

	last := tree + len(objects) // the table of objects itself
	offsets[last] = out.Len()
	var entries []byte
	entry := func(kind byte, at, index int) {
		entries = binary.BigEndian.AppendUint32(append(entries, kind), uint32(at))
		entries = binary.BigEndian.AppendUint32(entries, uint32(index))
	}
	entry(0, 0, 65535)
	for n := 1; n <= last; n++ {
		if n >= tree && n < last {
			entry(2, packed, n-tree)
		} else {
			entry(1, offsets[n], 0)
		}
	}
	start := out.Len()
	stream(last, fmt.Sprintf("/Type/XRef/Size %d/W[1 4 4]/Root %d 0 R/Info %d 0 R", last+1, root, info), entries)
	fmt.Fprintf(out, "startxref\n%d\n%%%%EOF\n", start)
	return out.Bytes()
}

// number is what a pattern found.
func number(found [][]byte) int {
	n, _ := strconv.Atoi(string(found[1]))
	return n
}

// all is an element and those below it, in their order.
func (e *element) all(to []*element) []*element {
	to = append(to, e)
	for _, k := range e.kids {
		if k.element != nil {
			to = k.all(to)
		}
	}
	return to
}

// object is an element as an object of the file.
func (e *element) object(pages []int, tree int) string {
	parent := tree
	if e.parent != nil {
		parent = e.parent.number
	}
	s := fmt.Sprintf("<</S/%s/P %d 0 R", e.kind, parent)
	switch {
	case e.alt != "":
		s += "/Alt" + hex(e.alt)
	case e.kind == TagHead:
		s += "/A<</O/Table/Scope/Column>>"
	}
	s += "/K["
	for _, k := range e.kids {
		if k.element != nil {
			s += fmt.Sprintf("%d 0 R ", k.number)
		} else {
			s += fmt.Sprintf("<</Type/MCR/Pg %d 0 R/MCID %d>>", pages[k.page-1], k.mark)
		}
	}
	return s + "]>>"
}

// parents leads from the marked sequences of each page to their elements.
func (t *tags) parents(pages int) string {
	s := "<</Nums["
	for i := range pages {
		s += fmt.Sprintf("%d[", i)
		for _, e := range t.pages[i+1] {
			s += fmt.Sprintf("%d 0 R ", e.number)
		}
		s += "]"
	}
	return s + "]>>"
}

// hex is text as a string of a PDF in UTF-16.
func hex(text string) string {
	s := "<FEFF"
	for _, u := range utf16.Encode([]rune(text)) {
		s += fmt.Sprintf("%04X", u)
	}
	return s + ">"
}
