package edit

import (
	"cmp"
	_ "embed"
	"maps"
	"net/http"
	"net/url"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/trade/price"
	"spile/internal/view/web/look"
	"spile/internal/view/web/page"
)

// prices are the pages of the prices.
type prices struct {
	*page.Site
	look *look.Room // nil: there is no answer
}

func (s prices) routes(m *page.Routes) {
	m.Get("/prices", func(w http.ResponseWriter, r *http.Request) {
		f := s.form(nil)
		asked, _, _ := s.doubts(s.Have.Prices, nil, false) // what an older workbook was not asked
		f.ask(asked)
		s.pricePage(w, f, s.Have.Sight(), page.Trouble{})
	})
	m.Post("/prices", s.savePrices)
	m.Get("/prices/list", func(w http.ResponseWriter, r *http.Request) {
		asked, _, _ := s.doubts(s.Have.Prices, nil, true)
		s.priceList(w, s.priceText(), s.Have.Sight(), page.Trouble{}, asked...)
	})
	m.Post("/prices/list", s.savePriceList)
	m.Post("/keep", s.keep)
}

// whatPrices is what the history says of changed prices.
func (s prices) whatPrices(changed []string) string {
	const most = 6
	if n := len(changed); n > most {
		changed = append(changed[:most:most], s.Voice.Text("%d more", n-most))
	}
	if len(changed) == 0 {
		return s.Voice.Text("edited the prices")
	}
	return s.Voice.Text("edited the prices: %s", strings.Join(changed, ", "))
}

// besidePrices puts prices beside those of another: the assumptions that differ, then all else that does, by the keys
// of a price file.
func (s prices) besidePrices(mine price.Prices) page.Beside {
	return func(l book.Later) [][3]string {
		theirs, ok := l.Value.(price.Prices)
		if !ok {
			return nil
		}
		a, keys := tomlValues(theirs)
		b, more := tomlValues(mine)
		for _, k := range more {
			if _, have := a[k]; !have {
				keys = append(keys, k)
			}
		}
		var list [][3]string
		var told map[string]bool
		if s.View != nil { // else nothing is answered yet that would name assumptions
			list, told = s.besideAssumptions(theirs, mine)
		}
		for _, k := range keys {
			if a[k] != b[k] && !told[k] {
				list = append(list, [3]string{k, a[k], b[k]})
			}
		}
		return list
	}
}

// besideAssumptions is the assumptions that differ, and those that both have.
func (s prices) besideAssumptions(theirs, mine price.Prices) (list [][3]string, told map[string]bool) {
	v := s.Voice
	of := func(p price.Prices) (map[string]string, []price.Assumption) {
		in, texts := s.Input, map[string]string{}
		in.Prices = &p
		all := in.Prices.Assumptions()
		for _, a := range all {
			m := s.View.Measure(a.Measure)
			number := func(x float64) string { return v.Marked(page.Format(page.Rounded(x * m.Factor))) }
			text := number(a.Value.Best)
			if a.Value.Low != nil && a.Value.High != nil {
				text = v.Text("%s (%s to %s)", text, number(*a.Value.Low), number(*a.Value.High))
			}
			if a.Value.Source != "" {
				text += "; " + a.Value.Source
			}
			texts[a.Key] = text
		}
		return texts, all
	}
	their, _ := of(theirs)
	my, all := of(mine)
	told = map[string]bool{}
	for _, a := range all {
		if _, have := their[a.Key]; !have {
			continue
		}
		told[a.Key] = true
		if their[a.Key] != my[a.Key] {
			name := v.Note(a.Name)
			if unit := s.View.Measure(a.Measure).Unit; unit != "" {
				name += ", " + unit
			}
			list = append(list, [3]string{name, their[a.Key], my[a.Key]})
		}
	}
	return list, told
}

// tomlValues is what a price file says, by its dotted keys.
func tomlValues(p price.Prices) (map[string]string, []string) {
	values, table := map[string]string{}, ""
	var keys []string
	p.Text = "" // the same keys of everybody, however they typed them
	for line := range strings.Lines(string(sheet.PricesTOML(p))) {
		line = strings.TrimSpace(line)
		if name, ok := strings.CutPrefix(line, "["); ok {
			table = strings.TrimSuffix(name, "]") + "."
			continue
		}
		if k, v, ok := strings.Cut(line, " = "); ok {
			keys = append(keys, table+k)
			values[table+k] = v
		}
	}
	return values, keys
}

// priceText is the prices as a price file; where there are none yet, one to begin with.
func (s prices) priceText() string {
	if s.Have.Prices != nil {
		return string(sheet.PricesTOML(*s.Have.Prices))
	}
	return firstPrices
}

// firstPrices is an example to begin with. Its numbers are invented, and say so.
//
//go:embed prices.toml
var firstPrices string

// priceList answers with the whole list as text, which may name materials and uses that are not there yet.
func (s prices) priceList(w http.ResponseWriter, text string, at book.Sight, t page.Trouble, asked ...page.Unusual) {
	v := s.Voice
	body := struct {
		Text  string
		Asked []page.Unusual
	}{text, asked}
	s.Show(w, "list", v.Text("The price list as a file"), page.Page{Seen: at, Trouble: t, Body: body, Lead: []string{
		v.Text("All of it as a price file has it: here materials, chemicals and what each practice uses are added " +
			"and taken away. docs/data.md describes every key; a price file can also be uploaded.")}})
}

// savePriceList keeps the list as it was typed, and the practices and rules that stand in it.
func (s prices) savePriceList(w http.ResponseWriter, r *http.Request) {
	text := s.asTyped(strings.ToValidUTF8(r.PostForm.Get("text"), "\uFFFD"))
	at := page.Seen(r.PostForm)
	in, err := sheet.ReadTOML(s.Have.Practices, "", []byte(text))
	if err == nil && in.Prices == nil {
		_, _, err = sheet.Prices("", []byte(text), s.Input.Practices) // what is missing
	}
	if err != nil {
		s.priceList(w, text, at, page.Refused(s.Voice.Notes(page.Faults(err))...))
		return
	}
	asked, answers, open := s.doubts(in.Prices, r.PostForm, true)
	if open {
		s.priceList(w, text, at, page.Refused(s.unusual()), asked...)
		return
	}
	in.Prices.Where.File = "workbench"
	if err := s.Save(r.PostForm, s.Voice.Text("edited the price list"), at, true,
		append(book.Items(in), answers...)...); err != nil {
		t, seen := s.Troubled(err, s.besidePrices(*in.Prices))
		s.priceList(w, text, cmp.Or(seen, at), t)
		return
	}
	page.SeeOther(w, r, "/prices")
}

// unusual says that something is, and that nothing was kept.
func (s prices) unusual() string {
	return s.Voice.Text("Something is unusual. Nothing was kept: say of each that it is meant, or correct it.")
}

// doubts are what is unusual in prices, by key and, where rows are shown, by row, the answers that a form gives, and
// whether something is open.
func (s prices) doubts(p *price.Prices, form url.Values, rows bool) ([]page.Unusual, []book.Item, bool) {
	if p == nil {
		return nil, nil, false
	}
	asked := p.Doubts(s.Now())
	for i := range asked {
		if asked[i].Where.File = ""; !rows {
			asked[i].Where.Row = 0
		}
	}
	return s.Asked(asked, form)
}

// asTyped is a text that a browser sent, with the line ends of the one that it was sent: browsers send those of
// Windows.
func (s prices) asTyped(sent string) string {
	lf := strings.NewReplacer("\r\n", "\n")
	sent = lf.Replace(sent)
	switch stood := s.priceText(); {
	case lf.Replace(stood) == sent:
		return stood
	case strings.Contains(stood, "\r\n"):
		return strings.ReplaceAll(sent, "\n", "\r\n")
	}
	return sent
}

// retyped is other prices than those of the workbook, typed where those stand in the price list as it was typed.
func (s prices) retyped(now price.Prices) (price.Prices, error) {
	p, _, err := sheet.Prices("workbench", sheet.Retyped(*s.Have.Prices, now), s.Input.Practices)
	if err != nil {
		return now, err
	}
	return *p, nil
}

// keep makes an edit of what is tried of the prices.
func (s prices) keep(w http.ResponseWriter, r *http.Request) {
	if s.Base == nil || s.Input.Prices == nil {
		page.SeeOther(w, r, "/workbook")
		return
	}
	q, at, from := r.PostForm, page.Seen(r.PostForm), "/profit"
	for _, p := range s.Places {
		if p.Path == q.Get(page.FromKey) {
			from = p.Path
		}
	}
	tried := maps.Clone(q)
	tried.Del("accept")
	tried.Del("why")
	k, ok := s.look.Kept(tried)
	switch {
	case !ok:
		q.Del(page.SeenKey)
		q.Del(page.FromKey)
		page.SeeOther(w, r, page.WithQuery(from, q.Encode())) // where each fault stands beside its field
		return
	case len(k.Said) == 0:
		page.SeeOther(w, r, page.WithQuery(from, k.Rest.Encode()))
		return
	}
	kept, err := s.retyped(k.Prices)
	if err == nil {
		asked, answers, open := s.doubts(&kept, q, false)
		if open {
			t := page.Refused(s.unusual())
			s.Show(w, "meantprices", s.Voice.Text("Prices"), page.Page{Seen: at, Trouble: t,
				Back: &page.Link{Href: page.WithQuery(from, k.Tried.Encode()),
					Name: s.Voice.Text("Back to what is tried")},
				Body: struct {
					Asked []page.Unusual
					Form  url.Values
				}{asked, tried}})
			return
		}
		err = s.Save(q, s.Voice.Text("kept %s", strings.Join(k.Said, ", ")), at, true,
			append(answers, book.Keep(kept))...)
	}
	if err != nil {
		trouble, _ := s.Troubled(err, s.besidePrices(k.Prices))
		p := page.Page{Trouble: trouble, Back: &page.Link{Href: page.WithQuery(from, k.Tried.Encode()),
			Name: s.Voice.Text("See what is tried beside the prices as they stand now")}}
		if trouble.Theirs != nil {
			p.Lead = []string{s.Voice.Text("Nothing was kept.")}
		}
		s.Show(w, "plain", s.Voice.Text("Prices"), p)
		return
	}
	page.SeeOther(w, r, page.WithQuery(from, k.Rest.Encode()))
}
