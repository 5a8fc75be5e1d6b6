package book

import (
	"database/sql"
	_ "embed"
	"errors"
	"io/fs"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"

	"spile/internal/note"
)

// onServer is the dialect of a workbook in a schema of PostgreSQL: the first of the address's search_path, or public.
var onServer = dialect{
	goose: goose.DialectPostgres,
	steps: postgresSteps,
	// Goose writes a zero before it takes the first step.
	version: `SELECT coalesce(max(version_id), 0) FROM migration WHERE is_applied`,
	// One writer at a time of this schema's table, until its transaction ends; who reads never waits.
	write:  `SELECT pg_advisory_xact_lock('change'::regclass::oid::bigint)`,
	rows:   500,
	create: createServed,
	open:   openServed,
	older:  (*Book).migrated,
	opened: func(*Book) {},
	stands: func(*Book) bool { return true }, // each connection is made anew
	whole:  func(*Book, *sql.Tx) error { return nil },
	pages:  func(string, *sql.Tx) (note.Faults, error) { return nil, nil }, // the server keeps its own checksums
	tables: servedTables,
	words:  postgresWords,
}

var postgresSteps = migrations("postgres")

var schemes = []string{"postgres://", "postgresql://"}

// Served is true of the address of a workbook on a server, as against the name of a file.
func Served(path string) bool {
	return slices.ContainsFunc(schemes, func(s string) bool {
		return len(path) >= len(s) && strings.EqualFold(path[:len(s)], s)
	})
}

// secrets are the addresses of this run as they were given, by how they are shown.
var secrets sync.Map

// unclear is in the place of an address whose password cannot be told from the rest, since it has / or # in it.
const unclear = "postgres://?"

// Hide is an address without its passwords, which are kept for this run alone: whatever says the address cannot tell
// them, and Open still knows them. The name of a file stays as it is.
func Hide(path string) string {
	if !Served(path) || path == unclear {
		return path
	}
	u, err := url.Parse(path)
	if err != nil || u.Opaque != "" || u.Fragment != "" || strings.Contains(u.EscapedPath()+u.RawQuery, "@") {
		return unclear
	}
	shown := *u
	if u.User != nil {
		shown.User = url.User(u.User.Username())
	}
	query := u.Query()
	for _, key := range []string{"password", "sslpassword"} {
		query.Del(key)
	}
	shown.RawQuery = query.Encode()
	if shown.String() != path {
		secrets.Store(shown.String(), path)
	}
	return shown.String()
}

// told is the address as it was given, of one as it is shown.
func told(path string) string {
	if given, ok := secrets.Load(path); ok {
		return given.(string)
	}
	return path
}

// connectServed connects to a server.
func connectServed(path string) (*Book, error) {
	path = Hide(path)
	c, err := pgx.ParseConfig(told(path))
	if err != nil || path == unclear {
		return nil, fault(path, "this is no address of a workbook on a server; allowed: "+
			"postgres://USER@HOST:PORT/DATABASE?search_path=SCHEMA, where signs such as @, / and # are written as "+
			"%%40, %%2F and %%23")
	}
	if c.ConnectTimeout == 0 {
		c.ConnectTimeout = waiting * time.Millisecond
	}
	for key, value := range map[string]string{
		"application_name": "spile", "lock_timeout": strconv.Itoa(waiting), "synchronous_commit": "on",
	} {
		if c.RuntimeParams[key] == "" {
			c.RuntimeParams[key] = value
		}
	}
	b := &Book{store: &store{path: path, db: stdlib.OpenDB(*c)}}
	b.db.SetMaxOpenConns(16)
	if err := b.db.Ping(); err != nil {
		b.db.Close()
		return nil, postgresWords(path, err)
	}
	return b, nil
}

// standing tells whether there is the schema of an address, and a workbook in it.
func (b *Book) standing() (schema, workbook bool, err error) {
	err = b.db.QueryRow(`SELECT current_schema() IS NOT NULL, to_regclass('change') IS NOT NULL AND
		to_regclass('migration') IS NOT NULL`).Scan(&schema, &workbook)
	if err != nil {
		err = postgresWords(b.path, err)
	}
	return schema, workbook, err
}

func openServed(path string) (*Book, error) {
	b, err := connectServed(path)
	if err != nil {
		return nil, err
	}
	_, there, err := b.standing()
	if err == nil && !there {
		err = fault(b.path, "there is no workbook at this address; allowed: one that spile new has made there")
	}
	if err != nil {
		b.db.Close()
		return nil, err
	}
	return b, nil
}

func createServed(path string) (*Book, error) {
	b, err := connectServed(path)
	if err != nil {
		return nil, err
	}
	schema, there, err := b.standing()
	switch {
	case err != nil:
	case there:
		err = fault(b.path, "there is a workbook at this address already; allowed: another database or schema")
	case !schema:
		err = fault(b.path, "there is no such schema; CREATE SCHEMA makes one")
	default:
		err = b.unclaimed()
	}
	if err != nil {
		b.db.Close()
		return nil, err
	}
	return b, nil
}

// ours are what the steps make in a schema.
var ours = regexp.MustCompile(`(?m)^CREATE (?:UNIQUE )?(?:TABLE|VIEW|INDEX) (\w+)`)

// unclaimed refuses a schema in which another program has what the steps would make, before the first of them leaves
// something there.
func (b *Book) unclaimed() error {
	files, err := fs.Glob(postgresSteps, "*.sql")
	var names []string
	for _, file := range files {
		text, _ := fs.ReadFile(postgresSteps, file)
		for _, found := range ours.FindAllStringSubmatch(string(text), -1) {
			names = append(names, found[1])
		}
	}
	var theirs string
	if err == nil {
		err = b.db.QueryRow(`SELECT coalesce(min(relname), '') FROM pg_class WHERE relname = ANY($1) AND
			relnamespace = current_schema()::regnamespace AND to_regclass('migration') IS NULL`, names).Scan(&theirs)
	}
	switch {
	case err != nil:
		return postgresWords(b.path, err)
	case theirs != "":
		return fault(b.path, "this schema holds tables of another program (%s); allowed: a schema of the workbook's "+
			"own", theirs)
	}
	return nil
}

// newServed is what newTables finds in a new workbook; a test writes it.
//
//go:embed migration/postgres.txt
var newServed string

// servedTables are the columns, triggers and functions, and those of a new workbook.
func servedTables(tx *sql.Tx) (have, want []string, err error) {
	have, err = column(tx, `
		SELECT 'column ' || c.relname || '.' || a.attname || ': ' || format_type(a.atttypid, a.atttypmod)
			|| CASE WHEN a.attnotnull THEN ' not null' ELSE '' END
		FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
		WHERE c.relnamespace = current_schema()::regnamespace AND c.relname IN ('change', 'version', 'reading')
		UNION ALL
		SELECT 'trigger ' || t.tgname || ' on ' || c.relname || ': ' || p.proname || ', ' || t.tgtype || t.tgenabled::text
		FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid
		WHERE c.relnamespace = current_schema()::regnamespace AND NOT t.tgisinternal
			AND c.relname IN ('change', 'version', 'reading')
		UNION ALL
		SELECT 'function ' || proname || ': ' || prosrc FROM pg_proc
		WHERE pronamespace = current_schema()::regnamespace AND proname = 'only_added'
		ORDER BY 1`)
	return have, strings.Split(strings.TrimSuffix(newServed, "\n"), "\n"), err
}

// postgresWords says in words what PostgreSQL says in codes (its manual, appendix A).
func postgresWords(path string, err error) error {
	var p *pgconn.PgError
	if !errors.As(err, &p) || brokeOff(p.Code) {
		return fault(path, "the database does not answer, or broke off (%s); look whether the change was kept, and "+
			"try again", reason(err))
	}
	switch p.Code {
	case "28000", "28P01":
		return fault(path, "the database does not let this user in; allowed: a user whom it knows, with the password "+
			"in the address, in PGPASSWORD or in the file .pgpass")
	case "3D000":
		return fault(path, "there is no such database; createdb makes one")
	case "25006", "42501":
		return fault(path, "this user or this server may not do that to the workbook (%s); nothing of this change was "+
			"kept", p.Message)
	case "55P03", "40001", "40P01", "23505":
		return fault(path, "another program has been writing to this workbook for %d seconds; try again", waiting/1000)
	case "57014":
		return fault(path, "the database broke that off (%s); nothing of a change was kept",
			p.Message)
	case "53100":
		return fault(path, "the disk is full; nothing of this change was kept")
	case "42P07", "42710":
		return fault(path, "this schema holds tables of another program (%s); allowed: a schema of the workbook's own",
			p.Message)
	case "42P01", "42703", "XX001", "XX002", "23503", "P0001":
		return fault(path, "this workbook is damaged (%s). Use a copy", p.Message)
	}
	return fault(path, "the database refuses that (%s); nothing of this change was kept", p.Message)
}

// brokeOff: is this the code of a server that is starting, stopping or lost, or of a connection that broke? Its last
// word may reach us before the end of the connection does, also after a commit that was kept. Classes 08 and 57P of the
// manual's appendix A, but for 57P04, a database that was dropped.
func brokeOff(code string) bool {
	return strings.HasPrefix(code, "08") || strings.HasPrefix(code, "57P") && code != "57P04"
}
