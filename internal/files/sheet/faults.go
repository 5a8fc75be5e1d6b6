package sheet

import (
	"cmp"
	"slices"

	"spile/internal/note"
)

// shown is how many faults of one reading are listed; the rest are counted.
const shown = 100

// faults gathers all that is wrong.
type faults struct {
	notes note.Faults
	more  int
	hints note.Faults // how to put right what is wrong, behind all of it
	// broken is set where part of a file could not be read at all: what is missing may stand there, and is not
	// counted as missing.
	broken bool

	point, commaAt *note.Where // the first numbers with a decimal point and with a decimal comma
	pointText      string
}

func (f *faults) add(n note.Note) {
	if len(f.notes) < shown {
		f.notes = append(f.notes, n)
	} else {
		f.more++
	}
}

func (f *faults) count() int { return len(f.notes) + f.more }

// missing puts down that something is not there.
func (f *faults) missing(n note.Note) {
	if !f.broken {
		f.add(n)
	}
}

// decimal notes the mark that a number used, and where the first of each stood: a file that writes both 1.5 and 1,5 has
// been put together from two, and one of them may mean a thousand.
func (f *faults) decimal(mark byte, r *record, key, text string) {
	switch {
	case mark == '.' && f.point == nil:
		f.point, f.pointText = new(r.where(key)), text
	case mark == ',' && f.commaAt == nil:
		f.commaAt = new(r.where(key))
	default:
		return
	}
	if f.point != nil && f.commaAt != nil {
		f.add(note.New("numbers are written with a decimal comma here and with a decimal point elsewhere (%s in row "+
			"%d); allowed: one of the two in a file",
			f.pointText, note.Row(f.point.Row)).At(*f.commaAt))
	}
}

// join takes over the faults of another reading.
func (f *faults) join(g *faults) {
	for _, n := range g.notes {
		f.add(n)
	}
	f.more += g.more
	f.hints = append(f.hints, g.hints...)
}

// err is everything wrong, file by file from the top of each, or nil.
func (f *faults) err() error {
	file := map[string]int{}
	for _, n := range f.notes {
		if _, have := file[n.Where.File]; !have {
			file[n.Where.File] = len(file)
		}
	}
	all := slices.Clone(f.notes)
	slices.SortStableFunc(all, func(a, b note.Note) int {
		return cmp.Or(cmp.Compare(file[a.Where.File], file[b.Where.File]), cmp.Compare(a.Where.Row, b.Where.Row))
	})
	if f.more > 0 {
		all = append(all, note.More(f.more))
	}
	if len(all) > 0 {
		all = append(all, f.hints...)
	}
	return all.Err()
}
