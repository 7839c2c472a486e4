package stationing

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gradeline/routes"
	"gradeline/terrain"
)

// When several rasters of about one cell size are averaged. Our own choices; the tests in
// peers_test.go show the results for copies, resamplings and shifted copies.
const (
	leastPeerPlaces = 150  // places along the road, a cell apart, to judge two rasters by
	mostPeerPlaces  = 1500 // and no more than that are read
	mostAlike       = 0.6  // correlation of two rasters' roughness, at the shift of greatest similarity
	shiftCells      = 2.0  // range of shifts each way …
	shiftStepCells  = 0.5  // … and their step
	peerStepM       = 3.0  // largest median difference of two rasters of one ground, and …
	peerStepPerCell = 0.15 // … more for a larger cell, as for rasters at different heights
	mostSkew        = 0.3  // of the differences: trees are on one side only
	strayPeer       = 5.0  // standard deviations of the difference beyond which only the first raster is used
)

// peer is another raster over the same road.
type peer struct {
	mosaic    int
	offsetM   float64   // above the first raster, in the median
	sigmaM    float64   // of the difference
	roughM    float64   // standard deviation of its own roughness along the road
	roughness []float64 // along the road, NaN where unknown
}

// averagePeers averages the heights of rasters of about one cell size that observe the
// same road with independent errors. The weights follow from the roughness of each
// raster and its correlation with the others. A raster that is a copy of another, or
// resampled from it, or moved, is as rough as that one in the same places and is left
// out: it adds no information. The bounds follow from the roughness of what comes out.
func averagePeers(ctx context.Context, s terrain.PeerSurface, r *routes.Route, g *routes.Ground) error {
	first, list := peersAlong(s, g)
	if len(list) == 0 {
		return nil
	}
	places := peerPlaces(s, g, first)
	if len(places) < leastPeerPlaces {
		return nil
	}
	own := peer{mosaic: first, roughness: roughness(pick(g, places))}
	own.roughM = spread(own.roughness)
	kept := []peer{own}
	for _, k := range list {
		p, ok, err := judgePeer(ctx, s, g, places, kept, k)
		if err != nil {
			return err
		}
		if ok {
			kept = append(kept, p)
		}
	}
	if len(kept) == 1 {
		return nil
	}
	return mix(ctx, s, r, g, kept, weights(kept))
}

// peersAlong is the mosaic that gave most of the heights, and its peers.
func peersAlong(s terrain.PeerSurface, g *routes.Ground) (first int, list []int) {
	count := map[int]int{}
	last, lastSource := -1, int16(-1)
	for i, m := range g.Miss {
		if m != terrain.Hit {
			continue
		}
		if g.Source[i] != lastSource {
			lastSource = g.Source[i]
			last = s.Mosaic(lastSource)
		}
		count[last]++
	}
	first, most := -1, 0
	for k, n := range count {
		if n > most || n == most && k < first {
			first, most = k, n
		}
	}
	if first < 0 {
		return first, nil
	}
	return first, s.Peers(first)
}

// peerPlaces are stations a cell apart at which the first mosaic gave the height.
func peerPlaces(s terrain.PeerSurface, g *routes.Ground, first int) []int {
	var out []int
	next := 0.0
	last, isFirst := int16(-1), false
	for i, m := range g.Miss {
		if at := float64(i) * g.StepM; m != terrain.Hit || at < next {
			continue
		}
		if g.Source[i] != last {
			last = g.Source[i]
			isFirst = s.Mosaic(last) == first
		}
		if isFirst {
			out = append(out, i)
			next = float64(i)*g.StepM + float64(g.CellM[i])
		}
	}
	return out[:min(len(out), mostPeerPlaces)]
}

func pick(g *routes.Ground, places []int) []float64 {
	out := make([]float64, len(places))
	for k, i := range places {
		out[k] = heightAt(g, i)
	}
	return out
}

// judgePeer reports whether a mosaic is an independent observation of the road.
func judgePeer(ctx context.Context, s terrain.PeerSurface, g *routes.Ground, places []int, kept []peer, mosaic int) (peer, bool, error) {
	p := peer{mosaic: mosaic}
	z, err := heightsShifted(ctx, s, g, places, mosaic, 0, 0)
	if err != nil {
		return p, false, err
	}
	own := pick(g, places)
	var diffs []float64
	for k := range z {
		if d := z[k] - own[k]; d == d {
			diffs = append(diffs, d)
		}
	}
	if len(diffs) < leastPeerPlaces {
		return p, false, nil
	}
	a, b := s.MosaicDatum(kept[0].mosaic), s.MosaicDatum(mosaic)
	if a != b && a != "unknown" && b != "unknown" {
		return p, false, &routes.Fault{Kind: terrain.ErrMixedDatum, What: fmt.Sprintf("two rasters of about one cell size cover the road, one with heights above %q, one above %q", a, b),
			Fix: "use rasters of one vertical datum for a route"}
	}
	slices.Sort(diffs)
	at := func(share float64) float64 { return diffs[int(share*float64(len(diffs)-1))] }
	low, high := at(.1), at(.9)
	p.offsetM = at(.5)
	p.sigmaM = (high - low) / (2 * 1.2816) // of a normal distribution
	cellM := float64(g.CellM[places[0]])
	if math.Abs(p.offsetM) > peerStepM+peerStepPerCell*cellM || high == low || math.Abs(high+low-2*p.offsetM) > mostSkew*(high-low) {
		return p, false, nil
	}
	p.roughness = roughness(z)
	p.roughM = spread(p.roughness)
	for _, o := range kept {
		alike, err := mostAlikeShifted(ctx, s, g, places, o, mosaic)
		if err != nil || alike > mostAlike {
			return p, false, err
		}
	}
	return p, p.roughM > 0, nil
}

// heightsShifted reads a mosaic at the places, shifted by a number of metres.
func heightsShifted(ctx context.Context, s terrain.PeerSurface, g *routes.Ground, places []int, mosaic int, eastM, northM float64) ([]float64, error) {
	points := make([]terrain.Point, len(places))
	for k, i := range places {
		p := g.Points[i]
		m := metricAt(p[1])
		points[k] = terrain.Point{LonDeg: turnDeg(p[0] + eastM/m.eastM), LatDeg: p[1] + northM/m.northM}
	}
	out := make([]float64, len(places))
	return out, s.SampleMosaic(ctx, mosaic, points, out)
}

// mostAlikeShifted is the greatest correlation of two rasters' roughness over the
// shifts of one against the other.
func mostAlikeShifted(ctx context.Context, s terrain.PeerSurface, g *routes.Ground, places []int, o peer, mosaic int) (float64, error) {
	cellM := float64(g.CellM[places[0]])
	most := 0.0
	for x := -shiftCells; x <= shiftCells; x += shiftStepCells {
		for y := -shiftCells; y <= shiftCells; y += shiftStepCells {
			z, err := heightsShifted(ctx, s, g, places, mosaic, x*cellM, y*cellM)
			if err != nil {
				return 0, err
			}
			most = max(most, correlation(o.roughness, roughness(z)))
		}
	}
	return most, nil
}

// roughness is the difference of heights a cell apart from a quadratic through five of them
// (A. Savitzky, M. J. E. Golay, Anal. Chem. 36, 1964: weights −3, 12, 17, 12, −3 over
// 35; from memory); NaN at the ends and next to a gap.
func roughness(z []float64) []float64 {
	out := make([]float64, len(z))
	for i := range z {
		if i < 2 || i+2 >= len(z) {
			out[i] = math.NaN()
			continue
		}
		out[i] = z[i] - (-3*z[i-2]+12*z[i-1]+17*z[i]+12*z[i+1]-3*z[i+2])/35
	}
	return out
}

// spread is the standard deviation of the middle of a distribution, 0 where there is
// too little of it.
func spread(v []float64) float64 {
	var sizes []float64
	for _, x := range v {
		if x == x {
			sizes = append(sizes, math.Abs(x))
		}
	}
	if len(sizes) < leastPeerPlaces/2 {
		return 0
	}
	slices.Sort(sizes)
	return 1.4826 * sizes[len(sizes)/2]
}

// correlation is that of two series where both are known, each cut at four of its
// standard deviations: bridges are outliers in both.
func correlation(a, b []float64) float64 {
	cutA, cutB := 4*spread(a), 4*spread(b)
	var ab, aa, bb float64
	for i := range a {
		if x, y := a[i], b[i]; math.Abs(x) <= cutA && math.Abs(y) <= cutB {
			ab, aa, bb = ab+x*y, aa+x*x, bb+y*y
		}
	}
	if aa == 0 || bb == 0 {
		return 1 // nothing is known: assume equality
	}
	return ab / math.Sqrt(aa*bb)
}

// weights are those of the mean with the least error, from the peers' roughness and their
// correlation; none is negative.
func weights(list []peer) []float64 {
	n := len(list)
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n+1)
		m[i][n] = 1
		for j := range n {
			alike := 1.0
			if i != j {
				alike = max(0, correlation(list[i].roughness, list[j].roughness))
			}
			m[i][j] = alike * list[i].roughM * list[j].roughM
		}
	}
	w := solved(m)
	sum := 0.0
	for i := range w {
		w[i] = max(0, w[i])
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

// solved solves a small positive definite system, its right side in the last column.
func solved(m [][]float64) []float64 {
	n := len(m)
	for c := range n {
		for r := range n {
			if r == c {
				continue
			}
			f := m[r][c] / m[c][c]
			for k := c; k <= n; k++ {
				m[r][k] -= f * m[c][k]
			}
		}
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = m[i][n] / m[i][i]
	}
	return out
}

// mix puts the weighted mean of the first raster and its peers into the cross-sections.
func mix(ctx context.Context, s terrain.PeerSurface, r *routes.Route, g *routes.Ground, kept []peer, weight []float64) error {
	w, count := len(g.OffsetM), g.Count()
	per := min(count, max(1, chunkPoints/w))
	points := make([]terrain.Point, per*w)
	z := make([]float64, per*w)
	lines := newSections(r, g, count)
	for from := 0; from < count; from += per {
		n := min(per, count-from)
		for i := range n {
			lines.lay(from+i, points[i*w:(i+1)*w])
		}
		rows := g.SectionM[from*w : (from+n)*w]
		own := slices.Clone(rows)
		sum, total := make([]float64, n*w), make([]float64, n*w)
		for i, v := range own {
			sum[i], total[i] = weight[0]*float64(v), weight[0]
		}
		for k, p := range kept[1:] {
			if err := s.SampleMosaic(ctx, p.mosaic, points[:n*w], z[:n*w]); err != nil {
				return err
			}
			for i := range n * w {
				if v := z[i] - p.offsetM; math.Abs(v-float64(own[i])) <= strayPeer*p.sigmaM {
					sum[i] += weight[k+1] * v
					total[i] += weight[k+1]
				}
			}
		}
		for i := range rows {
			if s.Mosaic(g.Source[from+i/w]) == kept[0].mosaic && total[i] > weight[0] {
				rows[i] = float32(sum[i] / total[i])
			}
		}
	}
	return nil
}
