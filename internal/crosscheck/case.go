// Package crosscheck holds what R makes of open and invented data sets, and compares it with what we make of them.
//
// Rscript crosscheck/all.R DIR writes the cases live; those under testdata are what it wrote when they were stored,
// with the versions of R and its packages, so that tests need no R.
package crosscheck

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// Case is one model with its data and R's results.
type Case struct {
	Name     string            `json:"name"`
	Source   string            `json:"source"`
	Versions map[string]string `json:"versions"` // of R and its packages
	REML     bool              `json:"reml"`     // else maximum likelihood
	Effects  []string          `json:"effects"`  // names of the columns of X
	Y        []float64         `json:"y"`
	X        [][]float64       `json:"x"`
	Blocks   []struct {
		Rows []int       `json:"rows"`
		V    [][]float64 `json:"v"`
	} `json:"blocks"`
	Components []struct {
		Name    string `json:"name"`
		Kind    string `json:"kind"` // identity, group or columns
		Group   []int  `json:"group"`
		Columns []struct {
			Rows   []int     `json:"rows"`
			Values []float64 `json:"values"`
		} `json:"columns"`
	} `json:"components"`
	Expect Expect `json:"expect"`
}

// Expect is R's results; what it does not give is nil.
type Expect struct {
	Theta     []float64    `json:"theta"`
	Beta      []float64    `json:"beta"`
	SE        []float64    `json:"se"`      // unadjusted
	LogLik    float64      `json:"loglik"`  // with ½ log|X'X| if restricted
	Q         *float64     `json:"q"`       // at the known covariance alone
	TraceP    *float64     `json:"trace_p"` // of the projection at the known covariance alone
	Profile   [][]*float64 `json:"profile"` // 95 % interval of each component
	Contrasts []struct {   // Kenward-Roger
		C     []float64 `json:"c"`
		Value float64   `json:"value"`
		SE    float64   `json:"se"`
		DF    float64   `json:"df"`
	} `json:"contrasts"`
}

// Read reads a case by its name from a directory.
func Read(dir, name string) (Case, error) {
	var c Case
	raw, err := os.ReadFile(filepath.Join(dir, name+".json"))
	if err != nil {
		return c, err
	}
	if err := json.Unmarshal(raw, &c); err != nil {
		return c, fmt.Errorf("%s: %w", name, err)
	}
	return c, nil
}

// Model is the case as package reml takes it.
func (c Case) Model() reml.Model {
	n, p := len(c.Y), len(c.X[0])
	m := reml.Model{Y: c.Y, X: mat.NewDense(n, p, nil)}
	for i, row := range c.X {
		m.X.SetRow(i, row)
	}
	for _, b := range c.Blocks {
		v := mat.NewSymDense(len(b.Rows), nil)
		for i, row := range b.V {
			for j := i; j < len(row); j++ {
				v.SetSym(i, j, row[j])
			}
		}
		m.V0 = append(m.V0, reml.Block{Rows: b.Rows, V: v})
	}
	if len(m.V0) > 0 {
		m.AtZero = reml.Drop // a pool; a trial keeps every component
	}
	for _, k := range c.Components {
		switch k.Kind {
		case "identity":
			m.Components = append(m.Components, reml.Identity(k.Name, n))
		case "group":
			m.Components = append(m.Components, reml.Grouping(k.Name, k.Group))
		default:
			z := reml.Component{Name: k.Name}
			for _, column := range k.Columns {
				z.Z = append(z.Z, reml.Column{Rows: column.Rows, Values: column.Values})
			}
			m.Components = append(m.Components, z)
		}
	}
	return m
}

// Practices are those of the invented trials, as the columns of their effects have them; the first is the reference.
var Practices = []practice.Key{practice.Unsanitized, practice.NewSpout, practice.CheckValve, practice.NewDrop}

// Rows is the season table of one of the invented trials.
func (c Case) Rows() []trial.UnitSeason {
	var rows []trial.UnitSeason
	for i, y := range c.Y {
		k := 0
		for j := 1; j < len(Practices); j++ {
			if c.X[i][j] == 1 {
				k = j
			}
		}
		rows = append(rows, trial.UnitSeason{
			Unit: fmt.Sprint("u", c.Components[1].Group[i]), Block: fmt.Sprint("b", c.Components[0].Group[i]),
			Season: 2024 + int(c.X[i][len(Practices)]), Practice: Practices[k], Taps: 10,
			Volume: unit.Volume(10 * math.Exp(y)),
		})
	}
	return rows
}
