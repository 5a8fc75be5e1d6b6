package edit

import (
	"bytes"
	"cmp"
	"errors"
	"io"
	"net/http"
	"path/filepath"
	"slices"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/trade/bush"
	"spile/internal/trade/input"
	"spile/internal/trade/past"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/web/page"
	"spile/internal/view/web/sugarbush"
)

// taken is what the page that takes in a table holds: rows, or a TOML file of which something is asked.
type taken struct {
	Pasted, TOML string // TOML is the name of the file
	Windows      bool   // its lines end as those of Windows do, as browsers end all
	Replace      bool
	Asked        []page.Unusual
}

// taking answers with the page that asks for a file or for rows.
func (s *Room) taking(w http.ResponseWriter, b taken, t *page.Trouble) {
	p := page.Page{Body: b}
	if t != nil {
		p.Trouble = *t
	}
	s.Show(w, "take", s.Voice.Text("Take in a table"), p)
}

// take takes a file or pasted rows as far as the form that shows them.
func (s *Room) take(w http.ResponseWriter, r *http.Request) {
	v := s.Voice
	pasted := strings.ToValidUTF8(r.PostForm.Get("pasted"), "\uFFFD")
	refuse := func(faults ...string) {
		s.taking(w, taken{Pasted: pasted}, new(page.Refused(faults...)))
	}
	name, data := "pasted.csv", []byte(pasted)
	if toml := page.Clean(r.PostForm.Get("toml")); toml != "" {
		name = toml
		if r.PostForm.Get("windows") == "" {
			data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
		}
	}
	upload, head, err := r.FormFile("file")
	if err == nil {
		defer upload.Close()
		name = page.Clean(filepath.Base(strings.ReplaceAll(head.Filename, `\`, "/")))
		if data, err = io.ReadAll(upload); err != nil {
			refuse(page.Unread(v))
			return
		}
	} else if !errors.Is(err, http.ErrMissingFile) && !errors.Is(err, http.ErrNotMultipart) {
		refuse(page.Unread(v))
		return
	} else if strings.TrimSpace(pasted) == "" {
		refuse(v.Text("Choose a file, or paste rows with their header."))
		return
	}
	if len(data) > mostTable {
		refuse(v.Text("This is larger than %v MiB; allowed: at most that", float64(mostTable>>20)))
		return
	}
	ext := strings.ToLower(filepath.Ext(name))
	switch ext {
	case ".toml":
		s.takeTOML(w, r, name, data, refuse)
		return
	case ".csv", ".tsv", ".txt":
	case ".xlsx":
		if part := page.Clean(r.PostForm.Get("sheet")); part != "" {
			name += "#" + part
		}
	default:
		refuse(v.Text("files that end in %s are not taken; allowed: .csv, .tsv, .txt, .xlsx (an evidence table), "+
			".toml (prices, practices, rules)", page.Short(cmp.Or(ext, name))))
		return
	}
	if seasons, err, is := sheet.PastOf(name, data); is {
		s.takePast(w, seasons, err, refuse)
		return
	}
	cells, err := sheet.GridOf(name, data, s.Have.Words, s.Input.Practices)
	if err != nil {
		refuse(v.Notes(page.Faults(err))...)
		return
	}
	if upload == nil {
		name = ""
	}
	s.studies.understand(w, foreign{Grid: cells, file: name, replace: r.PostForm.Get("replace") != ""})
}

// mostTable is the largest table that is read, in bytes.
const mostTable = 16 << 20

// takePast shows past seasons beside those of the workbook, in the place of which they stand, before they are kept.
func (s *Room) takePast(w http.ResponseWriter, seasons []past.Season, err error, refuse func(...string)) {
	if err != nil {
		refuse(s.Voice.Notes(page.Faults(err))...)
		return
	}
	for _, x := range s.Have.Past {
		i, taken := slices.BinarySearchFunc(seasons, x.Year, func(s past.Season, year int) int { return s.Year - year })
		if !taken {
			seasons = slices.Insert(seasons, i, x)
		}
	}
	rows := s.pasts.blanks(s.pasts.rows(seasons))
	_, j := s.pasts.judge(rows, nil)
	s.pasts.page(w, rows, s.pasts.had(), j, page.Page{
		Lead: []string{s.Voice.Text("Look over what was read. Nothing is kept before you save it.")}})
}

// takeTOML takes in prices, practices and rules: all of them or none.
func (s *Room) takeTOML(w http.ResponseWriter, r *http.Request, name string, data []byte, refuse func(...string)) {
	in, err := sheet.ReadTOML(s.Have.Practices, name, data)
	if err != nil {
		refuse(s.Voice.Notes(page.Faults(err))...)
		return
	}
	in.Words = sheet.Lasting(in.Words)
	replace := r.PostForm.Get("replace") != ""
	asked, answers, open := s.Asked(sheet.Doubts(in, s.Have.Input, s.Now()), r.PostForm)
	if open {
		t := page.Refused(s.prices.unusual())
		s.taking(w, taken{string(data), name, bytes.Contains(data, []byte("\r\n")), replace, asked}, &t)
		return
	}
	if err := s.Save(r.PostForm, s.Voice.Text("took in %s", name), page.Seen(r.PostForm), replace,
		append(book.Items(in), answers...)...); err != nil {
		t, _ := s.Troubled(err, s.besideInput(in))
		s.taking(w, taken{}, &t)
		return
	}
	page.SeeOther(w, r, "/workbook")
}

// besideInput puts what another has changed beside what a file says of it.
func (s *Room) besideInput(in input.Input) page.Beside {
	return func(l book.Later) [][3]string {
		switch theirs := l.Value.(type) {
		case price.Prices:
			if in.Prices != nil {
				return s.prices.besidePrices(*in.Prices)(l)
			}
		case practice.Practice:
			var rows []ownRow
			for _, p := range in.Practices {
				rows = append(rows, ownOf(p))
			}
			return s.practices.besidePractice(rows)(l)
		case practice.Rule:
			for _, r := range in.Rules {
				if r.Case() == l.Key {
					return s.rules.besideRule(r)(l)
				}
			}
		case bush.Draft:
			for _, d := range in.Bushes {
				if d.Name == theirs.Name {
					return (&sugarbush.Room{Site: s.Site}).Beside(d)(l)
				}
			}
		}
		return nil
	}
}
