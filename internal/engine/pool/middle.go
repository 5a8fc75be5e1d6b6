package pool

import "math"

// Middle is the 2.5th and the 97.5th percentile of draws, as Quantile gives them.
func Middle(x []float64) (low, high float64) {
	return Quantile(x, 0.025), Quantile(x, 0.975)
}

// Quantile of draws, linearly between neighbours (type 7 of Hyndman & Fan 1996, The American Statistician 50:361–365).
// It puts x in another order: only the one place is sought, since budgets ask for thousands of draws at every change of
// a price.
func Quantile(x []float64, p float64) float64 {
	at := p * float64(len(x)-1)
	k := int(at)
	choose(x, k)
	below := x[k]
	if k+1 == len(x) {
		return below
	}
	above := math.Inf(1)
	for _, v := range x[k+1:] {
		above = min(above, v)
	}
	return below + (at-float64(k))*(above-below)
}

// choose puts the k-th smallest of x in its place, with nothing larger before it and nothing smaller after
// (Hoare 1961, Communications of the ACM 4:321–322).
func choose(x []float64, k int) {
	for lo, hi := 0, len(x)-1; lo < hi; {
		pivot := x[lo+(hi-lo)/2]
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for x[j] > pivot {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return
		}
	}
}
