package figure

import "gonum.org/v1/plot/vg"

// Sheet is a figure laid out.
type Sheet struct {
	Width, Height vg.Length // points; 1 CSS px is 3/4 point
}
