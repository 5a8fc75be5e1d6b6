package book

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"maps"
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/station"
)

// Two workbooks are brought up to date with one another thing by thing. The line of a thing is its versions in the
// order in which they came to a side; a version is known by the digest of the change that first made it, wherever it
// is. A side whose last version stands in the other's line is behind, and takes what comes after it there. Where
// neither stands in the other's line, both have changed the thing: it is crossed, and stays as it is until somebody has
// decided. So what is to be done follows from the two histories alone: nothing is remembered of a sync, and one that
// broke off is run again.

// Side is the other side of a sync, as whoever asks sees it.
type Side interface {
	// Heads say how it stands.
	Heads() (Heads, error)
	// Lines are those that names of Heads.Lines stand for.
	Lines(of []string) (Parcel, error)
	// Take takes versions, all that it may take or none.
	Take(Parcel) (Taken, error)
}

// Heads say how one side stands.
type Heads struct {
	Format int               `json:"format"` // of its workbook
	Name   string            `json:"name"`   // which the origin of what is brought from it says
	Whole  bool              `json:"whole"`  // it shows everything, and takes it
	Kinds  []Kind            `json:"kinds"`  // that it takes
	Lines  map[string]string `json:"lines"`  // digests of last versions, by thing; readings of one unit together
	Gone   []Touched         `json:"gone"`   // studies and trials that it showed once
	State  string            `json:"state"`  // digest of what it shows
}

// isGone is true of what the side no longer shows, or of what belongs to it.
func (h Heads) isGone(r ref) bool {
	return len(h.Gone) > 0 && slices.ContainsFunc(r.subjects(), func(of ref) bool {
		return slices.Contains(h.Gone, Touched{of.kind, of.key})
	})
}

// Made is by whom and when a change was first made, and its number and digest there.
type Made struct {
	ID     int64  `json:"id"`
	At     string `json:"at"`
	Who    string `json:"who"`
	What   string `json:"what,omitempty"`
	Why    string `json:"why,omitempty"`
	Digest string `json:"digest"`
}

// Origin is where a change was first made that a sync has brought.
type Origin struct {
	From   string `json:"from"` // by whom or whence it came
	ID     int64  `json:"id"`
	At     string `json:"at"`
	Digest string `json:"digest"`
	Hidden bool   `json:"hidden,omitempty"` // it takes away what the other side no longer shows
}

// Parcel is lines, or their ends, on their way.
type Parcel struct {
	Changes []Made `json:"changes"` // in the order in which they came to who sends them
	Lines   []Line `json:"lines"`
}

// Line is the versions of one thing, or those after one that both have.
type Line struct {
	Kind  Kind   `json:"kind"`
	Key   string `json:"key"`
	After string `json:"after,omitempty"` // the change that made that one; "": there is none
	Told  []Told `json:"told"`
}

// Told is a version.
type Told struct {
	Of    int     `json:"of"` // the change that made it, in the parcel
	Body  *string `json:"body"`
	Place *string `json:"place,omitempty"`
}

// Taken is what a side did with a parcel.
type Taken struct {
	Moved   bool      `json:"moved"` // it has changed since its heads were asked for, and nothing was taken
	Refused []Refused `json:"refused"`
	Things  int       `json:"things"` // that were taken
}

// Refused is a thing that a side does not take, and why, in words.
type Refused struct {
	Kind Kind   `json:"kind"`
	Key  string `json:"key"`
	Why  string `json:"why"`
}

// Desk is a workbook as the side of a sync.
type Desk struct {
	Book  *Book
	Name  string // of the workbook
	From  string // who brings what it takes
	Kinds []Kind // that it takes; nil: everything
	At    time.Time
	Say   func(note.Note) string
}

// Synced is what a sync did.
type Synced struct {
	Taken, Sent []Touched // versions that came, and that went
	Crossed     []Touched // what both sides have changed, and what hangs on it
	Hidden      []Touched // what the other side no longer shows, and was taken out
	Kept        []Touched // what was changed here and may not be there
	Refused     []Refused // what the other side does not take, and what could not be taken here
	Same        bool      // both hold the same, by the digests of what is seen
}

// Kinds are all that a side takes who may change everything, but for what says whose things are.
var Kinds = []Kind{Practice, Rule, Word, Prices, Study, Trial, Tank, Calibration, Count, Weather, Sums, Reading, Event,
	Decision, Bush, Past, Search, Answer, Excluded}

func (c Change) made() Made {
	m := Made{ID: c.ID, At: c.at, Who: c.Who, What: c.What, Why: c.Why, Digest: c.digest}
	if c.Origin != nil {
		m.ID, m.At, m.Digest = c.Origin.ID, c.Origin.At, c.Origin.Digest
	}
	return m
}

// brought is the change by which one that was made elsewhere comes to this side.
func (m Made) brought(from string, at time.Time) Change {
	c := Edit{At: at, Who: m.Who, What: m.What, Why: m.Why}.change()
	return c.of(Origin{From: plain(from), ID: m.ID, At: m.At, Digest: m.Digest})
}

func (c Change) of(o Origin) Change {
	text, err := canonical(o)
	if err != nil {
		panic(err) // never: all of it is plain
	}
	c.Origin, c.origin = &o, text
	return c
}

// edition is a version and the change that made it.
type edition struct {
	Made
	order       int64 // of the change on its side
	body, place *string
}

// line is the versions of one thing on one side.
type line struct {
	ref
	told   []edition
	hidden bool // it was taken away because the other side no longer shows it
}

func (l *line) head() *edition {
	if l == nil || len(l.told) == 0 {
		return nil
	}
	return &l.told[len(l.told)-1]
}

// after are the versions behind one that a change made; false: there is none of it.
func (l *line) after(digest string) ([]edition, bool) {
	if l == nil {
		return nil, false
	}
	for i := len(l.told) - 1; i >= 0; i-- {
		if l.told[i].Digest == digest {
			return l.told[i+1:], true
		}
	}
	return nil, false
}

// meets is true of lines that have a version in common.
func (l *line) meets(other *line) bool {
	return l != nil && other != nil && slices.ContainsFunc(l.told, func(v edition) bool {
		_, is := other.after(v.Digest)
		return is
	})
}

// alike is true of versions that say the same: what was asked is answered, in whatever words.
func alike(kind Kind, a, b *string) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b || kind == Answer
}

func (r ref) compare(o ref) int {
	return cmp.Or(cmp.Compare(r.kind, o.kind), cmp.Compare(r.key, o.key))
}

// unit names what is compared by one digest.
func (r ref) unit() string {
	if r.kind == Reading {
		of := partsOf(r.key)
		return keyOf(string(Reading), of[0], of[1])
	}
	return keyOf(string(r.kind), r.key)
}

// stand is how one side stands.
type stand struct {
	digests map[string]string // of the last version of each thing, readings of one unit together
	lines   map[ref]*line     // that are wanted
	gone    []ref
	state   string
	head    int64
}

// wanting tells of which things the lines are wanted, once the digests are known; nil: of none.
type wanting func(digests map[string]string) func(ref) bool

// looked is how it stands now. Readings are gone through trial by trial, since there are so many, and meanwhile the
// workbook goes on.
func (b *Book) looked(want wanting) (stand, error) {
	b.mu.Lock()
	if err := b.refresh(); err != nil {
		b.mu.Unlock()
		return stand{}, err
	}
	now := *b.pinned.Load()
	now.things, now.shelves = maps.Clone(b.now.things), map[string]*shelf{}
	for name, at := range b.now.shelves {
		as := *at
		now.shelves[name] = &as
	}
	sees := b.eyes.sees(&now.state)
	live, held := b.eyes.narrow(&now.state)
	b.mu.Unlock()
	s := stand{digests: map[string]string{}, lines: map[ref]*line{}, head: now.head}
	return s, b.words(b.stand(&now, &s, want, sees, live, held != nil))
}

// knownBy is by what a change is known, wherever it is.
type knownBy struct {
	digest string
	hidden bool
}

func (b *Book) stand(now *pinned, s *stand, want wanting, sees func(ref) bool, live []*version, hides bool) error {
	known := []knownBy{{}} // of change n the n-th
	for c, err := range now.changes() {
		if err != nil {
			return err
		}
		known = append(known, knownBy{c.made().Digest, c.Origin != nil && c.Origin.Hidden})
	}
	if sees == nil {
		sees = func(ref) bool { return true }
	}
	live = slices.DeleteFunc(live, func(v *version) bool { return v.kind == Crossed })
	slices.SortFunc(live, func(a, b *version) int { return a.ref.compare(b.ref) })
	state := link{sha256.New()}
	units := map[string][]*version{}
	unit := func(v *version) {
		if !known[v.change].hidden {
			units[v.unit()] = append(units[v.unit()], v)
		}
	}
	count := func() {
		for name, list := range units {
			slices.SortFunc(list, func(a, b *version) int { return cmp.Compare(a.key, b.key) })
			hash := link{sha256.New()}
			for _, v := range list {
				hash.add(&v.key)
				hash.add(&known[v.change].digest)
			}
			s.digests[name] = hex.EncodeToString(hash.Sum(nil)[:12])
		}
		clear(units)
	}
	var logs []*shelf
	for _, name := range slices.SortedFunc(maps.Keys(now.shelves), func(a, b string) int {
		return cmp.Compare(keyOf(a, ""), keyOf(b, "")) // as their readings
	}) {
		if sees(ref{Trial, name}) {
			logs = append(logs, now.shelves[name])
		}
	}
	read := false
	readings := func() {
		for _, at := range logs {
			list := at.live()
			slices.SortFunc(list, func(a, b *version) int { return a.ref.compare(b.ref) })
			for _, v := range list {
				state.version(&version{ref: v.ref, body: v.body})
			}
			at.last(unit)
			count()
		}
		read = true
	}
	for _, v := range live {
		if v.kind > Reading && !read {
			readings()
		}
		body := v.body
		if v.kind == Answer { // which may be seen without its words
			body = nil
			unit(v)
		}
		state.version(&version{ref: v.ref, body: body})
	}
	if !read {
		readings()
	}
	for r, v := range now.things {
		if r.kind != Crossed && r.kind != Answer && sees(r) {
			unit(v)
		}
	}
	count()
	s.state = state.text()
	if hides {
		holds, until := b.eyes.until(now.trail)
		for of := range until {
			if !sees(of) && holds[of].Name != "" && now.things[of].there() != nil {
				s.gone = append(s.gone, of)
			}
		}
		slices.SortFunc(s.gone, ref.compare)
	}
	if want == nil {
		return nil
	}
	wanted := want(s.digests)
	add := func(v *version) {
		if v.kind == Crossed || v.kind == Answer || !wanted(v.ref) || !sees(v.ref) {
			return
		}
		l := s.lines[v.ref]
		if l == nil {
			l = &line{ref: v.ref}
			s.lines[v.ref] = l
		}
		if l.hidden = known[v.change].hidden; !l.hidden {
			l.told = append(l.told, edition{order: v.change, body: v.body, place: v.place})
		}
	}
	for _, at := range logs {
		at.versions(add)
	}
	list, err := rowsAfter(now.db, 0)
	if err != nil {
		return err
	}
	slices.SortStableFunc(list, func(a, b *version) int { return cmp.Compare(a.change, b.change) })
	for _, v := range list {
		if v.change <= now.head {
			add(v)
		}
	}
	for _, v := range live {
		if v.kind == Answer && wanted(v.ref) {
			s.lines[v.ref] = &line{ref: v.ref, told: []edition{{order: v.change, body: v.body, place: v.place}}}
		}
	}
	return b.madeBy(now, s.lines)
}

// madeBy says of the versions of lines by whom they were made, as far as that is seen.
func (b *Book) madeBy(now *pinned, lines map[ref]*line) error {
	of := map[int64][]*edition{}
	for _, l := range lines {
		for i := range l.told {
			of[l.told[i].order] = append(of[l.told[i].order], &l.told[i])
		}
	}
	limits := b.eyes.limits(now.trail)
	for c, err := range now.changes() {
		if err != nil {
			return err
		}
		m := c.made()
		if marks, all := now.trail.of(c.ID, limits); limits != nil && len(marks) == 0 { // what was answered
			m.Who, m.What, m.Why = "spile", "", ""
		} else if !all {
			m.What, m.Why = "", ""
		}
		for _, e := range of[c.ID] {
			e.Made = m
		}
	}
	return nil
}

// Heads say how it stands.
func (d Desk) Heads() (Heads, error) {
	s, err := d.Book.looked(nil)
	if err != nil {
		return Heads{}, err
	}
	h := Heads{Format: latest(d.Book.steps), Name: d.Name, Whole: d.Book.eyes == nil && d.Kinds == nil, Kinds: d.Kinds,
		Lines: s.digests, State: s.state}
	for _, r := range s.gone {
		h.Gone = append(h.Gone, Touched{r.kind, r.key})
	}
	return h, nil
}

// Lines are those of some units.
func (d Desk) Lines(of []string) (Parcel, error) {
	asked := map[string]bool{}
	for _, unit := range of {
		asked[unit] = true
	}
	s, err := d.Book.looked(func(map[string]string) func(ref) bool {
		return func(r ref) bool { return asked[r.unit()] }
	})
	if err != nil {
		return Parcel{}, err
	}
	var ends []end
	for _, l := range s.lines {
		if !l.hidden {
			ends = append(ends, end{l.ref, "", l.told})
		}
	}
	return parcel(ends), nil
}

// end is the end of a line.
type end struct {
	ref
	after string
	told  []edition
}

// parcel is ends of lines on their way: what others need first, what is taken away last.
func parcel(ends []end) Parcel {
	rank := func(e end) int {
		n := slices.Index(Kinds, e.kind)
		if len(e.told) > 0 && e.told[len(e.told)-1].body == nil {
			n = 2*len(Kinds) - n
		}
		return n
	}
	slices.SortFunc(ends, func(a, b end) int { return cmp.Or(rank(a)-rank(b), cmp.Compare(a.key, b.key)) })
	orders := map[int64]Made{}
	for _, e := range ends {
		for _, v := range e.told {
			orders[v.order] = v.Made
		}
	}
	var p Parcel
	at := map[int64]int{}
	for n, order := range slices.Sorted(maps.Keys(orders)) {
		p.Changes, at[order] = append(p.Changes, orders[order]), n
	}
	for _, e := range ends {
		l := Line{Kind: e.kind, Key: e.key, After: e.after, Told: make([]Told, len(e.told))}
		for i, v := range e.told {
			l.Told[i] = Told{at[v.order], v.body, v.place}
		}
		p.Lines = append(p.Lines, l)
	}
	return p
}

// errParcel is a parcel that no spile has made.
var errParcel = note.Faults{note.New("what was sent is not as spile writes it")}

// open takes a parcel apart. What comes from elsewhere is looked at as what stands in a file is.
func (p Parcel) open() ([]end, error) {
	for _, m := range p.Changes {
		_, err := time.Parse(time.RFC3339, m.At)
		digest, e := hex.DecodeString(m.Digest)
		if err != nil || e != nil || len(digest) != sha256.Size || strings.TrimSpace(m.Who) == "" ||
			plain(m.Who+m.What+m.Why) != m.Who+m.What+m.Why {
			return nil, errParcel
		}
	}
	seen := map[ref]bool{}
	ends := make([]end, len(p.Lines))
	for n, l := range p.Lines {
		r := ref{l.Kind, l.Key}
		if strings.TrimSpace(l.Key) == "" || strings.Contains(l.Key, "\x00") || seen[r] || len(l.Told) == 0 {
			return nil, errParcel
		}
		seen[r] = true
		ends[n] = end{r, l.After, make([]edition, len(l.Told))}
		before := -1
		for i, v := range l.Told {
			if v.Of < 0 || v.Of >= len(p.Changes) || v.Of < before {
				return nil, errParcel
			}
			before = v.Of
			if v.Body != nil && !asWritten(r, v) || v.Body == nil && v.Place != nil {
				return nil, errParcel
			}
			ends[n].told[i] = edition{p.Changes[v.Of], int64(v.Of), v.Body, v.Place}
		}
	}
	return ends, nil
}

// asWritten is true of a version that is as workbooks write it.
func asWritten(r ref, v Told) bool {
	at := ""
	if v.Place != nil {
		at = *v.Place
	}
	x, err := decode(r.kind, *v.Body, at)
	if err != nil {
		return false
	}
	kind, key, body, place, err := encode(x)
	return err == nil && kind == r.kind && key == r.key && body == *v.Body && place == at
}

// bringing are the changes that bring ends of lines here, each of the other side's as one.
func bringing(ends []end, from string, at time.Time) []written {
	by := map[int64]*written{}
	for _, e := range ends {
		for _, v := range e.told {
			if by[v.order] == nil {
				by[v.order] = &written{Change: v.brought(from, at)}
			}
			w := by[v.order]
			w.versions = append(w.versions, &version{ref: e.ref, body: v.body, place: v.place})
		}
	}
	var list []written
	for _, order := range slices.Sorted(maps.Keys(by)) {
		list = append(list, *by[order])
	}
	return list
}

// last is what things come to by changes.
func last(list []written) []*version {
	at := map[ref]int{}
	var all []*version
	for _, w := range list {
		for _, v := range w.versions {
			if n, ok := at[v.ref]; ok {
				all[n] = v
				continue
			}
			at[v.ref], all = len(all), append(all, v)
		}
	}
	return all
}

// judged are the ends that can be taken as they are, and the changes that bring them. Where that is not all of them,
// what takes something away, and what leaves a study out, is left: something else needs it, or it needs something. why
// says which. The error is note.Faults where the rest cannot be taken either.
func (b *Book) judged(ends []end, bring func([]end) []written, at time.Time) (list []written, left []end, why error,
	err error) {
	day, sees := at.UTC().Format(time.DateOnly), b.eyes.sees(&b.now)
	list = bring(ends)
	if why = b.now.judge(last(list), day, sees); why == nil || !errors.As(why, new(note.Faults)) {
		return list, nil, nil, why
	}
	ends = slices.DeleteFunc(slices.Clone(ends), func(e end) bool {
		is := e.kind == Excluded || e.told[len(e.told)-1].body == nil
		if is {
			left = append(left, e)
		}
		return is
	})
	if left == nil {
		return nil, nil, nil, why
	}
	list = bring(ends)
	return list, left, why, b.now.judge(last(list), day, sees)
}

// Take takes ends of lines, as far as who brings them may, if nothing that they are about has changed since.
func (d Desk) Take(p Parcel) (done Taken, err error) {
	ends, err := p.open()
	if err != nil {
		return Taken{}, err
	}
	b := d.Book
	_, err = b.changing(func(tx *sql.Tx) (Saved, error) {
		holds, sees := b.now.holds(), b.eyes.sees(&b.now)
		refuse := func(e end, why note.Note) {
			done.Refused = append(done.Refused, Refused{e.kind, e.key, d.Say(why)})
		}
		var take []end
		for _, e := range ends {
			_, why, barred := b.eyes.barred(e.ref, holds, sees)
			switch {
			case d.Kinds != nil && !slices.Contains(d.Kinds, e.kind) || e.kind == Crossed:
				refuse(e, note.New("your account has no right to change it there"))
				continue
			case barred:
				refuse(e, why)
				continue
			}
			have, err := identityOf(tx, b.now.thing(e.ref))
			if err != nil {
				return Saved{}, b.words(err)
			}
			if have != e.after {
				done.Moved = true
				return Saved{}, nil
			}
			take = append(take, e)
		}
		if len(take) == 0 {
			return Saved{}, nil
		}
		list, left, why, err := b.judged(take, func(ends []end) []written {
			return b.owned(bringing(ends, d.From, d.At), holds)
		}, d.At)
		if err != nil {
			return Saved{}, err
		}
		for _, e := range left {
			refuse(e, d.one(why))
		}
		if done.Things = len(take) - len(left); len(list) == 0 {
			return Saved{}, nil
		}
		return Saved{}, b.add(tx, list)
	})
	return done, err
}

// one is the first thing that an error says.
func (d Desk) one(err error) note.Note {
	var f note.Faults
	if errors.As(err, &f) {
		return f[0]
	}
	return note.New("%s", err.Error())
}

// owned is changes with whose the studies and trials are that they add.
func (b *Book) owned(list []written, holds map[ref]station.Hold) []written {
	final := map[ref]bool{}
	for _, v := range last(list) {
		final[v.ref] = v.body != nil
	}
	for n, w := range list {
		for _, v := range w.versions {
			kept, first := final[v.ref]
			delete(final, v.ref)
			if h, is := b.held(v.ref, kept, holds); is && first {
				i := Keep(h)
				list[n].versions = append(list[n].versions, &version{ref: i.ref, body: i.body, value: i.value})
			}
		}
	}
	return list
}

// identityOf is the digest of the change that first made a version; "": there is none.
func identityOf(tx *sql.Tx, v *version) (string, error) {
	if v == nil {
		return "", nil
	}
	var digest, origin string
	if err := tx.QueryRowContext(context.Background(), `SELECT digest, origin FROM change WHERE id = $1`, v.change).
		Scan(&digest, &origin); err != nil || origin == "" {
		return digest, err
	}
	var o Origin
	err := strict([]byte(origin), &o)
	return o.Digest, err
}

// What goes at once.
const (
	unitsAtOnce    = 2000
	versionsAtOnce = 2000
)

// Sync brings this workbook and another side up to date: what is there comes here, then what is here goes there. What
// both have changed waits, side by side, for somebody to decide. e says who runs it, when, and what is written down of
// what it does by itself. The error is note.Faults; what was done before it stays done, and the rest is done by the
// next run.
func (b *Book) Sync(with Side, e Edit) (Synced, error) {
	var done Synced
	for range 8 { // while somebody else writes
		again, err := b.sync(with, e, &done)
		if err != nil || !again {
			return done, err
		}
	}
	return done, fault(b.path, "others have kept writing on the other side; run it again")
}

func (b *Book) sync(with Side, e Edit, done *Synced) (again bool, err error) {
	heads, err := with.Heads()
	if err != nil {
		return false, err
	}
	if own := latest(b.steps); heads.Format != own {
		return false, note.Faults{note.New("the other side's workbook is of format %d and this one of format %d; "+
			"allowed: the same spile on both sides", heads.Format, own)}
	}
	ours, err := b.looked(func(have map[string]string) func(ref) bool {
		return func(r ref) bool { return heads.Lines[r.unit()] != have[r.unit()] || heads.isGone(r) }
	})
	if err != nil {
		return false, err
	}
	theirs, err := fetch(with, heads, ours)
	if err != nil {
		return false, err
	}
	m := b.meet(ours, theirs, heads)
	if again, err := b.pull(m, ours, heads, e, done); again || err != nil {
		return again, err
	}
	done.Crossed, done.Kept, done.Refused = m.waiting(), m.kept, m.refused
	sent := len(done.Sent)
	for part := range parts(m.send) {
		taken, err := with.Take(parcel(part))
		if err != nil || taken.Moved {
			return taken.Moved, err
		}
		done.Refused = append(done.Refused, taken.Refused...)
		for _, e := range part {
			if !slices.ContainsFunc(taken.Refused, func(r Refused) bool { return r.Kind == e.kind && r.Key == e.key }) {
				done.Sent = append(done.Sent, Touched{e.kind, e.key})
			}
		}
	}
	if heads, err = with.Heads(); err != nil {
		return false, err
	}
	if ours, err = b.looked(nil); err != nil {
		return false, err
	}
	done.Same = heads.State == ours.state
	return !done.Same && len(done.Sent) > sent, nil // what was sent has become a station's there, which is to come here
}

// parts are as many ends as go at once.
func parts(ends []end) func(func([]end) bool) {
	return func(yield func([]end) bool) {
		n, from := 0, 0
		for i, e := range ends {
			if n += len(e.told); n >= versionsAtOnce || i == len(ends)-1 {
				if !yield(ends[from : i+1]) {
					return
				}
				n, from = 0, i+1
			}
		}
	}
}

// fetch asks for the lines of what is not the same.
func fetch(with Side, heads Heads, ours stand) (map[ref]*line, error) {
	var ask []string
	for unit, digest := range heads.Lines {
		if ours.digests[unit] != digest {
			ask = append(ask, unit)
		}
	}
	slices.Sort(ask)
	theirs := map[ref]*line{}
	order := int64(0)
	for part := range slices.Chunk(ask, unitsAtOnce) {
		p, err := with.Lines(part)
		if err != nil {
			return nil, err
		}
		ends, err := p.open()
		if err != nil {
			return nil, err
		}
		for _, e := range ends {
			for i := range e.told {
				e.told[i].order += order // one part's changes behind the other's
			}
			theirs[e.ref] = &line{ref: e.ref, told: e.told}
		}
		order += int64(len(p.Changes))
	}
	return theirs, nil
}

// meeting is what is to be done.
type meeting struct {
	take, send []end
	crossed    map[ref]edition // as the other side has it
	blocked    []Touched       // what hangs on something crossed
	gone       []ref
	kept       []Touched
	refused    []Refused
}

func (m *meeting) waiting() (list []Touched) {
	for r := range m.crossed {
		list = append(list, Touched{r.kind, r.key})
	}
	list = append(list, m.blocked...)
	slices.SortFunc(list, func(a, b Touched) int { return ref{a.Kind, a.Key}.compare(ref{b.Kind, b.Key}) })
	return list
}

// meet finds what is to be done.
func (b *Book) meet(ours stand, theirs map[ref]*line, heads Heads) *meeting {
	m := &meeting{crossed: map[ref]edition{}}
	all := slices.Collect(maps.Keys(ours.lines))
	for r := range theirs {
		if ours.lines[r] == nil {
			all = append(all, r)
		}
	}
	slices.SortFunc(all, ref.compare)
	for r, l := range ours.lines {
		if !l.hidden && l.head().body != nil && heads.isGone(r) {
			m.gone = append(m.gone, r)
		}
	}
	var take, send []end
	for _, r := range all {
		o, t := ours.lines[r], theirs[r]
		if heads.isGone(r) {
			continue
		}
		oh, th := o.head(), t.head()
		var back, on []edition
		behind, ahead := false, false
		if oh != nil {
			back, behind = t.after(oh.Digest)
		}
		if th != nil {
			on, ahead = o.after(th.Digest)
		}
		switch {
		case th == nil && (oh == nil || o.hidden):
		case o != nil && o.hidden: // it is shown again
			if len(back) == 0 {
				back = t.told[len(t.told)-1:]
			}
			take = append(take, end{r, "", back})
		case th == nil && oh.body == nil: // it came and went here
		case oh == nil:
			take = append(take, end{r, "", t.told})
		case th == nil, th.body == nil && !o.meets(t): // it went there, and was another
			after := ""
			if th != nil {
				after = th.Digest
			}
			send = append(send, end{r, after, o.told})
		case oh.body == nil && !o.meets(t):
			take = append(take, end{r, "", t.told})
		case oh.Digest == th.Digest:
		case behind && !ahead:
			take = append(take, end{r, "", back})
		case ahead && !behind:
			send = append(send, end{r, th.Digest, on})
		case alike(r.kind, oh.body, th.body), r.kind == Holding && !heads.Whole:
			take = append(take, end{r, "", t.told[len(t.told)-1:]})
		default:
			m.crossed[r] = *th
		}
	}
	blocks := func(r ref) bool {
		is := slices.ContainsFunc(r.subjects(), func(of ref) bool {
			_, crossed := m.crossed[of]
			return crossed && of != r
		})
		if is {
			m.blocked = append(m.blocked, Touched{r.kind, r.key})
		}
		return is
	}
	for r := range maps.Clone(m.crossed) {
		if blocks(r) {
			delete(m.crossed, r)
		}
	}
	for _, e := range take {
		if !blocks(e.ref) {
			m.take = append(m.take, e)
		}
	}
	for _, e := range send {
		switch {
		case heads.Whole && !blocks(e.ref), slices.Contains(heads.Kinds, e.kind) && !blocks(e.ref):
			m.send = append(m.send, e)
		case !heads.Whole && e.kind != Holding && !slices.Contains(heads.Kinds, e.kind):
			m.kept = append(m.kept, Touched{e.kind, e.key})
		}
	}
	return m
}

// pull takes what has come, in one transaction, if nothing was changed here since.
func (b *Book) pull(m *meeting, ours stand, heads Heads, e Edit, done *Synced) (again bool, err error) {
	_, err = b.changing(func(tx *sql.Tx) (Saved, error) {
		if b.now.head != ours.head {
			again = true
			return Saved{}, nil
		}
		list, left, why, err := b.judged(m.take, func(ends []end) []written {
			return b.rest(m, bringing(ends, heads.Name, e.At), heads, e)
		}, e.At)
		if err != nil {
			return Saved{}, err
		}
		for _, l := range left {
			m.refused = append(m.refused, Refused{l.kind, l.key, Desk{}.one(why).English()})
		}
		if len(list) == 0 {
			return Saved{}, nil
		}
		for _, l := range m.take {
			if !slices.ContainsFunc(left, func(x end) bool { return x.ref == l.ref }) {
				done.Taken = append(done.Taken, Touched{l.kind, l.key})
			}
		}
		for _, r := range m.gone {
			done.Hidden = append(done.Hidden, Touched{r.kind, r.key})
		}
		return Saved{}, b.add(tx, list)
	})
	return again, err
}

// rest adds to what is brought what a sync does by itself: it takes out what is no longer shown, and writes down what
// is crossed.
func (b *Book) rest(m *meeting, list []written, heads Heads, e Edit) []written {
	if m.gone != nil {
		hide := written{Change: e.change().of(Origin{From: plain(heads.Name), At: e.change().at, Hidden: true})}
		for _, r := range m.gone {
			hide.versions = append(hide.versions, &version{ref: r})
		}
		list = append(list, hide)
	}
	own := written{Change: e.change()}
	waits := map[ref]bool{}
	for _, r := range slices.SortedFunc(maps.Keys(m.crossed), ref.compare) {
		t := m.crossed[r]
		i := Keep(Crossing{Touched{r.kind, r.key}, t.Made, plain(heads.Name), t.body, t.place})
		waits[i.ref] = true
		if have := b.now.things[i.ref].there(); have == nil || *have.body != *i.body {
			own.versions = append(own.versions, &version{ref: i.ref, body: i.body, value: i.value})
		}
	}
	for _, v := range b.now.live() {
		if v.kind == Crossed && !waits[v.ref] && !m.hangs(v) {
			own.versions = append(own.versions, &version{ref: v.ref})
		}
	}
	if own.versions != nil {
		list = append(list, own)
	}
	return list
}

// hangs is true of a crossing that waits for another.
func (m *meeting) hangs(v *version) bool {
	x, err := v.get()
	c, ok := x.(Crossing)
	return err == nil && ok && slices.Contains(m.blocked, c.Touched)
}
