package main

import (
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/doubt"
	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// files is what a command reads.
type files struct {
	Files  []string `arg:"" name:"file"`
	public bool     // of a workbook only what is everybody's to see
}

// model is how the studies are read and pooled.
type model struct {
	Inference       string   `enum:"${inferences}" default:"mixture" placeholder:"${inferences_or}"`
	Variance        string   `enum:"${variances}" default:"moderated" placeholder:"${variances_or}"`
	Moderators      []string `placeholder:"NAME"`
	Without         []string `placeholder:"CAVEAT"`
	Exclude         []string `sep:"none" placeholder:"STUDY" help:"Leave out a study by name; may be given again."`
	SiteEffect      bool     `default:"true" help:"A site's own effect on all its gains (default true)."`
	Shrinkage       bool     `default:"true" help:"Draw gains toward those of like practices for money (default true)."`
	ProducerReports bool     `help:"Let producers' reports count; they are kept, but out, unless asked."`
}

// usualModel is what the flags of a model say where a call has none.
var usualModel = model{Inference: "mixture", Variance: "moderated", SiteEffect: true, Shrinkage: true}

// money is what the money rests on.
type money struct {
	Prices  string `placeholder:"PRICES.toml" help:"Price file; may also stand among the files."`
	Against string `placeholder:"KEY"`
	Place   string `placeholder:"CODE" help:"Place, such as US-VT or CA-QC, for what is permitted."`
	Organic bool   `help:"The sugarbush holds an organic certificate."`
}

// ahead is how far ahead the way to each practice is looked at.
type ahead struct {
	Over seasons `default:"5" placeholder:"N" help:"Seasons over which the way to each practice is looked at (default 5)."`
}

func (a ahead) over(in *advice.Input) error {
	if in.Over = int(a.Over); in.Over < 1 || in.Over > 50 {
		return misuse{note.New("--over is %d; allowed: 1 to 50", in.Over)}
	}
	return nil
}

// asJSON is the flag of every command that computes.
type asJSON struct {
	JSON bool `name:"json" help:"Print JSON."`
}

// and is the files with the price file among them.
func (f files) and(prices string) []string {
	if prices == "" || slices.Contains(f.Files, prices) {
		return f.Files
	}
	return append(slices.Clone(f.Files), prices)
}

// input reads the files and lays what the call says over them.
func (f files) input(o *out, m model, c money) (advice.Input, error) {
	paths := f.and(c.Prices)
	in, err := o.read(paths, f.public)
	if err != nil {
		return in, err
	}
	if len(in.Studies)+len(in.Trials) == 0 {
		return in, misuse{note.New("no study is in %s; allowed: an evidence table among the files",
			strings.Join(paths, ", "))}
	}
	in.Pool.Inference = pool.Inference(m.Inference)
	in.Evidence.Variance = evidence.Rule(m.Variance)
	in.Pool.Site, in.Pool.Unshrunk = m.SiteEffect, !m.Shrinkage
	in.Pool.Moderators = m.Moderators
	in.Evidence.Without = add(in.Evidence.Without, m.Without)
	in.Evidence.Exclude = append(in.Evidence.Exclude, m.Exclude...)
	in.Evidence.ProducerReports = m.ProducerReports
	for _, name := range m.Exclude {
		if !hasStudy(in, name) {
			return in, misuse{note.New("--exclude: no study is named %q; allowed: %s", name, join(nearest(in, name)))}
		}
	}
	for _, name := range m.Moderators {
		if !slices.Contains(evidence.ModeratorNames(), name) {
			return in, misuse{note.New("--moderators: %s", note.Unknown(name, evidence.ModeratorNames()))}
		}
	}
	if err := o.placed(c.Place); err != nil {
		return in, err
	}
	if c.Against != "" {
		key, every, rotated := strings.Cut(c.Against, "/")
		in.Against.Practice = practice.Key(key)
		if in.Against.Every, err = strconv.Atoi(every); rotated && (err != nil || in.Against.Every < 1) {
			return in, misuse{note.New("--against %s; allowed: a practice, or a rotation such as new-drop/3",
				c.Against)}
		}
		switch p, ok := in.Practices.Find(in.Against.Practice); {
		case !ok:
			return in, misuse{note.New("--against: %s", in.Practices.Unknown(in.Against.Practice))}
		case rotated && !p.Ages():
			return in, misuse{note.New("--against %s: %s replaces no drops, so it is no rotation; allowed: a "+
				"practice, or a rotation such as new-drop/3", c.Against, note.Term(key))}
		}
	}
	if in.Prices == nil {
		if c.Place != "" || c.Organic {
			return in, misuse{note.New("--place and --organic need prices: give --prices PRICES.toml")}
		}
		return in, nil
	}
	prices := *in.Prices
	if c.Place != "" {
		prices.Place = c.Place
	}
	prices.Organic = prices.Organic || c.Organic
	in.Prices = &prices
	return in, nil
}

// placed refuses a --place that does not exist, and asks about one that is hardly meant.
func (o *out) placed(code string) error {
	if code != "" && !place.Exists(code) {
		return misuse{note.New("--place: %s", place.Fault(code))}
	}
	if n, unusual := price.OfPlace(code); unusual {
		return doubt.Questions{doubt.About(n, "--place", code)}.Open(o.accepted).Err()
	}
	return nil
}

// read reads files, or a workbook with, at the most, other prices beside it. What is unusual in files and not said to
// be meant is the error; what a workbook holds was asked about when it was taken in, or is asked on its pages.
func (o *out) read(paths []string, public bool) (advice.Input, error) {
	book := slices.IndexFunc(paths, isWorkbook)
	if book < 0 {
		read, err := sheet.Read(paths...)
		if err == nil {
			_, err = o.answered(sheet.Doubts(read, input.Input{}, today()), read.Answers)
		}
		if err != nil {
			return advice.Input{}, err
		}
		in := advice.Usual(read)
		for i := range in.Sources { // the folder is the user's own affair
			in.Sources[i].Name = filepath.Base(in.Sources[i].Name)
		}
		return in, nil
	}
	in, err := readWorkbook(paths[book], public)
	if err != nil || len(paths) == 1 {
		return in, err
	}
	beside, err := sheet.ReadBeside(in.Practices, in.Words, slices.Delete(slices.Clone(paths), book, book+1)...)
	if err != nil {
		return in, err
	}
	if beside.Prices == nil && beside.Bushes == nil || len(beside.Studies) > 0 || len(beside.Rules) > 0 ||
		len(beside.Own()) > 0 {
		return in, misuse{note.New("beside a workbook only a file of prices and a sugarbush may stand; take others "+
			"into it: spile add %s", paths[book])}
	}
	if _, err := o.answered(sheet.Doubts(beside, in.Input, today()), in.Answers); err != nil {
		return in, err
	}
	if beside.Prices != nil {
		in.Prices = beside.Prices
	}
	if beside.Bushes != nil {
		in.Bushes = beside.Bushes
	}
	in.Notes = append(in.Notes, beside.Notes...)
	for _, s := range beside.Sources {
		in.Sources = append(in.Sources, input.Source{Name: filepath.Base(s.Name), Digest: s.Digest})
	}
	return in, nil
}

// settle puts the voice into the units of the place that the prices are of, unless the call asked for others.
func (o *out) settle(prices *price.Prices) {
	if o.units || prices == nil || prices.Place == "" {
		return
	}
	o.voice = o.voice.With(say.UnitsOf(prices.Place))
}

// answer is the view of an answer. Thorough also leaves out each study, site and caveat in turn.
func (o *out) answer(in advice.Input, thorough bool) (*show.View, error) {
	o.settle(in.Prices)
	o.busy.on(o.voice.Text("pooling %d studies", len(in.Studies)))
	a, err := o.memo.Of(in)
	if err == nil && thorough {
		a, err = o.memo.Thorough(a)
	}
	if err != nil {
		return nil, err
	}
	for _, c := range in.Evidence.Without {
		known := []string{}
		for _, name := range slices.Sorted(maps.Keys(a.Caveats)) { // those of trials too
			for _, k := range a.Caveats[name] {
				if !slices.Contains(known, string(k)) {
					known = append(known, string(k))
				}
			}
		}
		if len(known) == 0 {
			return nil, misuse{note.New("--without: no study carries the caveat %s, nor any other; allowed: the call "+
				"without it", string(c))}
		}
		if !slices.Contains(known, string(c)) {
			return nil, misuse{note.New("--without: no study carries the caveat %s; allowed: %s", string(c),
				strings.Join(known, ", "))}
		}
	}
	return show.Of(a, o.voice), nil
}

// whole is the view of an answer with all that a report says: also without each study, site and caveat, and under
// uncertainty.
func (o *out) whole(in advice.Input) (*show.View, error) {
	return o.asked(in, show.Whole)
}

// asked is the view of an answer with what is needed of it.
func (o *out) asked(in advice.Input, need show.Need) (*show.View, error) {
	w, err := o.answer(in, false)
	if err != nil {
		return nil, err
	}
	o.busy.on(o.voice.Text("leaving out each of %d studies", w.A.Pool.Studies))
	a, err := need.Ask(o.memo, w.A, w.A.Everything())
	if err != nil {
		return nil, err
	}
	return show.Of(a, o.voice), nil
}

// tables are those of the catalogue that a command prints, and more where that is asked.
func tables(w *show.View, command string, thorough bool) []show.Table {
	if thorough {
		return w.TablesAt(command, show.Command, show.More)
	}
	return w.TablesAt(command, show.Command)
}

// print writes sentences, then tables; the warnings go to standard error, but for what is invented: that goes where the
// answer goes.
func (o *out) print(said []string, tables []show.Table, warnings note.List) error {
	var invented []string
	for _, n := range warnings {
		if input.SaysInvented(n) {
			invented = append(invented, o.voice.Note(n)+".")
		}
	}
	warnings = slices.DeleteFunc(slices.Clone(warnings), input.SaysInvented)
	for _, s := range append(invented, said...) {
		fmt.Fprintln(o.stdout, show.Wrap("", s, show.Width))
	}
	for i, t := range tables {
		if i > 0 || len(said) > 0 {
			fmt.Fprintln(o.stdout)
		}
		if err := t.Terminal(o.stdout, show.Width); err != nil {
			return err
		}
	}
	o.warn(warnings)
	return nil
}

// warn lists warnings on standard error; of many that are alike the first, and how many more there are. JSON and the
// report have them all.
func (o *out) warn(notes note.List) {
	if len(notes) == 0 {
		return
	}
	fmt.Fprintf(o.stderr, "\n%s\n", o.voice.Text("Warnings"))
	for _, x := range show.Warn(o.voice, notes, show.Alike) {
		mark := "- "
		if x.More != nil {
			mark = "  "
		}
		fmt.Fprintln(o.stderr, show.Wrap(mark, x.Text, show.Width))
	}
}

func add[T ~string](to []T, words []string) []T {
	for _, w := range words {
		to = append(to, T(w))
	}
	return to
}

func join[T ~string](words []T) string { return strings.Join(plain(words), ", ") }

// hasStudy is true where a study has the name.
func hasStudy(in advice.Input, name string) bool {
	for _, s := range in.Studies {
		if s.Name == name {
			return true
		}
	}
	return false
}

// nearest are the names of the studies that share most with a name that none has, five at most; all of a few.
func nearest(in advice.Input, name string) []string {
	shared := func(s string) int {
		n := 0
		for _, word := range strings.Fields(strings.ToLower(name)) {
			if strings.Contains(strings.ToLower(s), word) {
				n++
			}
		}
		return n
	}
	var names []string
	for _, s := range in.Studies {
		names = append(names, s.Name)
	}
	slices.SortStableFunc(names, func(a, b string) int { return shared(b) - shared(a) })
	if len(names) > 5 {
		return append(names[:5:5], "…")
	}
	return names
}
