package terrain

import "context"

// PeerSurface is a Surface with several mosaics. Those of about one cell size over the
// same ground are peers: observations of it, each with an error of its own.
type PeerSurface interface {
	Surface
	// Mosaic returns the mosaic to which a source belongs.
	Mosaic(source int16) int
	// Peers are the other mosaics of about a mosaic's cell size, in the order of the surface.
	Peers(mosaic int) []int
	// MosaicDatum is the vertical datum of a mosaic, or "unknown".
	MosaicDatum(mosaic int) string
	// SampleMosaic reads one mosaic alone; NaN where it has no height.
	SampleMosaic(ctx context.Context, mosaic int, points []Point, elevationM []float64) error
}
