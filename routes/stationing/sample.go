package stationing

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// Options of Sample.
type Options struct {
	StepM        float64 // spacing of stations; 0: StepM of the median cell
	HalfWidthM   float64 // half width of the cross-sections; 0: none; negative: by the cell
	OffsetStepM  float64 // spacing across; 0: by the cell
	SurfaceModel bool    // the heights include trees and roofs
}

const (
	chunkPoints = 1 << 17 // points of one call to a surface
	headingM    = 10.0    // length over which the heading of a station is measured
	probeM      = 100.0   // spacing of the first probe of the cell size
	maxStations = 20_000_000
)

// StepM is the spacing of stations for a cell: half of it, 5 to 30 m.
func StepM(cellM float64) float64 { return max(5, min(30, cellM/2)) }

// crossSection is the default half width and spacing across for a cell: fine cells show
// the road's bench; for coarse ones the neighbours show the effect of the cell's
// averaging.
func crossSection(cellM float64) (halfWidthM, stepM float64) {
	switch {
	case math.IsNaN(cellM):
		return 0, 0
	case cellM > 15:
		return cellM, cellM
	case cellM <= 3:
		return 16, 1
	}
	return 16, 2
}

// Sample reads a surface along and across a route. Stations are evenly spaced,
// the last exactly at the route's length. Where the step or the cross-section
// is to follow the cell size, the surface is first probed every 100 m.
//
// A route of which no station has a height is a fault: ErrOutside, or ErrVoid
// where a raster covers it without data.
func Sample(ctx context.Context, s terrain.Surface, r *routes.Route, o Options) (*routes.Ground, error) {
	r, err := checked(r, o)
	if err != nil {
		return nil, err
	}
	if o, err = o.byCell(ctx, s, r); err != nil {
		return nil, err
	}
	if r.LengthM/o.StepM > maxStations {
		return nil, &routes.Fault{Kind: terrain.ErrInput, File: r.Place.File, Feature: "route " + r.ID,
			What: fmt.Sprintf("more than %d stations", maxStations), Fix: "split the route or widen the step"}
	}
	n := max(1, int(math.Ceil(r.LengthM/o.StepM-1e-9)))
	g := &routes.Ground{
		StepM: r.LengthM / float64(n), LengthM: r.LengthM, OffsetM: offsets(o),
		Structures: r.Structures, SurfaceModel: o.SurfaceModel,
	}
	if err := fill(ctx, s.Sample, r, g, n+1); err != nil {
		return nil, err
	}
	if ps, ok := s.(terrain.PatchSurface); ok && !ps.IsFlatGround() {
		if err := dropFillers(ctx, ps, r, g); err != nil {
			return nil, err
		}
	}
	if ps, ok := s.(terrain.PeerSurface); ok {
		if err := averagePeers(ctx, ps, r, g); err != nil {
			return nil, err
		}
	}
	if !slices.Contains(g.Miss, terrain.Hit) {
		return nil, noGround(s, r, g.Miss)
	}
	if g.Doubtful, err = seamSteps(ctx, s, g); err != nil {
		return nil, err
	}
	filled, err := filledStretches(ctx, s, g)
	if err != nil {
		return nil, err
	}
	g.Doubtful = append(append(g.Doubtful, filled...), turnBacks(r, g)...)
	g.RadiusM = radiiM(r.Line, r.VertexM, n+1, g.StepM)
	return g, nil
}

// WithoutGround lays the stations of a route where there is no surface: every height is a miss.
func WithoutGround(ctx context.Context, r *routes.Route, stepM float64) (*routes.Ground, error) {
	r, err := checked(r, Options{StepM: stepM})
	if err != nil {
		return nil, err
	}
	if !(stepM > 0) || r.LengthM/stepM > maxStations {
		return nil, &routes.Fault{Kind: terrain.ErrInput, File: r.Place.File, Feature: "route " + r.ID,
			What: fmt.Sprintf("more than %d stations", maxStations), Fix: "split the route or widen the step"}
	}
	n := max(1, int(math.Ceil(r.LengthM/stepM-1e-9)))
	g := &routes.Ground{StepM: r.LengthM / float64(n), LengthM: r.LengthM, OffsetM: []float64{0}, Structures: r.Structures}
	misses := func(_ context.Context, points []terrain.Point, out []terrain.Sample) error {
		for i := range points {
			out[i] = terrain.Sample{ElevationM: math.NaN(), Miss: terrain.Outside, Source: -1}
		}
		return nil
	}
	if err := fill(ctx, misses, r, g, n+1); err != nil {
		return nil, err
	}
	g.RadiusM = radiiM(r.Line, r.VertexM, n+1, g.StepM)
	return g, nil
}

// checked refuses an impossible line, and measures a route that Assemble did not make.
func checked(r *routes.Route, o Options) (*routes.Route, error) {
	if len(r.VertexM) != len(r.Line) && len(r.Line) > 1 {
		own := *r // a route not made by Assemble
		own.VertexM = stationsM(r.Line)
		own.LengthM = own.VertexM[len(own.Line)-1]
		r = &own
	}
	if len(r.Line) < 2 || !(r.LengthM > 0) || r.LengthM > maxRouteM {
		return nil, &routes.Fault{Kind: terrain.ErrInput, File: r.Place.File, Feature: "route " + r.ID,
			What: fmt.Sprintf("a length of %g m is impossible for a road", r.LengthM)}
	}
	if o.StepM < 0 || o.OffsetStepM < 0 || math.IsNaN(o.StepM+o.HalfWidthM+o.OffsetStepM) {
		return nil, &routes.Fault{Kind: terrain.ErrInput, What: "a negative or undefined sampling step"}
	}
	return r, nil
}

// byCell fills in the options that depend on the cell size of the surface along the route.
func (o Options) byCell(ctx context.Context, s terrain.Surface, r *routes.Route) (Options, error) {
	if o.StepM == 0 || o.HalfWidthM < 0 || o.HalfWidthM > 0 && o.OffsetStepM == 0 {
		cellM, err := probe(ctx, s, r)
		if err != nil {
			return o, err
		}
		if o.StepM == 0 {
			o.StepM = StepM(cellM)
		}
		half, across := crossSection(cellM)
		if o.HalfWidthM < 0 {
			o.HalfWidthM = half
		}
		if o.OffsetStepM == 0 {
			o.OffsetStepM = max(across, 1)
		}
	}
	return o, nil
}

func offsets(o Options) []float64 {
	if o.HalfWidthM <= 0 {
		return []float64{0}
	}
	k := int(math.Floor(o.HalfWidthM/o.OffsetStepM + 1e-9))
	out := make([]float64, 0, 2*k+1)
	for i := -k; i <= k; i++ {
		out = append(out, float64(i)*o.OffsetStepM)
	}
	return out
}

// sampleFunc is terrain.Surface.Sample, or the same without some heights.
type sampleFunc func(ctx context.Context, points []terrain.Point, out []terrain.Sample) error

// sections lays the points of cross-sections, station by station.
type sections struct {
	g                   *routes.Ground
	lengthM             float64
	count               int
	here, behind, ahead *walker
}

func newSections(r *routes.Route, g *routes.Ground, count int) *sections {
	walk := func() *walker { return newWalker(r.Line, r.VertexM) }
	return &sections{g: g, lengthM: r.LengthM, count: count, here: walk(), behind: walk(), ahead: walk()}
}

// lay puts the points of a station's cross-section into a row and returns its place on
// the line. Stations never go back.
func (s *sections) lay(station int, row []terrain.Point) orb.Point {
	stationM := float64(station) * s.g.StepM
	if station == s.count-1 {
		stationM = s.lengthM
	}
	p := s.here.pointAt(stationM)
	if len(row) == 1 {
		row[0] = terrain.Point{LonDeg: p[0], LatDeg: p[1]}
		return p
	}
	m := metricAt(p[1])
	e, north := m.deltaM(s.behind.pointAt(stationM-headingM/2), s.ahead.pointAt(stationM+headingM/2))
	if l := math.Hypot(e, north); l > 1e-3 {
		e, north = e/l, north/l
	} else { // the line turns back here: either side will do
		e, north = 0, 1
	}
	for j, off := range s.g.OffsetM {
		row[j] = terrain.Point{LonDeg: turnDeg(p[0] + off*north/m.eastM), LatDeg: p[1] - off*e/m.northM}
	}
	return p
}

// fill samples chunk by chunk and stores the results.
func fill(ctx context.Context, sample sampleFunc, r *routes.Route, g *routes.Ground, count int) error {
	w := len(g.OffsetM)
	mid := w / 2
	g.SectionM = make([]float32, count*w)
	g.Miss = make([]terrain.Miss, count)
	g.CellM = make([]float32, count)
	g.Source = make([]int16, count)
	g.Points = make([]orb.Point, count)
	per := min(count, max(1, chunkPoints/w))
	points := make([]terrain.Point, per*w)
	out := make([]terrain.Sample, per*w)
	lines := newSections(r, g, count)
	for first := 0; first < count; first += per {
		if err := ctx.Err(); err != nil {
			return err
		}
		n := min(per, count-first)
		for i := range n {
			g.Points[first+i] = lines.lay(first+i, points[i*w:(i+1)*w])
		}
		if err := sample(ctx, points[:n*w], out[:n*w]); err != nil {
			return err
		}
		for i := range n * w {
			v := float32(math.NaN())
			if out[i].Miss == terrain.Hit {
				v = float32(out[i].ElevationM)
			}
			g.SectionM[first*w+i] = v
		}
		for i := range n {
			c := out[i*w+mid]
			g.Miss[first+i], g.CellM[first+i], g.Source[first+i] = c.Miss, c.CellM, c.Source
		}
	}
	return nil
}

// probe returns the median cell size along a route, with a finer search where the first finds
// nothing.
func probe(ctx context.Context, s terrain.Surface, r *routes.Route) (float64, error) {
	var miss []terrain.Miss
	for _, everyM := range []float64{probeM, 10} {
		n := max(1, int(math.Ceil(r.LengthM/everyM)))
		g := &routes.Ground{StepM: r.LengthM / float64(n), OffsetM: []float64{0}}
		if err := fill(ctx, s.Sample, r, g, n+1); err != nil {
			return 0, err
		}
		var cells []float32
		for i, m := range g.Miss {
			if m == terrain.Hit && g.CellM[i] > 0 {
				cells = append(cells, g.CellM[i])
			}
		}
		if len(cells) > 0 {
			sort.Slice(cells, func(i, j int) bool { return cells[i] < cells[j] })
			return float64(cells[len(cells)/2]), nil
		}
		miss = g.Miss
	}
	return 0, noGround(s, r, miss)
}

// noGround is the fault of a route without a single height.
func noGround(s terrain.Surface, r *routes.Route, miss []terrain.Miss) error {
	f := &routes.Fault{Kind: terrain.ErrOutside, File: r.Place.File, Feature: "route " + r.ID,
		Point: &terrain.Point{LonDeg: r.Line[0][0], LatDeg: r.Line[0][1]},
		What:  "no terrain under any part of it", Fix: "add a raster that covers it, or check that its longitude and latitude are not swapped"}
	counts := map[terrain.Miss]int{}
	for _, m := range miss {
		counts[m]++
	}
	if n := counts[terrain.Void] + counts[terrain.Unreadable] + counts[terrain.NoGround]; n > 0 {
		f.Kind, f.What, f.Fix = terrain.ErrVoid, "the terrain has no data under any part of it", "add a raster without a gap there"
		if counts[terrain.NoGround] > 0 {
			f.What = "the terrain under it has exactly one height, which is a fill value"
			f.Fix = "add a raster without a gap there, or say --flat-is-ground if it is real"
		}
		if counts[terrain.Unreadable] > 0 {
			f.Kind, f.What, f.Fix = terrain.ErrRead, "the terrain could not be read under it", "check the raster, or fetch it again"
		}
	}
	if src := s.Sources(); len(src) > 0 {
		f.What += fmt.Sprintf(" (%d rasters, the first %s)", len(src), src[0].Name)
	}
	if b, ok := s.(interface {
		Box() (west, south, east, north float64)
	}); ok {
		w, so, e, n := b.Box()
		f.What += fmt.Sprintf("; the terrain reaches from longitude %.4f to %.4f, latitude %.4f to %.4f", w, e, so, n)
	}
	return f
}
