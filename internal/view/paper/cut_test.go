package paper

import (
	"bytes"
	"reflect"
	"testing"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"pgregory.net/rapid"
)

// A font of some letters draws each of them as the whole font does, as another library reads it, and no other.
func TestCut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom([]Style{Regular, Bold, Italic}).Draw(t, "style")
		all := []rune("abcxyzÀéèêëïçœŒAWQ0123456789%–−$ .,;()½′\u202f\u00a0")
		text := rapid.StringOfN(rapid.SampledFrom(all), 1, 40, -1).Draw(t, "text")
		whole, err := sfnt.Parse(s.TTF())
		if err != nil {
			t.Fatal(err)
		}
		file := s.Cut(text)
		cut, err := sfnt.Parse(file)
		if err != nil {
			t.Fatal(err)
		}
		if len(file) > 4000+400*len(text) {
			t.Errorf("%d letters take %d bytes", len(text), len(file))
		}
		if sum(append(file, make([]byte, -len(file)&3)...)) != 0xB1B0AFBA {
			t.Error("the sum of the file is not that of the standard")
		}
		var buf sfnt.Buffer
		for _, r := range append(all, 'Ž') {
			g, _ := cut.GlyphIndex(&buf, r)
			if used := bytes.ContainsRune([]byte(text), r); used != (g != 0) {
				t.Fatalf("%q used %v, there %v", r, used, g != 0)
			} else if !used {
				continue
			}
			was, _ := whole.GlyphIndex(&buf, r)
			want, err := whole.LoadGlyph(new(sfnt.Buffer), was, fixed.I(1000), nil)
			if err != nil {
				t.Fatal(err)
			}
			got, err := cut.LoadGlyph(new(sfnt.Buffer), g, fixed.I(1000), nil)
			if err != nil || !reflect.DeepEqual(got, want) {
				t.Errorf("%q is drawn otherwise: %v", r, err)
			}
			a, _ := whole.GlyphAdvance(&buf, was, fixed.I(1000), 0)
			if b, _ := cut.GlyphAdvance(&buf, g, fixed.I(1000), 0); a != b {
				t.Errorf("%q is %v wide, not %v", r, b, a)
			}
		}
	})
}
