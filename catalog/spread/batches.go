package spread

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// Routes of one batch lie near each other, so that a worker decodes each block of terrain once.
// A batch is long enough to be worth its job and short enough to be repeated when a worker dies.
const (
	batchM   = 200_000.0  // of road: half a second of one core on 30 m cells
	leastM   = batchM / 4 // a batch of this length does not continue into the next tile
	tileDeg  = 1.0        // files of terrain are cut at whole degrees more often than anywhere else
	cellsDeg = 16         // cells of a tile along a side, about four blocks of 512 posts of 1"
)

// placedRoute is a route as the sizing sees it.
type placedRoute struct {
	seq     int32
	lengthM float32
	cell    uint64 // in the order of a curve through neighbouring tiles and cells

	isJoined bool // a road of a network: its hills may continue in others
}

// batch is a set of routes that one job surveys.
type batch struct {
	seqs    []int32
	lengthM float64

	isJoined bool // some of the routes are roads of a network
}

// placeRoute finds the cell in the middle of a route.
func placeRoute(seq int32, r *routes.Route) placedRoute {
	return placedRoute{seq: seq, lengthM: float32(r.LengthM), cell: cellOf(r.Line[len(r.Line)/2])}
}

// cellOf numbers the tile of a place and the cell in it along a Z-order curve.
func cellOf(p orb.Point) uint64 {
	east := uint32(max(0, min(359.999, p[0]+180)) / tileDeg * cellsDeg)
	north := uint32(max(0, min(179.999, p[1]+90)) / tileDeg * cellsDeg)
	return interleaved(east)<<1 | interleaved(north)
}

// interleaved spreads the bits of a number over every second bit.
func interleaved(v uint32) uint64 {
	out := uint64(0)
	for i := range 32 {
		out |= uint64(v>>i&1) << (2 * i)
	}
	return out
}

// tileOf is the part of a cell's number that all cells of its tile share.
func tileOf(cell uint64) uint64 { return cell >> (2 * int(math.Log2(cellsDeg))) }

// batchesOf groups routes. It does not depend on the order in which they were read, other than by
// their numbers. The list is sorted in place.
func batchesOf(list []placedRoute, mostM float64) []batch {
	slices.SortFunc(list, func(a, b placedRoute) int {
		return cmp.Or(cmp.Compare(a.cell, b.cell), cmp.Compare(a.seq, b.seq))
	})
	var out []batch
	var open batch
	for i, r := range list {
		isNewTile := i > 0 && tileOf(r.cell) != tileOf(list[i-1].cell)
		if len(open.seqs) > 0 && (open.lengthM+float64(r.lengthM) > mostM || isNewTile && open.lengthM >= leastM) {
			out, open = append(out, open), batch{}
		}
		open.seqs, open.lengthM, open.isJoined = append(open.seqs, r.seq), open.lengthM+float64(r.lengthM), open.isJoined || r.isJoined
	}
	if len(open.seqs) > 0 {
		out = append(out, open)
	}
	// The longest first, so that the last jobs of a run are short.
	slices.SortStableFunc(out, func(a, b batch) int { return cmp.Compare(b.lengthM, a.lengthM) })
	return out
}
