package compare

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"spile/internal/engine/reml"
	"spile/internal/note"
)

// fitted is the model's fit. Where nothing tells the error, f is nil and beta alone is known.
type fitted struct {
	m        *model
	f        *reml.Fitted
	fittedTo []string  // the names of its components
	beta     []float64 // of the columns kept
	notes    note.List
}

// oneTop is from how many rows on the variances are not looked for anew where practices have gains of their own in each
// season: so many rows leave no second top of the likelihood.
const oneTop = 1000

// fit estimates by REML. Components that the trial cannot have are left out, and said so.
func (m *model) fit() (*fitted, error) {
	out := &fitted{m: m}
	if n, p := m.x.Dims(); n <= p {
		out.say("the trial has %d rows for %d effects: gains are given, but nothing tells their error; more units a "+
			"practice are needed", n, p)
		out.beta = m.leastSquares()
		return out, nil
	}
	components := out.components()
	for {
		of := reml.Model{Y: m.y, X: m.x, Components: components, AtZero: reml.Keep}
		fit := reml.Fit
		if len(m.near) == len(components) && len(m.y) > oneTop {
			fit = func(of reml.Model) (*reml.Fitted, error) { return reml.FitNear(of, m.near) }
		}
		f, err := fit(of)
		if err == nil {
			out.f, out.beta = f, f.Beta
			for _, c := range components {
				out.fittedTo = append(out.fittedTo, c.Name)
			}
			out.notes = append(out.notes, f.Notes...)
			return out, nil
		}
		var fault *reml.Fault
		if !errors.As(err, &fault) {
			return nil, err
		}
		drop, known := out.without(fault)
		switch {
		case !known:
			return nil, note.Faults{fault.Note}
		case drop == "":
			out.beta = m.leastSquares()
			return out, nil
		}
		components = slices.DeleteFunc(components, func(c reml.Component) bool { return c.Name == drop })
	}
}

func (f *fitted) say(key string, args ...any) { f.notes.Add(key, args...) }

// components are those that the trial's rows can tell.
func (f *fitted) components() (list []reml.Component) {
	m := f.m
	blocks, units, n := distinct(m.blocks), distinct(m.ids), len(m.rows)
	switch {
	case blocks == 1:
		if m.rows[0].Block != "" {
			f.say("the trial has one block, so how blocks differ is not known: the answer is for this block")
		}
	case blocks == units && units == n:
		f.say("every unit is a block of its own, so blocks are left out")
	case blocks == units:
		f.say("every block has one unit, so blocks are left out and units stand for them")
	default:
		list = append(list, reml.Grouping("block", m.blocks))
	}
	if units < n {
		list = append(list, reml.Grouping("unit", m.ids))
	}
	return append(list, reml.Identity("residual", n))
}

// without is the component to leave out where a fit fails; "" where nothing tells the error then. What is not known to
// come of the trial is false.
func (f *fitted) without(fault *reml.Fault) (drop string, known bool) {
	lost := func(name string) bool { return slices.Contains(fault.Components, name) }
	switch {
	case fault.Kind == reml.Idle && lost("unit"):
		f.say("each practice has one unit, so what the practice does cannot be told from what the unit is: gains are " +
			"given, but nothing tells their error")
		return "", true
	case fault.Kind == reml.Idle && lost("block"):
		f.say("each practice has blocks of its own, so what the practice does cannot be told from what the block is: " +
			"blocks are left out, and the intervals are too short if blocks differ")
		return "block", true
	case fault.Kind == reml.Confounded && lost("block"):
		f.say("how blocks differ cannot be told from how units differ, so blocks are left out")
		return "block", true
	case fault.Kind == reml.Confounded && lost("unit"):
		f.say("how units differ cannot be told from how they vary between seasons, so units are left out")
		return "unit", true
	case fault.Kind == reml.ExactFit:
		f.say("practices, seasons and units explain every yield exactly: gains are given, but nothing is left to " +
			"tell their error")
		return "", true
	}
	return "", false
}

// leastSquares is β where nothing tells the error.
func (m *model) leastSquares() []float64 {
	var qr mat.QR
	qr.Factorize(m.x)
	_, p := m.x.Dims()
	b := mat.NewVecDense(p, nil)
	if err := qr.SolveVecTo(b, false, mat.NewVecDense(len(m.y), m.y)); err != nil {
		for i := range p {
			b.SetVec(i, math.NaN())
		}
	}
	return b.RawVector().Data
}

// estimate is a contrast of all columns.
func (f *fitted) estimate(c []float64) reml.Estimate {
	k := f.m.own(c)
	if f.f == nil {
		return reml.Estimate{Value: inner(k, f.beta), SE: math.NaN(), DF: math.NaN()}
	}
	return f.f.Contrast(k, f.m.inference)
}

func (f *fitted) variances() Variances {
	var v Variances
	for i, name := range f.fittedTo {
		x := new(f.f.Theta[i])
		switch name {
		case "block":
			v.Block = x
		case "unit":
			v.Unit = x
		case "residual":
			v.Residual = x
		}
	}
	return v
}
