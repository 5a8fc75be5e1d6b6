package edit

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	tables "spile/internal/trade/column"
	"spile/internal/trade/doubt"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

// studies are the pages of a study's rows.
type studies struct{ *page.Site }

func (s studies) routes(m *page.Routes) {
	m.Get("/study", s.study)
	m.Post("/study", s.saveRows)
	m.Post("/take/words", s.takeWords)
}

// ofStudy are the columns of an evidence table that speak of the whole study: over its rows in the form of one study.
// Caveats have boxes of their own.
func ofStudy() []string {
	var names []string
	for _, c := range evidence.Columns {
		if (c.Once || c.Joined) && c.Name != "caveats" {
			names = append(names, c.Name)
		}
	}
	return names
}

// columnOf is the column of a name; the zero one where it is not ours.
func columnOf(name string) evidence.Column {
	for _, c := range evidence.Columns {
		if c.Name == name {
			return c
		}
	}
	return evidence.Column{}
}

// atFirst are the columns of the rows of a new study.
var atFirst = []string{"practice", "reference", "mean", "n", "sd", "drop_age", "vacuum_inhg"}

// editable is how many cells a form may have; a larger table is carried as text and shows its faults only.
const editable = 6000

// mostLinks is how many cells at fault, and how many unusual ones, are led to from above the table.
const mostLinks = 40

// cells are those of a kind that are led to, and how many more there are.
type cells struct {
	Links []page.Link
	More  int
}

func (c *cells) add(name, href string) {
	if len(c.Links) == mostLinks {
		c.More++
		return
	}
	c.Links = append(c.Links, page.Link{Name: name, Href: href})
}

// grid is a table in a form: one study with its heads apart, or many with all in columns.
type grid struct {
	was     string // the study as it was called when the form was made; "": a new one, or many
	many    bool
	file    string // where many come from
	replace bool   // many may stand in the place of studies of the same name
	heads   map[string]string
	caveats []string
	columns []string
	rows    [][]string
	// of many: as their table calls the columns, what was settled of it, and the table itself
	headers    []string
	said       gloss.Glossary
	theirs     string
	shape      string // how it stood
	semicolons bool   // parted its columns
	form       url.Values
}

// typed is how studies stand in the tables that they came from: the one that a form carries, or that of the study that
// it changes.
func (s studies) typed(r *http.Request, g grid) map[string]*evidence.Typed {
	if x, have := s.Study(g.was); have {
		return map[string]*evidence.Typed{g.was: x.Typed}
	}
	var t foreign
	if !t.read(r) {
		return nil
	}
	words := s.settled(t.said)
	return t.Typed(t.Understand(words, s.Input.Practices), words)
}

// blank is the form of a new study.
func blank() grid {
	g := grid{heads: map[string]string{}, columns: atFirst,
		rows: [][]string{make([]string, len(atFirst)), make([]string, len(atFirst)), make([]string, len(atFirst))}}
	g.rows[0][0] = string(practice.Unsanitized)
	return g
}

// gridOf is the form of a study as it stands.
func gridOf(study evidence.Study) grid {
	cells := sheet.Cells([]evidence.Study{study})
	g := grid{was: study.Name, heads: map[string]string{}, rows: make([][]string, len(cells.Rows))}
	for i, c := range cells.Columns {
		switch {
		case slices.Contains(ofStudy(), c):
			for _, r := range cells.Rows {
				g.heads[c] = cmp.Or(g.heads[c], r[i]) // a unit stands where there is a mean
			}
		case c == "caveats":
		default:
			g.columns = append(g.columns, c)
			for j, r := range cells.Rows {
				g.rows[j] = append(g.rows[j], r[i])
			}
		}
	}
	for _, c := range study.Caveats {
		g.caveats = append(g.caveats, string(c))
	}
	return g
}

// read takes a grid from a form.
func (g *grid) read(r *http.Request) {
	f := r.PostForm
	*g = grid{was: f.Get("was"), many: f.Get("many") != "", file: page.Clean(f.Get("file")),
		replace: f.Get("replace") != "", heads: map[string]string{}, said: page.Senses(f),
		form:       f,
		theirs:     strings.ToValidUTF8(f.Get("table"), "\uFFFD"),
		shape:      f.Get("shape"),
		semicolons: f.Get("semicolons") != ""}
	for _, c := range ofStudy() {
		g.heads[c] = page.Clean(f.Get("h." + c))
	}
	for _, c := range append(f["caveat"], strings.Split(f.Get("own-caveat"), ";")...) {
		c = strings.ToLower(strings.Join(strings.Fields(page.Clean(c)), "-"))
		if c != "" && !slices.Contains(g.caveats, c) {
			g.caveats = append(g.caveats, c)
		}
	}
	for i, c := range f["column"] {
		if i == 500 { // as many as a table may have
			break
		}
		g.columns = append(g.columns, strings.ToLower(page.Clean(c)))
		g.headers = append(g.headers, g.columns[i])
		if h := f["header"]; i < len(h) {
			g.headers[i] = page.Clean(h[i])
		}
	}
	if text := f.Get("text"); text != "" {
		in := csv.NewReader(strings.NewReader(text))
		in.FieldsPerRecord = -1
		for {
			row, err := in.Read()
			if err != nil {
				break
			}
			g.rows = append(g.rows, g.fitted(row))
		}
		return
	}
	n, _ := strconv.Atoi(f.Get("rows"))
	for i := range min(max(n, 0), editable) {
		g.rows = append(g.rows, g.fitted(f["r"+strconv.Itoa(i)]))
	}
}

// fitted is a row as wide as the table.
func (g *grid) fitted(row []string) []string {
	fit := make([]string, len(g.columns))
	for i := range min(len(row), len(fit)) {
		fit[i] = page.Clean(row[i])
	}
	return fit
}

// table writes the grid as the file that it stands for. lines tells which row each line of it came from: rows that were
// left blank are not in it.
func (g *grid) table(v *say.Voice) (data []byte, lines []int) {
	var b bytes.Buffer
	out := csv.NewWriter(&b)
	head := slices.Clone(g.columns)
	if !g.many {
		head = append(append(head, ofStudy()...), "caveats")
	}
	out.Write(head)
	for i, r := range g.rows {
		if strings.Join(r, "") == "" {
			continue
		}
		line := slices.Clone(r)
		if !g.many {
			for k, c := range g.columns { // who types may use either mark, also beside what is there
				if numeric(c) {
					line[k] = v.Pointed(line[k])
				}
			}
			for _, c := range ofStudy() {
				line = append(line, g.heads[c])
			}
			line = append(line, strings.Join(g.caveats, "; "))
		}
		out.Write(line)
		lines = append(lines, i)
	}
	out.Flush()
	return b.Bytes(), lines
}

// judged is what the validator of files says of a grid, cell by cell.
type judged struct {
	studies []evidence.Study
	notes   []string
	heads   map[string]string    // faults of the study as a whole, by column
	cells   map[[2]string]string // by row and column; column "" is the row
	other   []string
	count   int
	asked   map[[2]string][]page.Unusual // what is unusual, by row and column; ["", ""] of no cell
	answers []book.Item
	open    bool // something unusual is not said to be meant
}

func (s studies) judge(g *grid) judged {
	data, lines := g.table(s.Voice)
	name := cmp.Or(g.file, "workbench")
	if low := strings.ToLower(name); strings.Contains(low, ".xlsx") {
		name += ".csv" // its cells, no longer the file
	}
	words := slices.DeleteFunc(s.settled(g.said), func(x gloss.Sense) bool { // all else is in our words already
		return x.Means != gloss.Note && x.Of != gloss.Unknown
	})
	for _, c := range sheet.Columns() {
		if !g.many {
			words = append(words, gloss.Sense{Of: gloss.Numbers, Said: c, Means: gloss.Ask})
		}
	}
	studies, notes, err := sheet.Evidence(name, data, s.Input.Practices, words)
	j := judged{studies: studies, heads: map[string]string{}, cells: map[[2]string]string{}}
	for _, n := range notes {
		n.Where = note.Where{}
		j.notes = append(j.notes, s.Voice.Note(n))
	}
	if err == nil && len(studies) == 0 && !g.many { // rows in which nothing was measured are left out
		j.heads["study"] = s.Voice.Text("no row of it holds a measurement; needed: a mean or a gain in one of them")
		j.count++
	}
	if err == nil {
		s.doubt(&j, g, lines)
		for i := range j.studies {
			x := &j.studies[i]
			x.Where.File = cmp.Or(g.file, "workbench")
			for k := range x.Arms {
				x.Arms[k].Where.File = x.Where.File
			}
		}
		return j
	}
	for _, f := range page.Faults(err) {
		at := f.Where
		f.Where = note.Where{}
		f.Args = slices.Clone(f.Args)
		for i, a := range f.Args {
			if r, ok := a.(note.Row); ok && int(r) >= 2 && int(r)-2 < len(lines) {
				f.Args[i] = note.Row(lines[r-2] + 1) // as the form counts
			}
		}
		text := s.Voice.Note(f)
		j.count++
		row := at.Row - 2 // below the header
		switch {
		case !g.many && (slices.Contains(ofStudy(), at.Column) || at.Column == "caveats"):
			if !strings.Contains(j.heads[at.Column], text) {
				j.heads[at.Column] = strings.TrimPrefix(j.heads[at.Column]+" "+text, " ")
			}
		case row >= 0 && row < len(lines):
			column := at.Column
			if !slices.Contains(g.columns, column) {
				column = ""
			}
			key := [2]string{strconv.Itoa(lines[row]), column}
			j.cells[key] = strings.TrimPrefix(j.cells[key]+" "+text, " ")
		case !slices.Contains(j.other, text):
			j.other = append(j.other, text)
		}
	}
	return j
}

// doubt puts what is unusual beside its cells.
func (s studies) doubt(j *judged, g *grid, lines []int) {
	j.asked = map[[2]string][]page.Unusual{}
	var all doubt.Questions
	for _, x := range j.studies {
		all = append(all, x.Doubts(price.Latest(s.Have.Prices, s.Now()))...)
	}
	var list []page.Unusual
	list, j.answers, j.open = s.Asked(all, g.form)
	for _, x := range list {
		var key [2]string
		if i := slices.IndexFunc(all, func(q doubt.Question) bool { return q.ID == x.ID }); i >= 0 {
			at := all[i].Where
			if row := at.Row - 2; row >= 0 && row < len(lines) && slices.Contains(g.columns, at.Column) {
				key = [2]string{strconv.Itoa(lines[row]), at.Column}
				x.Text = s.Said(note.Faults{all[i].Note})[0] // where it is can be seen
			}
		}
		j.asked[key] = append(j.asked[key], x)
	}
}

// What the form of rows shows.
type (
	headField struct {
		Key, ID, Label, What, Value, Fault string
		Options                            []page.Picked
	}
	columnHead struct {
		Key, Label, Header string
	}
	gridCell struct {
		Key, ID, Label, Head, Value, Fault string
		Options                            []page.Picked
		Number                             bool
		Short                              bool // a number or a word
		Blank                              bool // of many, and nothing is asked of it
		Asked                              []page.Unusual
	}
	gridRow struct {
		Number int
		Cells  []gridCell
		Fault  string
	}
	rowsPage struct {
		Was, File, Text, Table, Shape    string
		Many, Replace, Ready, Semicolons bool
		Said                             gloss.Glossary
		Heads                            []headField
		Caveats                          []page.Picked
		CaveatFault                      string
		Columns                          []columnHead
		Rows                             []gridRow
		Bad, Odd                         cells // to the cells at fault, and to those that are unusual
		Asked                            []page.Unusual
		Count                            int
		More                             []page.Option
		Notes                            []string
		Studies                          int
		Typed                            *sheet.TypedTable // the study as it stands in its own table; nil: in none
	}
)

// column is what a column of an evidence table is called on a page, with its unit.
func (s studies) column(key string) string {
	if label := columnOf(key).Label; label != "" {
		return s.Voice.Term(note.Term(label))
	}
	if key == evidence.Sugar {
		return s.Voice.Text("sugar of the sap, °Bx")
	}
	return key
}

// choices are what may stand in a column, with what stands there now; nil where anything may.
func (s studies) choices(column, now string) []page.Picked {
	c := columnOf(column)
	words := c.Words
	if c.Kind == tables.YesNo {
		words = []string{"yes"}
	}
	if c.Kind != tables.Practice && words == nil {
		return nil
	}
	list := append([]page.Option{page.Opt("", "")}, s.Terms(words...)...)
	if c.Kind == tables.Practice {
		for _, p := range s.Input.Practices {
			list = append(list, page.Opt(string(p.Key), s.Practice(p.Key)))
		}
	}
	if !slices.ContainsFunc(list, func(o page.Option) bool { return o.Value == now }) {
		list = append(list, page.Opt(now, now))
	}
	return page.Pick(list, now)
}

// rows answers with the form of a grid.
func (s studies) rows(w http.ResponseWriter, title string, g grid, j judged, at book.Sight, t page.Trouble) {
	v := s.Voice
	b := rowsPage{Was: g.was, File: g.file, Many: g.many, Replace: g.replace, Count: len(g.rows), Said: g.said,
		Asked: j.asked[[2]string{}], Table: g.theirs,
		Shape: g.shape, Semicolons: g.semicolons, Notes: j.notes, Studies: len(j.studies)}
	if j.count > 0 {
		t.Faults = append(slices.Clone(t.Faults),
			v.Text("%d faults: each stands beside what it is about. Nothing was kept.", j.count))
		t.Faults = append(t.Faults, j.other...)
		t.Code = cmp.Or(t.Code, http.StatusUnprocessableEntity)
	}
	b.Ready = t.Code == 0
	if x, have := s.Study(g.was); have {
		if typed, _ := sheet.AsTyped([]evidence.Study{x}, s.Have.Words, s.Input.Practices); len(typed) == 1 {
			b.Typed = typed[0]
		}
	}
	if j.open {
		t.Faults = append(slices.Clone(t.Faults), v.Text("Something here is unusual: say at each place whether it is "+
			"meant, or put it right."))
		t.Code = cmp.Or(t.Code, http.StatusUnprocessableEntity)
	}
	if !g.many {
		for _, c := range ofStudy() {
			b.Heads = append(b.Heads,
				headField{c, "h-" + c, s.column(c), s.Voice.Term(note.Term(columnOf(c).Hint)), g.heads[c], j.heads[c],
					s.choices(c, g.heads[c])})
		}
		all := s.knownCaveats()
		for _, c := range g.caveats {
			if !slices.Contains(all, c) {
				all = append(all, c)
			}
		}
		for i, c := range all {
			b.Caveats = append(b.Caveats, page.Picked{
				Option: page.Opt(c, s.Caveat(evidence.Caveat(c))), ID: "c-" + strconv.Itoa(i),
				Here: slices.Contains(g.caveats, c),
			})
		}
		b.CaveatFault = j.heads["caveats"]
	}
	known := sheet.Columns()
	for i, c := range g.columns {
		h := columnHead{Key: c, Label: s.column(c)}
		if g.many {
			h.Header = g.headers[i]
			if ours := strings.EqualFold(h.Header, c) && slices.Contains(known, c); ours || h.Header == h.Label {
				h.Header = ""
			}
		}
		b.Columns = append(b.Columns, h)
	}
	for _, k := range known {
		if !slices.Contains(g.columns, k) && !g.many && !slices.Contains(ofStudy(), k) && k != "caveats" {
			b.More = append(b.More, page.Opt(k, s.column(k)))
		}
	}
	large := len(g.rows)*len(g.columns) > editable
	for i, r := range g.rows {
		n := strconv.Itoa(i)
		row := gridRow{Number: i + 1, Fault: j.cells[[2]string{n, ""}]}
		bad := row.Fault != ""
		for k, c := range g.columns {
			cell := gridCell{Key: "r" + n, ID: "r" + n + "-" + strconv.Itoa(k),
				Label: v.Text("%s, row %d", s.column(c), i+1), Head: s.column(c), Value: r[k],
				Fault: j.cells[[2]string{n, c}], Asked: j.asked[[2]string{n, c}]}
			bad = bad || cell.Fault != "" || cell.Asked != nil
			if !large {
				cell.Options = s.choices(c, r[k])
			}
			if cell.Number = numeric(c); cell.Number && !g.many {
				cell.Value = v.Marked(cell.Value)
			}
			cell.Blank = g.many && cell.Value == "" && cell.Fault == ""
			if len(cell.Asked) > 0 {
				b.Odd.add(cell.Label, "#"+cell.ID)
			}
			if g.many && cell.Fault != "" {
				b.Bad.add(cell.Label, "#"+cell.ID+"-fault")
			}
			row.Cells = append(row.Cells, cell)
		}
		if !large || bad && len(b.Rows) < 100 {
			b.Rows = append(b.Rows, row)
		}
	}
	if large {
		var text strings.Builder
		out := csv.NewWriter(&text)
		out.WriteAll(g.rows)
		b.Text = text.String()
	}
	s.Show(w, "rows", title, page.Page{Seen: at, Trouble: t, Body: b})
}

// numeric is true of columns of numbers, for the keys that a phone shows.
func numeric(column string) bool { return columnOf(column).Kind.Numeric() }

// knownCaveats are the caveats that a study may be given: those of the tool, then those that other studies carry.
func (s studies) knownCaveats() []string {
	list := evidence.CaveatKeys()
	for _, x := range s.Have.Studies {
		for _, c := range x.Caveats {
			if !slices.Contains(list, string(c)) {
				list = append(list, string(c))
			}
		}
	}
	return list
}

// study answers with the form of a study, or of a new one.
func (s studies) study(w http.ResponseWriter, r *http.Request) {
	name := r.URL.Query().Get("name")
	if name == "" {
		s.rows(w, s.Voice.Text("A new study"), blank(), judged{}, book.Sight{}, page.Trouble{})
		return
	}
	x, ok := s.Study(name)
	if !ok {
		s.Missing(w, r)
		return
	}
	s.rows(w, s.Voice.Text("Study %s", name), gridOf(x), judged{}, book.Sight{}, page.Trouble{})
}

// saveRows takes a form of rows: it keeps them all or none, or makes the form larger.
func (s studies) saveRows(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	var g grid
	g.read(r)
	at := page.Seen(r.PostForm)
	title := v.Text("A new study")
	switch {
	case g.many:
		title = v.Text("Take in %s", cmp.Or(g.file, v.Text("rows")))
	case g.was != "":
		title = v.Text("Study %s", g.was)
	}
	switch r.PostForm.Get("do") {
	case "row":
		g.rows = append(g.rows, make([]string, len(g.columns)))
		s.rows(w, title, g, judged{}, at, page.Trouble{})
		return
	case "column":
		if c := r.PostForm.Get("more"); slices.Contains(sheet.Columns(), c) && !slices.Contains(g.columns, c) {
			g.columns = append(g.columns, c)
			for i := range g.rows {
				g.rows[i] = append(g.rows[i], "")
			}
		}
		s.rows(w, title, g, judged{}, at, page.Trouble{})
		return
	case "remove":
		items := []book.Item{book.Remove(book.Study, g.was)}
		if _, out := s.excluded(g.was); out {
			items = append(items, book.Remove(book.Excluded, g.was))
		}
		if err := s.Save(g.form, s.Voice.Text("removed %s", g.was), at, true, items...); err != nil {
			t, seen := s.Troubled(err, s.beside(g, judged{}))
			s.rows(w, title, g, judged{}, cmp.Or(seen, at), t)
			return
		}
		page.SeeOther(w, r, "/workbook")
		return
	}
	j := s.judge(&g)
	if len(j.studies) == 0 && j.count == 0 && !j.open { // every row says that it knows nothing
		j.heads["study"] = v.Text("nothing is given for %s, which is needed", "mean")
		j.count++
	}
	if j.count > 0 || j.open {
		s.rows(w, title, g, j, at, page.Trouble{})
		return
	}
	items, typed := j.answers, s.typed(r, g)
	for _, x := range j.studies {
		if x.Typed = cmp.Or(typed[x.Name], typed[g.was]); !g.many && x.Typed != nil {
			was, _ := s.Study(g.was)
			x.Where = was.Where // of its table
		}
		if _, have := s.Study(x.Name); have && !g.many && x.Name != g.was {
			j.heads["study"] = v.Text("a study of this name is in the workbook already; allowed: another name, or to " +
				"edit that one")
			j.count++
			s.rows(w, title, g, j, at, page.Trouble{})
			return
		}
		items = append(items, book.Keep(x))
	}
	for _, x := range sheet.Lasting(g.said) {
		items = append(items, book.Keep(x))
	}
	what := s.Voice.Text("took in rows")
	if g.file != "" {
		what = s.Voice.Text("took in %s", g.file)
	}
	if !g.many {
		name := j.studies[0].Name
		what = s.Voice.Text("added %s", name)
		if g.was != "" {
			what = s.Voice.Text("edited %s", name)
			if g.was != name {
				what = s.Voice.Text("edited %s, now %s", g.was, name)
				items = append(items, book.Remove(book.Study, g.was))
				if e, out := s.excluded(g.was); out {
					items = append(items, book.Remove(book.Excluded, g.was),
						book.Keep(input.Exclusion{Study: name, Reason: e.Reason}))
				}
			}
		}
	}
	if err := s.Save(g.form, what, at, g.was != "" || g.replace, items...); err != nil {
		t, seen := s.Troubled(err, s.beside(g, j))
		s.rows(w, title, g, j, cmp.Or(seen, at), t)
		return
	}
	if g.many {
		to := "/workbook"
		if c, err := s.Book.Contents(); err == nil && c.Change > s.Have.Change {
			to += "?taken=" + strconv.FormatInt(c.Change, 10)
		}
		page.SeeOther(w, r, to)
		return
	}
	page.SeeOther(w, r, "/evidence")
}

// beside puts what another has made of a study beside what stands in a form, where they differ.
func (s studies) beside(g grid, j judged) page.Beside {
	return func(l book.Later) [][3]string {
		their, ok := l.Value.(evidence.Study)
		if !ok {
			return nil
		}
		at := slices.IndexFunc(j.studies, func(x evidence.Study) bool { return x.Name == their.Name })
		var mine sheet.Grid
		switch {
		case at >= 0:
			mine = sheet.Cells(j.studies[at : at+1])
		case len(j.studies) == 1:
			mine = sheet.Cells(j.studies)
		default:
			return nil
		}
		return s.differ(sheet.Cells([]evidence.Study{their}), mine)
	}
}

// differ is where the cells of two studies differ: the column, what the one has, and what the other.
func (s studies) differ(one, other sheet.Grid) [][3]string {
	return differing(one, other, func(c string, row int) string {
		switch of := slices.Contains(ofStudy(), c); {
		case of && row > 0:
			return ""
		case of || c == "caveats":
			return s.column(c)
		}
		return s.Voice.Text("%s, row %d", s.column(c), row+1)
	}, s.Voice.None())
}

// differing is where the cells of two tables differ: what name calls it, what the one has, and what the other; none
// stands for nothing. What name calls nothing is left out.
func differing(one, other sheet.Grid, name func(column string, row int) string, none string) (list [][3]string) {
	cell := func(t sheet.Grid, row int, column string) string {
		i := slices.Index(t.Columns, column)
		if i < 0 || row >= len(t.Rows) {
			return ""
		}
		return t.Rows[row][i]
	}
	columns := one.Columns
	for _, c := range other.Columns {
		if !slices.Contains(columns, c) {
			columns = append(slices.Clone(columns), c)
		}
	}
	for row := range max(len(other.Rows), len(one.Rows)) {
		for _, c := range columns {
			a, b := cell(one, row, c), cell(other, row, c)
			if called := name(c, row); a != b && called != "" {
				list = append(list, [3]string{called, cmp.Or(a, none), cmp.Or(b, none)})
			}
		}
	}
	return list
}

func (s studies) excluded(study string) (input.Exclusion, bool) {
	for _, e := range s.Have.Excluded {
		if e.Study == study {
			return e, true
		}
	}
	return input.Exclusion{}, false
}
