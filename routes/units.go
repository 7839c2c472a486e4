package routes

import "gradeline/terrain"

// Units of length and speed that road data is written in, in metres and metres per
// second. All are exact by definition: NIST Special Publication 811 (2008),
// appendix B.8, from memory.
const (
	MileM               = 5280 * terrain.FootM // statute mile
	YardM               = 3 * terrain.FootM
	InchM               = terrain.FootM / 12
	MilePerHourMPS      = MileM / 3600
	KilometrePerHourMPS = 1000.0 / 3600
	KnotMPS             = 1852.0 / 3600 // international
	PoundKg             = 0.45359237    // of weight limits
)
