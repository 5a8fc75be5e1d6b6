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
func choose(x []float64, k int) { within(x, 0, len(x)-1, k) }

// many is from how many on a few are looked at first.
const many = 600

// within chooses from lo to hi. Of many, a few around the place sought are chosen from first, so that what parts the
// others lies close to it (Floyd & Rivest 1975, Communications of the ACM 18:173).
func within(x []float64, lo, hi, k int) {
	for lo < hi {
		if hi-lo > many {
			n, i := float64(hi-lo+1), float64(k-lo+1)
			s := math.Pow(n, 2./3) / 2
			spread := math.Copysign(math.Sqrt(math.Log(n)*s*(n-s)/n)/2, i-n/2)
			within(x, max(lo, int(float64(k)-i*s/n+spread)), min(hi, int(float64(k)+(n-i)*s/n+spread)), k)
		}
		pivot := x[k]
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
