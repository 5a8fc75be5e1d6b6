// Package book is the workbook: one SQLite file that holds studies, prices, practices, rules and decisions with all
// their history, and that can be mailed. Nothing in it is ever overwritten: each change adds new versions of what it
// touches, and the latest version of each thing is the current state. Results are never stored.
package book

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"spile/internal/note"
)

// Book is an open workbook. It is safe for use by several goroutines, and several processes may hold the same file.
type Book struct {
	path string
	db   *sql.DB
	mu   sync.Mutex
	copy string // what is read in place of the file, or ""
	now  state  // as last read

	file  os.FileInfo // which file it is; nil: it is to be opened anew
	other bool        // it is another workbook than was opened at first
}

// waiting is how long, in milliseconds, one who wants to write waits for another to be done.
const waiting = 20_000

// Create makes an empty workbook where no file is. The error is note.Faults.
func Create(path string) (*Book, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return nil, fault(path, "there is a file of this name already; allowed: a new name")
	}
	if err != nil {
		return nil, fault(path, "cannot be written: %s", reason(err))
	}
	f.Close()
	b, err := connect(path, "rw")
	if err == nil {
		err = b.words(migrate(b.db, migrations))
	}
	if err == nil {
		b.file, _ = os.Stat(path)
		err = b.refresh()
	}
	if err != nil {
		if b != nil {
			b.db.Close()
		}
		os.Remove(path)
		return nil, err
	}
	return b, nil
}

// Open opens a workbook, and reads and proves all of it. A workbook of an older version is brought up to date, after a
// copy of it has been put beside it. What is no workbook, is damaged, or is of a newer version is refused. A file or
// folder that cannot be written is read all the same, an older one as a copy of it elsewhere. The error is note.Faults.
func Open(path string) (*Book, error) { return open(path, migrations) }

func open(path string, steps fs.FS) (*Book, error) {
	if err := identify(path); err != nil {
		return nil, err
	}
	file, err := os.Stat(path)
	if err != nil {
		return nil, fault(path, "this file could not be read: %s", reason(err))
	}
	b, err := connect(path, "rw")
	if err != nil {
		return nil, err
	}
	b.file = file
	if err = b.upToDate(steps); err == nil {
		// Another program may have set the file to keep its latest changes in a file beside it, which a mail would
		// leave behind. Where nothing can be written it stays so, and is read all the same.
		if mode, err := column(b.db, `PRAGMA journal_mode`); err == nil && mode[0] != "delete" {
			b.db.Exec(`PRAGMA journal_mode = DELETE`)
		}
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

// there is true while the file that was opened stands at its name.
func (b *Book) there() bool {
	info, err := os.Stat(b.path)
	return err == nil && b.file != nil && os.SameFile(info, b.file)
}

// reopen opens what stands at the workbook's name, where that is not what was opened: programs that keep folders alike
// rename another file over it, and what would be written into the one that was opened were lost. b.mu is held.
func (b *Book) reopen() error {
	if b.there() {
		return nil
	}
	b.file = nil
	n, err := open(b.path, migrations)
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
	err := b.db.QueryRow(`SELECT digest FROM change WHERE id = ?`, s.head).Scan(&digest)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return digest == s.digest, b.words(err)
}

// Path is the name of the file as it was opened.
func (b *Book) Path() string { return b.path }

// Writable is nil where changes can be kept, else the fault that says why not.
func (b *Book) Writable() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	tx, err := b.db.Begin()
	if err != nil {
		return b.words(err)
	}
	defer tx.Rollback() // so that nothing has changed
	_, err = tx.Exec(`INSERT INTO change (id, at, who, what, digest) VALUES (?, '', '', '', '')`, b.now.head+1)
	return b.words(err)
}

// magic begins every SQLite file, and application is what tells a workbook from the others; it stands at byte 68
// (https://www.sqlite.org/fileformat2.html, section 1.3).
const (
	magic       = "SQLite format 3\x00"
	application = 0x5350494C
	header      = 100
)

// identify refuses what is not a workbook before SQLite, which may change a file by opening it, sees it.
func identify(path string) error {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() { // a pipe would be waited for
		return fault(path, "this is no file but a folder or a device; allowed: a workbook")
	}
	f, err := os.Open(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fault(path, "there is no such file")
	case errors.Is(err, fs.ErrPermission):
		return fault(path, "this file may not be read: permission is denied")
	case err != nil:
		return fault(path, "this file could not be read: %s", reason(err))
	}
	defer f.Close()
	head := make([]byte, header)
	n, err := io.ReadFull(f, head)
	head = head[:n]
	switch {
	case err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF):
		return fault(path, "this file could not be read: %s", reason(err))
	case n == 0:
		return fault(path, "this file is empty; allowed: a workbook")
	case !strings.HasPrefix(string(head), magic[:min(n, len(magic))]):
		if len(strings.Trim(string(head), "\x00")) == 0 {
			return fault(path, "this workbook is damaged: it begins with zeros. Use a copy")
		}
		return fault(path, "this is not a workbook; allowed: a file that spile wrote")
	case n < header:
		return fault(path, "this workbook is damaged: it ends after %d bytes. Use a copy", n)
	case binary.BigEndian.Uint32(head[68:]) != application:
		return fault(path, "this is the database of another program, not a workbook; allowed: a file that spile wrote")
	}
	return nil
}

// connect opens the database. Names of columns and the like in the file are not trusted to run code.
// mode is SQLite's: "rw", or "ro" for one that stays as it is.
func connect(path, mode string) (*Book, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, fault(path, "this file could not be read: %s", reason(err))
	}
	full = filepath.ToSlash(full)
	if !strings.HasPrefix(full, "/") {
		full = "/" + full // a drive letter
	}
	set := url.Values{
		"mode": {mode}, "_busy_timeout": {fmt.Sprint(waiting)}, "_txlock": {"immediate"}, "_defensive": {"1"},
		"_dqs":    {"0"},
		"_pragma": {"synchronous(FULL)", "foreign_keys(1)", "trusted_schema(0)", "cell_size_check(1)"},
	}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: full}).EscapedPath()+"?"+set.Encode())
	if err != nil {
		return nil, fault(path, "this file could not be read: %s", reason(err))
	}
	db.SetMaxOpenConns(1)
	b := &Book{path: path, db: db}
	if err := db.PingContext(context.Background()); err != nil {
		db.Close()
		return nil, b.words(err)
	}
	return b, nil
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

// words says in words what SQLite says in codes (https://www.sqlite.org/rescode.html).
func (b *Book) words(err error) error {
	if err == nil || errors.As(err, new(note.Faults)) {
		return err // nothing, or said already
	}
	var s *sqlite.Error
	if !errors.As(err, &s) {
		return fault(b.path, "this file could not be read: %s", err.Error())
	}
	switch code := s.Code(); code & 0xff {
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT, sqlite3.SQLITE_ERROR,
		sqlite3.SQLITE_MISMATCH, sqlite3.SQLITE_CONSTRAINT:
		return fault(b.path, "this workbook is damaged (%s). Use a copy", s.Error())
	case sqlite3.SQLITE_FULL:
		return fault(b.path, "the disk is full; nothing of this change was kept")
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fault(b.path, "another program has been writing to this workbook for %d seconds; try again",
			waiting/1000)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
		if code == sqlite3.SQLITE_READONLY_ROLLBACK || code == sqlite3.SQLITE_READONLY_RECOVERY {
			return fault(b.path, "the last writing was cut short, and here it cannot be put right: the file or its "+
				"folder cannot be written. Copy both this file and the one ending in -journal to a folder that can "+
				"be written")
		}
		return fault(b.path, "this workbook or its folder cannot be written; nothing of this change was kept")
	case sqlite3.SQLITE_CANTOPEN:
		return fault(b.path, "this workbook or its folder cannot be written; nothing of this change was kept")
	case sqlite3.SQLITE_IOERR:
		return fault(b.path, "the disk does not take or give what is asked of it (%s); nothing of this change was kept",
			s.Error())
	}
	return fault(b.path, "this file could not be read: %s", s.Error())
}
