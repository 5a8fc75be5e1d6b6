package show

import (
	"os"
	"testing"

	"spile/say"
)

func TestLook(t *testing.T) {
	w := Of(fixture(), say.In("en"))
	for _, s := range w.Recommendation() {
		println(s)
	}
	println(w.Methods())
	for _, x := range tables(w) {
		x.Terminal(os.Stderr, Width)
		println()
	}
}
