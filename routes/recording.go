package routes

import "time"

// Fix is one moment of a recorded drive. Missing values are NaN, 0 (Gear) or nil (ServiceBrake).
type Fix struct {
	Line         int // of the file, counted from 1
	Part         int // a new part begins where the recorder was off
	At           time.Time
	LonDeg       float64
	LatDeg       float64
	SpeedMPS     float64 // as recorded, not derived from the places
	EngineRPM    float64
	HeightM      float64 // of the recording's HeightKind
	TempC        float64 // of the air, or of the cab: see Recording.IsAirTemp
	Gear         int     // counted from 1
	IsNeutral    bool    // the recording says 0 or N: no gear is in
	ServiceBrake *bool   // applied
}

// HeightKind is the source of a recording's heights.
type HeightKind uint8

// The kinds. Only barometric heights are good enough for a grade: satellite heights are several
// times as noisy, and heights of unknown kind may come from a map.
const (
	HeightUnknown HeightKind = iota
	HeightBarometric
	HeightSatellite
)

// Recording is a drive as a recorder wrote it: times rise from fix to fix.
type Recording struct {
	Name    string // of the track, or of the file
	Note    string // the file's own description
	Fixes   []Fix
	Skipped []Skipped // points that were left out, with where and why; a large number is summarised at the end
	LeftOut int       // how many they are
	Heights HeightKind
	// IsAirTemp says that temperatures are those of the air outside. A recorder in a cab has the cab's.
	IsAirTemp bool
	NoClock   bool // times count from an unknown moment
}
