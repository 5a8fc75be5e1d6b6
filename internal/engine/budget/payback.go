package budget

// Payback is the number, from 1, of the season at whose end all that was spent is back, and stays so; 0 where it is not
// by the last. Money is not discounted.
func Payback(cash []float64) (season int) {
	sum := 0.
	for s, x := range cash {
		switch sum += x; {
		case sum < -1e-9:
			season = 0
		case season == 0:
			season = s + 1
		}
	}
	return season
}
