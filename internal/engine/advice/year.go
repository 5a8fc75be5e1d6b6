package advice

import (
	"spile/internal/engine/year"
	"spile/internal/trade/price"
)

// Year is how a season strays from the mean of seasons: as past seasons tell, what they do not tell of as is assumed,
// and what the prices say before either. Told is of how many seasons each part is.
func (in Input) Year() (y year.Year, told year.Told) {
	said := price.Stray{}
	if in.Prices != nil {
		said = in.Prices.Seasons
	}
	x := in.strays()
	y, told = x.Year, x.Told
	for i, v := range [3]*price.Value{said.Yield, said.Sugar, said.Price} {
		if v != nil {
			y.SD[i], told[i] = year.Assumed(v.Best, 0, 0, 0).SD[0], 0
		}
	}
	if v := said.Together; v != nil {
		y.Together[year.Yield][year.Price] = v.Best
	}
	return y.Rooted(), told
}

// Strays is how a season strays as past seasons tell, and as is assumed where they do not.
type Strays struct {
	Year year.Year
	Told year.Told
}

func (in Input) strays() (x Strays) {
	if in.Strays != nil {
		return *in.Strays
	}
	assumed, numbers := price.AssumedStray, [4]float64{}
	for i, v := range [4]*price.Value{assumed.Yield, assumed.Sugar, assumed.Price, assumed.Together} {
		numbers[i] = v.Best
	}
	x.Year, x.Told = year.Of(in.Past, year.Assumed(numbers[0], numbers[1], numbers[2], numbers[3]))
	return x
}
