package sheet

import (
	"slices"
	"strings"

	"spile/internal/note"
)

// An XLSX file is refused where it unpacks to more than maxUnzipped, before it is unpacked: ten thousand arms take some
// 7 MiB. A table holds no more than maxCells cells with something in them.
const (
	maxUnzipped = 48 << 20
	maxCells    = 1_000_000
	maxMerged   = 10_000
)

// spreadsheetName parts the name of an XLSX file from that of the sheet behind it: FILE.xlsx#Sheet.
func spreadsheetName(path string) (file, sheet string, ok bool) {
	low := strings.ToLower(path)
	if strings.HasSuffix(low, ".xlsx") {
		return path, "", true
	}
	if i := strings.LastIndex(low, ".xlsx#"); i >= 0 {
		return path[:i+5], path[i+6:], true
	}
	return "", "", false
}

// area is a range of merged cells, its edges counted from 1.
type area struct{ left, top, right, bottom int }

// ownColumns are those in which each arm has a value of its own: a value merged over several rows may not be copied.
var ownColumns = []string{"reference", "mean", "n", "sd", "se", "gain_pct", "gain_se_pct", "gain_low_pct",
	"gain_high_pct",
	"volume_gal", "volume_gal_imp", "volume_l", "brix", "taps", "drop_age", "spout_age"}

// spread gives what stands in cells merged over several rows to each of these rows; names are its columns in our words,
// levels how many rows of the sheet its header is.
func spread(h *head, names []string, levels int, records []*record, merged []area, f *faults) {
	filled := 0
	for _, m := range merged {
		if m.bottom < h.row || m.left > len(h.names) || levels > 1 && m.top <= h.row {
			continue
		}
		at := h.where()
		at.Row, at.Column = m.top, h.names[m.left-1]
		if m.top <= h.row {
			if m.right > m.left && at.Column != "" {
				f.add(note.New("the header %s is merged over %d columns; allowed: a cell of its own for every column",
					quote(at.Column), m.right-m.left+1).At(at))
			}
			continue
		}
		i, _ := slices.BinarySearchFunc(records, m.top, func(r *record, row int) int { return r.row - row })
		if i == len(records) || records[i].row != m.top || m.left > len(records[i].cells) {
			continue
		}
		first := records[i].cells[m.left-1]
		switch {
		case first.text == "":
			continue
		case m.right > m.left && filledCells(texts(records[i])) == 1:
			continue // a title or a remark, which stands alone
		case m.right > m.left:
			f.add(note.New("%s stands in a cell merged over %d columns, so which of them it belongs to is not known; "+
				"allowed: a cell for every column",
				quote(first.text), m.right-m.left+1).At(at))
			continue
		case slices.Contains(ownColumns, names[m.left-1]):
			f.add(note.New("%s stands in a cell merged over %d rows, and each row has a value of its own there; "+
				"allowed: a cell for every row",
				quote(first.text), m.bottom-m.top+1).At(at))
			for _, r := range records[i:] {
				if filled++; r.row > m.bottom || filled > maxCells {
					break
				}
				r.lost = true
			}
			continue
		}
		for _, r := range records[i+1:] {
			if filled++; r.row > m.bottom || filled > maxCells {
				break
			}
			for len(r.cells) < m.left {
				r.cells = append(r.cells, cell{row: r.row})
			}
			if r.cells[m.left-1].text == "" {
				r.cells[m.left-1].text = first.text
			}
		}
	}
}
