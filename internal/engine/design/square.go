package design

import (
	"slices"

	"spile/internal/engine/stream"
	"spile/internal/note"
	"spile/internal/trade/trial"
)

// squareRows is how many units a Williams square takes: k, or 2k where k is odd.
func squareRows(k int) int {
	if k%2 == 0 {
		return k
	}
	return 2 * k
}

// williams is the rows of a square in which every practice follows every other equally often (Williams 1949, Aust J Sci
// Res A 2:149): for odd k two squares, the second the mirror of the first.
func williams(k int) [][]int {
	first := make([]int, k) // 0, 1, k−1, 2, k−2, ...
	for i := range first {
		if i%2 == 1 {
			first[i] = (i + 1) / 2
		} else {
			first[i] = (k - i/2) % k
		}
	}
	var rows [][]int
	for shift := range k {
		row := make([]int, k)
		for i, x := range first {
			row[i] = (x + shift) % k
		}
		rows = append(rows, row)
	}
	if k%2 == 1 {
		for _, row := range rows[:k:k] {
			mirror := slices.Clone(row)
			slices.Reverse(mirror)
			rows = append(rows, mirror)
		}
	}
	return rows
}

func (l *drawing) latin(units []trial.Unit) error {
	k := len(l.Practices)
	square := williams(k)
	n := len(square)
	r := stream.New(l.Seed, "layout")
	groups, names := l.groups(units, n)
	var faults note.Faults
	for g, group := range groups {
		if len(group)%n != 0 {
			faults.Add("block %s has %d units; allowed: a multiple of %d, the rows of a square in which each of %d "+
				"practices follows each other", names[g], len(group), n, k)
		}
	}
	if len(groups) == 0 {
		faults.Add("%d units do not make a square of %d", len(units), n)
	}
	if faults != nil {
		return faults
	}
	for g, group := range groups {
		stream.Shuffle(r, group)
		label := make([]int, k)
		for i := range label {
			label[i] = i
		}
		for i, u := range group {
			if i%n == 0 {
				stream.Shuffle(r, label)
			}
			u.Block = names[g]
			for s, x := range square[i%n] {
				l.Places = append(l.Places, trial.Place{Unit: u, Season: l.FirstSeason + s,
					Practice: l.Practices[label[x]]})
			}
		}
	}
	l.Notes.Add("practices change over the seasons, so each may leave something to the next: the orders let that be " +
		"estimated, and the analysis does")
	if l.PlasticAge != nil {
		l.Notes.Add("before each season, put on every unit drops from the common pool, %d seasons old", *l.PlasticAge)
	}
	return nil
}
