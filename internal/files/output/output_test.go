package output

import (
	"archive/zip"
	"bytes"
	"errors"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// samples are contents of every format, each as its own library writes it.
func samples(t testing.TB) map[string][]byte {
	var picture, archive bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 3, 2))); err != nil {
		t.Fatal(err)
	}
	z := zip.NewWriter(&archive)
	f, err := z.Create("a.txt")
	if err != nil {
		t.Fatal(err)
	}
	f.Write([]byte("a"))
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return map[string][]byte{
		"a.svg": []byte("<svg xmlns='http://www.w3.org/2000/svg'/>"), "a.html": []byte("<!doctype html>\n<p>\n"),
		"a.HTM": {},
		"a.pdf": []byte("%PDF-1.3\n%%EOF\n"), "a.png": picture.Bytes(), "a.zip": archive.Bytes(),
		"a.xlsx": archive.Bytes(),
		"a.pptx": archive.Bytes(),
	}
}

func TestMarks(t *testing.T) {
	for name, content := range samples(t) {
		data := marked(name, content)
		if !ours(name, data) {
			t.Errorf("%s: what was written is not told for ours", name)
		}
		if ours(name, content) {
			t.Errorf("%s: content without a mark is taken for ours", name)
		}
		for i := range data {
			bad := bytes.Clone(data)
			bad[i] ^= 1
			if ours(name, bad) {
				t.Errorf("%s: byte %d of %d was changed, and it is taken for ours", name, i, len(data))
			}
		}
	}
	data := samples(t)
	if _, err := png.Decode(bytes.NewReader(marked("a.png", data["a.png"]))); err != nil {
		t.Errorf("a marked PNG cannot be read: %v", err)
	}
	zipped := marked("a.zip", data["a.zip"])
	if r, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped))); err != nil || len(r.File) != 1 {
		t.Errorf("a marked ZIP cannot be read: %v", err)
	}
}

func TestMarkProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		content := rapid.SliceOf(rapid.Byte()).Draw(t, "content")
		for _, name := range []string{"x.svg", "x.pdf"} {
			if !ours(name, marked(name, content)) {
				t.Fatalf("%s of %q", name, content)
			}
		}
		for name := range rooms { // no bytes bring it down
			ours("x"+name, content)
			marked("x"+name, content)
		}
	})
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o640); err != nil {
		t.Fatal(err)
	}
}

func holds(t *testing.T, path, want string) {
	t.Helper()
	got, err := os.ReadFile(path)
	if err != nil || string(got) != want {
		t.Errorf("%s holds %q (%v), want %q", filepath.Base(path), got, err, want)
	}
}

func TestFile(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	own := "study,site\nmine,here\n"
	for name, c := range map[string]struct {
		before string // what stands there; "" nothing
		w      Writer
		ok     bool
	}{
		"none.csv":   {"", Writer{}, true},
		"theirs.csv": {own, Writer{}, false},
		"forced.csv": {own, Writer{Force: true}, true},
		"input.svg":  {string(marked("input.svg", []byte("new"))), Writer{Inputs: []string{at("input.svg")}}, false},
		"same.csv":   {"new", Writer{}, true},
		"theirs.svg": {"<svg/>", Writer{}, false},
		"ours.svg":   {string(marked("ours.svg", []byte("old"))), Writer{}, true},
		"edited.svg": {string(marked("edited.svg", []byte("old"))) + " ", Writer{}, false},
	} {
		if c.before != "" {
			write(t, at(name), c.before)
		}
		err := c.w.File(at(name), []byte("new"))
		if (err == nil) != c.ok {
			t.Errorf("%s: %v", name, err)
		}
		want := c.before
		if c.ok {
			want = string(marked(name, []byte("new")))
		}
		holds(t, at(name), want)
		if info, _ := os.Stat(at(name)); c.before != "" && info.Mode().Perm() != 0o640 {
			t.Errorf("%s: its mode became %v", name, info.Mode())
		}
	}
	if left, _ := filepath.Glob(at(".spile*")); left != nil {
		t.Errorf("left behind: %v", left)
	}
	if err := (Writer{}).File(at("no/folder.csv"), nil); !errors.As(err, new(Unwritten)) {
		t.Errorf("a folder that is not there: %v", err)
	}
	if err := (Writer{Force: true}).File(dir, nil); err == nil || !strings.Contains(err.Error(), "is a folder") {
		t.Errorf("a folder: %v", err)
	}
	write(t, at("real.csv"), "old")
	if err := os.Symlink(at("real.csv"), at("link.csv")); err != nil {
		t.Fatal(err)
	}
	if err := (Writer{Force: true}).File(at("link.csv"), []byte("new")); err != nil {
		t.Fatal(err)
	}
	holds(t, at("real.csv"), "new")
	if info, err := os.Lstat(at("link.csv")); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Error("the link did not stay a link")
	}
}

func TestTry(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "own.svg"), "<svg/>")
	if err := (Writer{}).Try(filepath.Join(dir, "new.svg")); err != nil {
		t.Error(err)
	}
	for _, path := range []string{dir, filepath.Join(dir, "own.svg"), filepath.Join(dir, "none", "new.svg")} {
		if (Writer{}).Try(path) == nil {
			t.Errorf("%s may be written", path)
		}
	}
	if err := (Writer{}).Try(os.DevNull); err != nil {
		t.Errorf("a device: %v", err)
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 {
		t.Errorf("a try left something: %v", entries)
	}
}

func TestFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	run := func(w Writer, content string) error {
		f, err := w.Folder(dir)
		if err != nil {
			return err
		}
		if err := f.Try("a.csv", "sub/b.csv"); err != nil {
			return err
		}
		for _, name := range []string{"a.csv", "sub/b.csv"} {
			if err := f.Write(name, []byte(content)); err != nil {
				return err
			}
		}
		return f.Close()
	}
	a, b := filepath.Join(dir, "a.csv"), filepath.Join(dir, "sub", "b.csv")
	for _, content := range []string{"one", "two"} { // what is unchanged is renewed
		if err := run(Writer{}, content); err != nil {
			t.Fatal(err)
		}
		holds(t, a, content)
		holds(t, b, content)
	}
	write(t, b, "mine")
	f, err := (Writer{}).Folder(dir)
	if err != nil {
		t.Fatal(err)
	}
	if f.Changed("a.csv") || !f.Changed("sub/b.csv") || f.Changed("none.csv") {
		t.Error("which file was changed is not told")
	}
	if err := run(Writer{}, "three"); err == nil || !strings.Contains(err.Error(), "b.csv") {
		t.Errorf("a changed file was written over: %v", err)
	}
	holds(t, a, "two") // nothing was written before it was refused
	holds(t, b, "mine")
	if err := run(Writer{Inputs: []string{dir}}, "three"); err == nil {
		t.Error("the folder that is read was written")
	}
	if err := run(Writer{Force: true, Inputs: []string{dir}}, "four"); err != nil {
		t.Error(err)
	}
	holds(t, b, "four")
	// A stop between the list and the file leaves what is there told for ours.
	f.wrote["a.csv"] = append(f.wrote["a.csv"], strings.Repeat("0", 64))
	if err := f.list(); err != nil {
		t.Fatal(err)
	}
	if err := run(Writer{Force: true}, "five"); err != nil {
		t.Error(err)
	}
	list, _ := os.ReadFile(filepath.Join(dir, List))
	if n := strings.Count(string(list), "\n"); n != 2 {
		t.Errorf("the list has %d lines:\n%s", n, list)
	}
}

func TestIsFolder(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "file"), "")
	if err := os.Mkdir(filepath.Join(dir, "a.b"), 0o755); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]bool{"none": true, "out.doc": false, "a.b": true, "new.data/": true,
		"file": false} {
		if IsFolder(filepath.Join(dir, name)+strings.Repeat("/", strings.Count(name, "/"))) != want {
			t.Errorf("%s is a folder: %v", name, !want)
		}
	}
}
