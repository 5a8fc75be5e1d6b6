package book

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

//go:embed migration/*.sql
var embedded embed.FS

// migrations are the steps from nothing to a workbook of this version. Each sets user_version to its own number.
var migrations = func() fs.FS {
	sub, err := fs.Sub(embedded, "migration")
	if err != nil {
		panic(err)
	}
	return sub
}()

// latest is the version that the steps lead to: each file of them is one.
func latest(steps fs.FS) int {
	files, _ := fs.Glob(steps, "*.sql")
	return len(files)
}

// migrate takes the steps that have not been taken, each whole or not at all.
func migrate(db *sql.DB, steps fs.FS) error {
	p, err := goose.NewProvider(goose.DialectSQLite3, db, steps, goose.WithTableName("migration"),
		goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	_, err = p.Up(context.Background())
	return err
}

func (b *Book) version() (int, error) {
	var v int
	err := b.db.QueryRow(`PRAGMA user_version`).Scan(&v)
	return v, b.words(err)
}

// upToDate brings an older workbook to this version, with a copy beside it, and refuses a newer one.
func (b *Book) upToDate(steps fs.FS) error {
	have, err := b.version()
	want := latest(steps)
	switch {
	case err != nil || have == want:
		return err
	case have > want:
		return fault(b.path, "this workbook was written by a newer spile (version %d of the format; this one knows "+
			"%d); allowed: a newer spile", have, want)
	}
	if !b.writes() {
		return b.elsewhere(steps)
	}
	if err := b.copyTo(b.beside(fmt.Sprintf("version-%d", have))); err != nil {
		return err
	}
	if err := migrate(b.db, steps); err != nil {
		if now, _ := b.version(); now == want {
			return nil // another process was quicker
		}
		return b.words(err)
	}
	return nil
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
func (b *Book) elsewhere(steps fs.FS) error {
	name, err := b.upToDateCopy(steps)
	if err != nil {
		return err
	}
	b.copy = name
	copied, err := connect(name, "ro")
	if err != nil {
		return err
	}
	b.db.Close()
	b.db = copied.db
	return nil
}

// upToDateCopy is the name of a copy of this version, in a folder of its own that is the caller's to remove.
func (b *Book) upToDateCopy(steps fs.FS) (name string, err error) {
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
	copied, err := connect(name, "rw")
	if err != nil {
		return "", err
	}
	return name, b.words(errors.Join(migrate(copied.db, steps), copied.db.Close()))
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
