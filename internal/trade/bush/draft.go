package bush

import "spile/internal/note"

// Draft is a sugarbush as it was written, before it is laid over the prices of a station: what changes there changes
// its plan.
type Draft struct {
	Name  string
	Keys  []Entry // in the order in which they were written
	Where note.Where
	Text  string // the file as it was typed, all of it; "": it was none, or no TOML
}

// Entry is one dotted key of a sugarbush's file, and its value as text.
type Entry struct{ Key, Value string }
