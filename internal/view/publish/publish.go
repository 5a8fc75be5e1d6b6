// Package publish writes the answer of a station as one HTML file that any producer opens, from a web host, from a mail
// or from a stick: what the station says, in every language asked for, and the engine that works out a reader's own
// numbers on the reader's own device.
package publish

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	_ "embed"
	"encoding/ascii85"
	"encoding/base64"
	"encoding/hex"
	"html/template"
	"slices"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/trade/practice"
	"spile/internal/view/markup"
	"spile/internal/view/own"
	"spile/internal/view/publish/engine"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

var (
	//go:embed page.html
	source string
	//go:embed publish.css
	style string
	//go:embed page.js
	script string
	//go:embed worker.js
	worker string
)

// Options are what only who publishes can say.
type Options struct {
	Langs   []string // the languages, in their order: "en", "fr"
	By      string   // who publishes it
	Licence string   // of the data; "": not stated
	Version string   // of the program
	Beside  []Beside // what else stands in the folder of a page on a web host
}

// Beside is a file beside a page, which a language of the page leads to.
type Beside struct{ Lang, Name, Path string }

// The parts of a page that stand beside it on a web host. Their names end in nothing that a server unpacks or packs.
const (
	enginePart   = "engine.bin"
	evidencePart = "evidence.bin"
)

// tongue is the page in one language.
type tongue struct {
	v *say.Voice

	Code, Lang, Name, Title string
	Version, Digest         string
	Others                  []*tongue // the same in other languages
	Lead, Marks             template.HTML
	Rests, Lapses           string
	Licence, Cite           string
	System                  string
	Units                   []own.Option
	Groups                  []own.Group
	More                    own.Group // of a section, folded
	Parts                   []part
	Beside                  []Beside
}

// part is a section of what the station says.
type part struct {
	Title string
	Hush  bool // its one table says its title
	Fold  bool // what few look at
	HTML  template.HTML
}

// names are the languages in their own words.
var names = map[string]string{"en": "English", "fr": "Français"}

// File is the page of an answer with prices and with what each option is likely to net, over what was frozen of it, as
// one file. The same arguments give the same bytes.
func File(a *advice.Advice, z *advice.Frozen, o Options) ([]byte, error) {
	evidence, digest, err := packed(z)
	if err != nil {
		return nil, err
	}
	return page(a, z, o, digest, inText(engine.Room), inText(evidence))
}

// Folder is the same page in parts, by their names: what a browser paints is small, and what it keeps from one visit to
// the next stands beside it.
func Folder(a *advice.Advice, z *advice.Frozen, o Options) (map[string][]byte, error) {
	evidence, digest, err := packed(z)
	if err != nil {
		return nil, err
	}
	html, err := page(a, z, o, digest, "", "")
	return map[string][]byte{"index.html": html, enginePart: engine.Room, evidencePart: evidence,
		"CITATION.cff": citation(a, o, digest)}, err
}

// page is the page with engine and evidence in it, as text, or without where they stand beside it.
func page(a *advice.Advice, z *advice.Frozen, o Options, digest, room, evidence string) ([]byte, error) {
	thawed := z.Thaw()
	var tongues []*tongue
	for i, lang := range o.Langs {
		v := say.In(lang)
		if at := a.Input.Prices.Place; at != "" {
			v = v.With(say.UnitsOf(at))
		}
		m := newTongue(a, own.Desk{Thawed: thawed, V: v}, o)
		m.Cite, m.Digest = cite(v, a, o, digest), digest
		if i == 0 {
			m.tell(a, "")
		} else {
			m.tell(a, m.Code+"-")
		}
		tongues = append(tongues, m)
	}
	var mains []template.HTML
	for _, m := range tongues {
		m.Others = slices.DeleteFunc(slices.Clone(tongues), func(o *tongue) bool { return o == m })
		var b bytes.Buffer
		tmpl, err := m.template()
		if err == nil {
			err = tmpl.ExecuteTemplate(&b, "main", m)
		}
		if err != nil {
			return nil, err
		}
		mains = append(mains, template.HTML(b.String()))
	}
	tmpl, err := tongues[0].template()
	if err != nil {
		return nil, err
	}
	data := map[string]any{"First": tongues[0], "Mains": mains, "Version": o.Version, "Digest": digest,
		"Style": template.CSS(markup.Stylesheet() + style), "Policy": policy(room == "")}
	if room == "" {
		data["EngineAt"], data["EvidenceAt"] = enginePart, evidencePart
	}
	// What is no HTML is put in behind the template, which would read it as a script.
	blocks := []struct{ name, body string }{{"Engine", room}, {"Evidence", evidence}, {"Go", engine.Go},
		{"Worker", worker}, {"Script", script}}
	var fill []string
	for _, b := range blocks {
		mark := "spile:" + b.name
		data[b.name] = template.JS(mark)
		fill = append(fill, mark, b.body)
	}
	var out bytes.Buffer
	if err := tmpl.Execute(&out, data); err != nil {
		return nil, err
	}
	head, tail, _ := strings.Cut(out.String(), "<script") // what people wrote stands in the head
	return []byte(head + strings.NewReplacer(fill...).Replace("<script"+tail)), nil
}

// policy is what the page may do: no network at all, or the parts that stand beside it alone.
func policy(beside bool) string {
	hash := sha256.Sum256([]byte(script))
	list := []string{"default-src 'none'", "script-src 'wasm-unsafe-eval' 'sha256-" +
		base64.StdEncoding.EncodeToString(hash[:]) + "'", "worker-src blob:", "style-src 'unsafe-inline'",
		"font-src data:", "img-src data:", "base-uri 'none'", "form-action 'none'"}
	if beside {
		list = append(list, "connect-src 'self'")
	}
	return strings.Join(list, "; ")
}

// template is that of the page, in the language.
func (m *tongue) template() (*template.Template, error) {
	return template.New("page").Funcs(template.FuncMap{"t": m.v.Text, "fields": func(g own.Group) any {
		return struct {
			Tongue string
			Fields []own.Field
		}{m.Code, g.Numbered(1)}
	}}).Parse(source)
}

// inText is bytes as text that may stand in a page: base 85, with a v for the sign that might begin a tag. It is a
// sixteenth shorter than base 64.
func inText(data []byte) string {
	text := make([]byte, ascii85.MaxEncodedLen(len(data)))
	return strings.ReplaceAll(string(text[:ascii85.Encode(text, data)]), "<", "v")
}

// packed is what was frozen as the worker unpacks it, a gzip file, and its digest.
func packed(z *advice.Frozen) (data []byte, digest string, err error) {
	frozen, err := z.Pack()
	if err != nil {
		return nil, "", err
	}
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err == nil {
		_, err = w.Write(frozen)
	}
	if err == nil {
		err = w.Close()
	}
	sum := sha256.Sum256(frozen)
	return b.Bytes(), hex.EncodeToString(sum[:6]), err
}

// newTongue is the page in the language of a desk, but for what the station says.
func newTongue(a *advice.Advice, d own.Desk, o Options) *tongue {
	v := d.V
	m := &tongue{v: v, Version: o.Version, Code: v.Language(), Lang: v.Lang(), Name: names[v.Language()],
		Title: v.Text("Tap holes and drops: what pays"), System: string(v.Units()), Lapses: lapses(a)}
	if o.By != "" {
		m.Title = v.Text("%s: %s", o.By, m.Title)
	}
	for _, u := range say.Systems {
		name := map[say.Units]string{say.US: v.Text("US gallons, pounds, inches of mercury"),
			say.Metric: v.Text("litres, kilograms, kilopascals"),
			say.Quebec: v.Text("litres of sap, pounds of syrup, inches of mercury")}[u]
		m.Units = append(m.Units, own.Option{Value: string(u), Name: name})
	}
	for _, g := range d.Form() {
		if g.Key == "section-more" {
			m.More = g
			continue
		}
		m.Groups = append(m.Groups, g)
	}
	for _, b := range o.Beside {
		if b.Lang == "" || b.Lang == m.Code {
			m.Beside = append(m.Beside, Beside{Name: v.Text(b.Name), Path: b.Path})
		}
	}
	m.Licence = v.Text("The data may be used as the licence %s says.", o.Licence)
	if o.Licence == "" {
		m.Licence = v.Text("Under which licence the data may be used is not stated: ask who publishes them.")
	}
	return m
}

// tell writes what the station says.
func (m *tongue) tell(a *advice.Advice, prefix string) {
	v, w := m.v, show.Of(a, m.v)
	html := func(write func(*markup.Writer)) template.HTML {
		to := markup.Writer{Prefix: prefix}
		write(&to)
		return template.HTML(to.String())
	}
	m.Lead = html(func(to *markup.Writer) { to.Lead(w.Recommendation()) })
	m.Marks = html(func(to *markup.Writer) { to.Marks(own.Desk{V: v}.Marks(w, 0)) })
	day := a.Input.Prices.AsOf
	if t, err := time.Parse(time.DateOnly, day); err == nil {
		day = v.Date(t)
	}
	m.Rests = v.Text("It rests on %s at %s, and on prices of %s.", v.Text("%d studies", a.Pool.Studies),
		v.Text("%d sites", a.Pool.Sites), day)
	table := func(title string, fold bool, t show.Table) {
		if len(t.Rows) > 0 {
			written := html(func(to *markup.Writer) { to.Table(t, markup.Marks{}) })
			m.Parts = append(m.Parts, part{title, true, fold, written})
		}
	}
	m.Parts = append(m.Parts, part{v.Text("What each practice nets"), true, false, html(func(to *markup.Writer) {
		to.Figure(show.Drawn{Name: "net", Draw: w.Net().Draw})
		to.Table(own.Brief(w), markup.Marks{})
	})})
	if a.Weighed != nil && a.Weighed.Prospect != nil {
		table(v.Text("In a poor, a usual and a good season"), false, w.Single())
	}
	m.Parts = append(m.Parts, part{v.Text("More sap"), true, false, html(func(to *markup.Writer) {
		to.Figure(show.Drawn{Name: "bars", Draw: w.Bars().Draw})
		to.Table(w.Gains().Without("comparisons", "long_run_pct"), markup.Marks{})
	})})
	table(v.Text("Cautions"), false, w.Cautions())
	var said []string
	for _, x := range w.Warned() {
		said = append(said, x.Text)
	}
	if said != nil {
		m.Parts = append(m.Parts, part{v.Text("Read with care"), false, false, html(func(to *markup.Writer) {
			to.List("ul", said)
		})})
	}
	table(v.Text("The studies"), true, w.Evidence())
	table(v.Text("Where the data came from"), true, w.Sources())
}

// lapses is the day from which the first rule of permission that the page rests on has lapsed.
func lapses(a *advice.Advice) (day string) {
	for _, r := range practice.WithShipped(a.Input.Rules) {
		if at, err := time.Parse(time.DateOnly, r.Checked); err == nil {
			if end := at.AddDate(0, 12, 0).Format(time.DateOnly); day == "" || end < day {
				day = end
			}
		}
	}
	return day
}

// cite is how the page is cited: who, when, what, of which version and evidence.
func cite(v *say.Voice, a *advice.Advice, o Options, digest string) string {
	year, _, _ := strings.Cut(a.Input.Prices.AsOf, "-")
	parts := []string{o.By, year, v.Text("Tap holes and drops: what pays"), v.Text("spile %s, evidence %s", o.Version,
		digest)}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ". ") + "."
}
