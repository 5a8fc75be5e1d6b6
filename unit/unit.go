// Package unit holds quantities: one number in one base unit, and the units that people write them in.
package unit

// Volume is litres.
type Volume float64

// VolumeUnit is a volume unit as written in a file: "gal" is the US gallon, "gal_imp" the imperial gallon.
type VolumeUnit string

const (
	USGallon       VolumeUnit = "gal"
	ImperialGallon VolumeUnit = "gal_imp"
	Litre          VolumeUnit = "l"
)

// Pressure is kPa; vacuum is kPa below the atmosphere, and positive.
type Pressure float64
