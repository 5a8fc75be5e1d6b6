package sheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"spile/note"
)

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
		f.add(note.New("this is a spreadsheet or an archive, not a text table; save the sheet as CSV (UTF-8) first").At(at))
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
			f.add(note.New("byte %d is not UTF-8; save the file as CSV UTF-8 (an older program may have written it in another encoding)", int(data[i])).At(at))
			return nil, false
		}
		i += size
	}
	if len(bytes.TrimSpace(data)) == 0 {
		f.add(note.New("the file is empty; allowed: a header row, then one row an arm").At(at))
		return nil, false
	}
	return data, true
}

// maxColumns and maxRows are far above what a table of studies has.
const (
	maxColumns = 500
	maxRows    = 200_000
)

// table reads a CSV file into records. known tells the columns that the file may have, which settles the separator
// where the header alone does not; foreign gives the columns that other headers stand for.
func table(file string, data []byte, known map[string]bool, foreign map[string]string, f *faults) (*head, []*record) {
	data, ok := utf8Text(file, data, f)
	if !ok {
		return nil, nil
	}
	if bytes.IndexByte(data, '\n') < 0 {
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n")) // the line ends of old
	}
	// Lines before the header that begin with # say where the table comes from; below the header # is data.
	skipped := 0
	for {
		line, rest, _ := bytes.Cut(data, []byte("\n"))
		if t := bytes.TrimSpace(line); len(data) > 0 && (len(t) == 0 || t[0] == '#') {
			data = rest
			skipped++
			continue
		}
		break
	}
	first, _, _ := bytes.Cut(data, []byte("\n"))
	sep := separator(string(first), known)
	in := csv.NewReader(bytes.NewReader(data))
	in.Comma = sep
	in.FieldsPerRecord = -1
	in.TrimLeadingSpace = sep != '\t'
	in.ReuseRecord = true

	var h *head
	var records []*record
	for {
		fields, err := in.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			var wrong *csv.ParseError
			if errors.As(err, &wrong) {
				f.add(note.New("the quotes of this row do not close as CSV wants: a field with a quote in it is written in quotes, and each quote in it twice").
					At(note.Where{File: file, Row: wrong.StartLine + skipped}))
				f.broken = true
				if h == nil {
					return nil, nil
				}
				continue
			}
			break
		}
		line, _ := in.FieldPos(0)
		row := line + skipped
		if h == nil {
			if len(fields) > maxColumns {
				f.add(note.New("the header has %d columns; allowed: at most %d", len(fields), maxColumns).At(note.Where{File: file, Row: row}))
				return nil, nil
			}
			names := make([]string, len(fields))
			for i, name := range fields {
				names[i] = strings.ToLower(strings.TrimSpace(name))
				if ours, ok := foreign[names[i]]; ok {
					names[i] = ours
				}
				if names[i] != "" && slices.Contains(names[:i], names[i]) {
					f.add(note.New("the column %s stands twice in the header; allowed: each column once", quote(names[i])).
						At(note.Where{File: file, Row: row, Column: names[i]}))
				}
			}
			for len(names) > 0 && names[len(names)-1] == "" {
				names = names[:len(names)-1]
			}
			h = newHead(names)
			h.row = row
			continue
		}
		rec := &record{file: file, row: row, head: h, comma: sep != ',', faults: f}
		for len(fields) > 0 && strings.TrimSpace(fields[len(fields)-1]) == "" {
			fields = fields[:len(fields)-1]
		}
		if len(fields) == 0 {
			continue // a blank row
		}
		if len(records) == maxRows {
			f.add(note.New("the table has more than %d rows; allowed: at most that", maxRows).At(note.Where{File: file, Row: row}))
			f.broken = true
			return h, nil
		}
		rec.cells = make([]cell, min(len(fields), len(h.names)))
		for i, text := range fields {
			text = strings.TrimSpace(text)
			if i >= len(h.names) {
				if text != "" {
					f.add(note.New("%s stands beyond the last column of the header; allowed: %d fields (a text with the separator in it is written in quotes)",
						quote(text), len(h.names)).At(note.Where{File: file, Row: row}))
				}
				continue
			}
			at, _ := in.FieldPos(i)
			rec.cells[i] = cell{text: text, row: at + skipped}
		}
		records = append(records, rec)
	}
	if h == nil && !f.broken {
		f.add(note.New("the file is empty; allowed: a header row, then one row an arm").At(note.Where{File: file}))
	}
	return h, records
}

// separator finds what separates the columns: of comma, semicolon and tab the one that splits the header into the
// most known columns, then into the most columns at all.
func separator(header string, known map[string]bool) rune {
	best, most := ',', -1
	for _, sep := range []rune{',', ';', '\t'} {
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
