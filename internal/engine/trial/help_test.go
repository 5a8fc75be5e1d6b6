package trial

import (
	"math"
	"strings"

	"spile/internal/trade/unit"
)

func volume(log float64) unit.Volume      { return unit.Volume(math.Exp(log)) }
func volumeOf(litres float64) unit.Volume { return unit.Volume(litres) }
func contains(text, part string) bool     { return strings.Contains(text, part) }

func noteLines(err error) []string { return strings.Split(err.Error(), "\n") }
