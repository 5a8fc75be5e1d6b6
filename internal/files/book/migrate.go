package book

import (
	"context"
	"database/sql"
	"embed"
	"io/fs"
	"strconv"
	"strings"

	"github.com/pressly/goose/v3"
)

//go:embed migration
var embedded embed.FS

// migrations are the steps from nothing to a workbook of this version. The number of a step is that of the format it
// leads to.
func migrations(engine string) fs.FS {
	sub, err := fs.Sub(embedded, "migration/"+engine)
	if err != nil {
		panic(err)
	}
	return sub
}

// latest is the version that the steps lead to.
func latest(steps fs.FS) int {
	files, _ := fs.Glob(steps, "*.sql") // sorted
	number, _, _ := strings.Cut(files[len(files)-1], "_")
	n, err := strconv.Atoi(number)
	if err != nil {
		panic(err)
	}
	return n
}

// migrate takes the steps that have not been taken, each whole or not at all.
func migrate(db *sql.DB, engine goose.Dialect, steps fs.FS) error {
	p, err := goose.NewProvider(engine, db, steps, goose.WithTableName("migration"),
		goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	_, err = p.Up(context.Background())
	return err
}

func (b *Book) version() (int, error) {
	var v int
	err := b.db.QueryRow(b.dialect.version).Scan(&v)
	return v, b.words(err)
}

// upToDate brings an older workbook to this version, a file with a copy beside it, and refuses a newer one.
func (b *Book) upToDate() error {
	have, err := b.version()
	want := latest(b.steps)
	switch {
	case err != nil || have == want:
		return err
	case have > want:
		return fault(b.path, "this workbook was written by a newer spile (version %d of the format; this one knows "+
			"%d); allowed: a newer spile", have, want)
	}
	return b.older(b)
}

// migrated takes the steps that are left, unless another process was quicker.
func (b *Book) migrated() error {
	err := migrate(b.db, b.goose, b.steps)
	if now, e := b.version(); e == nil && now == latest(b.steps) {
		return nil
	}
	return b.words(err)
}
