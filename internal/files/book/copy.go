package book

import (
	"context"
	"slices"
)

// Copy copies every change and every version to another place, a file or the address of a schema where nothing stands
// or an empty workbook: it holds the same then, and came to it by the same changes. It copies all, or nothing.
func (b *Book) Copy(path string) error {
	to, err := Create(path)
	if err != nil {
		empty, e := Open(path)
		if e != nil {
			return err
		}
		to = empty
	}
	defer to.Close()
	return to.take(b)
}

// take takes all that another workbook holds into this empty one.
func (b *Book) take(from *Book) error {
	changes, versions, err := from.all()
	if err != nil {
		return err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	tx, err := b.begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if err := b.refreshIn(tx); err != nil {
		return b.words(err)
	}
	if b.now.head > 0 {
		return fault(b.path, "this workbook is not empty; allowed: a new one, or one without a change")
	}
	if err := b.insert(tx, changes, versions); err != nil {
		return b.words(err)
	}
	if err := b.now.read(tx, b.path); err != nil { // which proves that each change is what was saved
		return b.words(err)
	}
	return b.words(tx.Commit())
}

// all is every change and version, those of readings last.
func (b *Book) all() (changes []Change, versions []*version, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	tx, err := b.db.BeginTx(context.Background(), reading)
	if err == nil {
		defer tx.Rollback()
		changes, err = changesAfter(tx, 0)
	}
	if err == nil {
		versions, err = allVersions(tx)
	}
	slices.SortStableFunc(versions, func(a, b *version) int { return a.table() - b.table() })
	return changes, versions, b.words(err)
}
