package raster

import (
	"context"
	"fmt"

	"gradeline/terrain"
)

// peerCells is the largest difference of the cells of peers: our own choice.
const peerCells = 1.35

var _ terrain.PeerSurface = (*Surface)(nil)

// Mosaic implements terrain.PeerSurface; -1 for no source.
func (s *Surface) Mosaic(source int16) int {
	if source < 0 || int(source) >= len(s.mosaicOf) {
		return -1
	}
	return int(s.mosaicOf[source])
}

// Peers implements terrain.PeerSurface. Mosaics with remote rasters are left out.
func (s *Surface) Peers(mosaic int) []int {
	if mosaic < 0 || mosaic >= len(s.layers) {
		return nil
	}
	var out []int
	own := s.layers[mosaic]
	for n, l := range s.layers {
		if n == mosaic || l.remote || l.cellM > own.cellM*peerCells || own.cellM > l.cellM*peerCells {
			continue
		}
		if _, ok := meet(box4(l.bounds), box4(own.bounds)); ok {
			out = append(out, n)
		}
	}
	return out
}

// MosaicDatum implements terrain.PeerSurface.
func (s *Surface) MosaicDatum(mosaic int) string { return s.layers[mosaic].datum }

// SampleMosaic implements terrain.PeerSurface.
func (s *Surface) SampleMosaic(ctx context.Context, mosaic int, points []terrain.Point, elevationM []float64) error {
	if len(points) != len(elevationM) || mosaic < 0 || mosaic >= len(s.layers) {
		return &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%d points and room for %d heights of mosaic %d", len(points), len(elevationM), mosaic)}
	}
	s.lifetime.RLock()
	defer s.lifetime.RUnlock()
	if s.closed {
		return &terrain.Fault{Kind: terrain.ErrRead, Err: errClosed}
	}
	for lo := 0; lo < len(points); lo += chunkPoints {
		hi := min(lo+chunkPoints, len(points))
		copy(elevationM[lo:hi], s.only(s.layers[mosaic], points[lo:hi]))
	}
	return ctx.Err()
}
