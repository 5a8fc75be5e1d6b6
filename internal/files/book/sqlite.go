package book

import (
	"cmp"
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

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"spile/internal/note"
)

// inFile is the dialect of a workbook in a file.
var inFile = dialect{
	goose:   goose.DialectSQLite3,
	steps:   sqliteSteps,
	version: `PRAGMA user_version`, // each step sets it to its own number
	rows:    1,
	create:  createFile,
	open:    openFile,
	older:   olderFile,
	opened:  bringIn,
	stands:  fileStands,
	words:   sqliteWords,
	tables:  sqliteTables,
	whole:   wholeFile,
	pages:   pages,
}

var sqliteSteps = migrations("sqlite")

// sqliteTables are the tables, views and triggers, and those of a new workbook.
func sqliteTables(tx *sql.Tx) (have, want []string, err error) {
	if want, err = newFileTables(); err == nil {
		have, err = column(tx, fileTables)
	}
	return have, want, err
}

const fileTables = `SELECT type || ' ' || name || ': ' || ifnull(sql, '') FROM sqlite_schema
	WHERE name NOT LIKE 'sqlite_stat%' ORDER BY 1`

var newFileTables = sync.OnceValues(func() ([]string, error) {
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if err := migrate(db, goose.DialectSQLite3, sqliteSteps); err != nil {
		return nil, err
	}
	return column(db, fileTables)
})

// wholeFile refuses a file that ends early. While the transaction holds the file nobody else changes its size.
func wholeFile(b *Book, tx *sql.Tx) error {
	var pages, size int64
	if err := tx.QueryRow(`SELECT page_count, page_size FROM pragma_page_count, pragma_page_size`).
		Scan(&pages, &size); err != nil {
		return err
	}
	if info, err := os.Stat(cmp.Or(b.copy, b.path)); err == nil && info.Size() < pages*size {
		return fault(b.path, "this workbook is damaged: %d bytes of it are missing. Use a copy", pages*size-info.Size())
	}
	return nil
}

// pages asks SQLite to go through the file.
func pages(path string, tx *sql.Tx) (faults note.Faults, err error) {
	say := func(key string, args ...any) {
		faults = append(faults, note.New(key, args...).At(note.Where{File: path}))
	}
	if mode, err := column(tx, `PRAGMA journal_mode`); err == nil && mode[0] == "wal" {
		say("the latest changes may be in a file beside this one, ending in -wal, since another program set it so; " +
			"opening the workbook where it can be written puts that right")
	}
	found, err := column(tx, `PRAGMA integrity_check`)
	for _, text := range found {
		if text != "ok" {
			say("the file is damaged: %s", text)
		}
	}
	if err != nil {
		return faults, err
	}
	found, err = column(tx, `SELECT "table" || ' ' || ifnull(rowid, '') FROM pragma_foreign_key_check`)
	for _, text := range found {
		say("a row refers to one that is not there: %s", text)
	}
	return faults, err
}

// createFile makes an empty file where none is.
func createFile(path string) (*Book, error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return nil, fault(path, "there is a file of this name already; allowed: a new name")
	}
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fault(path, "cannot be written: there is no such folder; allowed: one that is there")
	}
	if err != nil {
		return nil, fault(path, "cannot be written: %s", reason(err))
	}
	f.Close()
	b, err := connectFile(path, "rw")
	if err != nil {
		os.Remove(path)
		return nil, err
	}
	b.file, _ = os.Stat(path)
	return b, nil
}

// openFile opens a file that is a workbook.
func openFile(path string) (*Book, error) {
	if err := identify(path); err != nil {
		return nil, err
	}
	file, err := os.Stat(path)
	if err != nil {
		return nil, fault(path, "this file could not be read: %s", reason(err))
	}
	b, err := connectFile(path, "rw")
	if err != nil {
		return nil, err
	}
	b.file = file
	return b, nil
}

// fileStands is true while the file that was opened stands at its name.
func fileStands(b *Book) bool {
	info, err := os.Stat(b.path)
	return err == nil && b.file != nil && os.SameFile(info, b.file)
}

// bringIn takes into the file what another program set it to keep in a file beside it, which a mail would leave behind.
// Where nothing can be written it stays so, and is read all the same.
func bringIn(b *Book) {
	if mode, err := column(b.db, `PRAGMA journal_mode`); err == nil && mode[0] != "delete" {
		b.db.Exec(`PRAGMA journal_mode = DELETE`)
	}
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
		return note.Faults{note.NoFile(path)}
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

// connectFile opens the database. Names of columns and the like in the file are not trusted to run code.
// mode is SQLite's: "rw", or "ro" for one that stays as it is.
func connectFile(path, mode string) (*Book, error) {
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
	db.SetMaxOpenConns(2) // one reads while the other waits until it may write
	b := &Book{store: &store{path: path, db: db}}
	if err := db.PingContext(context.Background()); err != nil {
		db.Close()
		return nil, sqliteWords(path, err)
	}
	return b, nil
}

// sqliteWords says in words what SQLite says in codes (https://www.sqlite.org/rescode.html).
func sqliteWords(path string, err error) error {
	var s *sqlite.Error
	if !errors.As(err, &s) {
		return fault(path, "this file could not be read: %s", err.Error())
	}
	switch code := s.Code(); code & 0xff {
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT, sqlite3.SQLITE_ERROR,
		sqlite3.SQLITE_MISMATCH, sqlite3.SQLITE_CONSTRAINT:
		return fault(path, "this workbook is damaged (%s). Use a copy", s.Error())
	case sqlite3.SQLITE_FULL:
		return fault(path, "the disk is full; nothing of this change was kept")
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fault(path, "another program has been writing to this workbook for %d seconds; try again",
			waiting/1000)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
		if code == sqlite3.SQLITE_READONLY_ROLLBACK || code == sqlite3.SQLITE_READONLY_RECOVERY {
			return fault(path, "the last writing was cut short, and here it cannot be put right: the file or its "+
				"folder cannot be written. Copy both this file and the one ending in -journal to a folder that can "+
				"be written")
		}
		return fault(path, "this workbook or its folder cannot be written; no change is kept")
	case sqlite3.SQLITE_CANTOPEN:
		return fault(path, "this workbook or its folder cannot be written; no change is kept")
	case sqlite3.SQLITE_IOERR:
		return fault(path, "the disk does not take or give what is asked of it (%s); nothing of this change was kept",
			s.Error())
	}
	return fault(path, "this file could not be read: %s", s.Error())
}

// olderFile brings a file up to date, after a copy of it has been put beside it; where it cannot be written, a copy of
// it elsewhere is read.
func olderFile(b *Book) error {
	if !b.writes() {
		return b.elsewhere()
	}
	have, err := b.version()
	if err != nil {
		return err
	}
	if err := b.copyTo(b.beside(fmt.Sprintf("version-%d", have))); err != nil {
		return err
	}
	return b.migrated()
}

// writes is false where the file or its folder cannot be written.
func (b *Book) writes() bool {
	tx, err := b.db.Begin()
	if err == nil {
		defer tx.Rollback() // so that nothing has changed
		_, err = tx.Exec(`PRAGMA user_version = -1`)
	}
	var s *sqlite.Error
	return !errors.As(err, &s) || s.Code()&0xff != sqlite3.SQLITE_READONLY && s.Code()&0xff != sqlite3.SQLITE_CANTOPEN
}

// elsewhere reads a copy that is up to date in place of the file.
func (b *Book) elsewhere() error {
	name, err := b.upToDateCopy()
	if err != nil {
		return err
	}
	b.copy = name
	copied, err := connectFile(name, "ro")
	if err != nil {
		return err
	}
	b.db.Close()
	b.db = copied.db
	return nil
}

// upToDateCopy is the name of a copy of this version, in a folder of its own that is the caller's to remove.
func (b *Book) upToDateCopy() (name string, err error) {
	dir, err := os.MkdirTemp("", "spile")
	if err != nil {
		return "", uncopied(b.path, err)
	}
	defer func() {
		if err != nil {
			os.RemoveAll(dir)
		}
	}()
	name = filepath.Join(dir, filepath.Base(b.path))
	if err := b.copyTo(name); err != nil {
		return "", err
	}
	copied, err := connectFile(name, "rw")
	if err != nil {
		return "", err
	}
	return name, b.words(errors.Join(migrate(copied.db, b.goose, b.steps), copied.db.Close()))
}

func uncopied(path string, err error) error {
	return fault(path, "this workbook is of an older version, and no copy of it could be made before bringing it up "+
		"to date (%s); copy it to a folder that can be written", reason(err))
}

// beside is a name, not yet taken, in the workbook's folder.
func (b *Book) beside(what string) string {
	ext := filepath.Ext(b.path)
	stem := strings.TrimSuffix(b.path, ext) + "." + what
	name := stem + ext
	for i := 2; ; i++ {
		if _, err := os.Lstat(name); err != nil {
			return name
		}
		name = fmt.Sprintf("%s-%d%s", stem, i, ext)
	}
}

// copyTo writes a copy of the workbook. It has its name only once it is whole and on the disk.
func (b *Book) copyTo(name string) error {
	part := name + ".part"
	os.Remove(part)
	err := func() error {
		if _, err := b.db.Exec(`VACUUM INTO ?`, part); err != nil {
			return err
		}
		f, err := os.OpenFile(part, os.O_RDWR, 0)
		if err != nil {
			return err
		}
		if err := f.Sync(); err != nil {
			f.Close()
			return err
		}
		if err := f.Close(); err != nil {
			return err
		}
		return os.Rename(part, name)
	}()
	if err != nil {
		os.Remove(part)
		return uncopied(b.path, err)
	}
	return nil
}
