package book

import (
	"iter"
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

// take takes all that another workbook holds into this empty one. What is there does not change any more, and is read
// page by page, so that nobody who writes there waits for it.
func (b *Book) take(from *Book) error {
	from.mu.Lock()
	err := from.refresh()
	all := from.pinned.Load()
	from.mu.Unlock()
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
	var lost error // of where it comes from
	err = paged(all.changes(), &lost, func(list []Change) error { return b.insert(tx, list, nil) })
	if err == nil {
		err = paged(asLong(versionsAfter(all.db, 0, 0), func(v *version) bool { return v.change <= all.head }), &lost,
			func(list []*version) error {
				slices.SortStableFunc(list, func(a, b *version) int { return a.table() - b.table() })
				return b.insert(tx, nil, list)
			})
	}
	if lost != nil {
		return from.words(lost)
	}
	if err == nil {
		err = b.now.read(tx, b.path, all.head) // which proves that each change is what was saved
	}
	if err != nil {
		return b.words(err)
	}
	return b.words(tx.Commit())
}

// changes are those that were there.
func (p *pinned) changes() iter.Seq2[Change, error] {
	return asLong(changesAfter(p.db, 0), func(c Change) bool { return c.ID <= p.head })
}

// asLong is a list as long as something is true of what stands in it.
func asLong[T any](all iter.Seq2[T, error], is func(T) bool) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		for x, err := range all {
			if err == nil && !is(x) || !yield(x, err) {
				return
			}
		}
	}
}

// paged does something with so many of a list at once.
func paged[T any](all iter.Seq2[T, error], lost *error, do func([]T) error) error {
	var list []T
	for x, err := range all {
		if err != nil {
			*lost = err
			return err
		}
		if list = append(list, x); len(list) == page {
			if err := do(list); err != nil {
				return err
			}
			list = list[:0]
		}
	}
	return do(list)
}
