// Package trees is the room of the workbench for trials of one's own, from the question to what they say: planned and
// followed at the desk, and read at the trees on a phone.
package trees

import (
	"embed"

	"spile/internal/view/web/page"
)

// Files are the templates, styles and scripts of the room.
//
//go:embed *.html *.css *.js
var Files embed.FS

// Open opens the pages of trials over one state of a workbook; phones are those that it is shared with.
func Open(m *page.Routes, s *page.Site, phones *Phones) {
	desk{s, phones}.routes(m)
	field{Site: s, phones: phones}.routes(m)
}
