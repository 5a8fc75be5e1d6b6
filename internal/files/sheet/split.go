package sheet

import (
	"slices"
	"strings"

	"spile/internal/note"
	"spile/internal/trade/gloss"
	"spile/internal/trade/practice"
)

// combined makes one column of a treatment that stands in several: what the spout, the drops and the wash were, or a
// yes under each thing that was done. Each combination is then settled as one word.
func (s *shape) combined() {
	names := s.columns(s.said)
	var parts, done []int
	seen := map[practice.Part]bool{}
	for i, h := range s.said {
		part := practice.PartOf(h)
		switch key, _ := s.set.Guess(h); {
		case h == "":
		case key != "" && s.filled(i, true) && s.each(i, isYesNo):
			done = append(done, i)
		case part != "" && !seen[part] && s.few(i):
			parts = append(parts, i)
			seen[part] = true
		case names[i] == "practice":
			return // which says it all
		}
	}
	for _, i := range parts {
		if h := gloss.Plain(s.said[i]); (h == "treatment" || h == "traitement") && s.tells(i, parts) {
			return // the others describe it
		}
	}
	columns, text := parts, func(h, cell string) string { return h + ": " + cell }
	if len(done) >= 2 {
		columns, text = done, func(h, _ string) string { return h }
	}
	if len(columns) < 2 {
		return
	}
	heads := make([]string, len(columns))
	for k, i := range columns {
		heads[k] = s.said[i]
	}
	for _, r := range s.records {
		var said []string
		for k, i := range columns {
			if c := r.at(i).text; c != "" && (len(done) < 2 || isYes(c)) {
				said = append(said, text(heads[k], c))
			}
		}
		if said == nil && filledCells(texts(r)) > 0 {
			said = []string{"none"}
		}
		first := r.at(columns[0])
		first.text = strings.Join(said, ", ")
		for len(r.cells) <= columns[0] {
			r.cells = append(r.cells, cell{row: r.row})
		}
		r.cells[columns[0]] = first
		for _, i := range slices.Backward(columns[1:]) {
			if i < len(r.cells) {
				r.cells = slices.Delete(r.cells, i, i+1)
			}
		}
	}
	s.said[columns[0]] = "Treatment (" + strings.Join(heads, ", ") + ")"
	for _, i := range slices.Backward(columns[1:]) {
		s.said = slices.Delete(s.said, i, i+1)
	}
	s.note(note.New("what was done stands in several columns, and each combination is one treatment: %s",
		strings.Join(heads, ", ")))
}

// tells is true of a column each word of which goes with one combination of the others.
func (s *shape) tells(i int, others []int) bool {
	with := map[string]string{}
	for _, r := range s.records {
		all := ""
		for _, k := range others {
			all += "\x00" + gloss.Fold(r.at(k).text)
		}
		word := gloss.Fold(r.at(i).text)
		if before, have := with[word]; have && before != all {
			return false
		}
		with[word] = all
	}
	return true
}

// at is the cell of a column; a blank one where the row ends before it.
func (r *record) at(i int) cell {
	if i < len(r.cells) {
		return r.cells[i]
	}
	return cell{row: r.row}
}

// each is true of a column all of whose cells are something.
func (s *shape) each(i int, is func(text string) bool) bool {
	return !slices.ContainsFunc(s.records, func(r *record) bool { return !is(r.at(i).text) })
}

// filled is true of a column with a cell that is filled, or says yes.
func (s *shape) filled(i int, yes bool) bool {
	return slices.ContainsFunc(s.records, func(r *record) bool {
		return r.at(i).text != "" && (!yes || isYes(r.at(i).text))
	})
}

// few is true of a column of a few words, each said more than once or one of at least two.
func (s *shape) few(i int) bool {
	words := map[string]bool{}
	for _, r := range s.records {
		text := r.at(i).text
		if _, _, number := measured(text); number || len(strings.Fields(text)) > 6 {
			return false
		}
		words[gloss.Fold(text)] = true
	}
	return len(words) >= 2 && len(words) <= 12
}

func isYes(text string) bool {
	return slices.Contains([]string{"x", "yes", "y", "oui", "o", "true", "vrai", "1", "✓", "✔"}, gloss.Fold(text))
}

func isYesNo(text string) bool {
	return text == "" || isYes(text) || gloss.Blank(text) ||
		slices.Contains([]string{"no", "n", "non", "false", "faux", "0", "none", "aucun"}, gloss.Fold(text))
}
