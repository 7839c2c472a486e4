package routes

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"gradeline/terrain"
)

// Ground is the heights of a surface along and across a route's line. Stations are
// evenly spaced: station i is at i·StepM, the last one at LengthM exactly.
type Ground struct {
	StepM   float64
	LengthM float64
	// OffsetM are the cross-section offsets in metres, right of the line in
	// forward travel positive, ascending and evenly spaced, with 0 among them.
	OffsetM []float64
	// SectionM holds the heights, one row of len(OffsetM) for each station;
	// NaN is a miss.
	SectionM []float32
	Miss     []terrain.Miss // of the sample on the line itself, by station
	CellM    []float32      // ground size of the cell on the line, by station; 0 where outside
	Source   []int16        // raster of the sample on the line, by station; -1 where outside
	Points   []orb.Point    // the line at each station
	// RadiusM is the radius of the line's curve at each station, metres, +Inf
	// where straight; from the line as drawn, smoothed.
	RadiusM    []float64
	Structures []Structure // flagged ones of the route, by station
	// SurfaceModel is true where heights include trees and roofs.
	SurfaceModel bool
	Doubtful     []Doubt // stretches whose line or heights cannot be right, along the line
}

// Count is the number of stations.
func (g *Ground) Count() int { return len(g.Points) }

// StationState says what a profile's height at a station is based on.
type StationState uint8

// The states. Only Measured stations are based on the ground itself.
const (
	Measured       StationState = iota
	OnBridge                    // flagged: interpolated
	InTunnel                    // flagged: interpolated
	FoundStructure              // the ground departs from any road: interpolated
	InVoid                      // the raster has no data: interpolated
	OutsideTerrain              // no raster: interpolated, or NaN at the ends of the line
)

func (s StationState) String() string {
	switch s {
	case Measured:
		return "measured"
	case OnBridge:
		return "bridge"
	case InTunnel:
		return "tunnel"
	case FoundStructure:
		return "structure"
	case InVoid:
		return "void"
	case OutsideTerrain:
		return "outside"
	}
	return "unknown"
}

// Profile is the recovered grade line of a route or of a stretch of it, forward along
// the line: station i is at OriginM + i·StepM. LengthM is that of the complete route,
// so that stations are always those of the route.
type Profile struct {
	OriginM    float64 // station of the first height; 0 for a complete route
	StepM      float64
	LengthM    float64   // of the route
	GroundM    []float64 // ground under the aligned line; NaN on a miss
	ElevationM []float64 // the grade line; NaN where it is unknown
	State      []StationState
	// EaseM is the height of a less smoothed fit above the grade line. It shows how much smoothing
	// flattens a short steep part. Empty where unknown.
	EaseM      []float64
	LateralM   []float64 // offset of the aligned line, right positive; nil if not searched
	Points     []orb.Point
	RadiusM    []float64
	CellM      float64 // median ground cell, metres
	Structures []Structure
	MissingM   float64 // length with no ground under it, flagged structures excluded
	Reliable   bool
	Unreliable string  // why not, in plain words; empty if Reliable
	Doubtful   []Doubt // stretches that can't be relied on, while the rest can
	Noise      Noise
	Bound      ErrorModel
	Coarser    []Part // stretches on notably coarser cells than most, with their own bounds
}

// Part is a stretch of a profile with its own error bounds.
type Part struct {
	FromM float64    `json:"from_m"`
	ToM   float64    `json:"to_m"`
	Bound ErrorModel `json:"bound"`
}

// BoundOver returns the widest bounds that hold between two stations.
func (p *Profile) BoundOver(aM, bM float64) ErrorModel {
	lo, hi := min(aM, bM), max(aM, bM)
	widest := &p.Bound
	for i := range p.Coarser {
		if c := &p.Coarser[i]; c.FromM < hi && c.ToM > lo && c.Bound.ElevationM > widest.ElevationM {
			widest = &c.Bound
		}
	}
	return *widest
}

// Doubt is a stretch of a profile that cannot be relied on, and why in plain words.
type Doubt struct {
	FromM float64 `json:"from_m"`
	ToM   float64 `json:"to_m"`
	Why   string  `json:"why"`
}

// IsDoubtful reports whether any part between two stations is in doubt.
func (p *Profile) IsDoubtful(aM, bM float64) bool {
	lo, hi := min(aM, bM), max(aM, bM)
	for _, d := range p.Doubtful {
		if d.FromM <= hi && d.ToM >= lo {
			return true
		}
	}
	return false
}

// Whole reports whether all of the profile can be relied on, and in plain words which parts can't;
// empty if all can.
func (p *Profile) Whole() (ok bool, why string) {
	if !p.Reliable || len(p.Doubtful) == 0 {
		return p.Reliable, p.Unreliable
	}
	d := p.Doubtful[0]
	return false, fmt.Sprintf("%.0f to %.0f m: %s", d.FromM, d.ToM, d.Why)
}

// Noise is the error of the ground heights, learned from the data and the cell
// size: standard deviation and correlation length along the line.
type Noise struct{ SigmaM, TauM float64 }

// ErrorModel gives 95 % half-widths of what is derived from a profile. The package that recovers
// the profile fills it and documents the calibration.
type ErrorModel struct {
	// EndM is the usual 95 % half-width of a descent's end point along the road;
	// a descent found states its own.
	EndM float64
	// EndShare is the share of a mean grade's half-width that counts for the error of an end; 0
	// means 0.8.
	EndShare float64
	// ElevationM is the 95 % half-width of the grade line's height at a
	// measured station.
	ElevationM float64
	// FloorPct is the part of a mean grade's half-width that does not shrink
	// with length.
	FloorPct float64
	// EaseShare is the share of the smoothing error that widens a bound, over at least EaseM
	// metres: over shorter lengths the two fits differ by noise.
	EaseShare, EaseM float64
	// ShortShare is the error of a short part, without the smoothing error, in half-widths of a
	// mean grade, for parts of ShortM metres in ascending order; empty means 2. See ShortErrPct.
	ShortM, ShortShare []float64
	// SteepestShare is the same for the steepest window of a length, which is chosen by the figure
	// that it states; empty means ShortShare.
	SteepestShare []float64 `json:",omitempty"`
	// SpanPct is the 95 % half-width of the mean grade over SpanM metres, for
	// spans in ascending order; between and beyond them see MeanErrPct.
	SpanM, SpanPct []float64
}

// MeanErrPct returns the 95 % half-width, in points of per cent, of the mean
// grade between two stations lengthM apart, of which interpolatedM have no ground under them.
// Between the calibrated spans it is linear in log length; below the shortest
// it grows as 1/L, above the longest it falls as 1/L down to FloorPct.
func (m ErrorModel) MeanErrPct(lengthM, interpolatedM float64) float64 {
	n := len(m.SpanM)
	if n == 0 || lengthM <= 0 {
		return math.Inf(1)
	}
	var e float64
	switch {
	case lengthM <= m.SpanM[0]:
		e = m.SpanPct[0] * m.SpanM[0] / lengthM
	case lengthM >= m.SpanM[n-1]:
		e = max(m.FloorPct, m.SpanPct[n-1]*m.SpanM[n-1]/lengthM)
	default:
		i := 1
		for m.SpanM[i] < lengthM {
			i++
		}
		t := math.Log(lengthM/m.SpanM[i-1]) / math.Log(m.SpanM[i]/m.SpanM[i-1])
		e = m.SpanPct[i-1] + t*(m.SpanPct[i]-m.SpanPct[i-1])
	}
	// Over structures and voids the grade line is about half as good as on ground:
	// measured, grade RMSE inside unflagged tunnels 1.7 to 2 times that outside.
	if interpolatedM > 0 {
		e *= 1 + min(1, interpolatedM/lengthM)
	}
	return e
}

// MeanErrPct returns the 95 % half-width, in points of per cent, of the mean grade
// between two stations: that of the error model plus the smoothing error.
func (p *Profile) MeanErrPct(aM, bM float64) float64 {
	return p.BoundOver(aM, bM).MeanErrPct(math.Abs(bM-aM), p.InterpolatedM(aM, bM)) + math.Abs(p.EasePct(aM, bM))
}

// EasePct returns how much smoothing may have flattened the mean grade between two stations, in
// points of per cent, forward, positive where the road may rise more.
func (p *Profile) EasePct(aM, bM float64) float64 {
	bound := p.BoundOver(aM, bM)
	if len(p.EaseM) < 2 || aM == bM || bound.EaseShare == 0 {
		return 0
	}
	lo, hi := min(aM, bM), max(aM, bM)
	if short := bound.EaseM - (hi - lo); short > 0 {
		end := p.EndM()
		lo = max(p.OriginM, min(lo-short/2, end-bound.EaseM))
		hi = min(end, lo+bound.EaseM)
	}
	e := bound.EaseShare * 100 * (p.easeAtM(hi) - p.easeAtM(lo)) / (hi - lo)
	if math.IsNaN(e) {
		return 0
	}
	return e
}

// ShortErrPct returns the 95 % half-width of the mean grade over a short part, points of per cent,
// given the smoothing error of its mean.
func (p *Profile) ShortErrPct(aM, bM, interpolatedM, easedPct float64) float64 {
	bound, lengthM := p.BoundOver(aM, bM), math.Abs(bM-aM)
	return math.Abs(easedPct) + bound.shareOver(lengthM, bound.ShortShare)*bound.MeanErrPct(lengthM, interpolatedM)
}

// SteepestErrPct is ShortErrPct for the steepest window of its length.
func (p *Profile) SteepestErrPct(aM, bM, interpolatedM, easedPct float64) float64 {
	bound, lengthM := p.BoundOver(aM, bM), math.Abs(bM-aM)
	shares := bound.SteepestShare
	if len(shares) == 0 {
		shares = bound.ShortShare
	}
	return math.Abs(easedPct) + bound.shareOver(lengthM, shares)*bound.MeanErrPct(lengthM, interpolatedM)
}

// shareOver is linear in log length between the calibrated lengths of shares.
func (m ErrorModel) shareOver(lengthM float64, shares []float64) float64 {
	n := min(len(m.ShortM), len(shares))
	switch {
	case n == 0:
		return 2
	case lengthM <= m.ShortM[0]:
		return shares[0]
	case lengthM >= m.ShortM[n-1]:
		return shares[n-1]
	}
	i := 1
	for m.ShortM[i] < lengthM {
		i++
	}
	t := math.Log(lengthM/m.ShortM[i-1]) / math.Log(m.ShortM[i]/m.ShortM[i-1])
	return shares[i-1] + t*(shares[i]-shares[i-1])
}

// lineEndElevation widens the bound of a height within a correlation length of the
// line's end, where ground supports it from one side only: of 318 ends at summits, in
// valleys and on slopes of drawn roads, 1.25 times the bound holds in 95 of 100 at each
// cell size from 1 to 90 m (.73 to 1.17 times are enough).
const lineEndElevation = 1.25

// ElevationErrM returns the 95 % half-width of the grade line's height at a station:
// twice as wide without ground under it, plus the smoothing error.
func (p *Profile) ElevationErrM(stationM float64) float64 {
	e := p.BoundOver(stationM, stationM).ElevationM
	if i := int(math.Round(p.IndexFromStationM(stationM))); i >= 0 && i < len(p.State) && p.State[i] != Measured {
		e *= 2
	}
	if min(stationM, p.LengthM-stationM) < p.Noise.TauM {
		e *= lineEndElevation
	}
	return e + math.Abs(p.EaseAtM(stationM))
}

// EaseAtM returns the height of the less smoothed fit above the grade line, metres; 0 where unknown.
func (p *Profile) EaseAtM(stationM float64) float64 {
	if len(p.EaseM) < 2 {
		return 0
	}
	if e := p.easeAtM(stationM); !math.IsNaN(e) {
		return e
	}
	return 0
}

func (p *Profile) easeAtM(stationM float64) float64 {
	x := max(0, min(p.IndexFromStationM(stationM), float64(len(p.EaseM)-1)))
	i := min(int(x), len(p.EaseM)-2)
	return p.EaseM[i] + (x-float64(i))*(p.EaseM[i+1]-p.EaseM[i])
}

// InterpolatedM is the length between two stations without ground under it; the part outside the
// stretch counts too.
func (p *Profile) InterpolatedM(aM, bM float64) float64 {
	lo, hi := min(aM, bM), max(aM, bM)
	sum := max(0, p.OriginM-max(0, lo)) + max(0, min(hi, p.LengthM)-p.EndM())
	first, last := p.IndicesBetween(lo, hi)
	for i := first; i <= min(last, len(p.State)-1); i++ {
		if p.State[i] == Measured {
			continue
		}
		// Each station represents half a step on either side.
		from, to := max(lo, p.StationM(i)-p.StepM/2), min(hi, p.StationM(i)+p.StepM/2)
		sum += max(0, to-from)
	}
	return min(sum, hi-lo)
}

// Count is the number of stations.
func (p *Profile) Count() int { return len(p.ElevationM) }

// StationM returns the station of index i.
func (p *Profile) StationM(i int) float64 { return p.OriginM + float64(i)*p.StepM }

// GradePct returns the grade between stations i and i+1, forward, rising
// positive; NaN where the grade line has a gap.
func (p *Profile) GradePct(i int) float64 {
	return 100 * (p.ElevationM[i+1] - p.ElevationM[i]) / p.StepM
}

// ElevationAtM returns the grade line's height at a station by linear
// interpolation; NaN outside the stretch or in a gap.
func (p *Profile) ElevationAtM(stationM float64) float64 {
	if !p.covers(stationM) {
		return math.NaN()
	}
	x := max(0, p.IndexFromStationM(stationM))
	i := min(int(x), p.Count()-2)
	t := x - float64(i)
	switch { // exactly at a station a gap next to it doesn't matter
	case t <= 1e-9:
		return p.ElevationM[i]
	case t >= 1-1e-9:
		return p.ElevationM[i+1]
	}
	return p.ElevationM[i] + t*(p.ElevationM[i+1]-p.ElevationM[i])
}

// PointAt returns the line's place at a station; the route's ends for stations
// beyond it, NaN where the stretch does not reach.
func (p *Profile) PointAt(stationM float64) orb.Point {
	stationM = max(0, min(stationM, p.LengthM))
	if len(p.Points) < 2 || !p.covers(stationM) {
		return orb.Point{math.NaN(), math.NaN()}
	}
	x := max(0, p.IndexFromStationM(stationM))
	i := min(int(x), len(p.Points)-2)
	t := x - float64(i)
	a, b := p.Points[i], p.Points[i+1]
	return orb.Point{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])}
}
