// Package paper holds the one font family that pages, figures and printed sheets share, and measures text set in it.
package paper

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"strings"
	"sync"

	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
)

// Family is the CSS name of the family.
const Family = "Literata"

// Style is one of the family's three cuts.
type Style int

const (
	Regular Style = iota
	Bold
	Italic
)

// Licence is the text of the SIL Open Font License under which the fonts are used and passed on.
//
//go:embed OFL.txt
var Licence string

var (
	//go:embed regular.ttf
	regularTTF []byte
	//go:embed bold.ttf
	boldTTF []byte
	//go:embed italic.ttf
	italicTTF []byte
)

// TTF is the cut for measuring and for PDF. It must not be changed.
func (s Style) TTF() []byte { return [][]byte{regularTTF, boldTTF, italicTTF}[s] }

// FaceRule is the CSS rule that brings the style to a page, with the font inside it.
func (s Style) FaceRule() string { return s.rule("woff2", s.WOFF2()) }

// FaceRuleOf is the rule with a font of no letters but those of a text.
func (s Style) FaceRuleOf(text string) string { return s.rule("truetype", s.Cut(text)) }

func (s Style) rule(format string, file []byte) string {
	var b strings.Builder
	weight, slant := "400", "normal"
	switch s {
	case Bold:
		weight = "700"
	case Italic:
		slant = "italic"
	}
	fmt.Fprintf(&b, "@font-face{font-family:%s;font-weight:%s;font-style:%s;font-display:swap;", Family, weight, slant)
	fmt.Fprintf(&b, "src:url(data:font/%s;base64,%s) format(\"%s\")}\n", map[string]string{"woff2": "woff2",
		"truetype": "ttf"}[format], base64.StdEncoding.EncodeToString(file), format)
	return b.String()
}

// Face is the cut at a size, for a vg.Canvas.
func (s Style) Face(size font.Length) font.Face {
	f := font.Font{Typeface: Family, Size: size}
	switch s {
	case Bold:
		f.Weight = xfont.WeightBold
	case Italic:
		f.Style = xfont.StyleItalic
	}
	return font.Face{Font: f, Face: cuts()[s].face}
}

// Width is how wide text is at a size, without kerning. Characters that the font lacks count as its blank box.
func (s Style) Width(text string, size font.Length) font.Length {
	c := &cuts()[s]
	sum := 0
	for _, r := range text {
		a, ok := c.advance[r]
		if !ok {
			a = c.blank
		}
		sum += a
	}
	return size * font.Length(sum) / font.Length(c.em)
}

// cut is a parsed font with the advance of each of its characters, in units of its em.
type cut struct {
	face    *opentype.Font
	em      int
	blank   int
	advance map[rune]int
}

// cuts parses the three fonts once. They are part of the binary: a fault in them is a fault of the build.
var cuts = sync.OnceValue(func() *[3]cut {
	var all [3]cut
	for i := range all {
		face, err := opentype.Parse(Style(i).TTF())
		if err != nil {
			panic(fmt.Sprintf("paper: font %d: %v", i, err))
		}
		em := fixed.Int26_6(face.UnitsPerEm())
		c := cut{face: face, em: int(em), advance: map[rune]int{}}
		var buf sfnt.Buffer
		width := func(g sfnt.GlyphIndex) int {
			a, err := face.GlyphAdvance(&buf, g, em, xfont.HintingNone)
			if err != nil {
				panic(fmt.Sprintf("paper: font %d, glyph %d: %v", i, g, err))
			}
			return int(a)
		}
		c.blank = width(0)
		for r := range rune(0x2300) {
			if g, err := face.GlyphIndex(&buf, r); err == nil && g != 0 {
				c.advance[r] = width(g)
			}
		}
		all[i] = c
	}
	return &all
})
