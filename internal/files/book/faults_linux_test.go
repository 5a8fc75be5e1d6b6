package book

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"spile/internal/cluster"
	"spile/internal/note"
	"spile/internal/trade/evidence"
)

// The faults that a workbook must survive. A short version of each runs with all tests, the long one with
// SPILE_FAULTS=1 (make faults). The other process in them is this test binary, told by SPILE_BOOK_ROLE what to do.
var long = os.Getenv("SPILE_FAULTS") != ""

func TestMain(m *testing.M) {
	role, path := os.Getenv("SPILE_BOOK_ROLE"), os.Getenv("SPILE_BOOK_PATH")
	switch role {
	case "":
		os.Exit(overEngine(m))
	case "write":
		writer(path)
	case "count":
		counter(path)
	case "read":
		reader(path)
	case "limit":
		limited(path)
	case "sync":
		b, other := must(Open(path)), must(Open(os.Getenv("SPILE_BOOK_OTHER")))
		must(b.Sync(desk(other, "Bo"), syncing("Bo")))
		fmt.Println("done")
	}
	os.Exit(0)
}

// overEngine runs the tests over files, or with SPILE_ENGINE=postgres over a server of their own.
func overEngine(m *testing.M) int {
	if os.Getenv("SPILE_ENGINE") != "postgres" {
		return m.Run()
	}
	s, err := cluster.Start()
	if err != nil {
		fmt.Println(err)
		return 1
	}
	defer s.Stop()
	server, newSchema = s, s.Schema
	return m.Run()
}

var server *cluster.Server

// another is this binary in a role.
func another(t testing.TB, role, path string, more ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(append(os.Environ(), "SPILE_BOOK_ROLE="+role, "SPILE_BOOK_PATH="+told(path)), more...)
	c.Stderr = os.Stderr
	return c
}

func must[T any](x T, err error) T {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(3)
	}
	return x
}

// writer adds studies, one or a hundred a change, until it is killed or its time is over, and says after each change
// how it is called. Nothing but what it has said is confirmed.
func writer(path string) {
	b := must(Open(path))
	name := strconv.Itoa(os.Getpid())
	until := time.Now().Add(duration())
	for n := 0; time.Now().Before(until); n++ {
		var items []Item
		for i := range []int{1, 1, 1, 100}[n%4] {
			items = append(items, Keep(study(fmt.Sprintf("%s-%d-%d", name, n, i), 20)))
		}
		must(b.Save(by(name, 0), items...))
		fmt.Printf("%s-%d-%d\n", name, n, len(items)-1) // its last
	}
	must(0, b.Close())
}

func duration() time.Duration { return must(time.ParseDuration(os.Getenv("SPILE_BOOK_TIME"))) }

// counter adds one to a number in the workbook, again and again; who was overtaken looks again.
func counter(path string) {
	b := must(Open(path))
	until := time.Now().Add(duration())
	done, overtaken := 0, 0
	for time.Now().Before(until) {
		c := must(b.Contents())
		s := c.Studies[0]
		s.Arms = append([]evidence.Arm{}, s.Arms...)
		s.Arms[0].N = new(*s.Arms[0].N + 1)
		e := by(strconv.Itoa(os.Getpid()), c.Change)
		e.Replace = true
		saved, err := b.Save(e, Keep(s))
		if errors.As(err, new(*Conflict)) {
			overtaken++
			continue
		}
		must(0, err)
		if saved.Change == 0 {
			overtaken++ // by one who counted to the same number: it is there, and nothing was added
			continue
		}
		done++
	}
	fmt.Println(done, overtaken)
}

// reader reads where nothing can be written, and says what it could do.
func reader(path string) {
	b := must(Open(path))
	defer b.Close()
	c := must(b.Contents())
	_, err := b.Save(by("Bo", c.Change), Keep(study("More", 20)))
	_, err2 := Check(path)
	fmt.Printf("%d studies\n%v\n%v\n%v\n", len(c.Studies), b.Writable(), err, err2)
}

// limited imports with a limit on the size of files.
func limited(path string) {
	signal.Ignore(syscall.SIGXFSZ)
	b := must(Open(path))
	limit := must(strconv.ParseUint(os.Getenv("SPILE_BOOK_LIMIT"), 10, 64))
	must(0, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: limit, Max: limit}))
	_, err := b.Save(by("Ada", 1), many(200)...)
	fmt.Println(err)
}

func many(n int) []Item {
	items := make([]Item, n)
	for i := range items {
		items[i] = Keep(study(fmt.Sprint("Import ", i), 20))
	}
	return items
}

func TestKilled(t *testing.T) {
	times := 12
	if long {
		times = 200
	}
	r := rand.New(rand.NewPCG(3, 4))
	var path string
	var confirmed []string
	all, hot := 0, 0
	for n := range times {
		if n%20 == 0 {
			path, confirmed = somewhere(t), nil
			b, err := Create(path)
			if err != nil {
				t.Fatal(err)
			}
			b.Close()
		}
		c := another(t, "write", path, "SPILE_BOOK_TIME=1m")
		out, err := c.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewReader(out)
		first, err := lines.ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(r.IntN(40_000)) * time.Microsecond)
		c.Process.Kill() // SIGKILL
		rest, _ := io.ReadAll(lines)
		c.Wait()
		said := first + string(rest)
		said = said[:strings.LastIndexByte(said, '\n')+1]
		confirmed = append(confirmed, strings.Fields(said)...)
		if info, err := os.Stat(path + "-journal"); err == nil && info.Size() > 0 {
			hot++
		}
		b, err := Open(path)
		if err != nil {
			t.Fatalf("kill %d: %v", n, err)
		}
		there := map[string]bool{}
		for _, s := range contents(t, b).Studies {
			there[s.Name] = true
		}
		for name := range there { // a change is there whole, or not at all
			parts := strings.Split(name, "-")
			if k, _ := strconv.Atoi(parts[1]); k%4 == 3 &&
				!(there[parts[0]+"-"+parts[1]+"-0"] && there[parts[0]+"-"+parts[1]+"-99"]) {
				t.Errorf("kill %d: a part of the change of %s", n, name)
			}
		}
		for _, name := range confirmed {
			if !there[name] {
				t.Errorf("kill %d: %s was confirmed and is gone", n, name)
			}
		}
		b.Close()
		sound(t, path)
		all += len(strings.Fields(said))
	}
	t.Logf("%d kills, %d of them in the midst of writing the file; %d confirmed changes, all there", times, hot, all)
}

// full fails an import for want of room, and looks that nothing of it was kept and that it can be done later.
func full(t *testing.T, b *Book, want Contents, what string, err error) {
	t.Helper()
	var f note.Faults
	if !errors.As(err, &f) || !strings.Contains(err.Error(), "disk") ||
		!strings.Contains(err.Error(), "nothing of this change was kept") {
		t.Errorf("%s: %v", what, err)
	}
	got, err := b.Contents()
	if err != nil {
		t.Fatalf("%s: %v", what, err)
	}
	if !reflect.DeepEqual(inFull(got), want) {
		t.Errorf("%s: something of the import was kept", what)
	}
}

// The disk is full at each write of an import, on a disk of its own.
func TestFullDisk(t *testing.T) {
	ofFiles(t)
	if os.Getuid() != 0 {
		t.Skip("only root can mount a small disk; TestFileLimit does the same with a limit on the size of files")
	}
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=2m"); err != nil {
		t.Skipf("no small disk can be mounted here (%v); TestFileLimit does the same with a limit on the size of files",
			err)
	}
	defer syscall.Unmount(dir, syscall.MNT_DETACH)
	step := 7
	if long {
		step = 1
	}
	path, filler := filepath.Join(dir, "b.spile"), filepath.Join(dir, "filler")
	failed := 0
	for pages := 0; ; pages += step {
		os.Remove(path)
		os.Remove(filler)
		b := scenario(t, path)
		want := contents(t, b)
		var disk syscall.Statfs_t
		if err := syscall.Statfs(dir, &disk); err != nil {
			t.Fatal(err)
		}
		room := int(disk.Bfree) - pages
		if err := os.WriteFile(filler, make([]byte, room*int(disk.Bsize)), 0o644); err != nil {
			t.Fatal(err)
		}
		_, err := b.Save(by("Ada", want.Change), many(200)...)
		if err == nil {
			b.Close()
			sound(t, path)
			break
		}
		failed++
		full(t, b, want, fmt.Sprint(pages, " pages left"), err)
		b.Close()
		sound(t, path) // on the full disk still
		if pages == 0 {
			if _, err := Create(filepath.Join(dir, "new.spile")); err == nil || !strings.Contains(err.Error(), "disk") {
				t.Errorf("a new workbook on a full disk: %v", err)
			}
			if _, err := os.Stat(filepath.Join(dir, "new.spile")); err == nil {
				t.Error("a new workbook on a full disk is left half made")
			}
		}
		os.Remove(filler)
		again, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		save(t, again, by("Ada", want.Change), many(200)...)
		again.Close()
		sound(t, path)
	}
	if failed < 5 {
		t.Errorf("the disk was full %d times only", failed)
	}
	t.Logf("the disk was full at %d points of an import: a clear error each time, nothing kept, and kept once there "+
		"was room", failed)
}

// The same with a limit on the size of files, which needs no root.
func TestFileLimit(t *testing.T) {
	ofFiles(t)
	step := int64(16)
	if long {
		step = 1
	}
	path := filepath.Join(t.TempDir(), "b.spile")
	b := fresh(t)
	save(t, b, by("Ada", 0), Keep(study("A", 20)))
	want := contents(t, b)
	b.Close()
	data, err := os.ReadFile(b.path)
	if err != nil {
		t.Fatal(err)
	}
	want.Sources[0].Name = filepath.Base(path)
	failed := 0
	for pages := int64(1); ; pages += step {
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := another(t, "limit", path, fmt.Sprint("SPILE_BOOK_LIMIT=", pages*4096)).Output()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		again, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		if strings.TrimSpace(string(out)) == "<nil>" {
			again.Close()
			break
		}
		failed++
		full(t, again, want, fmt.Sprint(pages, " pages"), note.Faults{note.New("%s", string(out))})
		again.Close()
		sound(t, path)
	}
	if failed < 2 {
		t.Errorf("the limit was met %d times only", failed)
	}
	t.Logf("a limit on the size of files was met at %d points of an import: a clear error each time, nothing kept",
		failed)
}

func TestTwoWriteAtOnce(t *testing.T) {
	span := "700ms"
	if long {
		span = "10s"
	}
	b := fresh(t)
	save(t, b, by("Ada", 0), Keep(study("Counted", 20)))
	var procs [2]*exec.Cmd
	var outs [2]strings.Builder
	run := func(role string) {
		for i := range procs {
			outs[i].Reset()
			procs[i] = another(t, role, b.path, "SPILE_BOOK_TIME="+span)
			procs[i].Stdout = &outs[i]
			if err := procs[i].Start(); err != nil {
				t.Fatal(err)
			}
		}
		for i := range procs {
			if err := procs[i].Wait(); err != nil {
				t.Fatal(err)
			}
		}
	}

	run("write")
	there := map[string]bool{}
	c := contents(t, b)
	for _, s := range c.Studies {
		there[s.Name] = true
	}
	var changes [2]int
	for i := range outs {
		names := strings.Fields(outs[i].String())
		changes[i] = len(names)
		if len(names) == 0 {
			t.Error("one of the two never got to write")
		}
		for _, name := range names {
			if !there[name] {
				t.Errorf("%s was confirmed and is not there", name)
			}
		}
	}
	if want := int64(1 + changes[0] + changes[1]); c.Change != want {
		t.Errorf("%d changes are there, %d were confirmed", c.Change, want)
	}

	before := *c.Studies[0].Arms[0].N
	run("count")
	var added, overtaken int
	for i := range outs {
		var a, o int
		if _, err := fmt.Sscan(outs[i].String(), &a, &o); err != nil {
			t.Fatal(err)
		}
		added, overtaken = added+a, overtaken+o
	}
	if got := *contents(t, b).Studies[0].Arms[0].N; got != before+float64(added) {
		t.Errorf("%v was counted to %v, %d times", before, got, added)
	}
	sound(t, b.path)
	t.Logf("two processes wrote %d and %d changes in %s, all there; the two counted %d times one number, none lost, "+
		"%d times overtaken and told so", changes[0], changes[1], span, added, overtaken)
}

// cutShort is a copy of a workbook and its journal, taken in the midst of writing the file.
func cutShort(t *testing.T, dir string) string {
	t.Helper()
	b := scenario(t, filepath.Join(t.TempDir(), "b.spile"))
	defer b.Close()
	if _, err := b.db.Exec(`PRAGMA cache_size = 1`); err != nil { // so that it writes before it is done
		t.Fatal(err)
	}
	tx, err := b.db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	for id := b.now.head + 1; id < 200; id++ {
		if _, err := tx.Exec(`INSERT INTO change (id, at, who, what, digest) VALUES (?, '', '', ?, '')`, id,
			strings.Repeat("half", 500)); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(dir, "cut.spile")
	for _, end := range []string{"", "-journal"} {
		data, err := os.ReadFile(b.path + end)
		if err != nil || len(data) == 0 {
			t.Fatal("nothing to cut short", err)
		}
		if err := os.WriteFile(path+end, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return path
}

// Where the file or its folder cannot be written it is read all the same, and an edit is refused with words.
func TestReadOnly(t *testing.T) {
	ofFiles(t)
	dir := t.TempDir()
	b := scenario(t, filepath.Join(dir, "b.spile"))
	b.Close()
	older := filepath.Join(dir, "older.spile")
	data, err := os.ReadFile("testdata/format-1.spile")
	if err := errors.Join(err, os.WriteFile(older, data, 0o644)); err != nil {
		t.Fatal(err)
	}
	read := func(what string, c *exec.Cmd) {
		out, err := c.Output()
		lines := strings.Split(string(out), "\n")
		if err != nil || len(lines) < 4 || lines[0] != "37 studies" ||
			!strings.Contains(lines[1], "cannot be written") ||
			!strings.Contains(lines[2], "cannot be written") || lines[3] != "<nil>" {
			t.Errorf("%s: %v\n%s", what, err, out)
		}
	}
	nobody := func(path string) *exec.Cmd {
		c := another(t, "read", path)
		if os.Getuid() == 0 { // who may write everywhere: let one read who may not
			self, err := os.ReadFile(c.Path)
			if err != nil {
				t.Fatal(err)
			}
			public, err := os.MkdirTemp("", "spile-test")
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { os.RemoveAll(public) })
			c.Path = filepath.Join(public, "self")
			if err := errors.Join(os.Chmod(public, 0o755), os.WriteFile(c.Path, self, 0o755),
				os.Chmod(filepath.Dir(dir), 0o755)); err != nil {
				t.Fatal(err)
			}
			c.Dir = "/"
			c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		}
		return c
	}
	chmod := func(file, folder os.FileMode) {
		if err := errors.Join(os.Chmod(b.path, file), os.Chmod(older, file), os.Chmod(dir, folder)); err != nil {
			t.Fatal(err)
		}
	}
	defer chmod(0o644, 0o755)
	for _, path := range []string{b.path, older} {
		chmod(0o444, 0o777)
		read("a read-only file", nobody(path))
		chmod(0o666, 0o555)
		read("a read-only folder", nobody(path))
		chmod(0o444, 0o555)
		read("both", nobody(path))
	}
	if files, _ := filepath.Glob(filepath.Join(dir, "*")); len(files) != 2 {
		t.Errorf("%v: wanted the workbooks alone", files)
	}

	// A writing that was cut short cannot be put right there, and its half is not read.
	chmod(0o666, 0o755)
	cut := cutShort(t, dir)
	chmod(0o666, 0o555)
	c := nobody(cut)
	var said strings.Builder
	c.Stderr = &said
	if err := c.Run(); err == nil || !strings.Contains(said.String(), "cut short") {
		t.Errorf("cut short, read-only: %v %s", err, said.String())
	}
	chmod(0o666, 0o755)
	again, err := Open(cut)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if c := contents(t, again); c.Change != 7 || len(c.Studies) != 37 {
		t.Errorf("what was cut short left change %d and %d studies", c.Change, len(c.Studies))
	}
	sound(t, cut)
}

// Killed at any time, a sync leaves both sides whole, and run again it comes to what it would have come to.
func TestKilledInSync(t *testing.T) {
	times := 8
	if long {
		times = 100
	}
	r := rand.New(rand.NewPCG(5, 6))
	broke := 0
	for n := range times {
		server, file := fresh(t), fresh(t)
		save(t, server, by("Ada", 0), many(60)...)
		synced(t, file, desk(server, "Bo"))
		e := by("Ada", 9)
		e.Replace = true
		var there, here []Item
		for i := range 40 {
			there = append(there, Keep(study(fmt.Sprint("there ", i), 20)))
			here = append(here, Keep(study(fmt.Sprint("here ", i), 20)))
		}
		save(t, server, e, append(there, Keep(season(2019, "there")))...)
		save(t, file, e, append(here, Keep(season(2019, "here")))...)
		c := another(t, "sync", file.path, "SPILE_BOOK_OTHER="+told(server.path))
		var out strings.Builder
		c.Stdout, c.Stderr = &out, nil
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(20_000+r.IntN(180_000)) * time.Microsecond)
		c.Process.Kill()
		c.Wait()
		if out.String() == "" {
			broke++
		}
		if s := synced(t, file, desk(server, "Bo")); len(s.Crossed) != 1 {
			t.Errorf("kill %d: %+v", n, s)
		}
		must(file.Decide(beside(by("Bo", contents(t, file).Change)), Touched{Past, "2019"}, true))
		if s := synced(t, file, desk(server, "Bo")); !s.Same {
			t.Errorf("kill %d: %+v", n, s)
		}
		alikeNow(t, file, server)
		if all := must(server.History(0, math.MaxInt)); len(all) != 3 {
			t.Errorf("kill %d: what came once stands %d times", n, len(all))
		}
		sound(t, file.path)
		sound(t, server.path)
	}
	t.Logf("%d of %d were broken off", broke, times)
}
