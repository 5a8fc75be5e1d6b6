package sheet

import (
	"errors"
	"math"
	"os"
	"regexp"
	"testing"

	"spile/internal/note"
	"spile/internal/trade/practice"
)

func TestSeason(t *testing.T) {
	got, err := SeasonOf("s.csv",
		[]byte("unit,block,season,practice,taps,volume_gal,brix,vacuum_inhg\nA1,a,2024,unsanitized,10,150.5,2.1,25\n"+
			"A2,a,2024,new-spout,12,220,,24.5\n"), practice.Shipped())
	if err != nil || len(got.Rows) != 2 {
		t.Fatal(got, err)
	}
	r := got.Rows[0]
	// 231 cubic inches a US gallon: 3.785411784 L (NIST Handbook 44, Appendix C)
	if math.Abs(float64(r.Volume)-150.5*3.785411784) > 1e-9 || r.Taps != 10 || *r.Brix != 2.1 || r.Season != 2024 ||
		r.Block != "a" || got.Rows[1].Brix != nil {
		t.Errorf("%+v", r)
	}
	semicolon, err := SeasonOf("s.csv",
		[]byte("unit;season;practice;taps;volume_l\nA1;2024;unsanitized;10;569,7\nA2;2024;new-spout;12;800,1\n"),
		practice.Shipped())
	if err != nil || semicolon.Rows[0].Volume != 569.7 || len(semicolon.Notes) != 1 {
		t.Errorf("%+v, %v", semicolon, err)
	}
}

func TestSeasonFaults(t *testing.T) {
	for _, c := range []struct {
		name, text string
		faults     int
	}{
		{"empty", "", 1},
		{"header only", "unit,season,practice,taps,volume_l\n", 1},
		{"no volume", "unit,season,practice,taps\n1,2024,unsanitized,5\n", 1},
		{"all at once", "unit,block,season,practice,taps,volume_l\n1,a,2024,unsanitised,0,12 L\n" +
			",a,24,new-spout,5.5,-3\n2,a,2024,new-spout,5,1e308\n2,a,2024,new-spout,5,NaN\n", 10},
		{"two volumes", "unit,season,practice,taps,volume_l,volume_gal\n1,2024,unsanitized,5,60,20\n" +
			"2,2024,new-spout,5,60,\n", 1},
		{"one practice", "unit,season,practice,taps,volume_l\n1,2024,unsanitized,5,60\n2,2024,unsanitized,5,60\n", 1},
	} {
		_, err := SeasonOf("s.csv", []byte(c.text), practice.Shipped())
		var faults note.Faults
		if !errors.As(err, &faults) || len(faults) != c.faults {
			t.Errorf("%s: %d faults, want %d:\n%v", c.name, len(faults), c.faults, err)
		}
	}
}

// The example of a season table in docs/data.md can be read.
func TestSeasonPage(t *testing.T) {
	page, err := os.ReadFile("../../../docs/data.md")
	if err != nil {
		t.Fatal(err)
	}
	example := regexp.MustCompile("(?s)```text\n(unit,.*?)```").FindSubmatch(page)
	if example == nil {
		t.Fatal("no example of a season table")
	}
	if got, err := SeasonOf("example.csv", example[1], practice.Shipped()); err != nil || len(got.Rows) != 6 ||
		len(got.Notes) != 0 {
		t.Errorf("the example reads as %+v, %v", got, err)
	}
}

func TestUnitList(t *testing.T) {
	got, _, err := UnitsOf("u.csv",
		[]byte("unit,block,chamber,species,diameter_in,taps\nT1,a,c1,sugar maple,10,2\nT2,a,c1,red maple,,1\n"))
	// 25.4 mm an inch
	if err != nil || len(got) != 2 || math.Abs(got[0].Diameter-25.4) > 1e-9 || got[0].Taps != 2 ||
		got[1].Chamber != "c1" {
		t.Errorf("%+v, %v", got, err)
	}
	for text, n := range map[string]int{
		"tag,taps\n1,2\n": 1, "unit\n": 1, "unit,taps,kind,diameter_cm\n1,0,bush,-3\n1,2.5,tree,x\n": 6,
	} {
		_, _, err := UnitsOf("u.csv", []byte(text))
		var faults note.Faults
		if !errors.As(err, &faults) || len(faults) != n {
			t.Errorf("%q: want %d faults, got %v", text, n, err)
		}
	}
}

func FuzzUnitList(f *testing.F) {
	f.Add("unit,block,chamber,species,diameter_in,taps\nT1,a,c1,sugar maple,10,2\n")
	f.Fuzz(func(t *testing.T, text string) {
		got, _, err := UnitsOf("u.csv", []byte(text))
		if (err == nil) != (len(got) > 0) {
			t.Fatalf("%d units, %v", len(got), err)
		}
	})
}

func FuzzSeason(f *testing.F) {
	f.Add("unit,block,season,practice,taps,volume_gal,brix\nA1,a,2024,unsanitized,10,150.5,2.1\n" +
		"A2,a,2024,new-spout,12,220,\n")
	f.Add("unit;season;practice;taps;volume_l\nA1;2024;unsanitized;10;569,7\n")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := SeasonOf("s.csv", []byte(text), practice.Shipped())
		if err != nil && got.Rows != nil {
			t.Fatal("rows beside faults")
		}
		for _, r := range got.Rows {
			if !(r.Volume > 0) || !(r.Taps >= 1) {
				t.Fatalf("%+v passes", r)
			}
		}
	})
}
