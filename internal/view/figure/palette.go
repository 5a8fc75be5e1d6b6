package figure

import "image/color"

// Colour is a colour of the palette: a CSS variable and its light value.
type Colour struct {
	Var   string // "--ink"
	Light color.NRGBA
}

// RGBA makes a Colour usable on any canvas, in its light value.
func (c Colour) RGBA() (r, g, b, a uint32) { return c.Light.RGBA() }

// The palette: one ink, one accent, quiet paper. Their lightness differs, so that grey print keeps them apart.
var (
	paperColour = Colour{"--paper", color.NRGBA{0xfc, 0xfa, 0xf4, 0xff}}
	ink         = Colour{"--ink", color.NRGBA{0x24, 0x27, 0x2b, 0xff}}
	faint       = Colour{"--faint", color.NRGBA{0x68, 0x64, 0x5b, 0xff}}
	rule        = Colour{"--rule", color.NRGBA{0xe0, 0xda, 0xcc, 0xff}}
	accent      = Colour{"--accent", color.NRGBA{0xa3, 0x3f, 0x16, 0xff}}
	accentSoft  = Colour{"--accent-soft", color.NRGBA{0xf0, 0xd4, 0xc0, 0xff}}
	inkSoft     = Colour{"--ink-soft", color.NRGBA{0xbd, 0xbc, 0xb5, 0xff}}
)

// Palette is every colour that a figure uses, with its light value.
func Palette() []Colour {
	return []Colour{paperColour, ink, faint, rule, accent, accentSoft, inkSoft}
}
