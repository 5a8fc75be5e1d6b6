package paper

import (
	"strings"
	"testing"
)

func TestFontsHoldWhatIsSet(t *testing.T) {
	for s := Regular; s <= Italic; s++ {
		if n := len(s.TTF()); n > 60_000 {
			t.Errorf("cut %d: TTF of %d bytes", s, n)
		}
		if n := len(s.WOFF2()); n > 60_000 {
			t.Errorf("cut %d: WOFF2 of %d bytes", s, n)
		}
		for _, r := range "ÀÂÇÉÈÊËÎÏÔŒÙÛÜŸàâçéèêëîïôœùûüÿ«»’−–—×÷±≥≤≈²³⁰¹⁴⁵⁶⁷⁸⁹½¼°·•…†‡%$€τσβλ\u00a0\u2009\u202f" {
			if _, ok := cuts()[s].advance[r]; !ok {
				t.Errorf("cut %d lacks %q", s, r)
			}
		}
	}
}

func TestFiguresAreTabular(t *testing.T) {
	for s := Regular; s <= Italic; s++ {
		zero := s.Width("0", 10)
		for _, r := range "123456789" {
			if w := s.Width(string(r), 10); w != zero {
				t.Errorf("cut %d: %q is %v wide, 0 is %v", s, r, w, zero)
			}
		}
	}
}

// The width by our table must be that of the library which sets the text.
func TestWidthIsThatOfTheFace(t *testing.T) {
	for s := Regular; s <= Italic; s++ {
		face := s.Face(12)
		for _, text := range []string{"", "Taper", "Chalumeau antiretour à 61,3 %", "−4 ≥ 3 × 10²"} {
			if got, want := s.Width(text, 12), face.Width(text); got-want > 1e-9 || want-got > 1e-9 {
				t.Errorf("cut %d, %q: %v, face says %v", s, text, got, want)
			}
		}
	}
}

func TestLicence(t *testing.T) {
	if !strings.Contains(Licence, "SIL Open Font License, Version 1.1") {
		t.Error("the licence is not the one the fonts are under")
	}
	if strings.Contains(strings.SplitN(Licence, "-----", 2)[0], "Reserved Font Name") {
		t.Error("a reserved name forbids the subset to keep the family's name")
	}
}
