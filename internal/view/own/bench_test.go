package own_test

import (
	"fmt"
	"testing"

	"spile/internal/view/own"
)

// A number that is changed, ranked again, and how sure that is.
func BenchmarkChanged(b *testing.B) {
	d := desk("en")
	for _, sure := range []bool{false, true} {
		wage := 20.
		b.Run(fmt.Sprint("sure=", sure), func(b *testing.B) {
			for b.Loop() {
				wage += .01
				t := own.Typed{"1.taps": "3200", "wage": fmt.Sprint(wage)}
				if sure {
					d.Rank(t, false)
				}
				d.Rank(t, sure)
			}
		})
	}
}
