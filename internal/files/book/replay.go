package book

import (
	"database/sql"
	"errors"
	"iter"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/price"
)

// Moment is what a workbook held once, and what had come since the moment before.
type Moment struct {
	Contents
	Last Change   // the last change in it; its ID is 0 where there was none
	Who  []string // made the changes since the moment before
	Came []note.Note
	Why  []string // the reasons that were given for these changes
	Left int      // moments behind it
}

// Since is the change that a text names, by its number or as the one before the first of a day or later, whatever a
// clock that was put back says of those behind it; "" names the last before the winter that the latest time lies in,
// before the first of November. 0 stands for the empty workbook. The error is note.Faults.
func (b *Book) Since(text string) (int64, error) {
	all, err := b.Latest(0, math.MaxInt)
	if err != nil || len(all) == 0 && text == "" {
		return 0, err
	}
	last, latest := int64(0), time.Time{}
	for _, e := range all {
		if last = max(last, e.ID); e.At.After(latest) {
			latest = e.At
		}
	}
	if n, err := strconv.ParseInt(text, 10, 64); err == nil && n >= 0 && n <= last {
		return n, nil
	}
	day, err := time.Parse(time.DateOnly, text)
	switch {
	case text == "":
		day = winter(latest)
	case err != nil:
		return 0, note.Faults{note.New("since %s; allowed: a day such as 2025-11-01, or the number of a change, 0 "+
			"to %d", note.Quote(text), int(last))}
	}
	before := int64(0)
	for _, e := range slices.Backward(all) { // the latest stands first
		if !e.At.Before(day) {
			break
		}
		before = e.ID
	}
	return before, nil
}

func winter(t time.Time) time.Time {
	year := t.Year()
	if t.Month() < time.November {
		year--
	}
	return time.Date(year, time.November, 1, 0, 0, 0, 0, time.UTC)
}

// Moments is the most that are worth an answer each.
const Moments = 24

// Replay gives what the workbook held at a change, then after what came since and an answer rests on: after each
// change, readings of one trial that came one after the other together; where that were more moments than most, day by
// day, else month by month, else year by year.
func (b *Book) Replay(from int64, most int) iter.Seq2[Moment, error] {
	return func(yield func(Moment, error) bool) {
		all, err := b.Latest(0, math.MaxInt)
		all = slices.Clone(all) // which others are shown
		slices.Reverse(all)
		next, last := 0, int64(0) // the first change behind it, and the last of all
		if len(all) > 0 {
			last = all[len(all)-1].ID
		}
		for next < len(all) && all[next].ID <= from {
			next++
		}
		if err == nil && (from < 0 || from > last) {
			err = fault(b.path, "there is no change %d; the last is %d", int(from), int(last))
		}
		if err != nil {
			yield(Moment{}, err)
			return
		}
		s, then := newState(), Moment{}
		if next > 0 {
			then.Last = all[next-1].Change
		}
		groups := grouped(slices.DeleteFunc(slices.Clone(all[next:]), func(e Entry) bool { return !e.counts() }), most)
		for i, g := range append([][]Entry{nil}, groups...) {
			if i > 0 {
				then = Moment{Last: g[len(g)-1].Change}
				if then.Came, err = b.came(g); err != nil {
					yield(Moment{}, err)
					return
				}
				for _, e := range g {
					if !slices.Contains(then.Who, e.Who) {
						then.Who = append(then.Who, e.Who)
					}
					if e.Why != "" && !slices.Contains(then.Why, e.Why) {
						then.Why = append(then.Why, e.Why)
					}
				}
			}
			if err := b.until(&s, max(from, then.Last.ID), then.Last); err != nil {
				yield(Moment{}, err)
				return
			}
			then.Left = len(groups) - i
			then.Contents, err = s.contents(b.eyes)
			if !yield(then, err) || err != nil {
				return
			}
		}
	}
}

// until takes the changes up to one into a state, of which the last that is seen is known.
func (b *Book) until(s *state, change int64, last Change) error {
	now, err := b.asItStands()
	if err == nil {
		err = b.still(now.db, last)
	}
	if err != nil {
		return err
	}
	for v, err := range versionsAfter(now.db, s.last, s.lastReading) {
		if err != nil {
			return b.words(err)
		}
		if v.change > change {
			break
		}
		s.put(v)
	}
	s.head = last.ID
	return nil
}

// still is nil where a change is in the workbook as it was when it was listed, and so all before it: between two
// moments another workbook may be put in this one's place.
func (b *Book) still(now *sql.DB, c Change) error {
	var digest string
	err := now.QueryRow(`SELECT digest FROM change WHERE id = $1`, c.ID).Scan(&digest)
	switch {
	case c.ID == 0 || err == nil && digest == c.digest:
		return nil
	case err == nil || errors.Is(err, sql.ErrNoRows):
		return fault(b.path, "another workbook was put in this one's place while it was read; ask again")
	}
	return b.words(err)
}

// counts is true of a change that touched what an answer rests on.
func (e Entry) counts() bool {
	return slices.ContainsFunc(e.marks,
		func(r ref) bool { return r.kind != Bush && r.kind != Answer && r.kind != Word && r.kind != Crossed })
}

// log is the trial that all of a change is written down of; "" where it is of anything else.
func (e Entry) log() string {
	name := ""
	for i, r := range e.marks {
		of := r.trialOf()
		if r.kind == Trial || of == "" || i > 0 && of != name {
			return ""
		}
		name = of
	}
	return name
}

// grouped puts changes together, so that there are no more groups than most where that can be.
func grouped(all []Entry, most int) (groups [][]Entry) {
	for _, together := range []func(a, b Entry) bool{
		func(a, b Entry) bool { return a.log() != "" && a.log() == b.log() },
		func(a, b Entry) bool { return a.At.Format(time.DateOnly) == b.At.Format(time.DateOnly) },
		func(a, b Entry) bool { return a.At.Format("2006-01") == b.At.Format("2006-01") },
		func(a, b Entry) bool { return a.At.Year() == b.At.Year() },
	} {
		groups = nil
		for i, e := range all {
			if i == 0 || !together(all[i-1], e) {
				groups = append(groups, nil)
			}
			last := len(groups) - 1
			groups[last] = append(groups[last], e)
		}
		if len(groups) <= most {
			break
		}
	}
	return groups
}

// called are the kinds that an answer rests on, as they matter to it: one by its name, more by their number.
var called = []struct {
	kind      Kind
	one, many string
}{
	{Study, "the study %s", "%d studies"}, {Excluded, "the study %s", "%d studies"},
	{Trial, "the trial %s", "%d trials"}, {Prices, "the prices", ""}, {Practice, "the practice %s", "%d practices"},
	{Rule, "", "%d rules"}, {Reading, "", "%d readings"}, {Event, "", "%d events"},
	{Calibration, "", "%d measured dumps"}, {Tank, "", "%d tanks"}, {Count, "", "%d counts of taps"},
	{Holding, "", "who sees %d studies or trials"},
	{Weather, "", "%d years of temperatures"}, {Sums, "", "%d season tables"}, {Decision, "", "%d decisions"},
}

// did are what changes do to a thing, and left what they do to its being left out.
var did, left = [3]string{"new: %s", "changed: %s", "gone: %s"},
	[3]string{"left out: %s", "left out for another reason: %s", "counted again: %s"}

// named is what a step did something to: of prices, of which there is one, the keys that say something else now.
func (s Step) named() []string {
	if s.Kind != Prices {
		return []string{s.Key}
	}
	before, after, _ := s.Values()
	was, had := before.(price.Prices)
	is, has := after.(price.Prices)
	if !had || !has {
		return nil
	}
	return was.Differ(&is)
}

// deeds are what a step does to a thing, in the order of did.
var deeds = [3]func(Step) bool{Step.Added, Step.Replaced, Step.Removed}

// deed is what changes did to the things of one kind.
type deed struct {
	touched bool
	names   []string
	ofTrial map[string]int
}

// came says what changes did to what an answer rests on: a few things by name, many by their number.
func (b *Book) came(group []Entry) (said []note.Note, err error) {
	done := map[Kind]*[3]deed{}
	var fresh []string // trials, of which the rest need not be said
	add := func(s Step, one string) {
		if done[s.Kind] == nil {
			done[s.Kind] = new([3]deed)
		}
		d := &done[s.Kind][slices.IndexFunc(deeds[:], func(is func(Step) bool) bool { return is(s) })]
		if of := (ref{s.Kind, s.Key}).trialOf(); one == "" && of != "" {
			if d.ofTrial == nil {
				d.ofTrial = map[string]int{}
			}
			d.ofTrial[of]++
			return
		}
		d.touched = true
		for _, name := range s.named() {
			if !slices.Contains(d.names, name) {
				d.names = append(d.names, name)
			}
		}
	}
	ones := map[Kind]string{}
	for _, k := range called {
		ones[k.kind] = k.one
	}
	now, err := b.asItStands()
	if err == nil {
		err = b.still(now.db, group[len(group)-1].Change)
	}
	if err != nil {
		return nil, err
	}
	err = b.looking(now, func(tx *sql.Tx) error {
		limits := b.eyes.limits(now.trail)
		for _, e := range group {
			if err := now.steps(tx, e.ID, false, func(s Step, _ *version) {
				one, is := ones[s.Kind]
				if !is || s.before == nil && s.after == nil || !now.trail.seen(s, e.ID, limits) {
					return
				}
				if s.Kind == Trial && s.Added() {
					fresh = append(fresh, s.Key)
				}
				add(s, one)
			}); err != nil {
				return err
			}
		}
		return nil
	})
	for _, k := range called {
		words := did
		if k.kind == Excluded {
			words = left
		}
		for i := range deeds {
			say := func(text string, args ...any) { said = append(said, note.New(words[i], note.New(text, args...))) }
			d := deed{}
			if all := done[k.kind]; all != nil {
				d = all[i]
			}
			switch names := d.names; {
			case d.touched && k.kind == Prices && len(names) == 0:
				say(k.one)
			case d.touched && k.kind == Prices:
				say("%s (%s)", note.New(k.one), note.Some(names))
			case len(names) > few || k.one == "" && len(names) > 0:
				say(k.many, len(names))
			case len(names) > 1:
				say("%s (%s)", note.New(k.many, len(names)), strings.Join(names, ", "))
			case len(names) == 1:
				say(k.one, names[0])
			}
			for _, of := range slices.Sorted(maps.Keys(d.ofTrial)) {
				if !slices.Contains(fresh, of) {
					say("%s (%s)", note.New(k.many, d.ofTrial[of]), of)
				}
			}
		}
	}
	return said, err
}

// few things are named, more are counted.
const few = 4
