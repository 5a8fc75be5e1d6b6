package book

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"time"

	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Checked is what a check went through.
type Checked struct {
	Changes  int
	Versions int
	Things   int // in the current state

	// Digests are SHA-256, in hexadecimal: of what it holds, and of all changes, who made them and when. Two workbooks
	// of one digest hold the same, or came to it by the same changes.
	State, History string
}

// Check proves a workbook: the pages and indexes of the file, its tables, that every change is what was saved, and that
// every version of everything can be read, is what its row says and passes what it had to pass to be kept. The error is
// note.Faults, and names everything that is wrong. Check changes nothing.
func Check(path string) (Checked, error) {
	d := dialectOf(path)
	b, err := d.open(path)
	if err != nil {
		return Checked{}, err
	}
	b.dialect = d
	defer b.db.Close()
	if have, err := b.version(); err != nil {
		return Checked{}, err
	} else if want := latest(b.steps); have > want {
		return Checked{}, b.upToDate() // which says so
	} else if have < want && Served(path) {
		return Checked{}, fault(b.path, "this workbook is of an older version (%d of the format); open it once, with "+
			"spile gains for one, and check it again", have)
	} else if have < want {
		return b.checkOlder()
	}
	tx, err := b.db.BeginTx(context.Background(), reading)
	if err != nil {
		return Checked{}, b.words(err)
	}
	defer tx.Rollback()

	var faults note.Faults
	say := func(key string, args ...any) {
		faults = append(faults, note.New(key, args...).At(note.Where{File: b.path}))
	}
	also := func(err error) {
		var f note.Faults
		if err = b.words(err); errors.As(err, &f) {
			faults = append(faults, f...)
		} else if err != nil {
			say("this file could not be read: %s", err.Error())
		}
	}
	stored, err := b.pages(b.path, tx)
	also(cmp.Or(err, stored.Err()))
	also(b.compare(tx, say))
	also(b.refreshIn(tx))
	c := Checked{Changes: int(b.now.head)}
	for _, v := range b.now.things {
		if v.body != nil {
			c.Things++
		}
	}
	for _, at := range b.now.shelves {
		c.Things += at.says().size
	}
	if now, err := b.now.contents(nil); err == nil { // what cannot be read is named below
		c.State, c.History = now.Sources[0].Digest, now.History
	}
	n, err := b.versions(tx, say)
	c.Versions = n
	also(err)
	if len(faults) == 0 {
		also(b.now.judge(b.now.live(), "", nil))
	}
	return c, faults.Err()
}

// checkOlder proves the pages of a workbook of an older version, and all else of a copy brought up to date.
func (b *Book) checkOlder() (Checked, error) {
	tx, err := b.db.BeginTx(context.Background(), reading)
	if err != nil {
		return Checked{}, b.words(err)
	}
	faults, err := b.pages(b.path, tx)
	tx.Rollback()
	if err = cmp.Or(err, faults.Err()); err != nil {
		return Checked{}, b.words(err)
	}
	name, err := b.upToDateCopy()
	if err != nil {
		return Checked{}, err
	}
	defer os.RemoveAll(filepath.Dir(name))
	return Check(name)
}

// compare compares the tables, views and triggers with those of a new workbook.
func (b *Book) compare(tx *sql.Tx, say func(string, ...any)) error {
	have, want, err := b.tables(tx)
	if err != nil {
		return err
	}
	for _, s := range have {
		if !slices.Contains(want, s) {
			say("the file holds what no workbook holds: %s", s)
		}
	}
	for _, s := range want {
		if !slices.Contains(have, s) {
			say("the file lacks what every workbook holds: %s", s)
		}
	}
	return nil
}

// column is the first column of a query.
func column(q interface {
	Query(string, ...any) (*sql.Rows, error)
}, query string) ([]string, error) {
	rows, err := q.Query(query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return list, err
		}
		list = append(list, s)
	}
	return list, rows.Err()
}

// versions reads every version there ever was.
func (b *Book) versions(tx *sql.Tx, say func(string, ...any)) (int, error) {
	for c, err := range changesAfter(tx, 0) {
		if err != nil {
			return 0, err
		}
		if _, err := time.Parse(time.RFC3339, c.at); err != nil {
			say("change %d was made at %q, which is no time", int(c.ID), c.at)
		}
		if c.Who == "" {
			say("change %d was made by nobody", int(c.ID))
		}
	}
	list, err := rowsAfter(tx, 0)
	if err != nil {
		return 0, err
	}
	known := practice.Shipped() // and every practice that there ever was
	for _, v := range list {
		if v.kind == Practice && v.body != nil {
			if p, err := v.get(); err == nil {
				known = append(known, p.(practice.Practice))
			}
		}
	}
	n := 0
	for v, err := range versionsAfter(tx, 0, 0) {
		if err != nil {
			return n, err
		}
		n++
		if v.body == nil {
			continue
		}
		x, err := v.get()
		if err != nil {
			say("the %s %s of change %d cannot be read: %s", v.word(), v.name(), int(v.change), err.Error())
			continue
		}
		kind, key, body, at, err := encode(x)
		if err != nil || kind != v.kind || key != v.key || body != *v.body || v.place == nil && at != "" ||
			v.place != nil && at != *v.place {
			say("the %s %s of change %d is not written as workbooks write it", v.word(), v.name(), int(v.change))
			continue
		}
		set := known
		if v.kind == Practice {
			set = practice.Shipped() // what others were called then is past
		}
		f, _ := v.faults(set, "")
		for _, n := range f {
			say("the %s %s of change %d: %s", v.word(), v.name(), int(v.change), n.English())
		}
	}
	return n, nil
}
