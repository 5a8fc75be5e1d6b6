package mixture

import "testing"

func bench(b *testing.B, table Table, p Prior) {
	for b.Loop() {
		if _, err := Of(table, p); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkStudies35(b *testing.B)        { bench(b, trade(35, 12, 12, false, 1), calm()) }
func BenchmarkAgeing35(b *testing.B)         { bench(b, trade(35, 12, 12, true, 1), calm()) }
func BenchmarkStandingApart35(b *testing.B)  { bench(b, trade(35, 12, 12, false, 1), Default()) }
func BenchmarkApartAndAgeing35(b *testing.B) { bench(b, trade(35, 12, 12, true, 1), Default()) }

func BenchmarkStudies10000(b *testing.B) {
	for _, x := range []struct {
		name  string
		sites int
	}{{"12 sites", 12}, {"one site a study", 10000}} {
		b.Run(x.name, func(b *testing.B) {
			b.ReportAllocs()
			bench(b, trade(10000, x.sites, 12, false, 1), Default())
		})
	}
}

func BenchmarkWithoutOne(b *testing.B) {
	for _, x := range []struct {
		name string
		ages bool
	}{{"35 studies", false}, {"ageing", true}} {
		b.Run(x.name, func(b *testing.B) {
			a := integrated(b, trade(35, 12, 12, x.ages, 1), Default())
			for b.Loop() {
				if _, _, err := a.Without([]int{3}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkMarginals(b *testing.B) {
	a := integrated(b, trade(35, 12, 12, true, 1), Default())
	for b.Loop() {
		for _, p := range []*Posterior{a.Studies, a.Shrunk} {
			for i := range 5 {
				p.Of(lineOf(i)).Quantile(.025)
			}
		}
	}
}

func BenchmarkDraws(b *testing.B) {
	a := integrated(b, trade(35, 12, 12, true, 1), Default())
	lines := []Line{lineOf(0), lineOf(1), lineOf(2), lineOf(3), lineOf(4)}
	for b.Loop() {
		a.Shrunk.Draws(lines, 4000, 1)
	}
}
