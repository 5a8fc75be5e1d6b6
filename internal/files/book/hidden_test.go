package book

import (
	"strings"
	"testing"
	"time"

	"spile/internal/trade/doubt"
	"spile/internal/trade/input"
)

// Who asks for the undo of a change that is not theirs to see, or for one that overwrites what came with it, is told
// nothing of it: neither a name, nor what was said of the change, nor why.
func TestNothingIsToldOfWhatIsHidden(t *testing.T) {
	b := fresh(t)
	now := func() time.Time { return day }
	north, south := b.For("North", now), b.For("South", now)
	e := by("Nora", 0)
	e.What, e.Why = "add Hidden-2026.csv", "for the Hidden contract"
	save(t, north, e, Keep(study("Hidden 2026", 20)), Keep(input.Search("all of it")))
	save(t, north, by("Nora", 1), Keep(doubt.Answer{ID: "x", About: "the Hidden trial"}))
	head := b.now.head
	for change := range head {
		_, err := south.Undo(by("Sam", 0), change+1)
		refused(t, "the undo of a hidden change", err, "not all of this change is yours to see")
		if err != nil && strings.Contains(err.Error(), "Hidden") {
			t.Errorf("change %d: %v", change+1, err)
		}
	}
	_, err := south.Save(by("Sam", 0), Keep(input.Search("mine")))
	refused(t, "what overwrites a change that is seen in part", err, "was changed by Nora")
	c, is := err.(*Conflict)
	if strings.Contains(err.Error(), "Hidden") || !is || c.Theirs[0].What+c.Theirs[0].Why != "" {
		t.Errorf("the conflict says: %v", err)
	}
	if b.now.head != head {
		t.Errorf("something was kept: %d changes", b.now.head)
	}
	_, err = north.Save(by("Ned", 0), Keep(input.Search("ours")))
	refused(t, "what overwrites a change that is seen whole", err, "after you looked: add Hidden-2026.csv; look")
	if _, err := north.Undo(by("Nora", 0), 1); err != nil {
		t.Errorf("who made it undoes it: %v", err)
	}
}
