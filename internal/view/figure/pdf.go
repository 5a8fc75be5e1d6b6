//go:build !js

package figure

import "spile/internal/view/paper"

// PDF is the figure as a document of one page of its own size, its text as text.
func (s *Sheet) PDF(a paper.About) ([]byte, error) {
	if a.Title == "" {
		a.Title = s.title
	}
	doc := paper.NewPDF(a)
	doc.Figure(s.Width, s.Height, s.Alt(), s.DrawOn)
	return doc.Bytes()
}
