package book

import (
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"

	"spile/internal/trade/station"
)

// Entry is a change as somebody sees it.
type Entry struct {
	Change
	Part  bool // the rest of it is not seen, and what was said of it neither
	Older bool // others that are seen came before it

	// What it touched, and whether it can be undone, where that was asked for.
	Steps  []Step
	Beyond [3]int // readings that were added, replaced and removed besides those of Steps
	Undo   Undo

	marks []ref // what of it is seen, roughly
}

// Undo is whether a change can be undone.
type Undo int

// A change can be undone as long as what it touched stands as it left it.
const (
	Undoable  Undo = iota
	Undone         // all that it touched stands as it was before
	Overtaken      // something that it touched was changed since
	Lasting        // it is not undone but by another step of a station, or not all of it is seen
)

// Step is what a change did to one thing.
type Step struct {
	Touched
	before, after *version // nil: it was not there
}

// Added, Removed and Replaced tell what the step did.
func (s Step) Added() bool    { return s.before == nil && s.after != nil }
func (s Step) Removed() bool  { return s.before != nil && s.after == nil }
func (s Step) Replaced() bool { return s.before != nil && s.after != nil }

// That are the things to which a change did something.
func (e Entry) That(did func(Step) bool) (list []Touched) {
	for _, s := range e.Steps {
		if did(s) {
			list = append(list, s.Touched)
		}
	}
	return list
}

// Values are the thing before and after, each one of Thing; nil: it was not there. Several may ask for them at once.
func (s Step) Values() (before, after any, err error) {
	if s.before != nil {
		before, err = s.before.read()
	}
	if s.after != nil && err == nil {
		after, err = s.after.read()
	}
	return before, after, err
}

// there is a version that holds something, or nil.
func (v *version) there() *version {
	if v == nil || v.body == nil {
		return nil
	}
	return v
}

// trail is what each change touched, as far as it decides who sees that and what is told of it. It is kept in memory,
// where what was written stays in the database: readings are many. It grows, and what is in it stays.
type trail struct {
	names  []ref
	at     map[ref]int // places in names
	lately []int64     // the last change that touched each
	marks  []uint32    // names that the changes touched, one change's behind another's
	ends   []trailEnd  // of each change
	stages []stage
	fresh  []freshly // of the change that is being read
}

// trailEnd is where a change ends: its marks, its versions and its readings, by their rows.
type trailEnd struct {
	marks        int
	row, reading int64
}

// stage is what a change says of who sees something.
type stage struct {
	change int64
	day    string
	hold   station.Hold
	there  bool // what it says it of was there before
}

type freshly struct {
	*version
	was bool // there before
}

// mark is a thing as the trail names it: readings and what else a trial has by the trial.
func (r ref) mark() ref {
	switch r.kind {
	case Trial, Study, Excluded, Holding:
		return r
	}
	if of := r.trialOf(); of != "" {
		return ref{r.kind, keyOf(of)}
	}
	return ref{kind: r.kind}
}

// touch says that a change has touched what a mark stands for.
func (t *trail) touch(mark ref, change int64) {
	n, known := t.at[mark]
	if !known {
		n = len(t.names)
		t.at[mark], t.names, t.lately = n, append(t.names, mark), append(t.lately, 0)
	}
	if t.lately[n] != change {
		t.lately[n], t.marks = change, append(t.marks, uint32(n))
	}
}

// end ends a change.
func (t *trail) end(c Change, s *state) {
	t.ends = append(t.ends, trailEnd{len(t.marks), s.last, s.lastReading})
	for _, v := range t.fresh {
		x, err := v.there().decoded() // contents names what cannot be read
		if h, ok := x.(station.Hold); ok && err == nil {
			of := heldBy(h)
			there := s.things[of].there() != nil
			for _, o := range t.fresh {
				if o.ref == of {
					there = o.was
				}
			}
			t.stages = append(t.stages, stage{c.ID, c.At.Format(time.DateOnly), h, there})
		}
	}
	t.fresh = t.fresh[:0]
}

// decoded is what a version holds; nil: nothing.
func (v *version) decoded() (any, error) {
	if v == nil {
		return nil, nil
	}
	return v.get()
}

// of are the marks of a change, as somebody sees it, and whether those are all.
func (t *trail) of(change int64, limits []int64) (seen []ref, all bool) {
	from := 0
	if change > 1 {
		from = t.ends[change-2].marks
	}
	for _, n := range t.marks[from:t.ends[change-1].marks] {
		if limits == nil || change < limits[n] {
			seen = append(seen, t.names[n])
		}
	}
	return seen, len(seen) == t.ends[change-1].marks-from
}

// seen is true of a step of a change that is seen.
func (t *trail) seen(s Step, change int64, limits []int64) bool {
	return limits == nil || change < limits[t.at[ref{s.Kind, s.Key}.mark()]]
}

// asked is what part of a history is asked for.
type asked struct {
	before int64
	most   int
	told   bool
}

// keptMost is the most changes of a part that is kept: more are asked for to go through all of them, once.
const keptMost = 100

// slot is under which a part is kept: of those that begin further back the last that was asked for.
func (a asked) slot() asked {
	a.before = min(a.before, 1)
	return a
}

// history is a part of the history up to a change, as it is seen on a day.
type history struct {
	asked
	digest, day string
	list        []Entry // the latest first
}

// What History reads at once: of a change so many readings, and of all changes together so many steps.
const (
	readingsTold = 10_000
	stepsTold    = 20_000
)

// Latest are the changes before one (0: of all), the latest first, at most so many, without what they touched. Read
// them, do not change them. As Seen does it waits for no write, and never is older than what was seen or kept last.
func (b *Book) Latest(before int64, most int) ([]Entry, error) {
	return b.history(asked{before, most, false})
}

// History is the same with what they touched. They may be fewer, where they touched very much.
func (b *Book) History(before int64, most int) ([]Entry, error) {
	return b.history(asked{before, most, true})
}

// kept is what was given last of what is asked for, alone or in a longer part, of the workbook as it stands.
func (b *Book) kept(a asked, stands *pinned) (list []Entry, ok bool) {
	day := b.eyes.day()
	b.log.Range(func(_, x any) bool {
		h, at := x.(*history), 0
		if h.digest != stands.digest || h.day != day {
			return true
		}
		if h.asked != a {
			at = slices.IndexFunc(h.list, func(e Entry) bool { return e.ID < a.before })
			if h.told != a.told || at < 0 || at == 0 && h.list[0].ID < a.before-1 { // with what others may be between
				return true
			}
		}
		end := min(at+a.most, len(h.list))
		list, ok = h.list[at:end:end], true
		return h.asked != a
	})
	return list, ok
}

func (b *Book) history(a asked) (list []Entry, err error) {
	s, err := b.asItStands()
	if err != nil {
		return nil, err
	}
	if list, ok := b.kept(a, s); ok { // which a file may not give that somebody writes to
		return list, nil
	}
	err = b.looking(s, func(tx *sql.Tx) error {
		limits := b.eyes.limits(s.trail)
		if list, err = s.latest(tx, a, limits); err != nil || !a.told {
			return err
		}
		steps := 0
		for i := range list {
			if err := s.tell(tx, &list[i], limits); err != nil {
				return err
			}
			if steps += len(list[i].Steps); steps >= stepsTold {
				list = slices.Clip(list[:i+1])
				break
			}
		}
		return nil
	})
	if err == nil && a.most <= keptMost {
		b.log.Store(a.slot(), &history{a, s.digest, b.eyes.day(), list})
	}
	return list, err
}

// looking does what reads the history of a workbook as it stands. It waits for nobody who writes to a database.
func (b *Book) looking(s *pinned, do func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(context.Background(), reading)
	if err != nil {
		return b.words(err)
	}
	defer tx.Rollback()
	return b.words(do(tx))
}

// latest are the changes that are asked for, without what they touched.
func (s *state) latest(tx *sql.Tx, a asked, limits []int64) (list []Entry, err error) {
	n := s.head
	if a.before > 0 {
		n = min(n, a.before-1)
	}
	for ; n > 0; n-- {
		marks, all := s.trail.of(n, limits)
		if len(marks) == 0 && !(all && limits == nil) {
			continue
		}
		if last := len(list) - 1; last >= 0 {
			list[last].Older = true
		}
		if len(list) == a.most {
			break
		}
		list = append(list, Entry{Change: Change{ID: n}, Part: !all, marks: marks})
	}
	for part := range slices.Chunk(list, 500) {
		at, ids := map[int64]*Entry{}, []any{}
		for i := range part {
			at[part[i].ID] = &part[i]
			ids = append(ids, part[i].ID)
		}
		values := strings.TrimPrefix(insertion("", 1, len(ids)), "INSERT INTO  VALUES ")
		rows, err := tx.Query(changeColumns+` WHERE id IN `+values, ids...)
		err = eachChange(rows, err, func(c Change) {
			e := at[c.ID]
			if e.Change = c; e.Part {
				e.What, e.Why, e.Undo = "", "", Lasting
			}
		})
		if err != nil {
			return nil, err
		}
	}
	return list, nil
}

// tell says what a change touched, and whether it can be undone.
func (s *state) tell(tx *sql.Tx, e *Entry, limits []int64) error {
	stands, lasting, overtaken, readings := true, true, false, 0
	err := s.steps(tx, e.ID, true, func(t Step, now *version) {
		if !s.trail.seen(t, e.ID, limits) {
			return
		}
		if t.Kind != Holding && t.Kind != Crossed { // which say who may see what, and whoever undoes it says it anew
			lasting = false
			switch {
			case same(now.there(), t.before):
			case now.change == e.ID:
				stands = false
			default:
				overtaken = true
			}
		}
		if t.Kind == Reading {
			readings++
		}
		if readings <= readingsTold || t.Kind != Reading {
			e.Steps = append(e.Steps, t)
			return
		}
		for i, is := range deeds {
			if is(t) {
				e.Beyond[i]++
			}
		}
	})
	switch {
	case e.Part, lasting && len(e.Steps) > 0:
		e.Undo = Lasting
	case overtaken:
		e.Undo = Overtaken
	case stands:
		e.Undo = Undone
	}
	return err
}

// steps goes through what a change did, each step, where that is asked for, with the last version of its thing.
func (s *state) steps(tx *sql.Tx, change int64, last bool, do func(t Step, now *version)) error {
	var from trailEnd
	if change > 1 {
		from = s.trail.ends[change-2]
	}
	end := s.trail.ends[change-1]
	each := func(rows *sql.Rows, err error, row func(now *version) (is, was version, err error)) error {
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			now := new(version)
			is, was, err := row(now)
			if err != nil {
				return err
			}
			was.ref = is.ref
			now.ref = is.ref
			do(Step{Touched{is.kind, is.key}, was.there(), is.there()}, now)
		}
		return rows.Err()
	}
	if from.row < end.row {
		const thing = `(SELECT max(id) FROM version WHERE kind = v.kind AND key = v.key`
		now, join := `0, NULL`, ``
		if last {
			now, join = `n.change, n.body`, ` JOIN version n ON n.id = `+thing+`)`
		}
		rows, err := tx.Query(`SELECT v.kind, v.key, v.body, v.place, w.body, w.place, `+now+`
			FROM version v LEFT JOIN version w ON w.id = `+thing+` AND id < v.id)`+join+`
			WHERE v.id > $1 AND v.id <= $2 AND v.change = $3 ORDER BY v.id`, from.row, end.row, change)
		if err := each(rows, err, func(now *version) (is, was version, err error) {
			err = rows.Scan(&is.kind, &is.key, &is.body, &is.place, &was.body, &was.place, &now.change, &now.body)
			return is, was, err
		}); err != nil {
			return err
		}
	}
	if from.reading == end.reading {
		return nil
	}
	const thing = `(SELECT max(id) FROM reading WHERE trial || ' ' || unit || ' ' || at = r.trial || ' ' || r.unit || ' ' ||
		r.at AND trial = r.trial AND unit = r.unit AND at = r.at`
	now, join := `0, NULL`, ``
	if last {
		now, join = `n.change, n.body`, ` JOIN reading n ON n.id = `+thing+`)`
	}
	rows, err := tx.Query(`SELECT r.trial, r.unit, r.at, r.body, r.place, w.body, w.place, `+now+`
		FROM reading r LEFT JOIN reading w ON w.id = `+thing+` AND id < r.id)`+join+`
		WHERE r.id > $1 AND r.id <= $2 AND r.change = $3 ORDER BY r.id`, from.reading, end.reading, change)
	return each(rows, err, func(now *version) (is, was version, err error) {
		var trial, unit, at string
		err = rows.Scan(&trial, &unit, &at, &is.body, &is.place, &was.body, &was.place, &now.change, &now.body)
		is.ref = ref{Reading, keyOf(trial, unit, at)}
		return is, was, err
	})
}

func same(a, b *version) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a.body == *b.body
}
