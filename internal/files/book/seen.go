package book

import "time"

// patience is how long one who reads waits for what is there now, before what was there before will do.
const patience = 100 * time.Millisecond

// soon does what needs the workbook unless somebody writes, here or in another program, and gives what it gives; false
// where that is not to be had soon. What was begun goes on.
func soon[T any](b *Book, do func() (T, error)) (x T, err error, done bool) {
	if !b.mu.TryLock() {
		return x, nil, false
	}
	ready := make(chan struct{})
	var found T
	var fault error
	go func() {
		defer close(ready)
		defer b.mu.Unlock()
		found, fault = do()
	}()
	select {
	case <-ready:
		return found, fault, true
	case <-time.After(patience):
		return x, nil, false
	}
}

// Seen is Contents for one who only looks: it never waits for a write. While somebody writes it is what was there last,
// with all that this process has kept.
func (b *Book) Seen() (Contents, error) {
	last := b.last.Load()
	if last == nil {
		return b.Contents()
	}
	if c, err, done := soon(b, b.contents); done {
		return c, err
	}
	return *b.last.Load(), nil
}

// Kept is the last change in what was seen or kept last.
func (b *Book) Kept() int64 {
	if c := b.last.Load(); c != nil {
		return c.Change
	}
	return 0
}
