package book

import (
	"database/sql"
	"io/fs"

	"github.com/pressly/goose/v3"

	"spile/internal/note"
)

// dialect is what a file of SQLite and a schema of PostgreSQL do not have in common. The tables, the rules and every
// query that is not here are the same in both.
type dialect struct {
	goose   goose.Dialect
	steps   fs.FS  // migrations
	version string // query of the format
	write   string // what a transaction that writes does first, so that there is one at a time; "": it begins so
	rows    int    // that one statement adds at the most

	create func(path string) (*Book, error)                   // an empty database where none is
	open   func(path string) (*Book, error)                   // what is there
	older  func(b *Book) error                                // brings one up to date
	stands func(b *Book) bool                                 // what was opened is still what its name leads to
	opened func(b *Book)                                      // what else opening does
	whole  func(b *Book, tx *sql.Tx) error                    // what is asked before anything is read
	pages  func(path string, tx *sql.Tx) (note.Faults, error) // goes through how it is stored
	tables func(tx *sql.Tx) (have, want []string, err error)
	words  func(path string, err error) error // says in words what the engine says in codes
}

// reading is how a transaction reads: one state of the workbook, whatever others write.
var reading = &sql.TxOptions{ReadOnly: true, Isolation: sql.LevelRepeatableRead}

// dialectOf is that of a workbook by its name.
func dialectOf(path string) *dialect {
	if Served(path) {
		return &onServer
	}
	return &inFile
}
