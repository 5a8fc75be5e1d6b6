package sheet

import "spile/internal/note"

// In a browser no spreadsheet is read: what reads them is larger than all else.

func sheetNames([]byte) []string { return nil }

func spreadsheet(file, _ string, _ []byte, _ map[string]bool, _ *vocabulary, f *faults) (*head, []*record) {
	f.add(note.New("spreadsheets are not read here; allowed: a CSV file").At(note.Where{File: file}))
	return nil, nil
}
