package trial

import (
	"spile/internal/note"
	"spile/internal/trade/practice"
)

// Place is one unit in one season.
type Place struct {
	Unit     Unit
	Members  []string // the units on a shared chamber that became this one
	Season   int
	Practice practice.Key
	Code     string
}

// Keep is the used plastic that one practice needs in each season.
type Keep struct {
	Practice      practice.Key
	Spouts, Drops int // used ones, at most in one season
}

// Layout is which unit gets which practice.
type Layout struct {
	Question
	Places []Place // by season, block and unit
	Out    []Unit  // units that are not used
	Keep   []Keep  // used spouts and drops that must not be thrown away or cleaned
	DF     int     // degrees of freedom that will tell the error
	Notes  note.List
}

// Size is how many units the layout uses.
func (l *Layout) Size() int {
	units := map[string]bool{}
	for _, p := range l.Places {
		units[p.Unit.Name] = true
	}
	return len(units)
}

// Records are the seasons of a layout, ready for readings: each unit with its practice, and in later seasons with the
// age that its drops have by then where they were new in the first.
func (l *Layout) Records() []Record {
	var list []Record
	at := map[int]int{}
	for _, p := range l.Places {
		i, have := at[p.Season]
		if !have {
			i = len(list)
			at[p.Season] = i
			list = append(list, Record{Season: p.Season})
		}
		list[i].Plots = append(list[i].Plots, Plot{Unit: p.Unit.Name, Block: p.Unit.Block, Mainline: p.Unit.Mainline,
			Practice: p.Practice, Code: p.Code, Taps: p.Unit.Taps})
	}
	return list
}
