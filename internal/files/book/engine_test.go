package book

import (
	"database/sql"
	"github.com/google/go-cmp/cmp"
	"github.com/pressly/goose/v3"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// newSchema gives the address of an empty schema where these tests are run over PostgreSQL (SPILE_ENGINE=postgres), and
// is nil where they are run over files.
var newSchema func() (string, error)

// somewhere is where a new workbook can be made: a file in a folder of its own, or a schema.
func somewhere(t testing.TB) string {
	t.Helper()
	if newSchema == nil {
		return filepath.Join(t.TempDir(), "b.spile")
	}
	at, err := newSchema()
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// ofFiles skips what is true of a workbook in a file alone.
func ofFiles(t testing.TB) {
	t.Helper()
	if newSchema != nil {
		t.Skip("of files")
	}
}

// hurry leaves out what makes a change outlast a failure of the power, to be done sooner.
func (b *Book) hurry() {
	if b.dialect == &inFile {
		b.db.Exec(`PRAGMA synchronous = OFF`)
	}
}

// What Check looks for on a server is what a new workbook there has: SPILE_KEEP=1 writes it.
func TestServedTables(t *testing.T) {
	if newSchema == nil {
		t.Skip("of servers")
	}
	tx, err := fresh(t).db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	have, want, err := servedTables(tx)
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(have)
	if os.Getenv("SPILE_KEEP") != "" {
		err = os.WriteFile("migration/postgres.txt", []byte(strings.Join(have, "\n")+"\n"), 0o644)
	}
	if d := cmp.Diff(want, have); d != "" || err != nil {
		t.Error(d, err)
	}
}

// Both engines have the same format, and the same columns in it.
func TestOneFormat(t *testing.T) {
	if a, b := latest(inFile.steps), latest(onServer.steps); a != b {
		t.Errorf("files are of format %d, servers of format %d", a, b)
	}
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if err := migrate(db, goose.DialectSQLite3, sqliteSteps); err != nil {
		t.Fatal(err)
	}
	files, err := column(db, `SELECT 'column ' || m.name || '.' || c.name || ': ' || CASE c.type WHEN 'INTEGER' THEN
		'bigint' ELSE 'text' END || CASE WHEN c."notnull" OR c.pk THEN ' not null' ELSE '' END
		FROM sqlite_schema m, pragma_table_info(m.name) c WHERE m.name IN ('change', 'version', 'reading') ORDER BY 1`)
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(files)
	served := strings.Split(strings.TrimSpace(newServed), "\n")
	served = slices.DeleteFunc(served, func(s string) bool { return !strings.HasPrefix(s, "column ") })
	if d := cmp.Diff(files, served); d != "" {
		t.Error(d)
	}
}
