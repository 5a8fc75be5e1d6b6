package say

import "testing"

// Between thousands stands a space, and in English a comma; what is none of them stays as it is.
func TestUngrouped(t *testing.T) {
	for _, c := range [][3]string{
		{"en", "2,400", "2400"}, {"en", "1,234,567.5", "1234567.5"}, {"en", "2 400", "2400"}, {"en", "2,40", "2,40"},
		{"en", "24,00", "24,00"}, {"fr", "2 400", "2400"}, {"fr", "2\u00a0400,5", "2400,5"}, {"fr", "−2 400", "−2 400"},
		{"fr", "2\u202f400", "2400"}, {"fr", "2,400", "2,400"}, {"fr", "2 40", "2 40"}, {"fr", "3 16", "3 16"},
	} {
		if got := In(c[0]).Ungrouped(c[1]); got != c[2] {
			t.Errorf("%s: %q is %q, want %q", c[0], c[1], got, c[2])
		}
	}
}
