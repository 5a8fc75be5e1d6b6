package sheet

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"spile/internal/note"
	"spile/internal/trade/evidence"
)

// Proposal is a header of somebody's table and the column that it may stand for; "" where none is near.
type Proposal struct{ Header, Column string }

var between = regexp.MustCompile(`[^\pL\pN]+`)

// Propose guesses which column each header stands for, for a person to agree to: what is ours already first, then
// words that people use, then misspellings. No column is proposed twice. What is agreed to goes into a mapping file
// as [columns].
func Propose(headers []string) []Proposal {
	list := make([]Proposal, len(headers))
	taken := map[string]bool{}
	say := func(i int, column string) {
		if list[i].Column == "" && column != "" && !taken[column] {
			list[i].Column, taken[column] = column, true
		}
	}
	plain := make([]string, len(headers))
	for i, h := range headers {
		list[i].Header = h
		plain[i] = strings.TrimSpace(between.ReplaceAllString(unaccented(strings.ToLower(h)), " "))
		if low := strings.ToLower(strings.TrimSpace(h)); known()[low] {
			say(i, low)
		}
	}
	for i, h := range plain {
		for _, c := range evidence.Columns {
			if strings.ReplaceAll(c.Name, "_", " ") == h || slices.Contains(c.Headers, h) {
				say(i, c.Name)
			}
		}
	}
	for i, h := range plain {
		say(i, note.Near(h, slices.DeleteFunc(columnNames(), func(n string) bool { return taken[n] || len(n) < 4 })))
	}
	return list
}

// unaccented is a text without its accents.
func unaccented(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(text))
}

// mapping is the mapping file of proposals, on one line.
func mapping(agreed []Proposal) string {
	var list []string
	for _, p := range agreed {
		if p.Column != "" {
			list = append(list, p.Column+" = "+tomlString(p.Header))
		}
	}
	return "columns = { " + strings.Join(list, ", ") + " }"
}

// mappable tells of the headers of a table that may stand for columns that it lacks, and how to say that they do.
func mappable(file string, data []byte, foreign map[string]string) (note.Note, bool) {
	t, err := GridOf(file, data)
	if err != nil {
		return note.Note{}, false
	}
	headers := slices.Clone(t.Columns)
	for i, h := range headers {
		headers[i] = cmp.Or(foreign[h], h)
	}
	ours := known()
	odd := slices.DeleteFunc(Propose(headers), func(p Proposal) bool { return p.Column == "" || ours[p.Header] })
	if len(odd) == 0 {
		return note.Note{}, false
	}
	return note.New("if these headers stand for columns of ours, say so in a TOML file that is read with the table: %s",
		mapping(odd)).At(note.Where{File: file}), true
}
