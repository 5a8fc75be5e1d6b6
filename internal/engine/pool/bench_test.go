package pool

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"spile/internal/engine/effect"
	"spile/internal/engine/reml"
	"spile/internal/trade/practice"
)

// BenchmarkFit is all of the joint model on a table of the usual size: 35 studies, some fifty rows, ageing inside.
func BenchmarkFit(b *testing.B) {
	e := trade(35, 0.02, 0.01).effects(rand.New(rand.NewPCG(1, 1)))
	for b.Loop() {
		if _, err := Fit(e, practice.Shipped(), kr); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkJointREML is the part that metafor's rma.mv does: one REML fit of the same rows by age.
func BenchmarkJointREML(b *testing.B) {
	r, err := Fit(trade(35, 0.02, 0.01).effects(rand.New(rand.NewPCG(1, 1))), practice.Shipped(), kr)
	if err != nil {
		b.Fatal(err)
	}
	m := r.table.model(r.byAge[0].layout)
	for b.Loop() {
		if _, err := reml.Fit(m); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkFit10000 is 10,000 studies on 12 sites, on 500, and each on its own.
func BenchmarkFit10000(b *testing.B) {
	for _, perSite := range []int{834, 20, 1} {
		b.Run(fmt.Sprint(perSite, " a site"), func(b *testing.B) {
			w := trade(10000, 0.02, 0.01)
			w.perSite = perSite
			e := w.effects(rand.New(rand.NewPCG(1, 1)))
			for b.Loop() {
				if _, err := Fit(e, practice.Shipped(), kr); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkWithoutEach(b *testing.B) {
	for _, n := range []int{35, 200, 10000} {
		b.Run(fmt.Sprint(n, " studies"), func(b *testing.B) {
			w := trade(n, 0.02, 0.01)
			if n == 10000 {
				w.perSite = 20
			}
			r, err := Fit(w.effects(rand.New(rand.NewPCG(1, 1))), practice.Shipped(), kr)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				for _, s := range r.table.studies {
					r.Left(func(x *effect.StudyEffects) bool { return x == s.effects })
				}
			}
		})
	}
}

func BenchmarkDraws(b *testing.B) {
	r, err := Fit(trade(35, 0.02, 0.01).effects(rand.New(rand.NewPCG(1, 1))), practice.Shipped(), Default())
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		r.Draw(4000, 1, at(practice.NewSpout, 0), at(practice.CheckValve, 0), at(practice.NewDrop, 0),
			at(practice.NewDrop, 3))
	}
}
