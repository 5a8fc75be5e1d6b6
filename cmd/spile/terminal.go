package main

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// plainly writes text to a terminal so that nothing in it moves the cursor, changes colours or turns the direction of
// reading: such marks stand as \\uXXXX, which is also what JSON means by them.
type plainly struct{ io.Writer }

func (p plainly) Write(text []byte) (int, error) {
	if utf8.Valid(text) && !strings.ContainsFunc(string(text), hidden) {
		return p.Writer.Write(text)
	}
	var b strings.Builder
	for i, r := range string(text) {
		switch {
		case r == utf8.RuneError &&
			text[i] != "\ufffd"[0]: // a byte that is no letter: some terminals take it for a command
			fmt.Fprintf(&b, `\x%02x`, text[i])
		case hidden(r):
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	if _, err := io.WriteString(p.Writer, b.String()); err != nil {
		return 0, err
	}
	return len(text), nil
}

// hidden is true of control characters but line breaks and tabs, and of marks that turn the direction of reading
// (Unicode Standard Annex 9, table 2).
func hidden(r rune) bool {
	return r != '\n' && r != '\t' && (unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r))
}
