package book

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/pressly/goose/v3"

	"spile/internal/files/sheet"
	"spile/internal/note"
	"spile/internal/trade/doubt"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/past"
	"spile/internal/trade/practice"
	"spile/internal/trade/station"
)

// scenario is a workbook with a past: the demo, then changes of every sort.
func scenario(t testing.TB, path string) *Book {
	t.Helper()
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		t.Fatal(err)
	}
	b, err := Create(path)
	if err != nil {
		t.Fatal(err)
	}
	save(t, b, by("Ada", 0), Items(in)...)
	own := study("Own 2021", 22)
	own.Arms[1].Practice = "steam-rinse"
	save(t, b, by("Bo", 1), Keep(practiceOf("steam-rinse")), Keep(own), Keep(study("Odd 2022", 20)))
	e := by("Ada", 2)
	e.Replace = true
	save(t, b, e, Keep(study("Odd 2022", 20.5)))
	save(t, b, by("Ada", 3), Keep(input.Exclusion{Study: "Odd 2022", Reason: "the pump failed in March"}))
	save(t, b, by("Bo", 4), Remove(Study, in.Studies[0].Name))
	if _, err := b.Undo(by("Ada", 0), 5); err != nil {
		t.Fatal(err)
	}
	save(t, b, by("Ada", 6), TrialItems(ownTrial())...)
	return b
}

// whole is the scenario with a rule and a sugarbush: something of every kind there is.
func whole(t testing.TB, path string) *Book {
	t.Helper()
	b := scenario(t, path)
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml", "../../demo/sugarbush-organic.toml")
	if err != nil {
		t.Fatal(err)
	}
	rule := practice.Rule{Wash: practice.WashPeroxide, Place: "US-VT", Organic: new(true), Verdict: practice.HeldBack,
		Reason: "asked, no answer yet", Checked: "2026-02-01"}
	because := by("Bo", 7)
	because.Why = "as told at the  winter meeting"
	save(t, b, because, Keep(in.Bushes[0]), Keep(rule), Keep(station.Hold{Of: station.Study, Name: "North Grove 2026",
		Station: "Fern Gate", Stage: station.Released, From: "2026-11-01"}),
		Keep(doubt.Answer{ID: "0a1b2c3d", About: "500 gallons a tap; is that meant?"}),
		Keep(input.Search("Rapports de trois stations,\nlus en 2024 : « tout » sauf les exposés")),
		Keep(gloss.Sense{Of: "practice", Said: "Témoin, 2019", Means: "unsanitized"}),
		Keep(past.Season{Year: 2019, YieldL: new(71.5), Brix: new(1.9),
			Prices: map[string]float64{"amber": 5.4, "": 4.9}, Source: "own books"}))
	other, err := Create(filepath.Join(t.TempDir(), "other.spile"))
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	save(t, other, because, Keep(input.Search("as seen there")),
		Keep(past.Season{Year: 2020, YieldL: new(70.0), Source: "own books"}))
	synced(t, b, desk(other, "Bo", []Kind{}...))
	return b
}

// kinds are all kinds of things.
var kinds = []Kind{Study, Prices, Practice, Rule, Excluded, Search, Answer, Word, Bush, Past, Holding, Crossed, Trial,
	Reading, Event, Calibration, Tank, Count, Decision, Weather, Sums}

// image is the file of the scenario.
func image(t testing.TB) []byte {
	t.Helper()
	b := scenario(t, filepath.Join(t.TempDir(), "b.spile"))
	b.Close()
	data, err := os.ReadFile(b.path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func put(t testing.TB, data []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "b.spile")
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// refused is true of an error in words.
func refused(t testing.TB, what string, err error, want string) {
	t.Helper()
	var f note.Faults
	if !errors.As(err, &f) || !strings.Contains(err.Error(), want) {
		t.Errorf("%s: %v; wanted a fault with %q", what, err, want)
	}
}

func TestNoWorkbook(t *testing.T) {
	ofFiles(t)
	dir := t.TempDir()
	other := func(name, query string) string {
		path := filepath.Join(dir, name)
		db, err := sql.Open("sqlite", path)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if _, err := db.Exec(query); err != nil {
			t.Fatal(err)
		}
		return path
	}
	newer := scenario(t, filepath.Join(dir, "newer.spile"))
	if _, err := newer.db.Exec(`PRAGMA user_version = 99`); err != nil {
		t.Fatal(err)
	}
	newer.Close()
	for _, tt := range []struct{ path, want string }{
		{filepath.Join(dir, "nothing.spile"), "no such file"},
		{dir, "folder"},
		{put(t, nil), "empty"},
		{put(t, []byte("study,site\nA,B\n")), "not a workbook"},
		{put(t, []byte("SQLite format 3\x00")), "damaged"},
		{put(t, make([]byte, 8192)), "zeros"},
		{other("a.db", `PRAGMA application_id = 7; CREATE TABLE change (id)`), "another program"},
		{other("b.db", `CREATE TABLE change (id)`), "another program"},
		{newer.path, "newer spile"},
	} {
		before, _ := os.ReadFile(tt.path)
		_, err := Open(tt.path)
		refused(t, "open "+tt.want, err, tt.want)
		_, err = Check(tt.path)
		refused(t, "check "+tt.want, err, tt.want)
		if after, _ := os.ReadFile(tt.path); !bytes.Equal(before, after) {
			t.Errorf("%s: the file was changed", tt.want)
		}
	}
}

// A file that ends early is refused, wherever it ends.
func TestTruncated(t *testing.T) {
	ofFiles(t)
	data := image(t)
	for _, n := range []int{1, 15, 16, 99, 100, 1000, 4095, 4096, 4097, 8192, len(data) / 2, len(data) - 4096,
		len(data) - 1} {
		path := put(t, data[:n])
		_, err := Open(path)
		refused(t, fmt.Sprint(n, " bytes"), err, "")
		_, err = Check(path)
		refused(t, fmt.Sprint(n, " bytes"), err, "")
	}
}

// A page of zeros: Check names it, whichever page it is; Open refuses it, or it holds nothing that Open reads.
func TestZeros(t *testing.T) {
	ofFiles(t)
	data := image(t)
	path := put(t, data)
	whole, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	want := contents(t, whole)
	whole.Close()
	seen := 0
	for at := 0; at < len(data); at += 4096 {
		hurt := bytes.Clone(data)
		clear(hurt[at : at+4096])
		path := put(t, hurt)
		b, err := Open(path)
		if err == nil {
			got, err := b.Contents()
			if err != nil || !reflect.DeepEqual(inFull(got), want) {
				t.Errorf("page %d of zeros gives other contents, %v", at/4096+1, err)
			}
			b.Close()
		} else {
			refused(t, fmt.Sprint("page ", at/4096+1), err, "")
			seen++
		}
		_, err = Check(path)
		refused(t, fmt.Sprint("page ", at/4096+1), err, "")
	}
	if seen < len(data)/4096/2 {
		t.Errorf("only %d of %d pages of zeros were seen by Open", seen, len(data)/4096)
	}
}

// A byte that is not what it was, anywhere in what people wrote, never gives other contents.
func TestFlippedBytes(t *testing.T) {
	ofFiles(t)
	data := image(t)
	b, err := Open(put(t, data))
	if err != nil {
		t.Fatal(err)
	}
	want := contents(t, b)
	b.Close()
	r := rand.New(rand.NewPCG(1, 2))
	for range 150 {
		hurt := bytes.Clone(data)
		at := 100 + r.IntN(len(hurt)-100)
		hurt[at] ^= byte(1 + r.IntN(255))
		b, err := Open(put(t, hurt))
		if err != nil {
			refused(t, fmt.Sprint("byte ", at), err, "")
			continue
		}
		got, err := b.Contents()
		if err == nil && !reflect.DeepEqual(inFull(got), want) {
			t.Errorf("byte %d changed what the workbook says, unseen", at)
		}
		b.Close()
	}
}

// What was changed behind the workbook's back is named.
func TestTampered(t *testing.T) {
	for _, tt := range []struct{ name, query, want string }{
		{"a body", `DROP TRIGGER version_stays; UPDATE version SET body = replace(body, '"mean":20.5', '"mean":29.5')`,
			"change 3"},
		{"who", `DROP TRIGGER change_stays; UPDATE change SET who = 'Cy' WHERE id = 2`, "change 2"},
		{"a change less", `PRAGMA foreign_keys = 0; DROP TRIGGER change_kept; DELETE FROM change WHERE id = 4`,
			"change 4"},
		{"a version less", `DROP TRIGGER version_kept; DELETE FROM version WHERE change = 2 AND kind = 'practice'`,
			"change 2"},
		{"a version more", `INSERT INTO version (id, change, kind, key, body) VALUES (999, 6, 'rule', 'x', '{}')`,
			"change 6"},
		{"the last change", `DROP TRIGGER version_kept; DROP TRIGGER change_kept;
			DELETE FROM version WHERE change = 6; DELETE FROM change WHERE id = 6`, "lacks"},
		{"another's trigger, which is no part of a workbook",
			`CREATE TRIGGER sly AFTER INSERT ON change BEGIN SELECT 1; END`, "sly"},
	} {
		b := scenario(t, somewhere(t))
		if b.dialect == &onServer {
			tt.query = inPostgres.Replace(tt.query)
		}
		for query := range strings.SplitSeq(strings.ReplaceAll(tt.query, "1; END", "1\x00 END"), ";") {
			if _, err := b.db.Exec(strings.ReplaceAll(query, "\x00", ";")); err != nil {
				t.Fatal(tt.name, err)
			}
		}
		b.Close()
		_, err := Check(b.path)
		refused(t, tt.name, err, tt.want)
		// The end of a history that was cut off cleanly cannot be told from one that ends there.
		if tt.want != "lacks" && tt.want != "sly" {
			_, err = Open(b.path)
			refused(t, tt.name, err, tt.want)
		}
	}
}

// inPostgres says for PostgreSQL what SQLite is told.
var inPostgres = strings.NewReplacer(
	"DROP TRIGGER change_kept", "DROP TRIGGER IF EXISTS change_stays ON change",
	"DROP TRIGGER version_kept", "DROP TRIGGER IF EXISTS version_stays ON version",
	"DROP TRIGGER version_stays", "DROP TRIGGER version_stays ON version",
	"DROP TRIGGER change_stays", "DROP TRIGGER change_stays ON change",
	"PRAGMA foreign_keys = 0", "ALTER TABLE version DROP CONSTRAINT version_change_fkey",
	"ON change BEGIN SELECT 1; END", "ON change EXECUTE FUNCTION only_added()",
)

// How the file is written, which nothing else in these tests could tell from a quicker and less careful way.
func TestSettings(t *testing.T) {
	ofFiles(t)
	b := fresh(t)
	for query, want := range map[string]string{
		`PRAGMA journal_mode`: "delete", `PRAGMA synchronous`: "2", `PRAGMA foreign_keys`: "1",
		`PRAGMA busy_timeout`:   fmt.Sprint(waiting),
		`PRAGMA application_id`: fmt.Sprint(application), `PRAGMA user_version`: fmt.Sprint(latest(inFile.steps)),
		`PRAGMA trusted_schema`:  "0",
		`PRAGMA cell_size_check`: "1",
	} {
		if got, err := column(b.db, query); err != nil || got[0] != want {
			t.Errorf("%s: %v, %v; wanted %s", query, got, err, want)
		}
	}
}

// Another program set the file so that a mail would leave the latest changes behind.
func TestWriteAhead(t *testing.T) {
	ofFiles(t)
	b := fresh(t)
	if _, err := b.db.Exec(`PRAGMA journal_mode = WAL`); err != nil {
		t.Fatal(err)
	}
	save(t, b, by("Ada", 0), Keep(study("A", 20)))
	_, err := Check(b.path)
	refused(t, "check", err, "-wal")
	b.Close()
	again, err := Open(b.path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if c := contents(t, again); len(c.Studies) != 1 {
		t.Error("a change is lost")
	}
	if _, err := os.Stat(b.path + "-wal"); err == nil {
		t.Error("the latest changes are still beside the file")
	}
	sound(t, b.path)
}

// dialectTo is the dialect of a workbook with a version of the format to come, to try the way there.
func dialectTo(path, next string) *dialect {
	d := *dialectOf(path)
	to := latest(d.steps) + 1
	if d.goose == goose.DialectSQLite3 {
		next += fmt.Sprintf(" PRAGMA user_version = %d;", to)
	}
	all := fstest.MapFS{fmt.Sprintf("%05d_more.sql", to): {Data: fmt.Append(nil, "-- +goose Up\n", next)}}
	files, _ := fs.Glob(d.steps, "*.sql")
	for _, name := range files {
		data, err := fs.ReadFile(d.steps, name)
		if err != nil {
			panic(err)
		}
		all[name] = &fstest.MapFile{Data: data}
	}
	d.steps = all
	return &d
}

func TestMigration(t *testing.T) {
	path := somewhere(t)
	old := scenario(t, path)
	want := contents(t, old)
	old.Close()

	// One that fails leaves the workbook as it was.
	failing := dialectTo(path, "CREATE TABLE more (id INTEGER PRIMARY KEY); INSERT INTO nowhere VALUES (1);")
	if _, err := open(path, failing); err == nil {
		t.Error("a failed step went unsaid")
	}
	sound(t, path)
	dir := filepath.Dir(path)
	copyName := filepath.Join(dir, fmt.Sprintf("b.version-%d.spile", latest(inFile.steps)))
	os.Remove(copyName)

	more := dialectTo(path, "CREATE TABLE more (id INTEGER PRIMARY KEY);")
	for range 2 {
		b, err := open(path, more)
		if err != nil {
			t.Fatal(err)
		}
		if got := contents(t, b); !reflect.DeepEqual(got, want) {
			t.Error("other contents after the step")
		}
		save(t, b, by("Ada", b.now.head), Keep(study(fmt.Sprint("After ", b.now.head), 20)))
		want = contents(t, b)
		b.Close()
	}
	// This version, which knows nothing of the step, refuses what it made.
	_, err := Open(path)
	refused(t, "newer", err, "newer spile")
	_, err = Check(path)
	refused(t, "newer", err, "newer spile")

	ofFiles(t)
	files, _ := filepath.Glob(filepath.Join(dir, "*"))
	if len(files) != 2 {
		t.Errorf("%v: wanted the workbook and one copy", files)
	}
	copied, err := Open(copyName)
	if err != nil {
		t.Fatal(err)
	}
	if c := contents(t, copied); c.Change != 7 {
		t.Errorf("the copy stands at change %d", c.Change)
	}
	copied.Close()
	sound(t, copied.path)
}

// The workbooks of every release open, and say what they said: format-N was written by the first spile of that format,
// format-N-whole by the last. SPILE_KEEP=1 writes the latter of this one.
func TestReleases(t *testing.T) {
	ofFiles(t)
	now := fmt.Sprintf("testdata/format-%d-whole.spile", latest(inFile.steps))
	if os.Getenv("SPILE_KEEP") != "" {
		os.Remove(now)
		whole(t, now).Close()
	}
	written := whole(t, filepath.Join(t.TempDir(), filepath.Base(now)))
	defer written.Close()
	have := map[Kind]bool{}
	for _, v := range written.now.live() {
		have[v.kind] = true
	}
	have[Reading] = len(written.now.shelves) > 0
	for _, k := range kinds {
		if !have[k] {
			t.Errorf("no %s is in the workbook that is kept for later", k)
		}
	}
	for path, want := range map[string]struct{ change, trials, bushes int }{ // the first format knew of no trials
		"testdata/format-1.spile": {6, 0, 0}, "testdata/format-2.spile": {7, 1, 0},
		"testdata/format-2-whole.spile": {8, 1, 1}, "testdata/format-3-whole.spile": {8, 1, 1},
		"testdata/format-4-whole.spile": {8, 1, 1}, "testdata/format-5-whole.spile": {8, 1, 1},
		"testdata/format-6-whole.spile": {8, 1, 1}, now: {10, 1, 1},
	} {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		copied := filepath.Join(t.TempDir(), filepath.Base(path)) // since opening may bring it up to date
		if err := os.WriteFile(copied, data, 0o644); err != nil {
			t.Fatal(err)
		}
		sound(t, copied)
		b, err := Open(copied)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			continue
		}
		c := contents(t, b)
		if int(c.Change) != want.change || len(c.Trials) != want.trials || len(c.Bushes) != want.bushes ||
			len(c.Studies) != 37 || c.Prices == nil ||
			c.Prices.Currency != "USD" || len(c.Own()) != 1 || len(c.Excluded) != 1 || len(c.Practices) != 10 {
			t.Errorf("%s: change %d, %d studies, prices %v, practices %v, excluded %v", path, c.Change, len(c.Studies),
				c.Prices != nil, c.Practices, c.Excluded)
		}
		b.Close()
		sound(t, copied)
	}
	kept, _ := filepath.Glob("testdata/format-*.spile")
	for n := range latest(inFile.steps) {
		if !slices.ContainsFunc(kept,
			func(path string) bool { return strings.HasPrefix(path, fmt.Sprintf("testdata/format-%d", n+1)) }) {
			t.Errorf("no workbook of format %d is kept", n+1)
		}
	}
	if len(kept) != latest(inFile.steps)+1 {
		t.Errorf("%v are kept, and not all are opened", kept)
	}
}

func FuzzOpen(f *testing.F) {
	ofFiles(f)
	b := fresh(f)
	save(f, b, by("Ada", 0), Keep(study("A", 20)), Keep(practiceOf("steam-rinse")))
	save(f, b, by("Ada", 1), Remove(Study, "A"))
	b.Close()
	data, err := os.ReadFile(b.path) // small, so that more is tried
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add(data[:4096])
	f.Add([]byte("SQLite format 3\x00"))
	f.Add([]byte("study,site,season,practice\n"))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(dir, fmt.Sprintf("fuzz-%d.spile", os.Getpid()))
		os.Remove(path + "-journal")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		var words note.Faults
		b, err := Open(path)
		if err != nil {
			if !errors.As(err, &words) {
				t.Fatalf("no words: %v", err)
			}
		} else {
			if _, err := b.Contents(); err != nil && !errors.As(err, &words) {
				t.Fatalf("no words: %v", err)
			}
			b.Close()
		}
		if _, err := Check(path); err != nil && !errors.As(err, &words) {
			t.Fatalf("no words: %v", err)
		}
	})
}

// What decodes is written the same way each time, and judged without a panic.
func FuzzBody(f *testing.F) {
	in, err := sheet.Read("../../demo/evidence.csv", "../../demo/prices.toml")
	if err != nil {
		f.Fatal(err)
	}
	for _, i := range append(Items(in), TrialItems(ownTrial())...) {
		text := func(s *string) string {
			if s == nil {
				return ""
			}
			return *s
		}
		f.Add(string(i.kind), *i.body, text(i.place))
	}
	f.Add("rule", `{"verdict":"never","reason":"r","checked":"2026-01-01"}`, "")
	f.Add("practice", `{"key":"k","name":"n","spout":"new","drops":"kept","wash":"none"}`, "")
	f.Add("excluded", `{"study":"A","reason":"r"}`, "")
	f.Fuzz(func(t *testing.T, kind, body, place string) {
		x, err := decode(Kind(kind), body, place)
		if err != nil {
			return
		}
		_, key, body1, place1, err := encode(x)
		if err != nil {
			return
		}
		y, err := decode(Kind(kind), body1, place1)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, body2, place2, _ := encode(y); body1 != body2 || place1 != place2 {
			t.Fatalf("%s then %s", body1, body2)
		}
		v := &version{ref: ref{Kind(kind), key}, body: &body1}
		if _, err := v.faults(in.Practices, ""); err != nil {
			t.Fatal(err)
		}
	})
}
