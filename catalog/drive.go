package catalog

import "gradeline/routes"

// DrivePass is a part of a recorded drive that the catalogue keeps: one pass over a hill, in one
// direction. It has only what a grade line needs. Nothing says who drove, or when.
type DrivePass struct {
	Number    int64            `json:"drive"` // of the drive; drawn at random, without a meaning
	Route     string           `json:"route"`
	Direction routes.Direction `json:"direction"`
	FromM     float64          `json:"from_m"` // the least station
	ToM       float64          `json:"to_m"`   // the greatest
	Label     string           `json:"label"`  // only where somebody gave one
	Count     int              `json:"heights"`
	Fixes     []DriveFix       `json:"-"`
}

// DriveFix is one height of a pass.
type DriveFix struct {
	StationM float64 // along the route when it was imported
	OffM     float64 // of the recorded place from the line, right of it in forward travel positive
	LonDeg   float64 // of the line at the station, not of the recorded place
	LatDeg   float64
	HeightM  float64
	TimeS    float64 // since the start of the pass
	SpeedMPS float64 // NaN where it was not recorded
}
