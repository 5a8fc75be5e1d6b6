package book

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"hash"
	"iter"
	"maps"
	"math"
	"runtime"
	"slices"
	"strconv"
	"sync"
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
)

// Kind is what sort of thing the workbook holds.
type Kind string

const (
	Study    Kind = "study"     // evidence.Study, by its name
	Prices   Kind = "prices"    // price.Prices, one set
	Practice Kind = "practice"  // practice.Practice of the user's own, by its key
	Rule     Kind = "rule"      // practice.Rule, by the case that it decides
	Excluded Kind = "excluded"  // Exclusion, by the name of its study
	Bush     Kind = "sugarbush" // bush.Draft, by its name
	Answer   Kind = "answer"    // doubt.Answer, by the ID of its question
	Search   Kind = "search"    // input.Search, one text
	Past     Kind = "past"      // past.Season, by its year
	Word     Kind = "word"      // gloss.Sense, by what it is of and the word
	Holding  Kind = "station"   // station.Hold, by what it is of and its name
	Crossed  Kind = "crossed"   // Crossing, by the kind and the key of what both sides of a sync have changed
)

// ref names a thing.
type ref struct {
	kind Kind
	key  string
}

// word is what a thing is called in front of its key: the study Otter Hill, the price list.
func (r ref) word() note.Term {
	switch r.kind {
	case Prices:
		return note.Term("price")
	case Excluded:
		return note.Term("decision on")
	case Search:
		return note.Term("search for")
	case Answer:
		return note.Term("answer to")
	case Past:
		return note.Term("season")
	case Holding:
		return note.Term("station of the")
	}
	return note.Term(r.kind)
}

// name is a thing's key behind that word.
func (r ref) name() any {
	switch r.kind {
	case Prices:
		return note.Term("list")
	case Search:
		return note.Term("studies")
	}
	return r.key
}

// version is one version of a thing.
type version struct {
	ref
	change int64
	row    int64
	first  int64   // row of the first version, in the order of which things stand; not of readings
	body   *string // nil: removed
	place  *string
	value  any // decoded, once asked for
}

// table orders the tables that versions stand in.
func (v *version) table() int {
	if v.kind == Reading {
		return 1
	}
	return 0
}

// state is what the changes so far add up to.
type state struct {
	head        int64 // the last change
	last        int64 // row of the last version
	lastReading int64
	digest      string            // of the last change
	things      map[ref]*version  // all but readings
	shelves     map[string]*shelf // those, by their trial
	trail       *trail
}

func newState() state {
	return state{things: map[ref]*version{}, shelves: map[string]*shelf{}, trail: &trail{at: map[ref]int{}}}
}

// thing is the last version of a thing; nil: there was none.
func (s *state) thing(r ref) *version {
	if r.kind != Reading {
		return s.things[r]
	}
	if at := s.shelves[r.trialOf()]; at != nil {
		return at.find(r.key)
	}
	return nil
}

// link is the digest of a change: SHA-256 over the digest of the change before it, and each of its own texts with its
// length before it, so that no text can pass for two.
type link struct{ hash.Hash }

func newLink(before string, c Change) link {
	l := link{sha256.New()}
	for _, s := range []string{before, fmt.Sprint(c.ID), c.at, c.Who, c.What} {
		l.add(&s)
	}
	if c.Why != "" { // older changes have none, and versions are four texts each
		l.add(&c.Why)
	}
	if c.origin != "" { // two texts more, so that neither passes for the other
		if c.Why == "" {
			l.add(&c.Why)
		}
		l.add(&c.origin)
	}
	return l
}

func (l link) add(s *string) {
	if s == nil {
		l.Write([]byte("-,"))
		return
	}
	text := append(strconv.AppendInt(make([]byte, 0, len(*s)+16), int64(len(*s)), 10), ':')
	text = append(text, *s...)
	l.Write(append(text, ','))
}

func (l link) version(v *version) {
	kind := string(v.kind)
	l.add(&kind)
	l.add(&v.key)
	l.add(v.body)
	l.add(v.place)
}

func (l link) text() string { return hex.EncodeToString(l.Sum(nil)) }

// refresh takes in what has been added since it was last read. b.mu is held, or b is not yet shared.
func (b *Book) refresh() error {
	if err := b.reopen(); err != nil {
		return err
	}
	var err error
	if b.now.things == nil {
		err = b.begun()
	}
	if err == nil {
		err = b.within(b.refreshIn)
	}
	if err != nil {
		b.file = nil // what is put right in its place is read from the beginning
	}
	return err
}

// within does what reads one state of the workbook.
func (b *Book) within(do func(*sql.Tx) error) error {
	tx, err := b.db.BeginTx(context.Background(), reading)
	if err != nil {
		return b.words(err)
	}
	defer tx.Rollback()
	return b.words(do(tx))
}

// begun reads all that is there page by page, so that nobody who writes waits until all of it is read.
func (b *Book) begun() error {
	if err := b.within(func(tx *sql.Tx) error { return b.whole(b, tx) }); err != nil {
		return err
	}
	var head int64
	if err := b.db.QueryRow(`SELECT coalesce(max(id), 0) FROM change`).Scan(&head); err != nil {
		return b.words(err)
	}
	b.now = newState()
	return b.words(b.now.read(b.db, b.path, head))
}

func (b *Book) refreshIn(tx *sql.Tx) error {
	if err := b.whole(b, tx); err != nil {
		return err
	}
	if b.now.things == nil {
		b.now = newState()
	} else {
		// Someone may have put another workbook in this one's place.
		var digest string
		switch err := tx.QueryRow(`SELECT digest FROM change WHERE id = $1`, b.now.head).Scan(&digest); {
		case b.now.head == 0 || err == nil && digest == b.now.digest:
		case err == nil || err == sql.ErrNoRows:
			b.now, b.other = newState(), true
		default:
			return err
		}
	}
	if err := b.now.read(tx, b.path, math.MaxInt64); err != nil {
		return err
	}
	b.pin()
	return nil
}

// pinned is a workbook as it was read or written last, without what it holds: those who look at its history have it
// while the workbook goes on, and wait for nobody.
type pinned struct {
	db    *sql.DB
	of    *trail // of which trail is the beginning
	state        // head, digest and trail
}

// pin pins the state. b.mu is held.
func (b *Book) pin() {
	t, last := b.now.trail, b.pinned.Load()
	if last != nil && last.of == t && last.head == b.now.head && last.db == b.db {
		return
	}
	copied := *t // what is appended to it later stands behind its end
	if last != nil && last.of == t && len(last.trail.names) == len(t.names) {
		copied.at = last.trail.at
	} else {
		copied.at = maps.Clone(t.at)
	}
	b.pinned.Store(&pinned{b.db, t, state{head: b.now.head, digest: b.now.digest, trail: &copied}})
}

// asItStands is the workbook with what others have added where that is to be had soon.
func (b *Book) asItStands() (*pinned, error) {
	_, err, done := soon(b, func() (struct{}, error) { return struct{}{}, b.refresh() })
	if p := b.pinned.Load(); err != nil || p != nil {
		return p, err
	}
	if !done {
		b.mu.Lock()
		defer b.mu.Unlock()
		err = b.refresh()
	}
	return b.pinned.Load(), err
}

// read adds the changes after the head, up to one. The error is note.Faults, and names each change that is not what was
// saved.
func (s *state) read(from querier, path string, upto int64) error {
	next, stop := iter.Pull2(versionsAfter(from, s.last, s.lastReading))
	defer stop()
	var faults note.Faults
	damage := func(key string, args ...any) {
		faults = append(faults, note.New(key, args...).At(note.Where{File: path}))
	}
	stray := func(v *version) {
		damage("this workbook is damaged: the %s %s belongs to change %d, which is not there. Use a copy", v.word(),
			v.name(), int(v.change))
	}
	v, err, more := next()
	for c, fault := range changesAfter(from, s.head) {
		if err = cmp.Or(err, fault); err != nil || c.ID > upto {
			break
		}
		if c.ID != s.head+1 {
			damage("this workbook is damaged: change %d is missing. Use a copy", int(s.head+1))
		}
		l := newLink(s.digest, c)
		for ; more && err == nil && v.change <= c.ID; v, err, more = next() {
			if v.change < c.ID {
				stray(v)
				continue
			}
			l.version(v)
			s.put(v)
		}
		if l.text() != c.digest {
			damage("this workbook is damaged: change %d (%s, %s, %s) is not what was saved. Use a copy", int(c.ID),
				c.at, c.Who, c.What)
		}
		s.head, s.digest = c.ID, c.digest
		s.trail.end(c, s)
	}
	for ; more && err == nil && v.change <= upto; v, err, more = next() {
		stray(v)
	}
	if err = cmp.Or(err, faults.Err()); err != nil {
		*s = state{}
	}
	return err
}

// put makes a version the latest of its thing.
func (s *state) put(v *version) {
	if v.kind == Reading {
		s.lastReading = max(s.lastReading, v.row)
		of := v.trialOf()
		if s.shelves[of] == nil {
			s.shelves[of] = &shelf{mark: v.mark()}
		}
		s.shelves[of].put(v)
		s.trail.touch(s.shelves[of].mark, v.change)
		return
	}
	s.last = max(s.last, v.row)
	s.trail.touch(v.mark(), v.change)
	v.first = v.row
	before := s.things[v.ref]
	if before != nil {
		v.first = before.first
	}
	if v.kind == Holding || v.kind == Study || v.kind == Trial {
		s.trail.fresh = append(s.trail.fresh, freshly{v, before.there() != nil})
	}
	s.things[v.ref] = v
}

// get decodes a version, and keeps what it read.
func (v *version) get() (any, error) {
	if v.value != nil {
		return v.value, nil
	}
	x, err := v.read()
	if err == nil {
		v.value = x
	}
	return x, err
}

// read decodes a version.
func (v *version) read() (any, error) {
	at := ""
	if v.place != nil {
		at = *v.place
	}
	x, err := decode(v.kind, *v.body, at)
	if err != nil {
		return nil, note.Faults{note.New("the %s %s cannot be read: %s", v.word(), v.name(), err.Error())}
	}
	return x, nil
}

// Contents is what a workbook holds at one change.
type Contents struct {
	Change  int64          // the last change in it; an edit says which it was made from
	Touched int64          // the last change to anything that is seen
	History string         // digest of that change, and so of all before it; "" where not all of it is seen
	Other   bool           // another workbook was put in the place of the one that was opened
	Holds   []station.Hold // of what is seen
	Crossed []Crossing     // what both sides of a sync have changed, until somebody has decided
	input.Input

	proof string // History, whoever looks
	day   string // on which it is looked at; "": on any
}

// Alike is true of contents in which the same is seen: what has changed between them is not seen.
func (c Contents) Alike(other Contents) bool {
	return c.Touched == other.Touched && c.Other == other.Other && slices.Equal(c.Sources, other.Sources) &&
		slices.EqualFunc(c.Notes, other.Notes, func(a, b note.Note) bool { return a.English() == b.English() })
}

// Contents is the current state, with what other processes have added. Read it, do not change what it points at. It
// waits for whoever writes.
func (b *Book) Contents() (Contents, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.contents()
}

// contents is Contents where b.mu is held.
func (b *Book) contents() (Contents, error) {
	if err := b.refresh(); err != nil {
		return Contents{}, err
	}
	return b.keep()
}

// keep keeps the state for those who look. b.mu is held.
func (b *Book) keep() (Contents, error) {
	if c := b.last.Load(); c != nil && c.Change == b.now.head && c.proof == b.now.digest &&
		c.Other == b.other && c.day == b.eyes.day() {
		return *c, nil
	}
	c, err := b.now.contents(b.eyes)
	c.Sources[0].Name, c.Other = b.name(), b.other
	if err == nil {
		b.last.Store(&c)
	}
	return c, err
}

// live lists the things that are there but for readings, in the order in which they came.
func (s *state) live() []*version {
	list := make([]*version, 0, len(s.things))
	for _, v := range s.things {
		if v.body != nil {
			list = append(list, v)
		}
	}
	slices.SortFunc(list, func(a, b *version) int {
		return cmp.Compare(a.first, b.first)
	})
	return list
}

// contents is the state as somebody sees it.
func (s *state) contents(by *eyes) (Contents, error) {
	c := Contents{Change: s.head, History: s.digest, Input: input.Input{Practices: practice.Shipped()},
		proof: s.digest, day: by.day()}
	var faults note.Faults
	live, said := by.narrow(s)
	sees := by.sees(s)
	for r, v := range s.things {
		if v.change > c.Touched && (sees == nil || sees(r)) {
			c.Touched = v.change
		}
	}
	seen := map[string]*tally{}
	for name, at := range s.shelves {
		if sees == nil || sees(ref{Trial, name}) {
			c.Touched, seen[name] = max(c.Touched, at.change), at.says()
		}
	}
	if said != nil {
		c.History, c.Notes = "", note.List(said)
	}
	var readers sync.WaitGroup // reading JSON takes most of the time that opening takes
	for part := range slices.Chunk(live, 1+len(live)/runtime.GOMAXPROCS(0)) {
		readers.Go(func() {
			for _, v := range part {
				v.get() // keeps what it read; a fault is found again below
			}
		})
	}
	readers.Wait()
	for _, v := range live {
		x, err := v.get()
		if err != nil {
			faults = append(faults, err.(note.Faults)...)
			continue
		}
		switch x := x.(type) {
		case evidence.Study:
			c.Studies = append(c.Studies, x)
		case practice.Practice:
			c.Practices = append(c.Practices, x)
		case practice.Rule:
			c.Rules = append(c.Rules, x)
		case price.Prices:
			c.Prices = &x
		case input.Exclusion:
			c.Excluded = append(c.Excluded, x)
		case input.Search:
			c.Search = x
		case doubt.Answer:
			c.Answers = append(c.Answers, x)
		case gloss.Sense:
			c.Words = append(c.Words, x)
		case bush.Draft:
			c.Bushes = append(c.Bushes, x)
		case past.Season:
			c.Past = append(c.Past, x)
		case station.Hold:
			c.Holds = append(c.Holds, x)
			if by != nil && x.Of == station.Trial && x.Seen("", c.day) {
				c.Released = append(c.Released, x.Name)
			}
		case Crossing:
			c.Crossed = append(c.Crossed, x)
		}
	}
	slices.SortFunc(c.Past, func(a, b past.Season) int { return cmp.Compare(a.Year, b.Year) })
	c.Trials, _ = gather(live) // what is read is nothing's own: judge named it when it was kept
	for i, t := range c.Trials {
		if at := seen[t.Name]; at != nil {
			c.Trials[i].Apart = at.apart
		}
	}
	for _, name := range slices.Sorted(maps.Keys(seen)) {
		at := seen[name]
		faults = append(faults, at.faults...)
		if at.size > 0 {
			live = append(live, &version{ref: ref{Reading, keyOf(name)}, body: &at.digest})
		}
	}
	// The digest is of what the workbook says, not of how it came to say it.
	slices.SortFunc(live, func(a, b *version) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(a.key, b.key))
	})
	l := link{sha256.New()}
	for _, v := range live {
		l.version(&version{ref: v.ref, body: v.body})
	}
	c.Sources = []input.Source{{Digest: l.text()}}
	// It is shared: what one who has it appends must not come to another.
	c.Studies, c.Practices, c.Rules = slices.Clip(c.Studies), slices.Clip(c.Practices), slices.Clip(c.Rules)
	c.Excluded, c.Answers, c.Words = slices.Clip(c.Excluded), slices.Clip(c.Answers), slices.Clip(c.Words)
	c.Bushes, c.Past, c.Trials = slices.Clip(c.Bushes), slices.Clip(c.Past), slices.Clip(c.Trials)
	return c, faults.Err()
}

// Change is one entry of the history.
type Change struct {
	ID        int64
	At        time.Time // UTC, whole seconds
	Who, What string
	Why       string  // "": nothing was said
	Origin    *Origin // of one that a sync has brought; nil: it was made here

	at, digest, origin string
}

const changeColumns = `SELECT id, at, who, what, why, digest, origin FROM change`

// eachChange goes through what a query of them finds.
func eachChange(rows *sql.Rows, err error, do func(Change)) error {
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var c Change
		if err := rows.Scan(&c.ID, &c.at, &c.Who, &c.What, &c.Why, &c.digest, &c.origin); err != nil {
			return err
		}
		if err := c.parse(); err != nil {
			return err
		}
		do(c)
	}
	return rows.Err()
}

// querier is asked for rows: a transaction, or a database where the part that is asked for does not change any more.
// While a transaction reads a file, nobody writes to it.
type querier interface {
	Query(string, ...any) (*sql.Rows, error)
}

// changesAfter are those behind one, in turn.
func changesAfter(from querier, id int64) iter.Seq2[Change, error] {
	return func(yield func(Change, error) bool) {
		for more := true; more; {
			var list []Change
			rows, err := from.Query(changeColumns+` WHERE id > $1 ORDER BY id LIMIT $2`, id, page)
			if err = eachChange(rows, err, func(c Change) { list = append(list, c) }); err != nil {
				yield(Change{}, err)
				return
			}
			more = len(list) == page
			for _, c := range list {
				if id = c.ID; !yield(c, nil) {
					return
				}
			}
		}
	}
}

// parse reads the texts of a change.
func (c *Change) parse() error {
	c.At, _ = time.Parse(time.RFC3339, c.at) // Check names one that is no time
	if c.origin == "" {
		return nil
	}
	c.Origin = new(Origin)
	return strict([]byte(c.origin), c.Origin)
}

// versionsAfter gives the versions after a row and the readings after another, by change, a change's readings last.
func versionsAfter(from querier, row, reading int64) iter.Seq2[*version, error] {
	return func(yield func(*version, error) bool) {
		list, err := rowsAfter(from, row)
		slices.SortStableFunc(list, func(a, b *version) int { return cmp.Compare(a.change, b.change) })
		for more := true; more && err == nil; {
			var readings []*version
			if readings, err = readingsAfter(from, reading); err != nil {
				break
			}
			more = len(readings) == page
			for _, v := range readings {
				reading = v.row
				for len(list) > 0 && list[0].change <= v.change {
					if !yield(list[0], nil) {
						return
					}
					list = list[1:]
				}
				if !yield(v, nil) {
					return
				}
			}
		}
		if err != nil {
			yield(nil, err)
			return
		}
		for _, v := range list {
			if !yield(v, nil) {
				return
			}
		}
	}
}

// page is how many readings, or changes, are fetched at once, of which there may be more than fit into memory.
const page = 4096

func readingsAfter(from querier, row int64) ([]*version, error) {
	rows, err := from.Query(`SELECT id, change, trial, unit, at, body, place FROM reading WHERE id > $1 ORDER BY id
		LIMIT $2`, row, page)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []*version
	for rows.Next() {
		v := &version{ref: ref{kind: Reading}}
		var trial, unit, at string
		if err := rows.Scan(&v.row, &v.change, &trial, &unit, &at, &v.body, &v.place); err != nil {
			return nil, err
		}
		v.key = keyOf(trial, unit, at)
		list = append(list, v)
	}
	return list, rows.Err()
}

func rowsAfter(from querier, row int64) ([]*version, error) {
	rows, err := from.Query(`SELECT id, change, kind, key, body, place FROM version WHERE id > $1 ORDER BY id`, row)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []*version
	for rows.Next() {
		v := new(version)
		if err := rows.Scan(&v.row, &v.change, &v.kind, &v.key, &v.body, &v.place); err != nil {
			return nil, err
		}
		list = append(list, v)
	}
	return list, rows.Err()
}
