package edit

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/view/web/page"
)

// practices are the page of the workbook's own practices.
type practices struct{ *page.Site }

func (s practices) routes(m *page.Routes) {
	m.Get("/practices", func(w http.ResponseWriter, r *http.Request) {
		s.practicePage(w, s.ownRows(), s.Have.Sight(), page.Trouble{})
	})
	m.Post("/practices", s.savePractices)
}

// ownRow is a practice of the user's own, in the form.
type ownRow struct {
	Number                int
	Was, Key, Name, Fault string
	Stood                 string // as the workbook has it
	Spout, Drops, Wash    []page.Picked
	spout, drops, wash    string
}

func (s practices) ownRows() []ownRow {
	var list []ownRow
	for _, p := range s.Have.Own() {
		list = append(list, ownOf(p))
	}
	return append(list, ownRow{})
}

func ownOf(p practice.Practice) ownRow {
	return ownRow{Was: string(p.Key), Key: string(p.Key), Name: p.Name, spout: string(p.Spout), drops: string(p.Drops),
		wash: string(p.Wash)}
}

// text is what a row says, to tell whether it was changed.
func (r ownRow) text() string {
	return strings.Join([]string{r.Key, r.Name, r.spout, r.drops, r.wash}, "; ")
}

func (s practices) practicePage(w http.ResponseWriter, rows []ownRow, at book.Sight, t page.Trouble) {
	v := s.Voice
	for i := range rows {
		r := &rows[i]
		r.Number = i
		if p, ok := s.ownPractice(r.Was); ok {
			r.Stood = ownOf(p).text()
		}
		r.Spout = s.PickWord(practice.Words(practice.Spouts), r.spout)
		r.Drops = s.PickWord(practice.Words(practice.DropsList), r.drops)
		r.Wash = s.PickWord(practice.Words(practice.Washes), r.wash)
	}
	var shipped []string
	for _, p := range practice.Shipped() {
		shipped = append(shipped, s.Practice(p.Key))
	}
	s.Show(w, "practices", v.Text("Practices of your own"), page.Page{Seen: at, Trouble: t, Body: rows, Lead: []string{
		v.Text("These are known already: %s. A practice of your own has a spout, drops and a wash; clear its key to "+
			"remove it.", v.List(shipped))}})
}

// ownPractice is the workbook's practice of a key.
func (s practices) ownPractice(key string) (practice.Practice, bool) {
	i := slices.IndexFunc(s.Have.Own(), func(p practice.Practice) bool { return string(p.Key) == key })
	if i < 0 {
		return practice.Practice{}, false
	}
	return s.Have.Own()[i], true
}

// savePractices keeps the rows that were changed. A row left as it was follows whoever changed it since.
func (s practices) savePractices(w http.ResponseWriter, r *http.Request) {
	at := page.Seen(r.PostForm)
	var rows []ownRow
	var items []book.Item
	faults := 0
	named := map[int]practice.Practice{} // what the rows call practices
	for i := range 200 {
		if key := page.Clean(r.PostForm.Get("key." + strconv.Itoa(i))); key != "" {
			named[i] = practice.Practice{Key: practice.Key(key),
				Name: page.Clean(r.PostForm.Get("name." + strconv.Itoa(i)))}
		}
	}
	for i := range 200 {
		n := "." + strconv.Itoa(i)
		if !r.PostForm.Has("key" + n) {
			break
		}
		get := func(k string) string { return page.Clean(r.PostForm.Get(k + n)) }
		row := ownRow{Was: get("was"), Key: get("key"), Name: get("name"), spout: get("spout"), drops: get("drops"),
			wash: get("wash")}
		if row.Key == "" && row.Was == "" {
			continue
		}
		if stood := "stood" + n; row.Was != "" && r.PostForm.Has(stood) && get("stood") == row.text() {
			if p, ok := s.ownPractice(row.Was); ok {
				rows = append(rows, ownOf(p))
			}
			continue
		}
		if row.Was != "" && row.Was != row.Key {
			items = append(items, book.Remove(book.Practice, row.Was))
		}
		if row.Key != "" {
			p := practice.Practice{Key: practice.Key(row.Key), Name: row.Name, Spout: practice.Spout(row.spout),
				Drops: practice.Drops(row.drops), Wash: practice.Wash(row.wash)}
			others := practice.Shipped()
			for j, o := range named {
				if j != i {
					others = append(others, o)
				}
			}
			if bad := s.Said(p.Faults(others)); len(bad) > 0 {
				row.Fault = strings.Join(bad, " ")
				faults++
			}
			items = append(items, book.Keep(p))
		}
		rows = append(rows, row)
	}
	for _, p := range s.Have.Own() { // added since by another
		if !slices.ContainsFunc(rows, func(r ownRow) bool { return r.Was == string(p.Key) || r.Key == string(p.Key) }) {
			rows = append(rows, ownOf(p))
		}
	}
	rows = append(rows, ownRow{})
	if faults > 0 {
		s.practicePage(w, rows, at,
			page.Refused(s.Voice.Text("%d faults: each stands beside what it is about. Nothing was "+
				"kept.", faults)))
		return
	}
	if err := s.Save(r.PostForm, s.Voice.Text("edited the practices"), at, true, items...); err != nil {
		t, seen := s.Troubled(err, s.besidePractice(rows))
		s.practicePage(w, rows, cmp.Or(seen, at), t)
		return
	}
	page.SeeOther(w, r, "/practices")
}

// besidePractice puts a practice of another beside the row that stands in the form, where they differ.
func (s practices) besidePractice(rows []ownRow) page.Beside {
	return func(l book.Later) [][3]string {
		p, ok := l.Value.(practice.Practice)
		i := slices.IndexFunc(rows, func(r ownRow) bool { return r.Was == string(p.Key) || r.Key == string(p.Key) })
		if !ok || i < 0 {
			return nil
		}
		v, theirs, mine := s.Voice, ownOf(p), rows[i]
		var list [][3]string
		say := func(name, their, my string) {
			if their != my {
				list = append(list, [3]string{name, cmp.Or(their, v.None()), cmp.Or(my, v.None())})
			}
		}
		word := func(x string) string { return v.Term(note.Term(x)) }
		say(v.Text("key"), theirs.Key, mine.Key)
		say(v.Text("name"), theirs.Name, mine.Name)
		say(v.Text("spout"), word(theirs.spout), word(mine.spout))
		say(v.Text("drops"), word(theirs.drops), word(mine.drops))
		say(v.Text("wash"), word(theirs.wash), word(mine.wash))
		return list
	}
}
