package sheet

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"spile/internal/note"
)

// mostLetters is what a cell of an XLSX file holds, in units of UTF-16 (ECMA-376; Excel specifications and limits).
const mostLetters = 32_767

// utf8Text gives the text of a file without its byte order mark, or says why it is not text.
func utf8Text(file string, data []byte, f *faults) ([]byte, bool) {
	at := note.Where{File: file}
	switch {
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		data = data[3:]
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		big := data[0] == 0xfe
		units := make([]uint16, 0, len(data)/2)
		for i := 2; i+1 < len(data); i += 2 {
			lo, hi := data[i], data[i+1]
			if big {
				lo, hi = hi, lo
			}
			units = append(units, uint16(hi)<<8|uint16(lo))
		}
		data = []byte(string(utf16.Decode(units)))
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		f.add(note.New("this is a spreadsheet or an archive, not a text table; save the sheet as CSV (UTF-8) first").
			At(at))
		return nil, false
	}
	row := 1
	for i := 0; i < len(data); {
		if data[i] == 0 {
			at.Row = row
			f.add(note.New("this is not a text file: it holds a zero byte; allowed: CSV or TOML in UTF-8").At(at))
			return nil, false
		}
		if data[i] < utf8.RuneSelf {
			if data[i] == '\n' {
				row++
			}
			i++
			continue
		}
		r, size := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && size == 1 {
			at.Row = row
			f.add(note.New("byte %d is not UTF-8; save the file as CSV UTF-8 (an older program may have written it "+
				"in another encoding)", int(data[i])).At(at))
			return nil, false
		}
		i += size
	}
	if len(bytes.TrimSpace(data)) == 0 {
		n := note.New("the file is empty; allowed: a header row, and rows below it")
		if strings.HasSuffix(strings.ToLower(file), ".toml") {
			n = note.New("the file is empty; allowed: lines such as %s", "wage = 24")
		}
		f.add(n.At(at))
		return nil, false
	}
	return data, true
}

// maxColumns and maxRows are far above what a table of studies has.
const (
	maxColumns = 500
	maxRows    = 200_000
	maxFields  = 1 << 14 // of a line: as many as a sheet has columns, which some programs write out empty
)

// lines reads text of which no line has too many fields: what a line takes in memory is many times its length.
type lines struct {
	io.Reader
	sep    byte
	line   int
	fields int // of the line so far, but for the last
}

// tooMany is the error of a line with more than maxFields.
type tooMany int

func (line tooMany) Error() string { return fmt.Sprintf("line %d has too many fields", int(line)) }

func (l *lines) Read(to []byte) (int, error) {
	n, err := l.Reader.Read(to)
	for text, more := to[:n], true; more; {
		var line []byte
		line, text, more = bytes.Cut(text, []byte("\n"))
		if l.fields += bytes.Count(line, []byte{l.sep}); l.fields >= maxFields {
			return 0, tooMany(l.line + 1)
		}
		if more {
			l.line, l.fields = l.line+1, 0
		}
	}
	return n, err
}

// table reads a table, CSV or a sheet of an XLSX file, into records. known tells the columns that it may have, which
// settles the separator where the header alone does not; v, where it is given, says what headers and words of others
// may stand for, and then the table may be in another shape.
func table(file string, data []byte, known map[string]bool, v *vocabulary, f *faults) (*head, []*record) {
	if name, sheet, ok := spreadsheetName(file); ok {
		return spreadsheet(name, sheet, data, known, v, f)
	}
	var notes note.List
	if v != nil {
		data, notes = ofWindows(file, data)
	}
	data, ok := utf8Text(file, data, f)
	if !ok {
		return nil, nil
	}
	if bytes.IndexByte(data, '\n') < 0 {
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n")) // the line ends of old
	}
	if v != nil {
		data = aligned(piped(data))
	}
	g := grid{file: file, faults: f, loose: v}
	if !g.read(bufio.NewReaderSize(bytes.NewReader(data), longestHeader), known) {
		return g.head, nil
	}
	if v == nil {
		return g.end()
	}
	h, records := shaped(&g, nil, nil, *v)
	if h != nil {
		h.notes = append(notes, h.notes...)
	}
	return h, records
}

// piped gives a table that is drawn with bars and dashes, as texts have it, with tabs in the place of the bars.
func piped(data []byte) []byte {
	if !bytes.HasPrefix(bytes.TrimSpace(data), []byte("|")) {
		return data
	}
	rows := strings.Split(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n")
	for i, row := range rows {
		row = strings.TrimSuffix(strings.TrimPrefix(strings.TrimSpace(row), "|"), "|")
		if strings.Trim(row, "|-:= ") == "" {
			row = ""
		}
		rows[i] = strings.ReplaceAll(row, "|", "\t")
	}
	return []byte(strings.Join(rows, "\n"))
}

// aligned gives a table whose columns stand apart by spaces alone, with tabs between: every line of it falls into as
// many parts, three or more, and none holds what else separates columns.
func aligned(data []byte) []byte {
	if bytes.ContainsAny(data, "\t;,") {
		return data
	}
	rows, parts := strings.Split(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n"), 0
	for i, row := range rows {
		if row = strings.TrimSpace(row); row == "" {
			continue
		}
		fields := spacesBetween.Split(row, -1)
		if parts == 0 {
			parts = len(fields)
		}
		if len(fields) < 3 || len(fields) != parts {
			return data
		}
		rows[i] = strings.Join(fields, "\t")
	}
	return []byte(strings.Join(rows, "\n"))
}

var spacesBetween = regexp.MustCompile(` {2,}`)

// windows are the bytes that Windows-1252 has for the letters and signs of English and French beyond ASCII.
const windows = "\x80\x85\x8c\x91\x92\x93\x94\x96\x97\x9c\xa0\xab\xb0\xb1\xb2\xb3\xb5\xb7\xbb\xbc\xbd\xc0\xc2" +
	"\xc6\xc7\xc8\xc9\xca\xcb\xce\xcf\xd4\xd7\xd9\xdb\xdc\xe0\xe2\xe6\xe7\xe8\xe9\xea" +
	"\xeb\xee\xef\xf1\xf4\xf6\xf9\xfb\xfc"

// ofWindows gives a text of an older spreadsheet program in UTF-8, where its bytes leave no doubt.
func ofWindows(file string, data []byte) ([]byte, note.List) {
	if utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0 {
		return data, nil
	}
	for _, c := range data {
		if c >= utf8.RuneSelf && strings.IndexByte(windows, c) < 0 {
			return data, nil
		}
	}
	text, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return data, nil
	}
	return text, note.List{note.New("this table is no UTF-8 and is read as Windows-1252").At(note.Where{File: file})}
}

// longestHeader is how much of a header is looked at to find what separates its columns.
const longestHeader = 1 << 16

// read takes the rows of a CSV file in UTF-8 one by one; false where not all were to be read.
func (g *grid) read(text *bufio.Reader, known map[string]bool) bool {
	// Lines before the header that begin with # say where the table comes from; below the header # is data.
	skipped := 0
	var first []byte
	for {
		ahead, _ := text.Peek(longestHeader)
		line, _, more := bytes.Cut(ahead, []byte("\n"))
		if t := bytes.TrimSpace(line); len(ahead) > 0 && more && (len(t) == 0 || t[0] == '#') {
			text.Discard(len(line) + 1)
			skipped++
			continue
		}
		first = line
		break
	}
	sep := separator(string(first), known)
	if g.loose != nil {
		ahead, _ := text.Peek(longestHeader)
		sep = g.loose.separator(ahead)
	}
	in := csv.NewReader(&lines{Reader: text, sep: byte(sep)})
	in.Comma = sep
	in.FieldsPerRecord = -1
	in.TrimLeadingSpace = sep != '\t'
	if g.loose != nil { // inches stand so in a cell that no quotes enclose: 5/16"
		ahead, err := text.Peek(longestHeader)
		in.LazyQuotes = err != nil && bytes.Count(ahead, []byte("\"")) == len(inches.FindAll(ahead, -1))
	}
	in.ReuseRecord = true
	g.comma, g.sep = sep != ',', sep
	var again []cell
	for {
		fields, err := in.Read()
		if err == io.EOF {
			return true
		}
		if err != nil {
			var wrong *csv.ParseError
			if errors.As(err, &wrong) {
				g.faults.add(note.New("the quotes of this row do not close as CSV wants: a field with a quote in it " +
					"is written in quotes, and each quote in it twice").
					At(note.Where{File: g.file, Row: wrong.StartLine + skipped}))
				g.faults.broken = true
				if g.head == nil {
					return false
				}
				continue
			}
			said := note.New("this file could not be read: %s", err.Error()).At(note.Where{File: g.file})
			if line, ok := errors.AsType[tooMany](err); ok {
				said = note.New("this row has more than %d fields; allowed: at most that", maxFields).
					At(note.Where{File: g.file, Row: int(line) + skipped})
			}
			g.faults.add(said)
			g.faults.broken = true
			return false
		}
		line, _ := in.FieldPos(0)
		cells := again[:0]
		if g.each == nil || g.head == nil {
			cells = make([]cell, 0, len(fields))
		}
		for i, text := range fields {
			at, _ := in.FieldPos(i)
			cells = append(cells, cell{text: plainText(text), row: at + skipped})
		}
		if g.each != nil && g.head != nil {
			again = cells
		}
		if !g.add(line+skipped, cells) {
			return false
		}
	}
}

// inches is a size at the end of a cell.
var inches = regexp.MustCompile(`(?m)\d" *(?:[,;\t\r]|$)`)

// grid gathers the rows of a table: the first that it is given is the header.
type grid struct {
	file, sheet string
	loose       *vocabulary // nil: the first row is the header; else that is to be found
	comma       bool        // a decimal comma may stand in numbers
	sep         rune        // of a CSV file
	faults      *faults
	head        *head
	records     []*record
	blank       [][]string // blank rows, of which none stands below them yet
	// nil: the rows are kept in records; else it is given each, in a record that is used again
	each func(*record) bool
	row  record
}

// add takes a row; false where no further row is to be read.
func (g *grid) add(row int, cells []cell) bool {
	at := note.Where{File: g.file, Sheet: g.sheet, Row: row}
	for i := range cells {
		cells[i].text = strings.TrimSpace(cells[i].text)
		if text := cells[i].text; len(text) > mostLetters && utf8.RuneCountInString(text) > mostLetters {
			cells[i].text = shorten(text)
			g.faults.add(note.New("column %d: %s and so on, %d letters; allowed: at most %d, as in a cell of a "+
				"spreadsheet", i+1, quote(cells[i].text), utf8.RuneCountInString(text), mostLetters).At(at))
		}
	}
	if g.head == nil && g.loose == nil {
		return g.header(at, cells)
	}
	whole := cells
	for len(cells) > 0 && cells[len(cells)-1].text == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) == 0 { // a blank row
		if g.loose != nil && !g.loose.plain && len(g.blank) < topRows { // more are no layout
			g.blank = append(g.blank, texts(&record{cells: whole}))
		}
		return true
	}
	if g.each == nil && len(g.records) == maxRows {
		g.faults.add(note.New("the table has more than %d rows; allowed: at most that", maxRows).At(at))
		g.faults.broken = true
		return false
	}
	if g.loose != nil {
		r := &record{row: row, cells: cells}
		if !g.loose.plain {
			r.stood, g.blank = append(g.blank, texts(&record{cells: whole})), nil
		}
		g.records = append(g.records, r)
		return true
	}
	width := len(g.head.names)
	for _, c := range cells[min(len(cells), width):] {
		if c.text != "" {
			g.faults.add(note.New("%s stands beyond the last column of the header; allowed: %d fields (a text with "+
				"the separator in it is written in quotes)",
				quote(c.text), width).At(at))
		}
	}
	r := record{file: g.file, sheet: g.sheet, row: row, head: g.head, comma: g.comma, faults: g.faults,
		cells: cells[:min(len(cells), width)]}
	if g.each != nil {
		g.row = r
		return g.each(&g.row)
	}
	g.records = append(g.records, &r)
	return true
}

func (g *grid) header(at note.Where, cells []cell) bool {
	if len(cells) > maxColumns {
		g.faults.add(note.New("the header has %d columns; allowed: at most %d", len(cells), maxColumns).At(at))
		return false
	}
	names := make([]string, len(cells))
	for i, c := range cells {
		names[i] = strings.ToLower(c.text)
		if names[i] != "" && slices.Contains(names[:i], names[i]) {
			at.Column = names[i]
			g.faults.add(note.New("the column %s stands twice in the header; allowed: each column once",
				quote(names[i])).At(at))
		}
	}
	for len(names) > 0 && names[len(names)-1] == "" {
		names = names[:len(names)-1]
	}
	g.head = newHead(names)
	for _, c := range cells[:len(names)] {
		g.head.said = append(g.head.said, c.text)
	}
	g.head.sep = g.sep
	g.head.file, g.head.sheet, g.head.row = g.file, g.sheet, at.Row
	return true
}

// end is the table as gathered.
func (g *grid) end() (*head, []*record) {
	if g.head == nil && !g.faults.broken {
		g.faults.add(note.New("the file is empty; allowed: a header row, and rows below it").
			At(note.Where{File: g.file, Sheet: g.sheet}))
	}
	return g.head, g.records
}

var separators = []rune{',', ';', '\t'}

// separator finds what separates the columns where a title may stand above the header: that which splits one of the
// top lines into the most columns of ours, two or more; else into the most that may stand for ours; else into the most.
func (v vocabulary) separator(text []byte) rune {
	lines := bytes.SplitN(text, []byte("\n"), topRows+1)
	lines = lines[:min(len(lines), topRows)]
	best := ','
	for _, told := range []func(fields []string) int{v.ours, v.may} {
		most, columns := 0, 0
		for _, sep := range separators {
			for _, line := range lines {
				fields := strings.Split(string(line), string(sep))
				if n := len(fields); n > 1 && n <= maxColumns {
					for i := range fields {
						fields[i] = strings.Trim(fields[i], "\" \r\t")
					}
					if k := told(fields); k > most || k == most && n > columns {
						best, most, columns = sep, k, n
					}
				}
			}
		}
		if most > 1 {
			break
		}
	}
	return best
}

// separator finds what separates the columns: of comma, semicolon and tab the one that splits the header into the
// most known columns, then into the most columns at all.
func separator(header string, known map[string]bool) rune {
	best, most := ',', -1
	for _, sep := range separators {
		score := 0
		for field := range strings.SplitSeq(header, string(sep)) {
			score++
			if known[strings.ToLower(strings.Trim(field, "\"\r \t"))] {
				score += 1000
			}
		}
		if score > most {
			best, most = sep, score
		}
	}
	return best
}
