package sheet

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"

	"spile/internal/trade/evidence"
	"spile/internal/trade/input"
)

// digest is of what a file says, not of its bytes: a byte order mark, the separator, line ends, quotes, the order of
// columns, comments, blank cells and the way a number is written change nothing.
func digest(file string, records []*record, isNumber func(key string, c cell) bool) input.Source {
	sum := sha256.New()
	for _, r := range records {
		var pairs []string
		for i, c := range r.cells {
			if c.text == "" && c.kind == plain {
				continue
			}
			text := strings.TrimSpace(c.text)
			if isNumber(r.head.names[i], c) {
				if x, _, ok := parse(text, r.comma); ok {
					text = strconv.FormatFloat(x, 'g', -1, 64)
				}
			}
			pairs = append(pairs, strconv.Quote(r.head.names[i])+"="+strconv.Quote(text))
		}
		slices.Sort(pairs)
		sum.Write([]byte(strings.Join(pairs, "\t") + "\n"))
	}
	return input.Source{Name: file, Digest: hex.EncodeToString(sum.Sum(nil))}
}

// textDigest is that of a text.
func textDigest(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// isNumeric is true of the columns of an evidence table that hold numbers.
func isNumeric(key string, _ cell) bool {
	i := slices.IndexFunc(evidence.Columns, func(c evidence.Column) bool { return c.Name == key })
	return i >= 0 && evidence.Columns[i].Kind.Numeric()
}
