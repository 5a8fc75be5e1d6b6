package report

import (
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/view/deck"
	"spile/internal/view/figure"
	"spile/internal/view/paper"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// Talk is a talk on the answer, and who gives it, and where.
type Talk struct{ By string }

func (x Talk) slides(a *advice.Advice, v *say.Voice, tried []string) []show.Slide {
	day := ""
	if p := a.Input.Prices; p != nil {
		if t, err := time.Parse(time.DateOnly, p.AsOf); err == nil {
			day = v.Text("Prices of %s", v.Date(t))
		}
	}
	return show.Of(a, v).Talk(x.By, day, tried)
}

// PDF is the talk as a 16:9 document, every text of it at least 24 points. Its arguments are those of HTML. The same
// talk and arguments give the same bytes.
func (x Talk) PDF(a *advice.Advice, v *say.Voice, version string, tried ...string) ([]byte, error) {
	l := look()
	l.Width, l.Height, l.Side, l.Top, l.Bottom, l.Measure = 960, 540, 30, 20, 8, 880
	l.Titles = paper.Bold // as those of the figures, with whose margins these agree too
	l.Heading, l.Lead, l.Body, l.Caption, l.Table, l.Note, l.Least = 32, 40, 24, 30, 24, 24, 24
	f := paper.NewFlow(About(a, v, version), l)
	for i, s := range x.slides(a, v, tried) {
		if i > 0 {
			f.Break()
		}
		if s.Opening {
			f.Lower(l.Height / 4)
			f.Set(paper.Bold, l.Lead, l.Accent, s.Title)
			f.Space(l.Body)
			for _, text := range s.Points {
				f.Set(paper.Regular, l.Body, l.Ink, text)
			}
			continue
		}
		// as large as keeps it on one line
		size := l.Heading * min(1, 0.99*(l.Width-2*l.Side)/paper.Bold.Width(s.Title, l.Heading))
		f.Set(paper.Bold, max(l.Body, size), l.Ink, s.Title)
		switch {
		case s.Figure != nil:
			sheet := s.Figure.Draw(figure.Slide).Untitled()
			f.Rest(sheet.Width, sheet.Height, l.Side, sheet.Alt(), sheet.DrawOn)
		case s.Table != nil:
			t := slideTable(*s.Table, v)
			t.Title = ""
			f.Table(t)
		default:
			for _, text := range s.Points {
				f.Bullet(text)
			}
		}
	}
	return f.Bytes()
}

// Deck is the talk as a presentation that can be edited: titles and points in placeholders, tables as tables,
// figures as pictures, and for the speaker the numbers, sources and caveats of each slide. Its arguments are those of
// PDF.
func (x Talk) Deck(a *advice.Advice, v *say.Voice, version string, tried ...string) ([]byte, error) {
	about, l := About(a, v, version), look()
	d := deck.Deck{Title: about.Title, Author: x.By, Language: about.Lang, Date: about.Date,
		Look: deck.Look{Paper: figure.Palette()[0].Light, Ink: l.Ink, Faint: l.Faint, Rule: l.Rule, Accent: l.Accent,
			Font: "Georgia"}} // what a program has that lacks the talk's own
	for _, s := range x.slides(a, v, tried) {
		y := deck.Slide{Title: s.Title, Text: s.Points, Notes: s.Notes}
		if s.Figure != nil {
			sheet := s.Figure.Draw(figure.Slide).Untitled()
			png, err := sheet.PNG(144)
			if err != nil {
				return nil, err
			}
			y.Picture = &deck.Picture{SVG: sheet.SVGFile(), PNG: png, Width: float64(sheet.Width),
				Height: float64(sheet.Height), Alt: sheet.Alt()}
		}
		if s.Table != nil {
			y.Table = deckTable(slideTable(*s.Table, v))
		}
		d.Slides = append(d.Slides, y)
	}
	return d.Bytes()
}

// deckTable is a table of a slide, its columns as wide as the longest texts in them ask for.
func deckTable(t paper.Table) *deck.Table {
	out := &deck.Table{Alt: t.Title}
	for i, c := range t.Columns {
		out.Heads, out.Right = append(out.Heads, c.Head), append(out.Right, c.Right)
		widest := paper.Regular.Width(c.Head, 12) / 2 // in two lines
		for word := range strings.SplitSeq(c.Head, " ") {
			widest = max(widest, paper.Regular.Width(word, 12))
		}
		for _, r := range t.Rows {
			widest = max(widest, paper.Regular.Width(r.Cells[i].Text, 12))
		}
		out.Parts = append(out.Parts, float64(min(widest, 400)+20))
	}
	for _, r := range t.Rows {
		var cells []string
		for _, c := range r.Cells {
			cells = append(cells, c.Text)
		}
		out.Rows = append(out.Rows, cells)
	}
	return out
}

// slideTable is a table in one size of text: units and intervals in it, no footnotes.
func slideTable(t show.Table, v *say.Voice) paper.Table {
	out := tableOf(t, v)
	out.Lead, out.Notes = "", nil
	for i, c := range t.Columns {
		out.Columns[i].Head, out.Columns[i].Unit = c.Head(), ""
	}
	for k, r := range t.Rows {
		for i, c := range r.Cells {
			out.Rows[k].Cells[i] = paper.Cell{Text: c.Text}
		}
	}
	return out
}
