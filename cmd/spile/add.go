package main

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/doubt"
	"spile/internal/trade/input"
	"spile/internal/trade/trial"
	"spile/internal/view/show"
)

type addCommand struct {
	Workbook string   `arg:"" name:"book" help:"The workbook (.spile), or its address."`
	Files    []string `arg:"" name:"file"`
	Who      string   `placeholder:"NAME" help:"Who adds it, for the history (default: the login name)."`
	Why      string   `placeholder:"TEXT" help:"Why, for the history."`
	Replace  bool
}

// Help teaches the command.
func (addCommand) Help() string {
	return `Takes all of the files in, or none of them: every fault is listed at once, and then nothing is kept. What is in
the workbook already with the same content is left alone. The same name with other content is a fault, unless
--replace is given.

    spile add station.spile evidence.csv prices.toml
    spile add station.spile corrected.csv --replace --who Ada --why "two rows were swapped"`
}

// Run does it.
func (c addCommand) Run(o *out) error {
	names := make([]string, len(c.Files))
	for i, path := range c.Files {
		names[i] = filepath.Base(path)
	}
	e := book.Edit{Who: c.Who, What: "spile add " + strings.Join(names, " "), Why: c.Why, Replace: c.Replace}
	return o.keep(c.Workbook, e,
		func(have book.Contents) ([]book.Item, note.List, error) {
			in, err := sheet.ReadBeside(have.Practices, have.Words, c.Files...)
			if err != nil {
				return nil, nil, err
			}
			answers, err := o.answered(sheet.Doubts(in, have.Input, today()), slices.Concat(have.Answers, in.Answers))
			if err != nil {
				return nil, nil, err
			}
			in.Answers = append(in.Answers, answers...)
			withoutFolders(&in)
			in.Words = sheet.Lasting(in.Words)
			return book.Items(in), in.Notes, nil
		})
}

// keep makes one change of a workbook from what it holds, and says what became of each thing.
func (o *out) keep(path string, e book.Edit, change func(book.Contents) ([]book.Item, note.List, error)) error {
	if err := namesWorkbook(path); err != nil {
		return err
	}
	var err error
	if e.At, err = now(); err != nil {
		return err
	}
	if e.Who == "" {
		e.Who = login()
	}
	if e.Who == "" {
		return misuse{note.New("the login name is not known: give --who NAME")}
	}
	b, err := book.Open(path)
	if err != nil {
		return notKept{err}
	}
	defer b.Close()
	have, err := b.Contents()
	if err != nil {
		return notKept{err}
	}
	items, notes, err := change(have)
	if err != nil {
		if errors.As(err, new(misuse)) || errors.As(err, new(doubt.Questions)) {
			return err
		}
		return notKept{err}
	}
	e.Seen = have.Sight()
	saved, err := b.Save(e, items...)
	if err != nil {
		return notKept{err}
	}
	v := o.voice
	if saved.Change == 0 {
		fmt.Fprintln(o.stdout, v.Text("nothing was added: %s holds all of this already", path))
	} else {
		fmt.Fprintln(o.stdout, v.Text("kept as change %d of %s, by %s", int(saved.Change), path, e.Who))
	}
	for _, part := range []struct {
		what string
		list []book.Touched
	}{{v.Text("added"), saved.Added}, {v.Text("replaced"), saved.Replaced}, {v.Text("unchanged"), saved.Unchanged}} {
		if len(part.list) > 0 {
			fmt.Fprintln(o.stdout, show.Wrap("  ", v.Text("%s: %s", part.what, o.touched(part.list)), show.Width))
		}
	}
	o.warn(notes)
	return nil
}

// naming is how many things are named; more are counted.
const naming = 8

// named are the kinds whose things have names that tell them.
var named = []book.Kind{book.Study, book.Practice, book.Excluded, book.Trial, book.Bush}

// touched names or counts things, kind by kind.
func (o *out) touched(list []book.Touched) string {
	var parts []string
	for _, k := range []struct {
		kind book.Kind
		text string
	}{{book.Study, "%d studies"}, {book.Prices, "prices"}, {book.Practice, "%d practices"}, {book.Rule, "%d rules"},
		{book.Excluded, "%d studies left out"}, {book.Search, "how studies were looked for"},
		{book.Answer, "%d answers"}, {book.Word, "%d words"},
		{book.Bush, "%d sugarbushes"}, {book.Past, "%d past seasons"},
		{book.Trial, "%d trials"}, {book.Reading, "%d readings"},
		{book.Event, "%d events"}, {book.Calibration, "%d measured dumps"}, {book.Tank, "%d tanks"},
		{book.Count, "%d counts of taps"}, {book.Weather, "%d years of temperatures"}, {book.Sums, "%d season tables"},
		{book.Decision, "%d decisions"}, {book.Holding, "who sees %d studies or trials"}} {
		var keys []string
		for _, t := range list {
			if t.Kind == k.kind {
				keys = append(keys, t.Key)
			}
		}
		switch {
		case len(keys) == 0:
		case k.kind == book.Prices || k.kind == book.Search:
			parts = append(parts, o.voice.Text(k.text))
		case len(keys) > naming || !slices.Contains(named, k.kind):
			parts = append(parts, o.voice.Text(k.text, len(keys)))
		default:
			parts = append(parts, o.voice.Text(k.text, len(keys))+" ("+strings.Join(keys, ", ")+")")
		}
	}
	return strings.Join(parts, "; ")
}

// withoutFolders leaves of the places of things the names of files alone: a workbook is mailed, and the folders of its
// writer are nobody's affair.
func withoutFolders(in *input.Input) {
	for i := range in.Studies {
		s := &in.Studies[i]
		s.Where.File = filepath.Base(s.Where.File)
		for j := range s.Arms {
			s.Arms[j].Where.File = filepath.Base(s.Arms[j].Where.File)
		}
	}
	if in.Prices != nil {
		in.Prices.Where.File = filepath.Base(in.Prices.Where.File)
	}
	for i := range in.Bushes {
		in.Bushes[i].Where.File = filepath.Base(in.Bushes[i].Where.File)
	}
	for i := range in.Trials {
		trialWithoutFolders(&in.Trials[i])
	}
}

func trialWithoutFolders(t *trial.Trial) {
	bare := func(w *note.Where) {
		if w.File != "" {
			w.File = filepath.Base(w.File)
		}
	}
	bare(&t.Where)
	for i := range t.Sums {
		bare(&t.Sums[i].Where)
	}
	for _, r := range t.Records {
		for i := range r.Readings {
			bare(&r.Readings[i].Where)
		}
		for i := range r.Events {
			bare(&r.Events[i].Where)
		}
	}
}

// readWorkbook is what a workbook holds, as the chain takes it; where it is public, what is everybody's to see.
func readWorkbook(path string, public bool) (advice.Input, error) {
	b, err := book.Open(path)
	if err != nil {
		return advice.Input{}, err
	}
	defer b.Close()
	if public {
		b = b.For("", func() time.Time {
			t, _ := now() // what it is was asked before
			return t
		})
	}
	have, err := b.Contents()
	in := advice.Usual(have.Input)
	if err == nil && len(in.Studies)+len(in.Trials) == 0 {
		err = note.Faults{note.New("this workbook holds no study yet: spile add %s FILE…", path).
			At(note.Where{File: path})}
	}
	return in, err
}

// now is the time of a change: of the clock, or, so that a run can be repeated, SOURCE_DATE_EPOCH.
func now() (time.Time, error) {
	text := os.Getenv("SOURCE_DATE_EPOCH")
	if text == "" {
		return time.Now(), nil
	}
	seconds, err := strconv.ParseInt(text, 10, 64)
	if err != nil || seconds < 0 || seconds > 1<<36 {
		return time.Time{}, misuse{note.New("SOURCE_DATE_EPOCH is %s; allowed: seconds since 1970", text)}
	}
	return time.Unix(seconds, 0), nil
}

// login is the name under which the user is logged in, or "".
func login() string {
	if u, err := user.Current(); err == nil && u.Username != "" {
		return u.Username
	}
	return cmp.Or(os.Getenv("USER"), os.Getenv("USERNAME"))
}

// notKept is the error of a change of which nothing was kept.
type notKept struct{ error }

func (e notKept) Unwrap() error { return e.error }
