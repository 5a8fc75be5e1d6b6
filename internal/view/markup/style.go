package markup

import (
	_ "embed"
	"fmt"
	"strings"
	"sync"

	"spile/internal/view/figure"
	"spile/internal/view/paper"
)

//go:embed style.css
var sheet string

// Stylesheet is the one that pages and report share: the fonts, the colours of the figures by day, and the look.
var Stylesheet = sync.OnceValue(func() string {
	var b strings.Builder
	for _, s := range []paper.Style{paper.Regular, paper.Bold, paper.Italic} {
		b.WriteString(s.FaceRule())
	}
	b.WriteString(":root{")
	for _, c := range figure.Palette() {
		fmt.Fprintf(&b, "%s:#%02x%02x%02x;", c.Var, c.Light.R, c.Light.G, c.Light.B)
	}
	b.WriteString("}\n")
	b.WriteString(sheet)
	return b.String()
})
