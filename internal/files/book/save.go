package book

import (
	"cmp"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/bush"
	"spile/internal/trade/doubt"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/past"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
	"spile/internal/trade/station"
	"spile/internal/trade/trial"
	"spile/internal/trade/weather"
)

// Edit is who changes the workbook, and what they saw of it when they did.
type Edit struct {
	At        time.Time // when; kept to the second
	Who, What string
	Why       string // "": nothing was said
	Seen      Sight  // what they saw: what came since is not overwritten unseen
	Replace   bool   // a thing that is there with other content is replaced; otherwise that is a fault
}

// Item is one thing to keep, or to remove.
type Item struct {
	ref
	value       any // nil: removed
	body, place *string
	where       note.Where
	sure        bool // it takes the place of whatever is there
	err         error
}

// Thing is what a workbook holds.
type Thing interface {
	evidence.Study | price.Prices | practice.Practice | practice.Rule | input.Exclusion | input.Search | doubt.Answer |
		gloss.Sense | station.Hold | Crossing | trial.Trial | bush.Draft | past.Season |
		Logged[trial.Reading] | Logged[trial.Event] | Logged[trial.Calibration] | Logged[trial.Tank] |
		Logged[trial.Count] | Logged[trial.Decision] | Logged[[]weather.Day] | Logged[[]trial.UnitSeason]
}

// Keep is the item that keeps a thing, in the place of what has its key.
func Keep[T Thing](thing T) Item { return keep(thing) }

func keep(thing any) Item {
	if t, ok := thing.(trial.Trial); ok {
		thing = t.Plan()
	}
	kind, key, body, at, err := encode(thing)
	i := Item{ref: ref{kind, key}, value: thing, body: &body, err: err}
	if at != "" {
		i.place = &at
	}
	switch t := thing.(type) {
	case Logged[trial.Reading]:
		i.where = t.What.Where
	case Logged[trial.Event]:
		i.where = t.What.Where
	case trial.Trial:
		i.where = t.Where
	case evidence.Study:
		i.where = t.Where
	case price.Prices:
		i.where = t.Where
	case bush.Draft:
		i.where = t.Where
	}
	return i
}

// Remove is the item that removes a thing. Its history stays.
func Remove(kind Kind, key string) Item { return Item{ref: ref{kind, key}} }

// Drop is the item that removes the thing that has this one's key.
func Drop[T Thing](thing T) Item { return Keep(thing).Gone() }

// Gone removes what the item keeps.
func (i Item) Gone() Item { return Item{ref: i.ref} }

// Of names the thing that the item keeps or removes.
func (i Item) Of() Touched { return Touched{i.kind, i.key} }

// Items is all that an input read from files holds, but for what every run knows.
func Items(in input.Input) []Item {
	var items []Item
	for _, p := range in.Own() {
		items = append(items, Keep(p))
	}
	for _, r := range in.Rules {
		items = append(items, Keep(r))
	}
	if in.Prices != nil {
		items = append(items, Keep(*in.Prices))
	}
	for _, s := range in.Studies {
		items = append(items, Keep(s))
	}
	for _, t := range in.Trials {
		items = append(items, TrialItems(t)...)
	}
	for _, d := range in.Bushes {
		items = append(items, Keep(d))
	}
	for _, s := range in.Past {
		items = append(items, Keep(s))
	}
	for _, e := range in.Excluded {
		items = append(items, Keep(e))
	}
	if in.Search != "" {
		items = append(items, Keep(in.Search))
	}
	for _, w := range in.Words {
		items = append(items, Keep(w))
	}
	for _, a := range in.Answers {
		items = append(items, Keep(a))
	}
	return items
}

// Touched names a thing that a change touched.
type Touched struct {
	Kind Kind
	Key  string
}

// Saved says what became of each item.
type Saved struct {
	Change                              int64 // 0: everything was there already, and nothing was added
	Seen                                Sight // what who made it has seen now
	Added, Replaced, Removed, Unchanged []Touched
}

// Later is what another has changed since.
type Later struct {
	Change
	Touched
	Value any    // one of Thing; nil: they removed it
	Seen  Sight  // what an edit says that was made beside it
	There string // where it was changed, if a sync has found that; "": here
}

// Conflict is the error of an edit that would overwrite what its editor had not seen. Nothing of the edit was kept.
type Conflict struct{ Theirs []Later }

// Unwrap gives the same in words.
func (c *Conflict) Unwrap() error {
	var f note.Faults
	for _, l := range c.Theirs {
		if l.There != "" {
			f.Add("the %s %s was changed here and, by %s, at %s; spile serve shows both side by side, and you decide",
				ref{l.Kind, l.Key}.word(), ref{l.Kind, l.Key}.name(), l.Who, l.There)
			continue
		}
		word, name, at := ref{l.Kind, l.Key}.word(), ref{l.Kind, l.Key}.name(), l.At.Format(time.DateTime)
		if l.What == "" {
			f.Add("the %s %s was changed by %s (change %d, %s) after you looked; look at it and save again", word, name,
				l.Who, int(l.ID), at)
			continue
		}
		f.Add("the %s %s was changed by %s (change %d, %s) after you looked: %s; look at it and save again", word, name,
			l.Who, int(l.ID), at, l.What)
	}
	return f
}

func (c *Conflict) Error() string { return c.Unwrap().Error() }

// Save keeps all the items, or none. A thing that is there with the same content is left as it is. The error is
// note.Faults, everything wrong at once, or a *Conflict.
func (b *Book) Save(e Edit, items ...Item) (Saved, error) {
	return b.changing(func(tx *sql.Tx) (Saved, error) { return b.guarded(tx, e, items) })
}

// changing does what changes the workbook, with the state as the transaction sees it.
func (b *Book) changing(do func(*sql.Tx) (Saved, error)) (Saved, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.reopen(); err != nil {
		return Saved{}, err
	}
	tx, err := b.begin()
	if err != nil {
		return Saved{}, err
	}
	defer tx.Rollback()
	if err := b.refreshIn(tx); err != nil {
		b.file = nil
		return Saved{}, b.words(err)
	}
	done, err := do(tx)
	if err == nil && !b.stands(b) {
		return Saved{}, fault(b.path, "another file was put in this one's place while a change was being kept; "+
			"nothing of the change is in it")
	}
	if err == nil && b.last.Load() != nil {
		b.keep() // what is wrong with it is told to who asks for it
	}
	return done, err
}

// save does it, with the state as the transaction sees it.
func (b *Book) save(tx *sql.Tx, e Edit, items []Item) (Saved, error) {
	done, write, err := b.now.sort(tx, e, items)
	if err != nil {
		var c *Conflict
		if errors.As(err, &c) {
			b.discreet(c)
		}
		return Saved{}, b.words(err)
	}
	if err := b.now.judge(write, e.At.UTC().Format(time.DateOnly), b.eyes.sees(&b.now)); err != nil {
		return Saved{}, err
	}
	if len(write) == 0 {
		return done, nil
	}
	theirs, settled, err := b.now.settle(write, e.At)
	if err != nil {
		return Saved{}, err
	}
	if err := b.add(tx, append(theirs, written{e.change(), append(write, settled...)})); err != nil {
		return Saved{}, err
	}
	done.Change, done.Seen = b.now.head, sightOf(b.now.head, b.now.digest)
	return done, nil
}

// change is the change that an edit makes.
func (e Edit) change() Change {
	return Change{at: e.At.UTC().Format(time.RFC3339), Who: plain(e.Who), What: plain(e.What),
		Why: strings.Join(strings.Fields(plain(e.Why)), " ")}
}

// written is a change that is to be added, and what it made of things.
type written struct {
	Change
	versions []*version
}

// add numbers changes, adds them behind the others, and ends the transaction.
func (b *Book) add(tx *sql.Tx, list []written) error {
	next := b.now
	var changes []Change
	var all []*version
	for _, w := range list {
		next.head++
		w.ID = next.head
		l := newLink(next.digest, w.Change)
		// as they are read
		slices.SortStableFunc(w.versions, func(a, b *version) int { return cmp.Compare(a.table(), b.table()) })
		for _, v := range w.versions {
			row := &next.last
			if v.kind == Reading {
				row = &next.lastReading
			}
			*row++
			v.change, v.row = w.ID, *row
			l.version(v)
		}
		w.digest = l.text()
		next.digest = w.digest
		changes, all = append(changes, w.Change), append(all, w.versions...)
	}
	slices.SortStableFunc(all, func(a, b *version) int { return cmp.Compare(a.table(), b.table()) })
	if err := b.insert(tx, changes, all); err != nil {
		return b.words(err)
	}
	if err := tx.Commit(); err != nil {
		return b.words(err)
	}
	next.last, next.lastReading = b.now.last, b.now.lastReading // each change ends where its own versions do
	b.now = next
	for i, w := range list {
		for _, v := range w.versions {
			b.now.put(v)
		}
		changes[i].parse()
		b.now.trail.end(changes[i], &b.now)
	}
	b.pin()
	return nil
}

// plain is a text as every engine holds it: UTF-8, without the zero that ends texts in C.
func plain(s string) string {
	return strings.ToValidUTF8(strings.ReplaceAll(s, "\x00", ""), "\uFFFD")
}

// insert adds changes and their versions, numbered already, the readings among them last.
func (b *Book) insert(tx *sql.Tx, changes []Change, versions []*version) error {
	at := slices.IndexFunc(versions, func(v *version) bool { return v.kind == Reading })
	if at < 0 {
		at = len(versions)
	}
	return cmp.Or(
		into(tx, b.rows, "change (id, at, who, what, why, digest, origin)", changes, func(row []any, c Change) []any {
			return append(row, c.ID, c.at, c.Who, c.What, c.Why, c.digest, c.origin)
		}),
		into(tx, b.rows, "version (id, change, kind, key, body, place)", versions[:at],
			func(row []any, v *version) []any {
				return append(row, v.row, v.change, string(v.kind), v.key, v.body, v.place)
			}),
		into(tx, b.rows, "reading (id, change, trial, unit, at, body, place)", versions[at:],
			func(row []any, v *version) []any {
				of := partsOf(v.key)
				return append(row, v.row, v.change, of[0], of[1], of[2], v.body, v.place)
			}))
}

// into inserts rows, some of them a statement.
func into[T any](tx *sql.Tx, most int, columns string, list []T, add func([]any, T) []any) error {
	var statement *sql.Stmt
	var args []any
	for part := range slices.Chunk(list, most) {
		have := len(args)
		args = args[:0]
		for _, x := range part {
			args = add(args, x)
		}
		if len(args) != have { // the first, and the last where it is shorter
			var err error
			if statement, err = tx.Prepare(insertion(columns, len(part), len(args)/len(part))); err != nil {
				return err
			}
			defer statement.Close()
		}
		if _, err := statement.Exec(args...); err != nil {
			return err
		}
	}
	return nil
}

// insertion is the statement that adds rows.
func insertion(columns string, rows, width int) string {
	var s strings.Builder
	s.WriteString("INSERT INTO " + columns + " VALUES ")
	for n := range rows * width {
		switch {
		case n == 0:
			s.WriteString("(")
		case n%width == 0:
			s.WriteString("), (")
		default:
			s.WriteString(", ")
		}
		fmt.Fprintf(&s, "$%d", n+1)
	}
	return s.String() + ")"
}

// listed is how many faults of one change are listed; the rest are counted.
const listed = 100

// sort tells what is new from what is there, and finds what may not be done.
func (s *state) sort(tx *sql.Tx, e Edit, items []Item) (Saved, []*version, error) {
	var done Saved
	var write []*version
	var faults note.Faults
	var theirs []*version
	say := func(i Item, key string, args ...any) { faults = append(faults, note.New(key, args...).At(i.where)) }
	seen, err := e.Seen.here(tx)
	if err != nil {
		return Saved{}, nil, err
	}
	twice := map[ref]bool{}
	for _, i := range items {
		at := Touched{i.kind, i.key}
		have, other := s.thing(i.ref), s.crossing(i.ref)
		gone := have == nil || have.body == nil
		switch {
		case i.err != nil:
			say(i, "the %s %s cannot be kept: %s", i.word(), i.name(), i.err.Error())
		case strings.TrimSpace(i.key) == "":
			say(i, "a %s without a name cannot be kept", i.word())
		case strings.Contains(i.key, "\x00"):
			say(i, "the %s %s cannot be kept: its name holds a character that is none (zero)", i.word(), plain(i.key))
		case twice[i.ref]:
			say(i, "the %s %s stands twice in one change; allowed: once", i.word(), i.name())
		case other != nil && other.change > seen.beside():
			theirs = append(theirs, other)
		case other == nil && (i.body == nil && gone ||
			i.body != nil && !gone && *i.body == *have.body && !(e.Replace && retyped(i.place, have.place))):
			done.Unchanged = append(done.Unchanged, at)
		case have != nil && have.change > seen.Change && !i.sure:
			theirs = append(theirs, have)
		case i.body == nil:
			done.Removed = append(done.Removed, at)
			write = append(write, &version{ref: i.ref})
		case gone:
			done.Added = append(done.Added, at)
			write = append(write, &version{ref: i.ref, body: i.body, place: i.place, value: i.value})
		case !e.Replace && i.kind != Word && !i.sure && other == nil: // which means what it was last said to
			say(i, "the %s %s is in the workbook with other content, since change %d; allowed: the same content, or "+
				"to replace it (--replace)", i.word(), i.name(), int(have.change))
		default:
			done.Replaced = append(done.Replaced, at)
			write = append(write, &version{ref: i.ref, body: i.body, place: i.place, value: i.value})
		}
		twice[i.ref] = true
	}
	if e.Who == "" {
		faults.Add("nobody is named as making this change")
	}
	if more := len(faults) - listed; more > 0 {
		faults = append(faults[:listed], note.More(more))
	}
	if faults != nil {
		return Saved{}, nil, faults
	}
	if theirs != nil {
		err := s.conflict(tx, theirs)
		return Saved{}, nil, err
	}
	return done, write, nil
}

// retyped is true of a thing that was typed otherwise than before, though it may say the same: with another comment, or
// in another unit.
func retyped(now, before *string) bool {
	var a, b place
	if now != nil && json.Unmarshal([]byte(*now), &a) != nil || a.Text == "" {
		return false
	}
	return before == nil || json.Unmarshal([]byte(*before), &b) != nil || a.Text != b.Text
}

func (s *state) conflict(tx *sql.Tx, theirs []*version) error {
	c := new(Conflict)
	for _, v := range theirs {
		rows, err := tx.Query(changeColumns+` WHERE id = $1`, v.change)
		l := Later{Touched: Touched{v.kind, v.key}}
		if err = eachChange(rows, err, func(c Change) { l.Change = c }); err != nil {
			return err
		}
		seen := sightOf(v.change, l.digest)
		l.Seen = seen
		if v.kind == Crossed {
			x, err := v.get()
			if err != nil {
				return err
			}
			if l, err = x.(Crossing).later(); err != nil {
				return err
			}
			l.Seen = Beside(seen)
		} else if v.body != nil {
			if l.Value, err = v.get(); err != nil {
				return err
			}
		}
		c.Theirs = append(c.Theirs, l)
	}
	return c
}

// discreet leaves out what was said of changes of which not all is seen, as a history does.
func (b *Book) discreet(c *Conflict) {
	limits := b.eyes.limits(b.now.trail)
	for i, l := range c.Theirs {
		if l.There != "" { // made elsewhere, and seen with the crossing
			continue
		}
		if _, all := b.now.trail.of(l.ID, limits); !all {
			c.Theirs[i].What, c.Theirs[i].Why = "", ""
		}
	}
}

// judge finds what would be wrong with the workbook once the versions are written, on a day ("": no day). Of what is
// not seen no more is told than that it is in the way; sees is nil where all is.
func (s *state) judge(write []*version, day string, sees func(ref) bool) error {
	set := practice.Shipped()
	practices, exclusions := false, false
	fresh := map[ref]bool{}
	for _, v := range write {
		fresh[v.ref] = true
		practices = practices || v.kind == Practice
		exclusions = exclusions || v.kind == Study || v.kind == Trial || v.kind == Excluded
	}
	look := slices.Clone(write)
	for r, v := range s.things {
		if !fresh[r] && v.body != nil &&
			(r.kind == Practice || practices && (r.kind == Study || r.kind == Prices) || exclusions &&
				r.kind == Excluded) {
			look = append(look, v)
		}
	}
	for _, v := range look {
		if v.kind == Practice && v.body != nil {
			p, err := v.get()
			if err != nil {
				return err
			}
			set = append(set, p.(practice.Practice))
		}
	}
	var faults note.Faults
	hidden := false
	add := func(r ref, f note.Faults) {
		if len(f) > 0 && sees != nil && !sees(r) {
			hidden = true
			return
		}
		faults = append(faults, f...)
	}
	trials, err := s.trials(write, practices)
	if err != nil {
		return err
	}
	for _, t := range trials {
		add(ref{Trial, t.Name}, t.Faults(set))
	}
	if day != "" { // prices may be of a later one
		asOf, err := s.pricesDay(write)
		if err != nil {
			return err
		}
		day = max(day, asOf)
	}
	for _, v := range look {
		if v.body == nil || v.kind == Practice && !fresh[v.ref] {
			continue
		}
		f, err := v.faults(set, day)
		if err != nil {
			return err
		}
		add(v.ref, f)
		if e, ok := v.value.(input.Exclusion); ok {
			there := false
			for _, study := range []ref{{Study, e.Study}, {Trial, e.Study}} {
				is := s.things[study] != nil && s.things[study].body != nil
				for _, w := range write {
					if w.ref == study {
						is = w.body != nil
					}
				}
				there = there || is
			}
			if !there {
				faults.Add("the study %s is left out, and is not in the workbook; allowed: to "+
					"take both back, or neither", e.Study)
			}
		}
	}
	if hidden {
		faults.Add("something of another station, which is not yours to see, needs it as it is")
	}
	return faults.Err()
}

// trials are those that the versions touch, as they will stand; where all are asked for the others too, without what
// was read in them.
func (s *state) trials(write []*version, all bool) ([]trial.Trial, error) {
	touched := map[string]bool{}
	fresh := map[ref]bool{}
	for _, v := range write {
		if name := v.trialOf(); name != "" {
			touched[name] = true
		}
		fresh[v.ref] = true
	}
	if len(touched) == 0 && !all {
		return nil, nil
	}
	var parts []*version
	stay := s.live()
	for name := range touched {
		if at := s.shelves[name]; at != nil {
			stay = append(stay, at.live()...)
		}
	}
	stay = slices.DeleteFunc(stay, func(v *version) bool { return fresh[v.ref] })
	for _, v := range append(stay, write...) {
		name := v.trialOf()
		if name == "" || !all && !touched[name] || v.body == nil {
			continue
		}
		if _, err := v.get(); err != nil {
			return nil, err
		}
		parts = append(parts, v)
	}
	return gather(parts)
}

// pricesDay is the day of the prices as they will stand; "" where there are none.
func (s *state) pricesDay(write []*version) (string, error) {
	at := ref{Prices, "list"}
	v := s.things[at]
	for _, w := range write {
		if w.ref == at {
			v = w
		}
	}
	if v == nil || v.body == nil {
		return "", nil
	}
	x, err := v.get()
	if err != nil {
		return "", err
	}
	return x.(price.Prices).AsOf, nil
}

// faults is what is wrong with a thing by itself, and beside the practices that there are; day is the one that rules
// are judged on.
func (v *version) faults(set practice.Set, day string) (note.Faults, error) {
	x, err := v.get()
	if err != nil {
		return nil, err
	}
	switch x := x.(type) {
	case evidence.Study:
		f := x.Faults(set)
		if strings.TrimSpace(x.Site) == "" {
			f = append(f, note.New("the study %s has no site", x.Name).At(x.Where))
		}
		if x.Season < 1900 || x.Season > 2100 {
			f = append(f, note.New("the study %s has the season %d; allowed: the year of the spring, four digits, "+
				"such as 2019", x.Name, x.Season).At(x.Where))
		}
		return f, nil
	case Logged[trial.Decision]:
		if strings.TrimSpace(x.What.Reason) == "" {
			return note.Faults{note.New("the decision on %s is without a reason", x.What.Finding)}, nil
		}
	case price.Prices:
		return x.Faults(set), nil
	case practice.Practice:
		shipped := len(practice.Shipped())
		own := slices.DeleteFunc(slices.Clone(set[shipped:]), func(o practice.Practice) bool { return o.Key == x.Key })
		return x.Faults(slices.Concat(set[:shipped], own)), nil
	case practice.Rule:
		return x.Faults(nil, day), nil // another rule for the same case has taken its place
	case past.Season:
		return x.Faults(), nil
	case bush.Draft:
		if strings.TrimSpace(x.Name) == "" {
			return note.Faults{note.New("a sugarbush without a name").At(x.Where)}, nil
		}
	case input.Exclusion:
		if strings.TrimSpace(x.Reason) == "" {
			return note.Faults{note.New("the study %s is left out without a reason", x.Study)}, nil
		}
	}
	return nil, nil
}

// Undo is a new change that brings back what was there before another. Where something that it touched has been
// changed since, that is a *Conflict, and nothing is done.
func (b *Book) Undo(e Edit, change int64) (Saved, error) {
	return b.changing(func(tx *sql.Tx) (Saved, error) {
		if change < 1 || change > b.now.head {
			return Saved{}, fault(b.path, "there is no change %d; the last is %d", int(change), int(b.now.head))
		}
		// An undo is refused by what is in its way, which would tell of it.
		if _, all := b.now.trail.of(change, b.eyes.limits(b.now.trail)); !all {
			return Saved{}, note.Faults{note.New("not all of this change is yours to see")}
		}
		var items []Item
		if err := b.now.steps(tx, change, false, func(t Step, _ *version) {
			i := Item{ref: ref{t.Kind, t.Key}}
			if was := t.before; was != nil {
				i.body, i.place = was.body, was.place
			}
			if t.Kind != Holding && t.Kind != Crossed {
				items = append(items, i)
			}
		}); err != nil {
			return Saved{}, b.words(err)
		}
		e.Seen, e.Replace = Sight{Change: change}, true
		if e.What == "" {
			e.What = fmt.Sprintf("undo of change %d", change)
		}
		return b.guarded(tx, e, items)
	})
}
