package book

import (
	"context"
	"database/sql"
	"slices"
)

// Entry is a change and what it touched.
type Entry struct {
	Change
	Added, Replaced, Removed []Touched
}

// History is every change, the latest first.
func (b *Book) History() ([]Entry, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	tx, err := b.db.BeginTx(context.Background(), &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return nil, b.words(err)
	}
	defer tx.Rollback()
	if err := b.refreshIn(tx); err != nil { // which proves it
		return nil, b.words(err)
	}
	changes, err := changesAfter(tx, 0)
	if err != nil {
		return nil, b.words(err)
	}
	list := make([]Entry, len(changes))
	for i, c := range changes {
		list[i].Change = c
	}
	versions, err := versionsAfter(tx, 0, 0)
	if err != nil {
		return nil, b.words(err)
	}
	there := map[Touched]bool{}
	for _, v := range versions {
		t := Touched{v.kind, v.key}
		e := &list[v.change-1] // the changes are numbered without gaps
		switch {
		case v.body == nil:
			e.Removed = append(e.Removed, t)
		case there[t]:
			e.Replaced = append(e.Replaced, t)
		default:
			e.Added = append(e.Added, t)
		}
		there[t] = v.body != nil
	}
	slices.Reverse(list)
	return list, nil
}
