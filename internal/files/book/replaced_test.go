package book

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What is done to the file while it is open: each is told with its reason, nothing is said to be kept that is not in
// the file that stands there, and once a good workbook stands there it is taken up.
func TestReplacedWhileOpen(t *testing.T) {
	dir := t.TempDir()
	at := filepath.Join(dir, "w.spile")
	b := scenario(t, at)
	was := b.now.head
	b.Close()
	good, err := os.ReadFile(at)
	if err != nil {
		t.Fatal(err)
	}
	write := func(name string, content []byte) {
		t.Helper()
		if err := os.WriteFile(name, content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	over := func(content []byte) { // as programs do that keep folders alike: written beside, then renamed over it
		t.Helper()
		write(filepath.Join(dir, ".part"), content)
		if err := os.Rename(filepath.Join(dir, ".part"), at); err != nil {
			t.Fatal(err)
		}
	}
	other := filepath.Join(t.TempDir(), "o.spile")
	o, err := Create(other)
	if err != nil {
		t.Fatal(err)
	}
	save(t, o, by("Di", 0), Keep(study("Elsewhere 2020", 21)))
	o.Close()
	another, err := os.ReadFile(other)
	if err != nil {
		t.Fatal(err)
	}
	later := filepath.Join(t.TempDir(), "l.spile")
	write(later, good)
	l, err := Open(later)
	if err != nil {
		t.Fatal(err)
	}
	save(t, l, by("Cy", 9), Keep(study("Later 2023", 23)))
	l.Close()
	grown, err := os.ReadFile(later)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		spoil func()
		says  string // "": it is good
		other bool
	}{
		{"deleted", func() { os.Remove(at) }, "no such file", false},
		{"moved away", func() { os.Rename(at, at+".old") }, "no such file", false},
		{"an empty file", func() { over(nil) }, "is empty", false},
		{"a text", func() { over([]byte(strings.Repeat("no workbook ", 90))) }, "not a workbook", false},
		{"half a file", func() { over(good[:len(good)/2]) }, "damaged", false},
		{"cut off where it stands", func() { os.Truncate(at, int64(len(good)/2)) }, "damaged", false},
		{"emptied where it stands", func() { os.Truncate(at, 0) }, "", false},
		{"zeros where it stands", func() { write(at, make([]byte, len(good))) }, "damaged", false},
		{"a folder", func() { os.Remove(at); os.Mkdir(at, 0o755) }, "no file but a folder", false},
		{"the same again", func() { over(good) }, "", false},
		{"one with a change more", func() { over(grown) }, "", false},
		{"another workbook", func() { over(another) }, "", true},
		{"another, where it stands", func() { write(at, another) }, "", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			over(good)
			b, err := Open(at)
			if err != nil {
				t.Fatal(err)
			}
			defer b.Close()
			c.spoil()
			have, err := b.Contents()
			_, saved := b.Save(by("Ada", 8), Keep(study("Lost 2024", 24)))
			_, told := b.History(0, math.MaxInt)
			if c.says == "" && c.name != "emptied where it stands" {
				if err != nil || have.Other != c.other {
					t.Errorf("%v; another: %v", err, have.Other)
				}
				if _, err := Check(at); saved == nil && err != nil {
					t.Error(err)
				}
			} else {
				for _, err := range []error{err, saved, told} {
					if err == nil || !strings.Contains(err.Error(), c.says) {
						t.Errorf("told: %v", err)
					}
				}
			}
			// It is put right.
			os.RemoveAll(at)
			over(good)
			have, err = b.Contents()
			if err != nil || have.Change != was {
				t.Fatalf("put right: change %d, %v", have.Change, err)
			}
			if s, err := b.Save(by("Ada", 8), Keep(study("Kept 2024", 24))); err != nil || s.Change != was+1 {
				t.Errorf("%+v %v", s, err)
			}
			again, err := Open(at)
			if err != nil {
				t.Fatal(err)
			}
			defer again.Close()
			if now, err := again.Contents(); err != nil || now.Change != was+1 {
				t.Errorf("what was said to be kept is not in the file: change %d, %v", now.Change, err)
			}
		})
	}
}
