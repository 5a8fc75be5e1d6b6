package plan

import (
	"cmp"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// The best schedule is that of a mixed-integer program of the same sections, which crosscheck/plan.R has lpSolve solve,
// stored or just made: walls of hours and cash, a quota that is paid beyond, and both.
func TestAgainstAMixedIntegerSolver(t *testing.T) {
	dir := cmp.Or(os.Getenv("SPILE_CROSSCHECK_DIR"), "../../crosscheck/testdata")
	files, err := filepath.Glob(filepath.Join(dir, "plan", "*.json"))
	if err != nil || len(files) < 5 {
		t.Fatalf("%d cases, %v", len(files), err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var c struct {
			Discount, Toll []float64
			After, Best    float64
			Caps           [][]float64
			Blocks         []struct {
				Start int
				Left  []float64
				Moves [][][]struct {
					To    int
					Worth float64
					Use   []float64
				}
			}
		}
		if err := json.Unmarshal(data, &c); err != nil {
			t.Fatal(err)
		}
		p := &program{discount: c.Discount, after: c.After, caps: c.Caps}
		for _, x := range c.Toll {
			if x < 0 {
				x = math.Inf(1)
			}
			p.toll = append(p.toll, x)
		}
		for _, x := range c.Blocks {
			b := block{start: x.Start, left: x.Left}
			for _, season := range x.Moves {
				var states [][]move
				for _, state := range season {
					var moves []move
					for i, m := range state {
						moves = append(moves, move{i, m.To, m.Worth, m.Use})
					}
					states = append(states, moves)
				}
				b.moves = append(b.moves, states)
			}
			p.blocks = append(p.blocks, b)
		}
		s := p.solve()
		if math.Abs(s.value-c.Best) > 1e-6*math.Abs(c.Best) {
			t.Errorf("%s: %v within %v, lpSolve %v", filepath.Base(file), s.value, s.bound, c.Best)
		}
	}
}
