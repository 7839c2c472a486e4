package catalog

import (
	"gradeline/routes"
	"gradeline/terrain"
)

// Units that people read and type, each in the SI unit that its name ends in. All are
// exact by definition: NIST Special Publication 811 (2008), appendix B.8, from memory.
const (
	FootM               = terrain.FootM
	YardM               = routes.YardM
	InchM               = routes.InchM
	MileM               = routes.MileM
	MilePerHourMPS      = routes.MilePerHourMPS
	KilometrePerHourMPS = routes.KilometrePerHourMPS
	PoundKg             = routes.PoundKg
)

// FtFromM converts metres to international feet.
func FtFromM(lengthM float64) float64 { return lengthM / FootM }

// MiFromM converts metres to statute miles.
func MiFromM(lengthM float64) float64 { return lengthM / MileM }

// LbFromKg converts kilograms to pounds.
func LbFromKg(massKg float64) float64 { return massKg / PoundKg }

// CFromF converts degrees Fahrenheit to degrees Celsius.
func CFromF(tempF float64) float64 { return (tempF - 32) * 5 / 9 }

// FFromC converts degrees Celsius to degrees Fahrenheit.
func FFromC(tempC float64) float64 { return tempC*9/5 + 32 }

// FDiffFromC converts a difference of temperatures in degrees Celsius to degrees Fahrenheit.
func FDiffFromC(diffC float64) float64 { return diffC * 9 / 5 }
