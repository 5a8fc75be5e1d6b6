package show

import (
	"fmt"
	"testing"

	"spile/internal/note"
	"spile/internal/view/say"
)

// Of 300 warnings of one kind a reader sees five, how many more there are, and on request these; each once, and in
// the place of the first.
func TestManyAlikeAreFolded(t *testing.T) {
	v := say.In("en")
	var notes note.List
	for i := range 300 {
		notes.Add("%s stands apart", fmt.Sprint("S", i))
		notes.Add("said once, and again")
	}
	list := Warn(v, notes, Alike)
	if len(list) != 7 {
		t.Fatalf("%d lines, want 5, a sum and one: %v", len(list), list)
	}
	for i, want := range map[int]string{0: "S0 stands apart", 1: "said once, and again", 5: "S4 stands apart",
		6: "and 295 more like it"} {
		if list[i].Text != want {
			t.Errorf("line %d is %q, want %q", i+1, list[i].Text, want)
		}
	}
	if more := list[6].More; len(more) != 295 || more[0] != "S5 stands apart" || more[294] != "S299 stands apart" {
		t.Errorf("behind it stand %d", len(more))
	}
}
