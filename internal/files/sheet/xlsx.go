//go:build !js

package sheet

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"spile/internal/note"
	"spile/internal/trade/gloss"
)

// sheetNames are the sheets of an XLSX file, in its order; none where it cannot be read, which reading it says.
func sheetNames(data []byte) (names []string) {
	defer func() {
		if recover() != nil {
			names = nil
		}
	}()
	book, err := excelize.OpenReader(bytes.NewReader(data),
		excelize.Options{UnzipSizeLimit: maxUnzipped, UnzipXMLSizeLimit: maxUnzipped})
	if err != nil {
		return nil
	}
	defer book.Close()
	return book.GetSheetList()
}

// spreadsheet reads one sheet of an XLSX file (ECMA-376): the first, or the one named.
func spreadsheet(file, sheet string, data []byte, known map[string]bool, v *vocabulary,
	f *faults) (h *head, records []*record) {
	at := note.Where{File: file}
	if bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")) {
		f.add(note.New("this spreadsheet is locked with a password, or of the old kind (.xls); save it as .xlsx " +
			"without a password").At(at))
		return nil, nil
	}
	if !bytes.HasPrefix(data, []byte("PK\x03\x04")) {
		f.add(note.New("this is not a spreadsheet; allowed: an .xlsx file as a spreadsheet program saves it").At(at))
		return nil, nil
	}
	damaged := func() {
		f.add(note.New("this spreadsheet is damaged and cannot be read; open it in a spreadsheet program and save it " +
			"again").At(at))
		f.broken = true
	}
	defer func() {
		if recover() != nil { // the reader of the package fell over what stands in the file
			damaged()
			h, records = nil, nil
		}
	}()
	book, err := excelize.OpenReader(bytes.NewReader(data),
		excelize.Options{UnzipSizeLimit: maxUnzipped, UnzipXMLSizeLimit: maxUnzipped})
	if err != nil {
		if strings.HasPrefix(err.Error(), "unzip size exceeds") {
			f.add(note.New("this spreadsheet unpacks to more than %v MiB; allowed: at most that", maxUnzipped>>20).
				At(at))
		} else {
			damaged()
		}
		return nil, nil
	}
	defer book.Close()
	names := book.GetSheetList()
	if len(names) == 0 {
		damaged()
		return nil, nil
	}
	x := workbook{File: book, formats: map[int]format{}, units: map[int]string{}}
	if p := book.WorkBook.WorkbookPr; p != nil {
		x.from1904 = p.Date1904
	}
	if x.texts, err = x.shared(); err != nil {
		damaged()
		return nil, nil
	}
	x.faults, x.file, x.known, x.vocabulary = f, file, known, v
	name := names[0]
	if sheet != "" {
		i := slices.IndexFunc(names, func(n string) bool { return strings.EqualFold(n, sheet) })
		if i < 0 {
			f.add(note.New("there is no sheet %s; allowed: %s", quote(sheet), strings.Join(names, ", ")).At(at))
			return nil, nil
		}
		return x.table(names[i])
	} else if v == nil || len(names) == 1 {
		return x.table(name)
	}
	name, others := x.telling(*v, names)
	h, records = x.table(name)
	if h == nil {
		return nil, nil
	}
	var unread, unclear []string
	sheets := []string{name}
	whole := [][]*record{records}
	for _, o := range others {
		y := x
		y.faults = new(faults)
		switch h2, more := y.table(o.name); {
		case h2 != nil && join(h, h2) && !apartFrom(name, o.name):
			f.join(y.faults)
			h = union(h, h2, whole, more)
			sheets, whole = append(sheets, o.name), append(whole, more)
		case o.tells:
			unclear = append(unclear, o.name)
		default:
			unread = append(unread, o.name)
		}
	}
	if len(unclear) > 0 {
		f.add(note.New("the sheets %s each hold a table, under other headers; allowed: one of them, named as %s",
			strings.Join(append(sheets, unclear...), ", "), file+"#"+unclear[0]).At(at))
		return nil, nil
	}
	at.Sheet = name
	if len(unread) > 0 {
		h.notes = append(h.notes, note.New("the sheets %s are not read; one of them is read as %s",
			strings.Join(unread, ", "), file+"#"+unread[0]).At(at))
	}
	if len(whole) > 1 {
		h, records = together(h, sheets, whole)
		h.notes = append(h.notes, note.New("the sheets %s have the same header and are read as one table",
			strings.Join(sheets, ", ")).At(at))
	}
	return h, records
}

// asideWords are words, plain, of names of sheets that hold the same in another form, or what does not count.
var asideWords = []string{"raw", "brut", "bruts", "brutes", "mean", "means", "average", "averages", "moyenne",
	"moyennes", "summary", "sommaire", "total", "totals", "totaux", "rejected", "rejects", "rejete", "rejetes",
	"excluded", "exclu", "exclus", "discarded", "outliers", "old", "copy", "copie", "draft", "backup", "test"}

// apartFrom is true of sheets of which one is set aside by its name and the other is not, or for something else.
func apartFrom(a, b string) bool {
	aside := func(name string) string {
		for _, w := range strings.Fields(gloss.Plain(name)) {
			if slices.Contains(asideWords, w) {
				return w
			}
		}
		return ""
	}
	return aside(a) != aside(b)
}

// join is true of sheets of which one has all the columns of the other, in any order.
func join(a, b *head) bool {
	within := func(a, b *head) bool {
		return !slices.ContainsFunc(a.names, func(name string) bool { return !slices.Contains(b.names, name) })
	}
	return within(a, b) || within(b, a)
}

// union is the header of both, and puts the cells of each row under it.
func union(first, second *head, whole [][]*record, more []*record) *head {
	h := newHead(slices.Clone(first.names))
	h.said, h.file, h.sheet, h.row, h.sep = slices.Clone(first.said), first.file, first.sheet, first.row, first.sep
	h.notes = first.notes
	for i, name := range second.names {
		if !slices.Contains(h.names, name) {
			h.names, h.said = append(h.names, name), append(h.said, second.said[i])
		}
	}
	under := func(of *head, records []*record) {
		for _, r := range records {
			cells := make([]cell, len(h.names))
			for k, name := range h.names {
				cells[k] = cell{row: r.row}
				if i := slices.Index(of.names, name); i >= 0 {
					cells[k] = r.at(i)
				}
			}
			r.cells = cells
		}
	}
	for _, records := range whole {
		under(first, records)
	}
	under(second, more)
	return h
}

// together makes one table of the sheets that have the same header, in the order of the file, with their names in a
// column of their own.
func together(first *head, sheets []string, whole [][]*record) (*head, []*record) {
	h := newHead(append(slices.Clone(first.names), strings.ToLower(sheetColumn)))
	h.said = append(slices.Clone(first.said), sheetColumn)
	h.file, h.sheet, h.row, h.sep, h.notes = first.file, first.sheet, first.row, first.sep, first.notes
	var all []*record
	for i, records := range whole {
		for _, r := range records {
			for len(r.cells) < len(first.names) {
				r.cells = append(r.cells, cell{row: r.row})
			}
			r.cells = append(r.cells, cell{text: sheets[i], row: r.row})
			r.head = h
			all = append(all, r)
		}
	}
	return h, all
}

// table reads one sheet.
func (x workbook) table(name string) (h *head, records []*record) {
	f, file, v := x.faults, x.file, x.vocabulary
	at := note.Where{File: file, Sheet: name}
	damaged := func() {
		f.add(note.New("this spreadsheet is damaged and cannot be read; open it in a spreadsheet program and save it " +
			"again").At(note.Where{File: file}))
		f.broken = true
	}
	rows, merged, err := x.rows(name)
	switch {
	case errors.Is(err, errTooMuch):
		f.add(note.New("this sheet holds more than %d filled cells; allowed: at most that", maxCells).At(at))
		f.broken = true
		return nil, nil
	case errors.Is(err, errMerged):
		f.add(note.New("this sheet holds more than %d merged cells; allowed: at most that", maxMerged).At(at))
		f.broken = true
		return nil, nil
	case err != nil:
		damaged()
		return nil, nil
	}

	g := grid{file: file, sheet: name, faults: f, loose: v}
	wrong := map[int][]note.Note{}
	if v == nil { // a title may stand over the table
		rows = rows[(vocabulary{known: x.known}).top(x.first(rows)):]
	}
	for i, r := range rows {
		cells := make([]cell, 0, len(r.cells))
		lost := false
		for _, c := range r.cells {
			if c.col > maxColumns {
				f.add(note.New("%s stands in column %d; allowed: at most %d columns", quote(x.plain(c)), c.col,
					maxColumns).
					At(note.Where{File: file, Sheet: name, Row: r.row}))
				break
			}
			for len(cells) < c.col-1 {
				cells = append(cells, cell{row: r.row})
			}
			text, bad := x.text(c)
			switch {
			case v != nil && bad != nil:
				wrong[r.row] = append(wrong[r.row], bad.At(note.Where{File: file, Sheet: name, Row: c.col}))
				text, lost = x.plain(c), true
			case i == 0 && v == nil && (bad != nil || x.format(c.style) != date || c.kind != "" && c.kind != "n"):
				text = x.plain(c)
			case bad != nil:
				where := note.Where{File: file, Sheet: name, Row: r.row}
				if c.col <= len(g.head.names) {
					where.Column = g.head.names[c.col-1]
				}
				f.add(bad.At(where))
				lost = true
			}
			cells = append(cells[:c.col-1], cell{text: text, row: r.row})
		}
		if !g.add(r.row, cells) {
			return g.head, nil
		}
		if n := len(g.records); lost && n > 0 && g.records[n-1].row == r.row {
			g.records[n-1].lost = true
		}
	}
	if v != nil {
		if h, records = shaped(&g, merged, wrong, *v); h != nil {
			h.notes = append(x.hidden(rows, at), h.notes...)
		}
		return h, records
	}
	if h, records = g.end(); h != nil {
		spread(h, h.names, 1, records, merged, f)
	}
	return h, records
}

// first are the texts of the top rows of a sheet, small.
func (x workbook) first(rows []filledRow) [][]string {
	list := make([][]string, min(len(rows), topRows))
	for i := range list {
		for _, c := range rows[i].cells {
			if c.col > maxColumns {
				break
			}
			for len(list[i]) < c.col-1 {
				list[i] = append(list[i], "")
			}
			list[i] = append(list[i], strings.TrimSpace(x.plain(c)))
		}
	}
	return list
}

// besideIt is a sheet that may hold a table too; tells is true where its header tells as much as that of the best one.
type besideIt struct {
	name  string
	tells bool
}

// telling is the sheet whose header tells most, and the others that tell as much as a table must.
func (x workbook) telling(v vocabulary, names []string) (name string, others []besideIt) {
	score, most := map[string]int{}, -1
	name = names[0]
	names = slices.DeleteFunc(slices.Clone(names), func(n string) bool {
		visible, err := x.GetSheetVisible(n)
		return err == nil && !visible
	})
	names = names[:min(len(names), topRows)]
	for _, n := range names {
		rows, _, err := x.rows(n)
		if err != nil {
			continue
		}
		if first := x.first(rows); len(first) > 0 {
			header := first[v.top(first)]
			score[n] = 10*v.ours(header) + v.may(header)
		}
		if score[n] > most {
			name, most = n, score[n]
		}
	}
	for _, n := range names {
		if n != name && score[n] >= 3 {
			others = append(others, besideIt{n, score[n] == most})
		}
	}
	return name, others
}

// hidden says that rows and columns which a spreadsheet hides are read as well.
func (x workbook) hidden(rows []filledRow, at note.Where) (list note.List) {
	var numbers, letters []string
	for _, r := range rows {
		if r.hidden && len(r.cells) > 0 {
			numbers = append(numbers, strconv.Itoa(r.row))
		}
		for _, c := range r.cells {
			name, _ := excelize.ColumnNumberToName(c.col)
			if c.hidden && !slices.Contains(letters, name) {
				letters = append(letters, name)
			}
		}
	}
	if n := len(numbers); n > 0 {
		list = append(list, note.New("rows that the spreadsheet hides are read too (rows: %d; %s)", n,
			strings.Join(numbers[:min(n, 8)], ", ")).At(at))
	}
	if n := len(letters); n > 0 {
		list = append(list, note.New("columns that the spreadsheet hides are read too (columns: %d; %s)", n,
			strings.Join(letters[:min(n, 8)], ", ")).At(at))
	}
	return list
}

// workbook is an XLSX file that is being read.
type workbook struct {
	*excelize.File
	texts    []string // shared by the cells of all sheets
	formats  map[int]format
	units    map[int]string // that formats show behind a number, by style
	from1904 bool           // days are counted from 1904

	// of what is read
	file       string
	known      map[string]bool
	vocabulary *vocabulary
	faults     *faults
}

// filled is a cell with something in it, as it stands in the file.
type filled struct {
	col    int // from 1
	kind   string
	style  int
	value  string
	hidden bool // its column
	lacks  bool // a formula whose result is not there; that a formula gives an empty text is a result
}

type filledRow struct {
	row    int
	hidden bool
	cells  []filled
}

var (
	errTooMuch = errors.New("too many cells")
	errMerged  = errors.New("too many merged cells")
	errLost    = errors.New("the part is missing")
)

// part gives the bytes of a part of the package.
func (x workbook) part(name string) ([]byte, bool) {
	v, ok := x.Pkg.Load(strings.TrimPrefix(name, "/"))
	data, _ := v.([]byte)
	return data, ok && data != nil
}

// shared reads the texts that cells name by number.
func (x workbook) shared() ([]string, error) {
	data, ok := x.part("xl/sharedStrings.xml")
	if !ok {
		return nil, nil
	}
	var texts []string
	d := xml.NewDecoder(bytes.NewReader(data))
	for {
		t, err := d.Token()
		if err == io.EOF {
			return texts, nil
		} else if err != nil {
			return nil, err
		}
		if s, ok := t.(xml.StartElement); ok && s.Name.Local == "si" {
			text, err := words(d)
			if err != nil {
				return nil, err
			}
			if texts = append(texts, text); len(texts) > maxCells {
				return nil, errTooMuch
			}
		}
	}
}

// words is the text of an element, all runs of it together, without what tells how it is read aloud (rPh).
func words(d *xml.Decoder) (string, error) {
	var b strings.Builder
	in := false
	for depth := 1; depth > 0; {
		t, err := d.Token()
		if err != nil {
			return "", err
		}
		switch t := t.(type) {
		case xml.StartElement:
			if t.Name.Local == "rPh" {
				if err := d.Skip(); err != nil {
					return "", err
				}
				continue
			}
			depth++
			in = t.Name.Local == "t"
		case xml.EndElement:
			depth--
			in = false
		case xml.CharData:
			if in {
				b.Write(t)
			}
		}
	}
	return b.String(), nil
}

// sheetPart finds the part that holds a sheet.
func (x workbook) sheetPart(sheet string) ([]byte, error) {
	id := ""
	for _, s := range x.WorkBook.Sheets.Sheet {
		if s.Name == sheet {
			id = s.ID
		}
	}
	var links struct {
		Relationship []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		}
	}
	data, ok := x.part("xl/_rels/workbook.xml.rels")
	if !ok || xml.Unmarshal(data, &links) != nil {
		return nil, errLost
	}
	for _, l := range links.Relationship {
		if l.ID != id {
			continue
		}
		name := l.Target
		if !strings.HasPrefix(name, "/") {
			name = path.Join("xl", name)
		}
		if data, ok := x.part(name); ok {
			return data, nil
		}
	}
	return nil, errLost
}

// rows reads the filled cells of a sheet, row by row from the top, and which cells are merged.
func (x workbook) rows(sheet string) (rows []filledRow, merged []area, err error) {
	data, err := x.sheetPart(sheet)
	if err != nil {
		return nil, nil, err
	}
	d := xml.NewDecoder(bytes.NewReader(data))
	row, col, cells := 0, 0, 0
	unseen, through := map[int]bool{}, 0 // columns that are hidden, and the last that was said
	hides := func(s xml.StartElement) bool { return attr(s, "hidden") == "1" || attr(s, "hidden") == "true" }
	for {
		t, err := d.Token()
		if err == io.EOF {
			return rows, merged, nil
		} else if err != nil {
			return nil, nil, err
		}
		s, ok := t.(xml.StartElement)
		if !ok {
			continue
		}
		switch s.Name.Local {
		case "col":
			from, _ := strconv.Atoi(attr(s, "min"))
			to, _ := strconv.Atoi(attr(s, "max"))
			for i := max(from, through+1); i <= min(to, excelize.MaxColumns); i++ { // which stand in their order
				unseen[i], through = hides(s), i
			}
		case "row":
			before := row
			row++
			col = 0
			if r := attr(s, "r"); r != "" {
				if row, err = strconv.Atoi(r); err != nil || row <= before {
					return nil, nil, errLost
				}
			}
			rows = append(rows, filledRow{row: row, hidden: hides(s)})
			if len(rows) > maxCells {
				return nil, nil, errTooMuch
			}
		case "c":
			before := col
			col++
			if r := attr(s, "r"); r != "" {
				if col, _, err = excelize.CellNameToCoordinates(r); err != nil || col <= before {
					return nil, nil, errLost
				}
			}
			c := filled{col: col, kind: attr(s, "t"), hidden: unseen[col]}
			c.style, _ = strconv.Atoi(attr(s, "s"))
			if err := c.read(d); err != nil {
				return nil, nil, err
			}
			if len(rows) == 0 {
				return nil, nil, errLost
			}
			if c.value != "" || c.lacks {
				r := &rows[len(rows)-1]
				r.cells = append(r.cells, c)
				if cells++; cells > maxCells {
					return nil, nil, errTooMuch
				}
			}
		case "mergeCell":
			from, to, _ := strings.Cut(attr(s, "ref"), ":")
			var a area
			a.left, a.top, err = excelize.CellNameToCoordinates(from)
			if a.right, a.bottom = a.left, a.top; err == nil && to != "" {
				a.right, a.bottom, err = excelize.CellNameToCoordinates(to)
			}
			if err != nil {
				return nil, nil, err
			}
			if merged = append(merged, a); len(merged) > maxMerged {
				return nil, nil, errMerged
			}
		}
	}
}

// read takes what stands inside a cell.
func (c *filled) read(d *xml.Decoder) error {
	formula, result := false, false
	for {
		t, err := d.Token()
		if err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.EndElement:
			c.lacks = formula && c.value == "" && !(result && c.kind == "str")
			return nil
		case xml.StartElement:
			switch t.Name.Local {
			case "v":
				result = true
				var b []byte
				for in := true; in; {
					t, err := d.Token()
					if err != nil {
						return err
					}
					switch t := t.(type) {
					case xml.CharData:
						b = append(b, t...)
					case xml.StartElement:
						if err := d.Skip(); err != nil {
							return err
						}
					case xml.EndElement:
						in = false
					}
				}
				c.value = string(b)
			case "is":
				if c.value, err = words(d); err != nil {
					return err
				}
			default:
				formula = formula || t.Name.Local == "f"
				if err := d.Skip(); err != nil {
					return err
				}
			}
		}
	}
}

func attr(s xml.StartElement, name string) string {
	for _, a := range s.Attr {
		if a.Name.Local == name && a.Name.Space == "" {
			return a.Value
		}
	}
	return ""
}

// plain is the words of a cell, or its number as stored.
func (x workbook) plain(c filled) string {
	if c.kind != "s" {
		return c.value
	}
	if i, err := strconv.Atoi(c.value); err == nil && i >= 0 && i < len(x.texts) {
		return x.texts[i]
	}
	return ""
}

// text is what a cell says, or what is wrong with it. A percentage carries its sign. A date comes as year-month-day, so
// that where a spreadsheet took 5/16 for a day of May the number's own check finds it.
func (x workbook) text(c filled) (string, *note.Note) {
	if c.lacks {
		return "", new(note.New("a formula stands here without its result; open the file in a spreadsheet program " +
			"and save it, or put the value in its place"))
	}
	switch c.kind {
	case "s", "str", "inlineStr":
		return x.plain(c), nil
	case "b":
		if c.value == "1" {
			return "true", nil
		}
		return "false", nil
	case "e":
		if x.vocabulary != nil { // which is a word for what is not known, and asked about as such
			return c.value, nil
		}
		return "", new(note.New("%s stands here, which a spreadsheet shows where a formula fails; leave it empty "+
			"where there is no value", quote(c.value)))
	case "d":
		day, _, _ := strings.Cut(c.value, "T00:00:00")
		return day, nil
	}
	number, err := strconv.ParseFloat(c.value, 64)
	if err != nil {
		return c.value, nil
	}
	switch x.format(c.style) {
	case date:
		day, err := excelize.ExcelDateToTime(number, x.from1904)
		if err != nil {
			return c.value, nil
		}
		if number != math.Trunc(number) {
			return day.Format("2006-01-02 15:04"), nil
		}
		return day.Format(time.DateOnly), nil
	case percent:
		return short(strconv.FormatFloat(100*number, 'g', 15, 64)) + " %", nil
	}
	if unit := x.units[c.style]; unit != "" && x.vocabulary != nil {
		return short(c.value) + " " + unit, nil
	}
	return short(c.value), nil
}

// short drops the tail of binary arithmetic, as a spreadsheet does where it shows 15 digits: 15.199999999999999 and
// 0.30000000000000004 become 15.2 and 0.3. A number that is not within four steps of a short one keeps all its digits.
func short(text string) string {
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || len(text) < 15 {
		return text
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
	step := math.Nextafter(math.Abs(x), math.Inf(1)) - math.Abs(x)
	if s := strconv.FormatFloat(rounded, 'g', -1, 64); len(s) <= 13 && math.Abs(x-rounded) <= 4*step {
		return s
	}
	return text
}

// format is how a number is shown, as far as that changes what it says.
type format int

const (
	other format = iota
	date
	percent
)

// format finds the format of a style. Those with numbers below 164 are built in (ECMA-376 part 1, 18.8.30).
func (x workbook) format(style int) format {
	if style == 0 {
		return other
	}
	if f, ok := x.formats[style]; ok {
		return f
	}
	f := other
	if s, err := x.GetStyle(style); err == nil {
		switch n := s.NumFmt; {
		case s.CustomNumFmt != nil:
			f = formatOf(*s.CustomNumFmt)
			x.units[style] = unitOf(*s.CustomNumFmt)
		case n == 9 || n == 10:
			f = percent
		case n >= 14 && n <= 22, n >= 27 && n <= 36, n >= 45 && n <= 47, n >= 50 && n <= 58:
			f = date
		}
	}
	x.formats[style] = f
	return f
}

// unitOf is the unit that a format code shows behind a number: gal of 0.0" gal"; "" where what it shows there is none
// that a column knows.
func unitOf(code string) string {
	code, _, _ = strings.Cut(code, ";")
	shown := strings.NewReplacer(`"`, "", `\`, "").Replace(code[strings.LastIndexAny(code, "0#?")+1:])
	shown = strings.TrimSpace(shown)
	for _, c := range ofEvidence {
		for _, w := range c.Ways {
			if says(c, w, gloss.Plain(shown)) {
				return shown
			}
		}
	}
	return ""
}

// formatOf reads a format code: what stands in quotes, in brackets and behind a backslash is not part of it.
func formatOf(code string) format {
	code, _, _ = strings.Cut(code, ";") // of positive numbers
	for i := 0; i < len(code); i++ {
		switch c := code[i]; c {
		case '"':
			if j := strings.IndexByte(code[i+1:], '"'); j >= 0 {
				i += j + 1
			}
		case '[':
			if j := strings.IndexByte(code[i:], ']'); j >= 0 {
				if in := strings.ToLower(code[i+1 : i+j]); in != "" && strings.Trim(in, "hms") == "" {
					return date
				}
				i += j
			}
		case '\\', '_', '*':
			i++
		case '%':
			return percent
		case 'y', 'Y', 'm', 'M', 'd', 'D', 'h', 'H', 's', 'S':
			return date
		case 'G', 'g': // General
			if strings.HasPrefix(strings.ToLower(code[i:]), "general") {
				i += 6
			}
		}
	}
	return other
}
