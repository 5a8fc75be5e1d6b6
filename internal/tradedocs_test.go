package internal_test

import (
	"fmt"
	"strings"

	"spile/internal/trade/evidence"
	"spile/internal/trade/practice"
)

func init() {
	made["columns-of-the-study"] = func() string { return evidenceColumns(evidence.OfStudy, false) }
	made["columns-measured"] = func() string { return evidenceColumns(evidence.Measured, true) }
	made["columns-run"] = func() string { return evidenceColumns(evidence.Run, true) }
	made["caveats"] = caveats
	made["words"] = caveatWords
	made["practices"] = func() string {
		return list("key", "what is done", practice.ShippedWords(), func(w practice.Word) string { return w.Does })
	}
	made["parts-of-practices"] = func() string {
		named := func(w practice.Word) string {
			if w.Does != "" {
				return w.Does
			}
			return w.Name
		}
		return list("spout", "what it is", practice.Words(practice.Spouts), named) + "\n" +
			list("drops", "what becomes of them", practice.Words(practice.DropsList), named) + "\n" +
			list("wash", "what it is", practice.Words(practice.Washes), func(w practice.Word) string {
				if practice.Wash(w.Key).Info().Chemical {
					return named(w) + " (a chemical: held back where no rule permits it)"
				}
				return named(w)
			})
	}
}

// list is a list of the trade as a table.
func list(key, what string, words []practice.Word, says func(practice.Word) string) string {
	var rows [][]string
	for _, w := range words {
		rows = append(rows, []string{"`" + w.Key + "`", says(w)})
	}
	return markdown([]string{key, what}, rows...)
}

// evidenceColumns is a part of the columns of an evidence table.
func evidenceColumns(part evidence.Part, units bool) string {
	head := []string{"column", "what it holds", "allowed"}
	if units {
		head = []string{"column", "what it holds", "unit", "allowed"}
	}
	var rows [][]string
	for _, c := range evidence.Columns {
		if c.Part != part {
			continue
		}
		name := "`" + c.Name + "`"
		if c.Needed {
			name = "**" + name + "**"
		}
		bounds := allowed(c.Column)
		if u := c.Usual; u.High > 0 {
			bounds += fmt.Sprintf("; usual is %s to %s", plain(u.Low), plain(u.High))
		}
		row := []string{name, c.Holds, bounds}
		if units {
			row = []string{name, c.Holds, c.Unit, bounds}
		}
		rows = append(rows, row)
	}
	return markdown(head, rows...)
}

func caveats() string {
	var rows [][]string
	for _, c := range evidence.CaveatList {
		rows = append(rows, []string{"`" + string(c.Key) + "`", c.Footnote, c.Rule})
	}
	return markdown([]string{"caveat", "footnote", "set where"}, rows...)
}

// caveatWords are the words that columns of remarks are searched for.
func caveatWords() string {
	row := func(column string, c evidence.Caveat, p evidence.Phrases) []string {
		words := append([]string{}, p.Words...)
		for _, x := range p.Pairs {
			words = append(words, fmt.Sprintf("%s (beside such as %s)", x.Word,
				strings.Join(append(x.Before[:3:3], x.After[:6]...), ", ")))
		}
		return []string{"`" + column + "`", "`" + string(c) + "`", strings.Join(words, ", "), strings.Join(p.Not, ", ")}
	}
	return markdown([]string{"column", "caveat", "words", "but not"},
		row("weather", evidence.FreakSeason, evidence.FreakWords),
		row("funding", evidence.Interest, evidence.MakerWords))
}
