package book

import (
	"testing"
	"time"

	"spile/internal/trade/input"
)

// Who only looks does not wait for a write, of this process or of another: it is shown what was kept last.
func TestLookingDoesNotWait(t *testing.T) {
	b := fresh(t)
	save(t, b, by("Ada", 0), Keep(study("first", 20)))
	save(t, b, by("Ada", 1), Keep(input.Search("all of it")))
	contents(t, b)
	page := must(b.History(0, 100))
	must(b.Latest(2, 1))
	looks := func(what string) {
		t.Helper()
		looked := make(chan struct{})
		go func() {
			defer close(looked)
			if c, err := b.Seen(); err != nil || len(c.Studies) != 1 {
				t.Errorf("%s: %d studies, %v", what, len(c.Studies), err)
			}
			if log, err := b.History(0, 100); err != nil || len(log) != 2 {
				t.Errorf("%s: %d changes, %v", what, len(log), err)
			}
			if log, err := b.Latest(2, 1); err != nil || len(log) != 1 || log[0].ID != 1 {
				t.Errorf("%s: before the second: %+v, %v", what, log, err)
			}
			for _, e := range page { // each of which has a page of its own
				if log, err := b.History(e.ID+1, 1); err != nil || len(log) != 1 || log[0].ID != e.ID {
					t.Errorf("%s: change %d: %+v, %v", what, e.ID, log, err)
				}
			}
			if err := b.Writable(); err != nil {
				t.Errorf("%s: %v", what, err)
			}
		}()
		select {
		case <-looked:
		case <-time.After(waiting * time.Millisecond / 2):
			t.Fatalf("%s: it waits", what)
		}
	}
	b.mu.Lock() // as a save of this process does while it waits for another's
	looks("a write here")
	looked := make(chan []Entry)
	go func() { looked <- must(b.History(2, 7)) }() // which nobody asked for before
	select {
	case log := <-looked:
		if len(log) != 1 || log[0].ID != 1 || len(log[0].Steps) != 1 || log[0].Undo != Undoable {
			t.Errorf("a write here: another part: %+v", log)
		}
	case <-time.After(waiting * time.Millisecond / 2):
		t.Fatal("a part of the history that was not asked for before waits for a write")
	}
	b.mu.Unlock()

	other, err := Open(b.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	tx := must(other.db.Begin())
	if b.dialect == &inFile { // the hardest lock that a file has
		if _, err := tx.Exec(`PRAGMA locking_mode = EXCLUSIVE`); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := tx.Exec(`INSERT INTO change (id, at, who, what, digest) VALUES (9, '', '', '', '')`); err != nil {
		t.Fatal(err)
	}
	looks("a write there")
	tx.Rollback()
}

// What this process has kept is seen at once, and what was given before stays as it was.
func TestSeenAtOnce(t *testing.T) {
	b := fresh(t)
	save(t, b, by("Ada", 0), Keep(study("first", 20)))
	must(b.History(0, 100))
	before, err := b.Seen()
	if err != nil {
		t.Fatal(err)
	}
	_ = append(before.Studies, study("nobody's", 1))
	save(t, b, by("Ada", 1), Keep(study("second", 30)))
	b.mu.Lock()
	defer b.mu.Unlock()
	if log := must(b.History(0, 100)); len(log) != 2 || log[0].ID != 2 {
		t.Errorf("the history has %d changes, and not the one that was just kept", len(log))
	}
	now, err := b.Seen()
	if err != nil || len(now.Studies) != 2 || now.Studies[1].Name != "second" || len(before.Studies) != 1 {
		t.Errorf("%d and %d studies, %v", len(before.Studies), len(now.Studies), err)
	}
}
