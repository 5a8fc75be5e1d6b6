package reml

import "gonum.org/v1/gonum/mat"

// Heterogeneity is how far the rows disagree beyond their known covariance: all θ at 0.
type Heterogeneity struct {
	Q  float64 // y'Py, P the projection at V0: χ² with DF degrees of freedom where V0 says it all
	DF int     // n − p
	// tr P; the typical sampling variance is DF/TraceP (Higgins & Thompson 2002, Stat Med 21:1539, for any X)
	TraceP float64
}

// Heterogeneity is that of the model's V0, which must cover every row.
func (m Model) Heterogeneity() (Heterogeneity, error) {
	m.Components = []Component{Identity("row", len(m.Y))}
	f, err := At(m, []float64{0})
	if err != nil {
		return Heterogeneity{}, err
	}
	st := f.at
	return Heterogeneity{Q: st.rss, DF: f.Rows - f.Rank, TraceP: st.sum.t[0] - st.traceProduct(st.phi, st.sum.h[0])},
		nil
}

// Contrasts is the covariance of the contrasts in the rows of c (any number × p): c·Φ_A·c' under Kenward-Roger, c·Φ·c'
// under Wald.
func (f *Fitted) Contrasts(c *mat.Dense, inf Inference) *mat.SymDense {
	cov := f.Phi
	if inf == KenwardRoger {
		cov = f.Adjusted()
	}
	return between(c, cov)
}
