package sheet

import (
	"bytes"
	"errors"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2/unstable"

	"spile/internal/note"
)

// flatten reads a TOML file into one record whose keys are dotted, as "use.check-valve.minutes.tapping"; items of a
// list are numbered from 1. A line that is not TOML is a fault, and the reading goes on below it.
func flatten(file string, data []byte, f *faults) *record {
	as := string(data)
	data, ok := utf8Text(file, data, f)
	if !ok {
		return nil
	}
	if !utf8.ValidString(as) {
		as = string(data)
	}
	data = bytes.Clone(data)
	mended := map[int]bool{} // rows; one whose neighbours are at fault would else be put in quotes over and over
	for range shown {
		t := tree{file: file, data: data, cells: map[string]cell{}, tables: map[string]int{}}
		at, wrong := t.parse()
		if wrong == nil {
			for _, n := range t.twice {
				f.add(n)
			}
			r := dottedRecord(file, t.keys, t.cells, t.tables, f)
			r.typed = as
			return r
		}
		f.broken = true
		start := bytes.LastIndexByte(data[:at], '\n') + 1
		end := len(data)
		if i := bytes.IndexByte(data[at:], '\n'); i >= 0 {
			end = at + i
		}
		line := strings.TrimSpace(string(data[start:end]))
		where := note.Where{File: file, Row: 1 + bytes.Count(data[:start], []byte("\n")), Column: lineKey(line)}
		if meant := named(line); meant != "" && !mended[where.Row] {
			mended[where.Row] = true
			f.add(note.New("%s is not TOML, since only letters without accents, digits, - and _ stand in a name "+
				"without quotes; write %s", quote(line), meant).At(where))
			data = slices.Concat(data[:start], []byte(meant), data[end:])
			continue
		}
		f.add(note.New("%s is not TOML (%s); allowed: key = value, a text in quotes, a number alone without unit, "+
			"percent sign or thousands separator", quote(line), broken(wrong.Message)).At(where))
		if start == end {
			return nil
		}
		for i := start; i < end; i++ {
			data[i] = ' '
		}
	}
	return nil
}

// named is a line of TOML with its names in quotes, where that is all that it lacks; else "".
func named(line string) string {
	open, rest := "", line
	for strings.HasPrefix(rest, "[") {
		open, rest = open+"[", rest[1:]
	}
	ends, in := "=", rune(0)
	if open != "" {
		ends = "]"
	}
	names, from := []string(nil), 0
	for i, r := range rest {
		switch begun := strings.TrimSpace(rest[from:i]) != ""; {
		case in != 0:
			if r == in {
				in = 0
			}
		case (r == '"' || r == '\'') && !begun:
			in = r
		case r == '.' || strings.ContainsRune(ends, r):
			name := strings.TrimSpace(rest[from:i])
			if n := len(name); n > 1 && (name[0] == '"' || name[0] == '\'') && name[n-1] == name[0] {
				name = name[1 : n-1]
			}
			names, from = append(names, name), i+1
			if r != '.' {
				space := ""
				if open == "" {
					space = " "
				}
				meant := open + dotted(names) + space + rest[i:]
				t := tree{data: []byte(meant), cells: map[string]cell{}, tables: map[string]int{}}
				if _, wrong := t.parse(); wrong != nil {
					return ""
				}
				return meant
			}
		}
	}
	return ""
}

// broken is what is wrong with a line of TOML, in place of the words of the parser, whose messages begin so.
func broken(message string) note.Term {
	for _, b := range []struct {
		parser string
		say    note.Term
	}{
		{"expected '=' after key", note.Term("no equals sign stands behind a key")},
		{"expected key", note.Term("no key stands before the equals sign")},
		{"invalid character at start of key", note.Term("a character begins no key")},
		{"expected value", note.Term("no value stands behind the equals sign")},
		{"unexpected character", note.Term("a character begins no value")},
		{"strings must be quoted", note.Term("words stand without quotes")},
		{"unterminated", note.Term("a quote is not closed")},
		{"basic strings cannot have new lines", note.Term("a quote is not closed")},
		{"literal strings cannot have new lines", note.Term("a quote is not closed")},
		{"array is incomplete", note.Term("a bracket is not closed")},
		{"inline table is incomplete", note.Term("a bracket is not closed")},
		{"expected ']", note.Term("a bracket is not closed")},
		{"expected ','", note.Term("a comma is missing")},
		{"expected newline", note.Term("something stands behind the value")},
		{"integers cannot have leading zeroes", note.Term("a number begins with 0")},
		{"decimal point must be followed by a digit", note.Term("no digit stands behind the decimal point")},
	} {
		if strings.HasPrefix(message, b.parser) {
			return b.say
		}
	}
	return note.Term(message)
}

// dottedRecord is one record of dotted keys, with what stands below each.
func dottedRecord(file string, keys []string, cells map[string]cell, tables map[string]int, f *faults) *record {
	r := &record{file: file, row: 1, head: newHead(keys), faults: f, tables: tables, children: map[string][]string{}}
	seen := map[string]bool{}
	for _, key := range keys {
		r.cells = append(r.cells, cells[key])
		for i := strings.LastIndexByte(key, '.'); i > 0; i = strings.LastIndexByte(key[:i], '.') {
			if seen[key] {
				break
			}
			seen[key] = true
			r.children[key[:i]] = append(r.children[key[:i]], key[i+1:])
			key = key[:i]
		}
	}
	return r
}

// lineKey is what stands before the equals sign of a line.
func lineKey(line string) string {
	key, _, ok := strings.Cut(line, "=")
	if key = strings.TrimSpace(key); !ok || len(key) > 60 || strings.ContainsAny(key, "\"'[]{}#") {
		return ""
	}
	return key
}

// deepest is more parts than any key has.
const deepest = 10

// tree gathers the cells of a TOML file.
type tree struct {
	file   string
	data   []byte
	keys   []string // in the order of the file
	cells  map[string]cell
	tables map[string]int // line of each table by its dotted name
	twice  note.List
	lists  map[string]int

	counted, lines int // bytes looked at for line ends, and how many were found
}

// parse walks the file; where it is not TOML, at is the offset of what is wrong.
func (t *tree) parse() (at int, wrong *unstable.ParserError) {
	t.lists = map[string]int{}
	var p unstable.Parser
	p.Reset(t.data)
	prefix := ""
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table:
			name, row := t.path(&p, e.Key())
			prefix = t.within(name)
			if _, again := t.tables[prefix]; again {
				t.again(prefix, row)
			}
			t.tables[prefix] = row
		case unstable.ArrayTable:
			name, row := t.path(&p, e.Key())
			name = t.within(name)
			t.lists[name]++
			prefix = name + "." + strconv.Itoa(t.lists[name])
			t.tables[prefix] = row
		case unstable.KeyValue:
			t.keyValue(&p, prefix, e)
		}
	}
	if err := p.Error(); err != nil {
		wrong = new(unstable.ParserError)
		if !errors.As(err, &wrong) {
			wrong = &unstable.ParserError{Message: err.Error()}
		}
		// What is highlighted is a part of the data, found by how much of it is left behind.
		if at = cap(t.data) - cap(wrong.Highlight); wrong.Highlight == nil || at < 0 || at > len(t.data) {
			at = len(bytes.TrimRight(t.data, " \r\n\t"))
		}
		for at > 0 && at == len(t.data) || at > 0 && at < len(t.data) && t.data[at] == '\n' {
			at--
		}
		return at, wrong
	}
	return 0, nil
}

// within puts the number of the item last opened behind each part of a name that is a list: a table [rule.use] below
// [[rule]] belongs to the last rule.
func (t *tree) within(name string) string {
	out := ""
	parts := strings.Split(name, ".")
	for i, part := range parts {
		if out != "" {
			out += "."
		}
		out += part
		if n := t.lists[out]; n > 0 && i < len(parts)-1 {
			out += "." + strconv.Itoa(n)
		}
	}
	return out
}

// path joins the parts of a key with full stops, and gives its line. A full stop inside a part would make two keys
// of one, so it becomes a comma.
func (t *tree) path(p *unstable.Parser, it unstable.Iterator) (string, int) {
	var parts []string
	row := 0
	for it.Next() {
		n := it.Node()
		if row == 0 {
			row = t.row(n)
		}
		parts = append(parts, strings.ReplaceAll(string(n.Data), ".", ","))
	}
	if len(parts) > deepest {
		parts = parts[:deepest] // no key is that long: the schema will not know it
	}
	return strings.Join(parts, "."), row
}

// row is the line of a node. Nodes come in the order of the file, so that lines are counted on from the last.
func (t *tree) row(n *unstable.Node) int {
	to := min(int(n.Raw.Offset), len(t.data))
	if to < t.counted {
		t.counted, t.lines = 0, 0
	}
	t.lines += bytes.Count(t.data[t.counted:to], []byte("\n"))
	t.counted = to
	return 1 + t.lines
}

func (t *tree) keyValue(p *unstable.Parser, prefix string, n *unstable.Node) {
	name, row := t.path(p, n.Key())
	if prefix != "" {
		name = prefix + "." + name
	}
	t.value(p, name, row, n.Value())
}

func (t *tree) value(p *unstable.Parser, name string, row int, v *unstable.Node) {
	c := cell{text: string(v.Data), row: row, kind: odd}
	if strings.Count(name, ".") > 2*deepest {
		return // nor is any value nested so deep; what stands above is not known already
	}
	switch v.Kind {
	case unstable.InlineTable:
		t.tables[name] = row
		it := v.Children()
		for it.Next() {
			t.keyValue(p, name, it.Node())
		}
		return
	case unstable.Array:
		i := 0
		it := v.Children()
		for it.Next() {
			if it.Node().Kind == unstable.Comment {
				continue
			}
			i++
			t.value(p, name+"."+strconv.Itoa(i), row, it.Node())
		}
		if i > 0 {
			return
		}
		c.text = "[]"
	case unstable.String:
		c.kind = str
	case unstable.Integer, unstable.Float:
		c.kind = num
		c.text = strings.ReplaceAll(c.text, "_", "")
	case unstable.Bool:
		c.kind = truth
	case unstable.LocalDate:
		c.kind = day
	}
	_, table := t.tables[name]
	for at := name; ; {
		if _, have := t.cells[at]; have || table {
			t.again(name, row)
			return
		}
		i := strings.LastIndexByte(at, '.')
		if i < 0 {
			break
		}
		at = at[:i]
	}
	t.cells[name] = c
	t.keys = append(t.keys, name)
}

// again puts down a key that is given twice.
func (t *tree) again(name string, row int) {
	before := t.tables[name]
	for at := name; before == 0 && at != ""; at = at[:max(0, strings.LastIndexByte(at, '.'))] {
		before = t.cells[at].row
	}
	t.twice = append(t.twice, note.New("%s is given twice, first in row %d; allowed: once", name, before).
		At(note.Where{File: t.file, Row: row, Column: name}))
}

// schema is the keys that a TOML file may have, as a tree; "*" stands for a name of the user's.
type schema map[string]schema

// grow makes a schema of dotted keys. A key that ends in = is a value, which is a number or a table of best, low,
// high and source; one that ends in [] is a text or a list of texts.
func grow(keys ...string) schema {
	root := schema{}
	for _, key := range keys {
		name, value := strings.CutSuffix(key, "=")
		name, list := strings.CutSuffix(name, "[]")
		at := root
		for part := range strings.SplitSeq(name, ".") {
			if at[part] == nil {
				at[part] = schema{}
			}
			at = at[part]
		}
		if value {
			for _, part := range parts {
				at[part] = schema{}
			}
			at[""] = schema{} // itself may be a number
		}
		if list {
			at[""], at[item] = schema{}, schema{}
		}
	}
	return root
}

// item stands for the number of an item of a list.
const item = "#"

// parts are the keys of a value written as a table.
var parts = []string{"best", "low", "high", "source", "currency"}

// check puts down every key that the schema does not have, with the nearest that it has at that place.
func (s schema) check(r *record) {
	said := map[string]bool{}
	for _, key := range r.head.names {
		at, path := s, ""
		names := strings.Split(key, ".")
		for i, name := range names {
			if path != "" {
				path += "."
			}
			next, ok := at[name]
			if !ok && strings.Trim(name, "0123456789") == "" {
				next, ok = at[item]
			}
			if !ok && name != "" {
				next, ok = at["*"]
			}
			if ok {
				path += name
				at = next
				if i == len(names)-1 {
					if _, self := at[""]; len(at) > 0 && !self {
						r.fault(key, note.New("%s stands where a table belongs; allowed keys below %s: %s",
							quote(r.cells[r.head.index[key]].text), path, at.list()))
					}
				}
				continue
			}
			if path += name; said[path] {
				break
			}
			said[path] = true
			where := note.Where{File: r.file, Row: r.cells[r.head.index[key]].row, Column: path}
			if at, ok := r.columns[key]; ok {
				where = at
			}
			r.faults.add(unknownKey(name, at).At(where))
			break
		}
	}
}

func unknownKey(name string, at schema) note.Note {
	allowed := at.names()
	if len(allowed) == 0 {
		return note.New("the key %s stands below a single value; allowed: no key there", quote(name))
	}
	if near := note.Near(name, allowed); near != "" {
		return note.New("the key %s is not known; did you mean %s? Allowed here: %s", quote(name), near,
			strings.Join(allowed, ", "))
	}
	return note.New("the key %s is not known; allowed here: %s", quote(name), strings.Join(allowed, ", "))
}

func (s schema) names() []string {
	var names []string
	for name := range s {
		if name != "" && name != item {
			names = append(names, strings.Replace(name, "*", "NAME", 1))
		}
	}
	slices.Sort(names)
	return names
}

func (s schema) list() string { return strings.Join(s.names(), ", ") }

// below lists the names that a file gives where the schema says "*": of "use.check-valve.lost_sap" below "use" it is
// "check-valve". They come in the order of the file.
func (r *record) below(prefix string) []string { return r.children[prefix] }
