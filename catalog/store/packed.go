package store

import (
	"encoding/binary"
	"encoding/json"
	"hash/crc32"
	"math"
	"sync"

	"gradeline/catalog/compact"
	"gradeline/routes"
	"gradeline/terrain"
)

// A grade line is stored packed, in steps of 0.1 mm for the line itself, 1 cm for the
// ground and 1 mm for the effect of smoothing. The largest error is half a step; places
// to 1e-7 degrees, radii to 1 m.
const (
	marginM      = 2000 // of profile stored before the crest and after the foot, for advance signs
	packedMark   = 'p'
	packedColumn = 5 // column by column, behind its check sum
	packedSealed = 4 // station by station as layout 3, behind its check sum
	packedLayout = 3
	packedBefore = 2 // without EaseM
	groundUnitM  = 0.01
	groundWasM   = 0.001 // unit of the ground in older layouts, and of what smoothing took off in all
	heightUnitM  = 0.0001
	placeUnitDeg = 1e-7
	missing      = 0x80    // bit of the state byte: no ground
	noHeight     = 0x40    // bit of the state byte: no grade line
	maxHeightM   = 1e6     // nothing on Earth is higher
	maxStations  = 1 << 22 // of one stretch
	maxRouteM    = 2e7     // half way round the world
	minStepM     = 0.001
)

// packedRoute describes the route of a packed stretch, as JSON.
type packedRoute struct {
	RouteM     float64            `json:"route_length_m"`
	CellM      float64            `json:"cell_m"`
	Bound      routes.ErrorModel  `json:"bound"`
	Coarser    []routes.Part      `json:"coarser,omitempty"`
	Structures []routes.Structure `json:"structures"` // that reach into the stretch
}

// stretchOf returns a descent's part of a profile with its margins; nil where the
// profile does not reach it or lacks a series.
func stretchOf(p *routes.Profile, d *routes.Descent) *routes.Profile {
	if !hasAllSeries(p) || p.Count() == 0 {
		return nil
	}
	return p.Stretch(min(d.StartM, d.EndM)-marginM, max(d.StartM, d.EndM)+marginM)
}

func hasAllSeries(p *routes.Profile) bool {
	n := p.Count()
	return p.StepM > 0 && len(p.GroundM) == n && len(p.State) == n && len(p.Points) == n && len(p.RadiusM) == n && (len(p.EaseM) == 0 || len(p.EaseM) == n)
}

// columns are the series of a stretch in whole units, station by station. Ground and
// height hold those stations alone that have them.
type columns struct {
	state, ground, height, lon, lat, radius, ease []int64
	memory                                        []int64
}

var columnsKept = sync.Pool{New: func() any { return &columns{} }}

// columnsOf returns columns that their user gives back to columnsKept.
func columnsOf(p *routes.Profile) *columns {
	n := p.Count()
	c := columnsKept.Get().(*columns)
	all := c.memory
	if cap(all) < 7*n {
		all = make([]int64, 7*n)
	}
	all = all[:7*n]
	*c = columns{all[:0:n], all[n : n : 2*n], all[2*n : 2*n : 3*n], all[3*n : 3*n : 4*n], all[4*n : 4*n : 5*n], all[5*n : 5*n : 6*n], all[6*n : 6*n : 7*n], all}
	c.addHeights(p)
	c.lon, c.lat, c.radius, c.ease = c.lon[:n], c.lat[:n], c.radius[:n], c.ease[:n]
	for i, at := range p.Points[:n] {
		c.lon[i], c.lat[i] = nearest(at[0]*(1/placeUnitDeg)), nearest(at[1]*(1/placeUnitDeg))
	}
	for i, r := range p.RadiusM[:n] {
		c.radius[i] = 0 // straight
		if r < 1e6 {
			c.radius[i] = max(0, nearest(r))
		}
	}
	if len(p.EaseM) == 0 {
		clear(c.ease)
		return c
	}
	for i, ease := range p.EaseM[:n] {
		c.ease[i] = 0
		if math.Abs(ease) < maxHeightM {
			c.ease[i] = nearest(ease * (1 / groundWasM))
		}
	}
	return c
}

// addHeights adds ground and height where there are any, and the state of each station.
func (c *columns) addHeights(p *routes.Profile) {
	n := p.Count()
	states, grounds, heights := p.State[:n], p.GroundM[:n], p.ElevationM[:n]
	for i, state := range states {
		st := int64(state) & 0x3f
		if g := grounds[i]; math.Abs(g) < maxHeightM {
			c.ground = append(c.ground, nearest(g*(1/groundUnitM)))
		} else {
			st |= missing
		}
		if e := heights[i]; math.Abs(e) < maxHeightM {
			c.height = append(c.height, nearest(e*(1/heightUnitM)))
		} else {
			st |= noHeight
		}
		c.state = append(c.state, st)
	}
}

// nearest is the nearest integer of a number below 2^51, of two the even one: with a number added
// that leaves no room for parts, the lowest bits are the integer.
func nearest(x float64) int64 {
	const noParts = 3 << 51
	return int64(math.Float64bits(x+noParts)) - int64(noPartsBits)
}

const noPartsBits = 0x4338 << 48 // of 3 << 51 as a float64

// packProfile writes a stretch: mark, layout, check sum, origin, step, count, then the
// columns, last what is known of its route as JSON.
func packProfile(p *routes.Profile) ([]byte, error) {
	n := p.Count()
	if n > maxStations || !hasAllSeries(p) {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a profile whose parts differ in length", Fix: "survey the route again"}
	}
	b := append(make([]byte, 0, 512+5*n), packedMark, packedColumn, 0, 0, 0, 0)
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p.OriginM))
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p.StepM))
	b = binary.AppendUvarint(b, uint64(n))
	c := columnsOf(p)
	for _, column := range [][]int64{c.state, c.ground, c.height, c.lon, c.lat, c.radius, c.ease} {
		b = compact.AppendInts(b, column)
	}
	columnsKept.Put(c)
	about := packedRoute{p.LengthM, p.CellM, p.Bound, p.Coarser, p.Structures}
	if about.Structures == nil {
		about.Structures = []routes.Structure{}
	}
	more, err := json.Marshal(about)
	if err != nil {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a profile with a figure that is not a number", Err: err, Fix: "survey the route again"}
	}
	b = append(b, more...)
	binary.LittleEndian.PutUint32(b[2:], crc32.Checksum(b[6:], packedSum))
	return b, nil
}

// packedSum is the check sum of a packed profile.
var packedSum = crc32.MakeTable(crc32.Castagnoli)
