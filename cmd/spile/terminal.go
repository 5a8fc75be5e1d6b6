package main

import (
	"fmt"
	"io"
	"strings"
	"unicode"
)

// plainly writes text to a terminal so that nothing in it moves the cursor, changes colours or turns the direction of
// reading: such marks stand as \\uXXXX, which is also what JSON means by them.
type plainly struct{ io.Writer }

func (p plainly) Write(text []byte) (int, error) {
	if !strings.ContainsFunc(string(text), hidden) {
		return p.Writer.Write(text)
	}
	var b strings.Builder
	for _, r := range string(text) {
		if hidden(r) {
			fmt.Fprintf(&b, `\u%04x`, r)
		} else {
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
