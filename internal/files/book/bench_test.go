package book

import (
	"fmt"
	"testing"
)

// gone is a workbook of 10,000 changes, each of one study; every how-manyth of them is of a study not seen before.
func gone(b *testing.B, fresh int) string {
	b.Helper()
	w, err := Create(somewhere(b))
	if err != nil {
		b.Fatal(err)
	}
	defer w.Close()
	w.hurry()
	for n := range 10_000 {
		e := by("Ada", int64(n))
		e.Replace = true
		if _, err := w.Save(e, Keep(study(fmt.Sprint("Study ", n/fresh), 15+float64(n%1000)/100))); err != nil {
			b.Fatal(err)
		}
	}
	return w.path
}

// From the file to a ready input.
func BenchmarkOpen(b *testing.B) {
	for _, tt := range []struct {
		name  string
		fresh int
	}{{"10000changes/100studies", 100}, {"10000changes/10000studies", 1}} {
		b.Run(tt.name, func(b *testing.B) {
			path := gone(b, tt.fresh)
			for b.Loop() {
				w, err := Open(path)
				if err != nil {
					b.Fatal(err)
				}
				in, err := w.Contents()
				if err != nil || len(in.Studies) != 10_000/tt.fresh {
					b.Fatal(len(in.Studies), err)
				}
				w.Close()
			}
		})
	}
}

// One edit of a workbook that is open, to the input that follows from it.
func BenchmarkEdit(b *testing.B) {
	w := scenario(b, somewhere(b))
	defer w.Close()
	n := 0
	for b.Loop() {
		n++
		c, err := w.Contents()
		if err != nil {
			b.Fatal(err)
		}
		e := by("Ada", c.Change)
		e.Replace = true
		if _, err := w.Save(e, Keep(study("Odd 2022", 15+float64(n%1000)/100))); err != nil {
			b.Fatal(err)
		}
		if _, err := w.Contents(); err != nil {
			b.Fatal(err)
		}
	}
}
