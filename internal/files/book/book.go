// Package book is the workbook: it holds studies, prices, practices, rules and decisions with all their history, in a
// SQLite file that can be mailed or, where several write at once, in a schema of a PostgreSQL database. Nothing in it
// is ever overwritten: each change adds new versions of what it touches, and the latest version of each thing is the
// current state. Results are never stored.
package book

import (
	"database/sql"
	"errors"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"

	"spile/internal/note"
)

// Book is an open workbook, as somebody sees it. It is safe for use by several goroutines, and several processes may
// hold the same workbook.
type Book struct {
	*store
	eyes *eyes // nil: all of it is seen

	last atomic.Pointer[Contents] // as last given
	log  sync.Map                 // asked to *history, as last given
}

// store is what is opened, whoever looks at it.
type store struct {
	*dialect
	path string // without a password
	db   *sql.DB
	mu   sync.Mutex
	copy string // what is read in place of the file, or ""
	now  state  // as last read

	pinned atomic.Pointer[pinned] // the same, for those who look

	file  os.FileInfo // which file it is; nil: it is to be opened anew
	other bool        // it is another workbook than was opened at first
}

// waiting is how long, in milliseconds, one who wants to write waits for another to be done.
const waiting = 20_000

// Create makes an empty workbook where none is: no file of the name, no workbook at the address. The error is
// note.Faults.
func Create(path string) (*Book, error) {
	d := dialectOf(path)
	b, err := d.create(path)
	if err != nil {
		return nil, err
	}
	b.dialect = d
	if err = b.words(migrate(b.db, b.goose, b.steps)); err == nil {
		err = b.refresh()
	}
	if err != nil {
		b.Close()
		os.Remove(b.path) // where it is a file
		return nil, err
	}
	return b, nil
}

// Open opens a workbook, and reads and proves all of it. One of an older version is brought up to date, a file after a
// copy of it has been put beside it. What is no workbook, is damaged, or is of a newer version is refused. A file or
// folder that cannot be written is read all the same, an older one as a copy of it elsewhere. The error is note.Faults.
func Open(path string) (*Book, error) { return open(path, dialectOf(path)) }

func open(path string, d *dialect) (*Book, error) {
	b, err := d.open(path)
	if err != nil {
		return nil, err
	}
	b.dialect = d
	if err = b.upToDate(); err == nil {
		b.opened(b)
		err = b.refresh()
	}
	if err != nil {
		b.Close()
		return nil, err
	}
	return b, nil
}

// Close lets go of the file.
func (b *Book) Close() error {
	err := b.db.Close()
	if b.copy != "" {
		os.RemoveAll(filepath.Dir(b.copy))
	}
	return b.words(err)
}

// reopen opens what stands at the workbook's name, where that is not what was opened: programs that keep folders alike
// rename another file over it, and what would be written into the one that was opened were lost. b.mu is held.
func (b *Book) reopen() error {
	if b.stands(b) {
		return nil
	}
	b.file = nil
	n, err := open(b.path, b.dialect)
	if err != nil {
		return err
	}
	known, err := n.holds(b.now)
	if err != nil {
		n.Close()
		return err
	}
	b.Close()
	b.db, b.copy, b.now, b.file, b.other = n.db, n.copy, n.now, n.file, b.other || !known
	return nil
}

// holds is true of a workbook with the changes of a state.
func (b *Book) holds(s state) (bool, error) {
	if s.head == 0 {
		return true, nil
	}
	var digest string
	err := b.db.QueryRow(`SELECT digest FROM change WHERE id = $1`, s.head).Scan(&digest)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return digest == s.digest, b.words(err)
}

// Server is the database of a workbook on a server; nil: it is in a file.
func (b *Book) Server() *sql.DB {
	if b.dialect == &onServer {
		return b.db
	}
	return nil
}

// Path is the name of the file, or the address without its password, as it was opened.
func (b *Book) Path() string { return b.path }

// name is what an answer calls the workbook that it rests on: the file without its folders, or database and schema.
func (b *Book) name() string {
	if u, err := url.Parse(b.path); err == nil && Served(b.path) {
		return strings.TrimSuffix(strings.Trim(u.Path, "/")+"."+u.Query().Get("search_path"), ".")
	}
	return filepath.Base(b.path)
}

// Writable is nil where changes can be kept, else the fault that says why not.
func (b *Book) Writable() error {
	_, err, _ := soon(b, func() (struct{}, error) {
		tx, err := b.begin()
		if err != nil {
			return struct{}{}, err
		}
		defer tx.Rollback() // so that nothing has changed
		_, err = tx.Exec(`INSERT INTO change (id, at, who, what, digest) VALUES ($1, '', '', '', '')`, b.now.head+1)
		return struct{}{}, b.words(err)
	})
	return err
}

func fault(path, key string, args ...any) error {
	return note.Faults{note.New(key, args...).At(note.Where{File: path})}
}

// reason is the innermost error.
func reason(err error) string {
	for inner := errors.Unwrap(err); inner != nil; inner = errors.Unwrap(err) {
		err = inner
	}
	return err.Error()
}

// words says what went wrong in words.
func (b *Book) words(err error) error {
	if err == nil || errors.As(err, new(note.Faults)) {
		return err // nothing, or said already
	}
	return b.dialect.words(b.path, err)
}

// begin begins a transaction that writes, once no other does.
func (b *Book) begin() (*sql.Tx, error) {
	tx, err := b.db.Begin()
	if err == nil && b.write != "" {
		if _, err = tx.Exec(b.write); err != nil {
			tx.Rollback()
		}
	}
	return tx, b.words(err)
}
