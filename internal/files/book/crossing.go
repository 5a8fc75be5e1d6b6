package book

import (
	"database/sql"
	"time"

	"spile/internal/note"
)

// Crossing is what both sides of a sync have changed, as it stands on the other: it waits until somebody has decided,
// and stays in the history as everything does.
type Crossing struct {
	Touched
	Made Made   // by whom there
	From string // where that is

	Body, Place *string // as bodies are written; no body: removed there
}

type crossingBody struct {
	Kind  Kind    `json:"kind"`
	Key   string  `json:"key"`
	From  string  `json:"from"`
	Made  Made    `json:"made"`
	Body  *string `json:"body,omitempty"` // null: removed there
	Place *string `json:"place,omitempty"`
}

func (c Crossing) stored() crossingBody {
	return crossingBody{c.Kind, c.Key, c.From, c.Made, c.Body, c.Place}
}

func (b crossingBody) crossing() Crossing {
	return Crossing{Touched{b.Kind, b.Key}, b.Made, b.From, b.Body, b.Place}
}

func crossingOf(r ref) ref { return ref{Crossed, keyOf(string(r.kind), r.key)} }

// version is what the other side has.
func (c Crossing) version() *version {
	return &version{ref: ref{c.Kind, c.Key}, body: c.Body, place: c.Place}
}

// Value is what the other side has, one of Thing; nil: it was removed there.
func (c Crossing) Value() (any, error) {
	if c.Body == nil {
		return nil, nil
	}
	return c.version().get()
}

// later is the same as something that another has changed.
func (c Crossing) later() (Later, error) {
	x, err := c.Value()
	l := Later{Change: Change{ID: c.Made.ID, Who: c.Made.Who, What: c.Made.What, Why: c.Made.Why},
		Touched: c.Touched, Value: x, There: c.From}
	l.At, _ = time.Parse(time.RFC3339, c.Made.At)
	return l, err
}

// crossing is where a thing waits for somebody to decide; nil: it does not.
func (s *state) crossing(r ref) *version { return s.things[crossingOf(r)].there() }

// settle is what decides the crossings of what is written, which is kept in the place of what the other side has: their
// change comes first, so that its history has both.
func (s *state) settle(write []*version, at time.Time) (theirs []written, settled []*version, err error) {
	for _, v := range write {
		x := s.crossing(v.ref)
		if x == nil || v.kind == Crossed {
			continue
		}
		c, err := x.get()
		if err != nil {
			return nil, nil, err
		}
		other := c.(Crossing)
		theirs = append(theirs, written{other.Made.brought(other.From, at), []*version{other.version()}})
		settled = append(settled, &version{ref: x.ref})
	}
	return theirs, settled, nil
}

// Decide ends a crossing: theirs takes what the other side has, else ours stays, and goes there with the next sync. The
// error is note.Faults, or a *Conflict where the other side is not what was shown.
func (b *Book) Decide(e Edit, of Touched, theirs bool) (Saved, error) {
	return b.changing(func(tx *sql.Tx) (Saved, error) {
		r := ref{of.Kind, of.Key}
		x, now := b.now.crossing(r), b.now.thing(r).there()
		if x == nil {
			return Saved{}, note.Faults{note.New("the %s %s waits for no decision", r.word(), r.name())}
		}
		if !theirs {
			i := Item{ref: r}
			if now != nil {
				i.body, i.place, i.value = now.body, now.place, now.value
			}
			e.Replace = true
			return b.save(tx, e, []Item{i})
		}
		seen, err := e.Seen.here(tx)
		if err != nil {
			return Saved{}, b.words(err)
		}
		if x.change > seen.beside() {
			return Saved{}, b.now.conflict(tx, []*version{x})
		}
		c, err := x.get()
		if err != nil {
			return Saved{}, err
		}
		other := c.(Crossing)
		write := []*version{other.version()}
		if err := b.now.judge(write, e.At.UTC().Format(time.DateOnly), nil); err != nil {
			return Saved{}, err
		}
		own := e.change()
		list := []written{{other.Made.brought(other.From, e.At), write}, {own, []*version{{ref: x.ref}}}}
		return Saved{Change: b.now.head + 2, Replaced: []Touched{of}}, b.add(tx, list)
	})
}

// Value is a thing as it stands, one of Thing; nil: there is none.
func (b *Book) Value(of Touched) (any, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if v := b.now.thing(ref{of.Kind, of.Key}).there(); v != nil {
		return v.get()
	}
	return nil, nil
}
