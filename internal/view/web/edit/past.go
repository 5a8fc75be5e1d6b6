package edit

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/column"
	"spile/internal/trade/doubt"
	"spile/internal/trade/past"
	"spile/internal/trade/price"
	"spile/internal/trade/unit"
	"spile/internal/view/web/page"
)

// pasts are the page of the seasons that a producer looks back on.
type pasts struct{ *page.Site }

func (s pasts) routes(m *page.Routes) {
	m.Get("/past", func(w http.ResponseWriter, r *http.Request) {
		rows := s.blanks(s.rows(s.Have.Past))
		_, j := s.judge(rows, nil)
		s.page(w, rows, s.had(), j, page.Page{})
	})
	m.Post("/past", s.save)
}

// columns are those of the form: what is written, in the reader's units.
func (s pasts) columns() []column.Column[*past.Row] {
	yield, price := "yield_l", "price_kg"
	if s.Voice.Units().Gallons() {
		yield = "yield_gal"
	}
	if s.Voice.Units().Pounds() {
		price = "price_lb"
	}
	return slices.DeleteFunc(slices.Clone(past.Columns), func(c column.Column[*past.Row]) bool {
		return c.Name != yield && c.Name != price && (c.Instead != "" || c.Name == "yield_l" || c.Name == "price_kg")
	})
}

// rows are seasons as they stand in the form, of numbers with a point.
func (s pasts) rows(seasons []past.Season) (rows [][]string) {
	columns := s.columns()
	for _, x := range seasons {
		for _, r := range x.Rows() {
			row := make([]string, len(columns))
			for i, c := range columns {
				switch x := c.Get(&r).(type) {
				case nil:
				case float64:
					row[i] = page.Bare(x)
				default:
					row[i] = fmt.Sprint(x)
				}
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// had is the seasons of the workbook, by year.
func (s pasts) had() (years []string) {
	for _, x := range s.Have.Past {
		years = append(years, strconv.Itoa(x.Year))
	}
	return years
}

// season is the workbook's own of a year.
func (s pasts) season(year int) (past.Season, bool) {
	i := slices.IndexFunc(s.Have.Past, func(x past.Season) bool { return x.Year == year })
	if i < 0 {
		return past.Season{}, false
	}
	return s.Have.Past[i], true
}

// judge reads the rows of the form as the file that they stand for: the seasons, what is wrong and what is unusual.
func (s pasts) judge(rows [][]string, form url.Values) ([]past.Season, judged) {
	j := judged{cells: map[[2]string]string{}, asked: map[[2]string][]page.Unusual{}}
	var names []string
	for _, c := range s.columns() {
		names = append(names, c.Name)
	}
	var lines []int // of the rows that are not blank
	var b bytes.Buffer
	out := csv.NewWriter(&b)
	out.Write(names)
	for i, r := range rows {
		if strings.Join(r, "") != "" {
			out.Write(r)
			lines = append(lines, i)
		}
	}
	out.Flush()
	if lines == nil {
		return nil, j
	}
	seasons, err, _ := sheet.PastOf("past.csv", b.Bytes())
	if err == nil {
		s.doubt(&j, seasons, rows, form)
		return seasons, j
	}
	for _, n := range page.Faults(err) {
		row, at := n.Where.Row-2, n.Where.Column
		text := s.Said(note.Faults{n})[0]
		j.count++
		switch {
		case row < 0 || row >= len(lines):
			j.other = append(j.other, text)
			continue
		case !slices.Contains(names, at):
			at = ""
		}
		key := [2]string{strconv.Itoa(lines[row]), at}
		j.cells[key] = strings.TrimPrefix(j.cells[key]+" "+text, " ")
	}
	return seasons, j
}

// doubt puts what is unusual beside the cell that says it, in the unit in which it stands there.
func (s pasts) doubt(j *judged, seasons []past.Season, rows [][]string, form url.Values) {
	columns := s.columns()
	var all doubt.Questions
	at := map[string][2]string{}
	for _, x := range seasons {
		for _, q := range past.Doubts([]past.Season{x}, price.Latest(s.Have.Prices, s.Now())) {
			name, factor := cmp.Or(q.Where.Column, "season"), 1.
			k := slices.IndexFunc(columns, func(c column.Column[*past.Row]) bool {
				return c.Name == name || c.Instead == name
			})
			if columns[k].Name == "yield_gal" {
				factor = unit.Litre.Of(1).In(unit.USGallon)
			}
			i := slices.IndexFunc(rows, func(r []string) bool {
				year, err := strconv.ParseFloat(r[0], 64)
				return err == nil && year == float64(x.Year) && r[k] != ""
			})
			if i >= 0 {
				at[q.ID] = [2]string{strconv.Itoa(i), columns[k].Name}
			}
			q.Note = page.AsTyped(q.Note, factor)
			q.Where.Column = "" // it stands beside its cell
			all = append(all, q)
		}
	}
	var list []page.Unusual
	list, j.answers, j.open = s.Asked(all, form)
	for _, x := range list {
		j.asked[at[x.ID]] = append(j.asked[at[x.ID]], x)
	}
}

// page answers with the form.
func (s pasts) page(w http.ResponseWriter, rows [][]string, had []string, j judged, p page.Page) {
	v, columns := s.Voice, s.columns()
	b := struct {
		Columns []string
		Rows    []gridRow
		Had     []string
		Asked   []page.Unusual
		Sure    bool // there is a page of how sure the answer is
	}{Had: had, Asked: j.asked[[2]string{}], Sure: s.Priced()}
	if j.count > 0 {
		p.Faults = append(p.Faults, v.Text("%d faults: each stands beside what it is about. Nothing was kept.",
			j.count))
		p.Faults = append(p.Faults, j.other...)
	} else if j.open {
		p.Faults = append(p.Faults, v.Text("Something here is unusual: say at each place whether it is meant, or put "+
			"it right."))
	}
	if p.Faults != nil {
		p.Code = cmp.Or(p.Code, http.StatusUnprocessableEntity)
	}
	for _, c := range columns {
		b.Columns = append(b.Columns, v.Term(note.Term(c.Label)))
	}
	for i, r := range rows {
		n := strconv.Itoa(i)
		row := gridRow{Number: i, Fault: j.cells[[2]string{n, ""}]}
		for k, c := range columns {
			cell := gridCell{Key: "r" + n, ID: "r" + n + "-" + strconv.Itoa(k), Head: b.Columns[k],
				Label: v.Text("%s, row %d", b.Columns[k], i+1), Value: r[k],
				Number: c.Kind.Numeric(), Short: c.Name != "source",
				Fault: j.cells[[2]string{n, c.Name}], Asked: j.asked[[2]string{n, c.Name}]}
			if cell.Number {
				cell.Value = v.Marked(cell.Value)
			}
			row.Cells = append(row.Cells, cell)
		}
		b.Rows = append(b.Rows, row)
	}
	p.Body = b
	p.Lead = append(p.Lead, v.Text("What a tap gave and what bulk syrup brought in the seasons that you have books "+
		"of: one row a season, or one a season and grade. From five seasons on they say how far a season strays "+
		"from the mean, and whether price and yield move together; until then that is assumed."))
	s.Show(w, "past", v.Text("Past seasons"), p)
}

// blanks are the rows that a form ends in, to be typed in.
func (s pasts) blanks(rows [][]string) [][]string {
	for range max(3, 6-len(rows)) {
		rows = append(rows, make([]string, len(s.columns())))
	}
	return rows
}

// save keeps the seasons that were changed, and takes away those whose rows were cleared. What another has added since
// stays.
func (s pasts) save(w http.ResponseWriter, r *http.Request) {
	f, columns := r.PostForm, s.columns()
	var rows [][]string
	n, _ := strconv.Atoi(f.Get("rows"))
	for i := range min(max(n, 0), len(f)) {
		row := make([]string, len(columns))
		for k, x := range f["r"+strconv.Itoa(i)] {
			if k < len(row) {
				row[k] = page.Clean(x)
			}
			if k < len(row) && columns[k].Kind.Numeric() {
				row[k] = s.Voice.Pointed(row[k])
			}
		}
		rows = append(rows, row)
	}
	p := page.Page{Seen: page.Seen(f)}
	if f.Get("do") == "row" {
		s.page(w, append(rows, make([]string, len(columns))), f["had"], judged{}, p)
		return
	}
	seasons, j := s.judge(rows, f)
	if j.count > 0 || j.open {
		s.page(w, rows, f["had"], j, p)
		return
	}
	items := j.answers
	for _, x := range seasons {
		if stood, have := s.season(x.Year); !have ||
			!slices.EqualFunc(s.rows([]past.Season{stood}), s.rows([]past.Season{x}), slices.Equal) {
			items = append(items, book.Keep(x))
		}
	}
	for _, was := range f["had"] {
		year, err := strconv.Atoi(was)
		_, have := s.season(year)
		if err == nil && have && !slices.ContainsFunc(seasons, func(x past.Season) bool { return x.Year == year }) {
			items = append(items, book.Remove(book.Past, was))
		}
	}
	if err := s.Save(f, s.Voice.Text("edited the past seasons"), p.Seen, true, items...); err != nil {
		t, seen := s.Troubled(err, s.beside(seasons))
		p.Trouble, p.Seen = t, cmp.Or(seen, p.Seen)
		s.page(w, rows, f["had"], j, p)
		return
	}
	page.SeeOther(w, r, "/past")
}

// beside puts a season of another beside that of the form, where they differ.
func (s pasts) beside(seasons []past.Season) page.Beside {
	return func(l book.Later) (list [][3]string) {
		theirs, ok := l.Value.(past.Season)
		i := slices.IndexFunc(seasons, func(x past.Season) bool { return x.Year == theirs.Year })
		if !ok || i < 0 {
			return nil
		}
		v, a, b := s.Voice, s.rows([]past.Season{theirs}), s.rows(seasons[i:i+1])
		for k, c := range s.columns() {
			of := func(rows [][]string) string {
				var texts []string
				for _, r := range rows {
					if r[k] != "" && c.Kind.Numeric() {
						texts = append(texts, v.Marked(r[k]))
					} else if r[k] != "" {
						texts = append(texts, r[k])
					}
				}
				return cmp.Or(v.List(texts), v.None())
			}
			if c.Name != "season" && of(a) != of(b) {
				list = append(list, [3]string{v.Term(note.Term(c.Label)), of(a), of(b)})
			}
		}
		return list
	}
}
