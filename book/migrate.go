package book

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/pressly/goose/v3"
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
	p, err := goose.NewProvider(goose.DialectSQLite3, db, steps, goose.WithTableName("migration"), goose.WithDisableGlobalRegistry(true))
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
		return fault(b.path, "this workbook was written by a newer spile (version %d of the format; this one knows %d); allowed: a newer spile", have, want)
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
		return fault(b.path, "this workbook is of an older version, and no copy of it could be made before bringing it up to date (%s); copy it to a folder that can be written", reason(err))
	}
	return nil
}
