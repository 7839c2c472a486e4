// Package synth makes roads and surfaces of known truth from a seed, so that recovered grade lines
// can be compared with the truth.
//
// A road is drawn as road designers draw one: tangents and curves in plan, grades and
// parabolic vertical curves in profile, bridges and tunnels where the ground departs
// from it. The ground is fractal terrain made to conform to the road, with a flat bench
// and cut and fill slopes. A user's data are then made from it, with the errors of real
// data: the raster is averaged over its cells, shifted by a random phase, noisy and has
// holes; the line is digitised next to the road's true centre and thinned; half of the
// structures have no tag.
//
// Everything follows from the seed by PCG streams of math/rand/v2, whose integers
// are the same on every machine. Heights can differ by rounding (well under a
// millimetre) between processors that fuse a multiplication with an addition.
//
// Not modelled: superelevation and crown, retaining walls, parallel carriageways,
// interchanges, geoid slope, wrong topology. Errors on real roads are larger.
package synth

import (
	"fmt"
	"math"

	"gradeline/terrain"
)

// Options set the properties of a road. A zero field is drawn from the seed, unless its comment
// says otherwise.
type Options struct {
	Seed            uint64
	LengthM         float64 // true length; drawn 10–20 km
	CellM           float64 // of the grid that is drawn; 0 is 10 m
	DesignSpeedKMH  float64 // 40–110 in tens; drawn
	BenchHalfWidthM float64 // drawn 3.5–12 m, wider for faster roads
	LateralRMSM     float64 // rms of the digitised line's sideways error; drawn 1–8 m
	LateralConstM   float64 // further constant sideways error, right positive; 0 is none
	UnflaggedShare  float64 // share of structures without a tag; 0 is one half, negative is none, 1 is all
	StructuresPerKM float64 // 0 is one per 3.6 km, negative is none
	NoiseScale      float64 // multiple of the cell size's usual noise; 0 is 1, negative is none
	VoidsPerKM      float64 // 0 is one per 12 km, negative is none
	Canopy          bool    // trees of 2–14 m next to and over 30 % of the length
	WholeMetres     bool    // heights rounded to whole metres
	DatumStepM      float64 // two steps of this height, at a third and two thirds of the box
	Mission         uint8   // number of the observation of the ground that its rasters are: each has its own noise, grid and voids
	Flat            bool    // no grade beyond ±1 %
	Kind            Kind    // composition of the profile; 0 is an ordinary road
	VertexEveryM    float64 // generalises the line to one vertex every so many metres; 0 does not
}

// Structure is a bridge or tunnel of a road. FromM and ToM are its true ends; FlagFromM and FlagToM
// are its ends in the road data, up to 8 m off, and are meaningful only if Flagged. All are
// stations of the digitised line.
type Structure struct {
	Kind               string // "bridge" or "tunnel"
	FromM, ToM         float64
	Flagged            bool
	FlagFromM, FlagToM float64
	// DepartureM is the height of the ground above the road, down negative.
	DepartureM float64
}

// Road is a road of known truth.
type Road struct {
	Name, Ref       string
	Tags            map[string]string // further tags of its line, as text
	Line            []terrain.Point   // as digitised
	LengthM         float64           // of Line, in the plane of CRS, whose scale is 1 within 4e-6
	Structures      []Structure
	DesignSpeedKMH  float64
	BenchHalfWidthM float64
	LateralRMSM     float64

	// TruthElevationM is the true grade line at TruthStationM, which are stations of
	// the digitised line, 5 m apart and the last one at LengthM. A place on the
	// digitised line corresponds to the nearest one of the true centre line.
	TruthStationM, TruthElevationM []float64
	// TruthRoadM is the place on the true centre line, by its own length. The digitised line
	// is shorter where it cuts a bend and longer where it swings out.
	TruthRoadM []float64
	Parts      []Part // that define the kind

	// TruthOffsetM is the distance of the true centre to the right of the digitised line.
	TruthOffsetM []float64

	CRS string // of its grids, a PROJ string

	options Options
	lineX   []float64 // Line in the plane, and its stations
	lineY   []float64
	lineM   []float64
	proj    tmerc
	align   *alignment
	ground  *ground
}

// NewRoad makes a road without a raster.
func NewRoad(o Options) (*Road, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	p := drawParams(o)
	al := drawAlignment(o.Seed, p)
	r := &Road{
		Name:           fmt.Sprintf("Invented road %d", o.Seed),
		DesignSpeedKMH: p.speedKMH, BenchHalfWidthM: p.benchM, LateralRMSM: p.lateralM,
		options: o,
		proj:    newTmerc(p.lon0Deg, p.lat0Deg),
		align:   al,
	}
	r.CRS = r.proj.proj4()
	r.ground = newGround(o.Seed, p.terrain, []*alignment{al}, nil)
	r.digitise(p)
	return r, nil
}

func (o Options) check() error {
	for _, f := range []struct {
		what        string
		v, min, max float64
	}{
		{"length", o.LengthM, 500, 200e3},
		{"cell", o.CellM, 0.5, 200},
		{"design speed", o.DesignSpeedKMH, 40, 110},
		{"bench half-width", o.BenchHalfWidthM, 2, 30},
		{"lateral rms", o.LateralRMSM, 0, 15},
		{"distance of vertices", o.VertexEveryM, 10, 5000},
	} {
		if f.v != 0 && !(f.v >= f.min && f.v <= f.max) {
			return &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%s %g is outside %g to %g", f.what, f.v, f.min, f.max),
				Fix: "choose one inside, or 0 to draw it"}
		}
	}
	if o.Kind > EndsOnSlopes {
		return &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%d is not a kind of road", o.Kind), Fix: "choose one of the kinds"}
	}
	for _, v := range []float64{o.LateralConstM, o.UnflaggedShare, o.StructuresPerKM, o.NoiseScale, o.VoidsPerKM, o.DatumStepM} {
		if math.IsNaN(v) || math.Abs(v) > 1000 {
			return &terrain.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%g is not a sensible property of a road", v), Fix: "choose a finite one below 1000"}
		}
	}
	return nil
}

// TruthAtM returns the true elevation at a station of the digitised line; NaN
// outside it.
func (r *Road) TruthAtM(stationM float64) float64 {
	return interp(r.TruthStationM, r.TruthElevationM, stationM)
}

// RoadFromLineM returns the place on the true centre line for a station of the digitised line; NaN
// outside it.
func (r *Road) RoadFromLineM(stationM float64) float64 {
	return interp(r.TruthStationM, r.TruthRoadM, stationM)
}

// HeightOnRoadM returns the true height at a place on the true centre line.
func (r *Road) HeightOnRoadM(roadM float64) float64 {
	elevM, _ := r.align.profile.heightAt(roadM)
	return elevM
}

// interp is linear interpolation on ascending xs; NaN outside.
func interp(xs, ys []float64, x float64) float64 {
	n := len(xs)
	if n == 0 || !(x >= xs[0]) || x > xs[n-1]+1e-6 {
		return math.NaN()
	}
	lo, hi := 0, n-1
	for hi-lo > 1 {
		mid := (lo + hi) / 2
		if xs[mid] <= x {
			lo = mid
		} else {
			hi = mid
		}
	}
	if hi == lo || xs[hi] == xs[lo] {
		return ys[lo]
	}
	t := math.Min(1, (x-xs[lo])/(xs[hi]-xs[lo]))
	return ys[lo] + t*(ys[hi]-ys[lo])
}
