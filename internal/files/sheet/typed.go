package sheet

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2/unstable"

	"spile/internal/trade/column"
	"spile/internal/trade/price"
)

// Typed is a TOML text as someone typed it. What it says can be changed where it stands: the comments, the units and
// the layout of all else stay to the byte.
type Typed struct {
	text    string
	entries []entry // in the order of the text; those of an inline table behind the table
	headers []tableHead
}

// entry is a key and its value, as offsets into the text.
type entry struct {
	key, says       string // the key is dotted, from the root; what a text, a number or a word says
	from, value, to int    // of the key, of the value and behind it
	header, inline  int    // the header and the inline table that it stands below; -1: none
}

// tableHead is a [table], as offsets of its line.
type tableHead struct {
	key      string
	from, to int
}

// TypedOf reads a text, as far as it is TOML.
func TypedOf(text string) *Typed {
	t := &Typed{text: text}
	tree := tree{data: []byte(strings.TrimPrefix(text, bom)), lists: map[string]int{}}
	shift := len(text) - len(tree.data)
	var p unstable.Parser
	p.Reset(tree.data)
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			name, _ := tree.path(&p, e.Key())
			if name = tree.within(name); e.Kind == unstable.ArrayTable {
				tree.lists[name]++
				name = name + "." + strconv.Itoa(tree.lists[name])
			}
			key := e.Key()
			key.Next()
			from, to := t.line(shift + int(key.Node().Raw.Offset))
			t.headers = append(t.headers, tableHead{name, from, to})
		case unstable.KeyValue:
			prefix := ""
			if n := len(t.headers); n > 0 {
				prefix = t.headers[n-1].key + "."
			}
			t.add(&p, &tree, prefix, e, -1, shift)
		}
	}
	return t
}

// bom begins some texts of Windows.
const bom = "\ufeff"

func (t *Typed) add(p *unstable.Parser, tree *tree, prefix string, e *unstable.Node, inline, shift int) {
	name, _ := tree.path(p, e.Key())
	end := 0 // of the key
	for key := e.Key(); key.Next(); {
		end = int(key.Node().Raw.Offset + key.Node().Raw.Length)
	}
	x := entry{key: prefix + name, from: int(e.Raw.Offset) + shift, to: int(e.Raw.Offset+e.Raw.Length) + shift,
		header: len(t.headers) - 1, inline: inline}
	rest := strings.TrimLeft(t.text[end+shift:x.to], " \t")
	x.value = x.to - len(strings.TrimLeft(rest[1:], " \t")) // behind the equals sign
	x.says = string(e.Value().Data)
	t.entries = append(t.entries, x)
	if e.Value().Kind == unstable.InlineTable {
		at := len(t.entries) - 1
		for it := e.Value().Children(); it.Next(); {
			t.add(p, tree, x.key+".", it.Node(), at, shift)
		}
	}
}

// line is the line of an offset, its end with it.
func (t *Typed) line(at int) (from, to int) {
	from = strings.LastIndexByte(t.text[:at], '\n') + 1
	if i := strings.IndexByte(t.text[at:], '\n'); i >= 0 {
		return from, at + i + 1
	}
	return from, len(t.text)
}

// newline is how the text ends its lines.
func (t *Typed) newline() string {
	if strings.Contains(t.text, "\r\n") {
		return "\r\n"
	}
	return "\n"
}

// splice puts a text in the place of another.
func (t *Typed) splice(from, to int, text string) { *t = *TypedOf(t.text[:from] + text + t.text[to:]) }

// find is the index of the entry of a key; -1: there is none.
func (t *Typed) find(key string) int {
	return slices.IndexFunc(t.entries, func(e entry) bool { return e.key == key })
}

// set has a key say a literal: in the place of what it says, else beside its like. deep is how many names of the path
// make the table that it gets where none is there.
func (t *Typed) set(path []string, deep int, literal string) {
	key := joined(path)
	if i := t.find(key); i >= 0 {
		t.splice(t.entries[i].value, t.entries[i].to, literal)
		return
	}
	for n := len(path) - 1; n > 0; n-- {
		table, rest := joined(path[:n]), dotted(path[n:])+" = "+literal
		if i := t.find(table); i >= 0 && t.text[t.entries[i].value] == '{' {
			t.inside(i, rest)
			return
		}
		if i := slices.IndexFunc(t.headers, func(h tableHead) bool { return h.key == table }); i >= 0 {
			t.below(i, rest)
			return
		}
		// Where others of its kind stand as dotted keys: minutes.tapping below [use.new-spout].
		for i := len(t.entries) - 1; i >= 0; i-- {
			e := t.entries[i]
			above := 0
			if e.header >= 0 {
				above = 1 + strings.Count(t.headers[e.header].key, ".")
			}
			if e.inline >= 0 || !strings.HasPrefix(e.key, table+".") || n <= above {
				continue
			}
			t.behind(e.to, e.from, dotted(path[above:])+" = "+literal)
			return
		}
	}
	deep = min(deep, len(path)-1)
	if deep == 0 {
		t.below(-1, dotted(path)+" = "+literal)
		return
	}
	end := t.newline()
	rest := end + "[" + dotted(path[:deep]) + "]" + end + dotted(path[deep:]) + " = " + literal + end
	if !strings.HasSuffix(t.text, "\n") {
		rest = end + rest
	}
	t.splice(len(t.text), len(t.text), rest)
}

// joined is the dotted key of a path, as the reader has it.
func joined(path []string) string {
	parts := slices.Clone(path)
	for i := range parts {
		parts[i] = strings.ReplaceAll(parts[i], ".", ",")
	}
	return strings.Join(parts, ".")
}

// inside adds to an inline table.
func (t *Typed) inside(table int, rest string) {
	e := t.entries[table]
	last := -1
	for i, x := range t.entries {
		if x.inline == table {
			last = i
		}
	}
	if last < 0 {
		t.splice(e.value, e.to, "{ "+rest+" }")
		return
	}
	t.splice(t.entries[last].to, t.entries[last].to, ", "+rest)
}

// below adds a line to what stands below a header; -1: to the root.
func (t *Typed) below(h int, rest string) {
	for i := len(t.entries) - 1; i >= 0; i-- {
		if e := t.entries[i]; e.header == h && e.inline < 0 {
			t.behind(e.to, e.from, rest)
			return
		}
	}
	end := t.newline()
	if h < 0 {
		at := 0
		if len(t.headers) > 0 {
			at = t.headers[0].from
		}
		t.splice(at, at, rest+end+end)
		return
	}
	at := t.headers[h].to
	if !strings.HasSuffix(t.text[:at], "\n") {
		rest = end + rest
	}
	t.splice(at, at, rest+end)
}

// behind adds a line behind the one of an offset, as far in as the entry that begins at another.
func (t *Typed) behind(at, like int, rest string) {
	from, _ := t.line(like)
	indent := t.text[from:like]
	if strings.TrimLeft(indent, " \t") != "" {
		indent = ""
	}
	_, to := t.line(at)
	end := t.newline()
	if !strings.HasSuffix(t.text[:to], "\n") {
		indent, end = end+indent, ""
	}
	t.splice(to, to, indent+rest+end)
}

// Take takes a key away with all that stands below it, and the tables and inline tables that this leaves empty.
func (t *Typed) Take(key string) {
	of := func(k string) bool { return k == key || strings.HasPrefix(k, key+".") }
	for i := len(t.entries) - 1; i >= 0; i = min(i-1, len(t.entries)-1) {
		if e := t.entries[i]; of(e.key) && (e.inline < 0 || !of(t.entries[e.inline].key)) {
			t.cut(i)
		}
	}
	for i := len(t.headers) - 1; i >= 0; i-- {
		if h := t.headers[i]; of(h.key) {
			t.lines(h.from, h.to)
		}
	}
}

// cut takes an entry away.
func (t *Typed) cut(i int) {
	e := t.entries[i]
	if e.inline < 0 {
		from, _ := t.line(e.from)
		_, to := t.line(e.to)
		t.lines(from, to)
		return
	}
	alone := !slices.ContainsFunc(t.entries, func(x entry) bool { return x.inline == e.inline && x.key != e.key })
	if alone {
		t.cut(e.inline)
		return
	}
	from, to := e.from, e.to
	if rest := strings.TrimLeft(t.text[to:], " \t"); strings.HasPrefix(rest, ",") {
		to = len(t.text) - len(strings.TrimLeft(rest[1:], " \t"))
	} else {
		from = len(strings.TrimRight(t.text[:from], " \t\r\n,"))
	}
	t.splice(from, to, "")
}

// lines takes lines away, and one of two blank lines that then stand together.
func (t *Typed) lines(from, to int) {
	before, after := t.text[:from], t.text[to:]
	blank := strings.TrimSuffix(strings.TrimSuffix(before, "\n"), "\r")
	if strings.HasSuffix(blank, "\n") || blank == "" {
		after = strings.TrimPrefix(strings.TrimPrefix(after, "\r"), "\n")
	}
	*t = *TypedOf(before + after)
}

// retyped is a text that says what now has where it said what was has. Keys of which both have the same are left alone,
// however they are typed.
func retyped(text string, was, now []setting) string {
	t := TypedOf(text)
	before, stays := map[string]any{}, map[string]bool{}
	for _, s := range was {
		before[joined(s.key)] = s.value
	}
	for _, s := range now {
		stays[joined(s.key)] = true
	}
	for _, s := range was {
		if key := joined(s.key); !stays[key] {
			t.Take(key)
		}
	}
	for _, s := range now {
		t.say(s, before[joined(s.key)])
	}
	return t.text
}

// String is the text.
func (t *Typed) String() string { return t.text }

// Says is what stands at a dotted key, without quotes; "" where nothing does.
func (t *Typed) Says(key string) string {
	if i := t.find(key); i >= 0 {
		return t.entries[i].says
	}
	return ""
}

// Below are the names below a dotted key, in the order of the text.
func (t *Typed) Below(key string) (names []string) {
	at := func(k string) {
		rest, ok := strings.CutPrefix(k, key+".")
		if name, _, _ := strings.Cut(rest, "."); ok && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	for _, e := range t.entries {
		at(e.key)
	}
	return names
}

// Put has the text say something at a slot of a price file: a text, a number, a yes or no, or a value in the units of
// the text. Nil takes away what stands there.
func (t *Typed) Put(s price.Slot, value any) {
	if value == nil {
		t.Take(s.Key)
		return
	}
	if text, ok := value.(string); ok && s.Kind == column.Day {
		if _, err := time.Parse(time.DateOnly, text); err == nil {
			value = dayText(text)
		}
	}
	var before any
	if was := t.value(s.Key); was != nil {
		before = *was
	} else if s.IsValue() && t.find(s.Key+".low") >= 0 {
		before = price.Value{}
	}
	t.say(settingOf(s, value), before)
}

// value is the value that stands at a key; nil where none does.
func (t *Typed) value(key string) *price.Value {
	number := func(key string) *float64 {
		if x, err := strconv.ParseFloat(strings.ReplaceAll(t.Says(key), "_", ""), 64); err == nil {
			return &x
		}
		return nil
	}
	best := number(key)
	if best == nil {
		best = number(key + ".best")
	}
	if best == nil {
		return nil
	}
	return &price.Value{Best: *best, Low: number(key + ".low"), High: number(key + ".high"),
		Source: t.Says(key + ".source")}
}

// SetUnit has the text say in which unit numbers stand.
func (t *Typed) SetUnit(u price.Unit, word string) {
	t.say(setting{key: strings.Split(u.Key, "."), value: word}, t.Says(u.Key))
}

// say has the text say a setting in the place of what it said of it, nil where it said nothing.
func (t *Typed) say(s setting, before any) {
	now, isValue := s.value.(price.Value)
	was, _ := before.(price.Value)
	key := joined(s.key)
	switch {
	case !isValue && before != s.value, isValue && before == nil:
		t.set(s.key, s.deep(), tomlText(s.value))
	case !isValue:
	case t.find(key+".best") < 0:
		if text := tomlText(now); text != tomlText(was) {
			t.set(s.key, s.deep(), text)
		}
	default:
		part := func(name string, was, now any, given bool) {
			switch text := tomlText(now); {
			case !given:
				t.Take(key + "." + name)
			case text != tomlText(was) || t.find(key+"."+name) < 0:
				t.set(append(slices.Clone(s.key), name), s.deep(), text)
			}
		}
		number := func(x *float64) float64 {
			if x == nil {
				return 0
			}
			return *x
		}
		part("best", was.Best, now.Best, true)
		part("low", number(was.Low), number(now.Low), now.Low != nil)
		part("high", number(was.High), number(now.High), now.High != nil)
		part("source", was.Source, now.Source, now.Source != "")
	}
}
