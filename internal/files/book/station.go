package book

import (
	"database/sql"
	"math"
	"time"

	"spile/internal/note"
	"spile/internal/trade/doubt"
	"spile/internal/trade/evidence"
	"spile/internal/trade/station"
)

// eyes are those of who is of a station and sees what is its own, what is of none and what is released; nil sees all.
type eyes struct {
	station string
	now     func() time.Time
}

// For is the same workbook as those of a station see it, or those who are of none (""): whatever is asked of it leaves
// out what they may not see, and what they keep is their station's.
func (b *Book) For(of string, now func() time.Time) *Book {
	return &Book{store: b.store, eyes: &eyes{of, now}}
}

// day is on which they look; "": what they see does not hang on it.
func (e *eyes) day() string {
	if e == nil {
		return ""
	}
	return e.now().UTC().Format(time.DateOnly)
}

func heldBy(h station.Hold) ref { return ref{Kind(h.Of), h.Name} }

// holds is whose things are.
func (s *state) holds() map[ref]station.Hold {
	holds := map[ref]station.Hold{}
	for r, v := range s.things {
		if r.kind != Holding || v.body == nil {
			continue
		}
		if x, err := v.get(); err == nil { // else contents and Check name it
			h := x.(station.Hold)
			holds[heldBy(h)] = h
		}
	}
	return holds
}

// subjects are the things by which it is decided who sees one.
func (r ref) subjects() []ref {
	if name := r.trialOf(); name != "" {
		return []ref{{Trial, name}}
	}
	switch r.kind {
	case Study:
		return []ref{r}
	case Excluded:
		return []ref{{Study, r.key}, {Trial, r.key}}
	case Holding:
		if of := partsOf(r.key); len(of) == 2 {
			return []ref{{Kind(of[0]), of[1]}}
		}
	}
	return nil
}

// sees tells what is seen of a state; nil: everything.
func (e *eyes) sees(s *state) func(ref) bool {
	if e == nil {
		return nil
	}
	holds, day := s.holds(), e.day()
	return func(r ref) bool {
		for _, of := range r.subjects() {
			if h, held := holds[of]; held && !h.Seen(e.station, day) {
				return false
			}
		}
		return true
	}
}

// narrow is what is seen of what a state holds, in the order in which it came, and how much is not; nil: all is.
func (e *eyes) narrow(s *state) (live []*version, held note.Faults) {
	live = s.live()
	sees := e.sees(s)
	if sees == nil {
		return live, nil
	}
	all := live
	live = nil
	studies, trials, hides := 0, 0, false
	for _, v := range all {
		switch {
		case sees(v.ref):
			live = append(live, v)
			continue
		case v.kind == Study:
			studies++
		case v.kind == Trial:
			trials++
		}
		hides = true
	}
	if !hides {
		return live, nil
	}
	for i, v := range live {
		if v.kind == Answer { // which says of what was asked in words; that it was answered is enough
			if x, err := answerAlone(v); err == nil {
				live[i] = x
			}
		}
	}
	held = note.Faults{}
	if studies > 0 {
		held.Add("%d studies of other stations are held back: they are not released", studies)
	}
	if trials > 0 {
		held.Add("%d trials of other stations are held back: they are not released", trials)
	}
	return live, held
}

// limits are the changes before which each name of a trail is seen; nil: all is. What was never seen is left out of a
// history: of what was withdrawn all before that stays.
func (e *eyes) limits(t *trail) []int64 {
	if e == nil {
		return nil
	}
	holds, until := e.until(t)
	today, hides := e.day(), false
	for of, h := range holds {
		if h.Seen(e.station, today) {
			until[of] = math.MaxInt64
		} else {
			hides = true
		}
	}
	if !hides {
		return nil
	}
	limits := make([]int64, len(t.names))
	for n, r := range t.names {
		if r.kind == Answer { // which tells in words of what was asked
			continue
		}
		limits[n] = math.MaxInt64
		for _, of := range r.subjects() {
			if _, held := holds[of]; held {
				limits[n] = min(limits[n], until[of])
			}
		}
		if r.kind == Holding && limits[n] > 0 && limits[n] < math.MaxInt64 {
			limits[n]++ // that it was withdrawn is seen
		}
	}
	return limits
}

// until is, of what is held at the end of a history, the change before which it was last seen, if it ever was.
func (e *eyes) until(t *trail) (holds map[ref]station.Hold, until map[ref]int64) {
	holds, until = map[ref]station.Hold{}, map[ref]int64{}
	for _, s := range t.stages {
		of := heldBy(s.hold)
		if was, held := holds[of]; s.there && (!held || was.Seen(e.station, s.day)) {
			until[of] = s.change
		}
		holds[of] = s.hold
	}
	return holds, until
}

// guarded saves what those who see the workbook so may change: what they see, and of it not what is another station's.
// What they add is their own station's, and what is taken out is nobody else's any more.
func (b *Book) guarded(tx *sql.Tx, e Edit, items []Item) (Saved, error) {
	holds, sees, own := b.now.holds(), b.eyes.sees(&b.now), []Item(nil)
	var faults note.Faults
	said := map[ref]bool{}
	for _, i := range items {
		if sees == nil {
			break
		}
		if of, why, is := b.eyes.barred(i.ref, holds, sees); is && !said[of] {
			faults, said[of] = append(faults, why.At(i.where)), true
		}
	}
	if faults != nil {
		return Saved{}, faults
	}
	for _, i := range items {
		if h, is := b.held(i.ref, i.body != nil, holds); is {
			own = append(own, Keep(h))
		}
	}
	if own == nil {
		return b.save(tx, e, items)
	}
	return b.saveHeld(tx, e, append(items[:len(items):len(items)], own...))
}

// barred says why those who see the workbook so may not change a thing, and of which study or trial that is true.
func (e *eyes) barred(r ref, holds map[ref]station.Hold, sees func(ref) bool) (of ref, why note.Note, is bool) {
	for _, of := range r.subjects() {
		switch h, held := holds[of]; {
		case !held || sees == nil:
		case !sees(of):
			return of, note.New("the name %s is taken; allowed: another", of.key), true
		case h.Station != e.station && r.kind != Excluded:
			return of, note.New("the %s %s is of the station %s, which alone changes it", of.word(), of.name(),
				h.Station), true
		}
	}
	return of, why, false
}

// held is whose a study or a trial is from now on that is kept (or taken out); false: that stays as it is.
func (b *Book) held(r ref, kept bool, holds map[ref]station.Hold) (station.Hold, bool) {
	h, held := holds[r]
	switch {
	case r.kind != Study && r.kind != Trial:
	case !kept && held && h.Stage != station.Own:
		h.Stage, h.From, h.Reason = station.Own, "", ""
		return h, true
	case kept && !held && b.now.things[r].there() == nil && b.eyes != nil && b.eyes.station != "":
		return station.Hold{Of: string(r.kind), Name: r.key, Station: b.eyes.station, Stage: station.Own}, true
	}
	return h, false
}

// saveHeld saves what says who may see what, whatever was said of it before.
func (b *Book) saveHeld(tx *sql.Tx, e Edit, items []Item) (Saved, error) {
	for n := range items {
		items[n].sure = items[n].kind == Holding
	}
	return b.save(tx, e, items)
}

// Offers are the studies that wait for a steward to read them, with whose they are. A steward alone may ask.
func (b *Book) Offers() (studies []evidence.Study, whose []station.Hold, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.refresh(); err != nil {
		return nil, nil, err
	}
	holds := b.now.holds()
	for _, v := range b.now.live() {
		if h, held := holds[v.ref]; v.kind == Study && held && h.Stage == station.Offered {
			x, err := v.get()
			if err != nil {
				return nil, nil, err
			}
			studies, whose = append(studies, x.(evidence.Study)), append(whose, h)
		}
	}
	return studies, whose, nil
}

// Step takes a study or a trial from one stage to another. Whether who asks is a steward is known to the caller; that
// the thing is of the station that sees the workbook so is looked at here, as is that it stands as it was seen.
func (b *Book) Step(e Edit, act station.Act, of, name, from, to string) (Saved, error) {
	return b.changing(func(tx *sql.Tx) (Saved, error) {
		at := ref{Kind(of), name}
		thing := b.now.things[at].there()
		h, held := b.now.holds()[at]
		if !held {
			h = station.Hold{Of: of, Name: name}
		}
		ours := b.eyes == nil || act.Steward || held && h.Station == b.eyes.station
		if thing == nil || !ours || !act.Fits(h, held) {
			return Saved{}, note.Faults{note.New("there is no %s %s with which that can be done", note.Term(of), name)}
		}
		seen, err := e.Seen.here(tx)
		if err != nil {
			return Saved{}, b.words(err)
		}
		if act.Steward && thing.change > seen.Change {
			return Saved{}, note.Faults{note.New("the %s %s was changed after you looked; look at it and save again",
				at.word(), at.name())}
		}
		h, err = act.Do(h, from, e.Why, to)
		if err != nil {
			return Saved{}, err
		}
		return b.saveHeld(tx, e, []Item{Keep(h)})
	})
}

// answerAlone is an answer without the words in which it was asked.
func answerAlone(v *version) (*version, error) {
	x, err := v.get()
	if err != nil {
		return nil, err
	}
	i := Keep(doubt.Answer{ID: x.(doubt.Answer).ID})
	return &version{ref: v.ref, change: v.change, first: v.first, body: i.body, value: i.value}, i.err
}
