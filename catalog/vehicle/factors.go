package vehicle

// Exact factors: NIST Special Publication 811 (2008), from memory.
const (
	PoundKg     = 0.45359237
	MileM       = 1609.344
	MPHMPS      = 0.44704
	HorsepowerW = 745.69987158227022
)

// CelsiusFromF converts a temperature from degrees Fahrenheit.
func CelsiusFromF(tempF float64) float64 { return (tempF - 32) * 5 / 9 }
