package book

import (
	"context"
	"database/sql"
	"slices"
)

// Entry is a change and what it touched.
type Entry struct {
	Change
	Steps []Step
	Undo  Undo
	Part  bool // the rest of it is not seen, and what was said of it neither
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

// Values are the thing before and after, each one of Thing; nil: it was not there.
func (s Step) Values() (before, after any, err error) {
	if s.before != nil {
		before, err = s.before.get()
	}
	if s.after != nil && err == nil {
		after, err = s.after.get()
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

// history is the history up to a change, as it is seen on a day.
type history struct {
	digest, day string
	list        []Entry // the latest first
}

// History is every change, the latest first. Read it, do not change it. As Seen does, it waits for no write once it was
// asked for.
func (b *Book) History() ([]Entry, error) {
	if b.log.Load() != nil {
		if list, err, done := soon(b, b.history); done {
			return list, err
		}
		return b.log.Load().list, nil
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.history()
}

// history is History where b.mu is held.
func (b *Book) history() ([]Entry, error) {
	if err := b.reopen(); err != nil {
		return nil, err
	}
	tx, err := b.db.BeginTx(context.Background(), reading)
	if err != nil {
		return nil, b.words(err)
	}
	defer tx.Rollback()
	if err := b.refreshIn(tx); err != nil { // which proves it
		return nil, b.words(err)
	}
	if h := b.log.Load(); h != nil && h.digest == b.now.digest && h.day == b.eyes.day() {
		return h.list, nil
	}
	if b.now.log == nil {
		if b.now.log, err = b.now.writings(tx); err != nil {
			return nil, b.words(err)
		}
	}
	list, stands := slices.Clone(b.now.log), b.now.readings()
	for i := range list {
		list[i].Undo = b.now.undo(list[i], stands)
	}
	if list, err = b.eyes.history(list); err != nil {
		return nil, err
	}
	slices.Reverse(list)
	b.log.Store(&history{b.now.digest, b.eyes.day(), list})
	return list, nil
}

// writings are all changes that led to a state.
func (s *state) writings(tx *sql.Tx) ([]Entry, error) {
	changes, err := changesAfter(tx, 0)
	if err != nil {
		return nil, err
	}
	list := make([]Entry, len(changes))
	for i, c := range changes {
		list[i].Change = c
	}
	versions, err := allVersions(tx)
	if err != nil {
		return nil, err
	}
	last := map[ref]*version{}
	for _, v := range versions {
		if now := s.things[v.ref]; now != nil && now.row == v.row {
			v = now // which is held already
		}
		e := &list[v.change-1] // the changes are numbered without gaps
		e.Steps = append(e.Steps, Step{Touched{v.kind, v.key}, last[v.ref].there(), v.there()})
		last[v.ref] = v
	}
	return list, nil
}

// outcome is what became of a thing, and by which change.
type outcome struct {
	is     *version // nil: it is not there
	change int64
}

// readings is how each reading stands, by what the changes did to it: the shelves would open one after the other.
func (s *state) readings() map[ref]outcome {
	stands := map[ref]outcome{}
	for _, e := range s.log {
		for _, t := range e.Steps {
			if t.Kind == Reading {
				stands[ref{t.Kind, t.Key}] = outcome{t.after, e.ID}
			}
		}
	}
	return stands
}

// undo tells whether a change can be undone, with how the readings stand.
func (s *state) undo(e Entry, readings map[ref]outcome) Undo {
	stands, lasting := true, len(e.Steps) > 0
	for _, t := range e.Steps {
		if t.Kind == Holding || t.Kind == Crossed { // says who may see what, and whoever undoes it says it anew
			continue
		}
		lasting = false
		now, ok := readings[ref{t.Kind, t.Key}]
		if !ok {
			v := s.thing(ref{t.Kind, t.Key})
			now = outcome{v.there(), v.change}
		}
		switch {
		case same(now.is, t.before):
		case now.change == e.ID:
			stands = false
		default:
			return Overtaken
		}
	}
	if lasting {
		return Lasting
	}
	if stands {
		return Undone
	}
	return Undoable
}

func same(a, b *version) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a.body == *b.body
}
