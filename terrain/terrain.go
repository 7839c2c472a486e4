// Package terrain holds the types for ground heights: points, samples, surfaces, grids, vertical
// units and faults. It does no I/O and links no C.
package terrain

import (
	"context"
	"math"
)

// Point is a place on the WGS 84 ellipsoid. Longitude is in degrees east,
// latitude in degrees north (RFC 7946 section 3.1.1 order).
type Point struct{ LonDeg, LatDeg float64 }

// Valid reports whether p is finite and inside ±180 and ±90 degrees.
func (p Point) Valid() bool {
	return math.Abs(p.LonDeg) <= 180 && math.Abs(p.LatDeg) <= 90
}

// Miss says why a sample holds no height. Hit is the only value with one.
type Miss uint8

// The reasons for a miss.
const (
	Hit        Miss = iota // a height was read
	Outside                // no raster of the surface covers the point
	Void                   // a raster covers the point, but a tap of the interpolation has no data
	Unreadable             // the block that holds the point could not be decoded
	NoGround               // a raster covers the point, but with a fill value instead of ground (see Filler)
)

func (m Miss) String() string {
	switch m {
	case Hit:
		return "hit"
	case Outside:
		return "outside every raster"
	case Void:
		return "void"
	case Unreadable:
		return "unreadable"
	case NoGround:
		return "no ground"
	}
	return "unknown miss"
}

// Sample is the result of a surface at one point.
type Sample struct {
	ElevationM float64 // metres in the raster's vertical datum; NaN unless Miss is Hit
	CellM      float32 // ground size of the cell it came from, metres; 0 on Outside
	Source     int16   // index into Surface.Sources; -1 on Outside
	Miss       Miss
}

// Surface is one or more rasters of ground heights, finest first.
//
// Sample fills out[i] for points[i]; the slices have the same length. A miss is
// recorded in the sample and is not an error; an error is returned only where no sample
// can be given (cancelled context, two vertical datums in one call). A Surface is safe
// for concurrent use.
type Surface interface {
	Sample(ctx context.Context, points []Point, out []Sample) error
	Sources() []Raster
	Warnings() []string
}

// Raster describes one raster of a surface, for provenance.
type Raster struct {
	Name         string // file name as given by the user, without its folder
	CellM        float64
	CRS          string // authority code ("EPSG:4326") or a short name
	VertDatum    string // as named in the file, or "unknown"
	VertUnit     VerticalUnit
	VertUnitFrom string // "file", "option", or "crs"
	Bytes        int64
	Fingerprint  string // SHA-256 of the content, hexadecimal
	Driver       string
	Cols, Rows   int
}

// Grid is a north-up raster of heights held in memory: row 0 is the north edge,
// values sit at cell centres, NaN is a void.
type Grid struct {
	Cols, Rows     int
	WestX, NorthY  float64 // outer corner of the north-west cell, in CRS units
	StepX, StepY   float64 // cell size, both positive, in CRS units
	CRS            string  // any CRS text that GDAL accepts: "EPSG:32612", WKT or a PROJ string
	ElevationM     []float32
	VertDatumLabel string
}
