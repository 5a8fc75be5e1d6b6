package main

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// Nothing in a text can command a terminal or turn what is read: ECMA-48 for control functions, Unicode Standard
// Annex 9 for direction.
func TestPlainly(t *testing.T) {
	for text, want := range map[string]string{
		"a\tb\n":               "a\tb\n",
		"érable – 31,2 %":      "érable – 31,2 %",
		"\x1b[31mred\x07":      `\u001b[31mred\u0007`,
		"\u009b2J":             `\u009b2J`,
		"\x9b2J":               `\x9b2J`, // the same in eight bits
		"abc\u202etxt.exe":     `abc\u202etxt.exe`,
		"\u2066x\u2069\u200f":  `\u2066x\u2069\u200f`,
		"\r over":              `\u000d over`,
		"a replaced letter: �": "a replaced letter: �",
		"👩‍🌾":                  "👩‍🌾",
	} {
		var b strings.Builder
		n, err := plainly{&b}.Write([]byte(text))
		if b.String() != want || n != len(text) || err != nil {
			t.Errorf("%q is shown as %q (%d of %d, %v)", text, b.String(), n, len(text), err)
		}
	}
}

func FuzzPlainly(f *testing.F) {
	f.Add([]byte("\x1b[0m\u202e\xff"))
	f.Fuzz(func(t *testing.T, text []byte) {
		var b strings.Builder
		plainly{&b}.Write(text)
		if !utf8.ValidString(b.String()) || strings.ContainsFunc(b.String(), hidden) {
			t.Errorf("%q is shown as %q", text, b.String())
		}
	})
}

// Wherever a call holds marks that a terminal obeys, what is said of it shows them: as a command, a flag, its value, a
// file that is not there, as an address. A shell puts what files are called into a call.
func TestTerminalObeysNoCall(t *testing.T) {
	t.Chdir(t.TempDir())
	const evil = "x\x1b[31m\u202e\u009b2J\x07"
	for _, args := range [][]string{
		{evil}, {"--" + evil}, {"gains", "--" + evil}, {"gains", evil}, {"gains", evil + ".csv"},
		{"new", evil + "/a.spile"},
		{"gains", "a.csv", "--place", evil}, {"gains", "a.csv", "--lang", evil}, {"gains", "a.csv", "--units", evil},
		{"check", evil + ".spile"}, {"check", "postgres://" + evil}, {"trial", evil}, {"figure", evil, "a.csv"},
		{"completion", evil}, {"gains", "a.csv", "--against=" + evil}, {"serve", "a.csv", "--addr", evil},
		{"trial", "power", "--practices", evil}, {"help", evil},
	} {
		code, out, errs := call(args...)
		if at := strings.IndexFunc(out+errs, hidden); at >= 0 || code == done {
			t.Errorf("%q: exit %d\n%q", args, code, out+errs)
		}
	}
}
