package store

import (
	"encoding/binary"
	"encoding/json"
	"hash/crc32"
	"math"

	"gradeline/routes"
	"gradeline/terrain"
)

// A grade line is stored packed: ground to 1 mm and the line to 0.1 mm, with an error of at most
// half of that; places to 1e-7 degrees, radii to 1 m.
const (
	marginM      = 2000 // of profile stored before the crest and after the foot, for advance signs
	packedMark   = 'p'
	packedSealed = 4 // layout 3 behind its check sum
	packedLayout = 3
	packedBefore = 2 // without EaseM
	groundUnitM  = 0.001
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

// packer appends stations; its fields hold the values of the last station.
type packer struct {
	b                                     []byte
	ground, height, slope, lon, lat, ease int64
}

// packProfile writes a stretch: mark, layout, check sum, origin, step, count, then for each station
// a state byte, the ground's difference in mm, the grade line's second difference in 0.1 mm, the
// place's differences, the radius and the ease's difference in mm as varints; last the description
// of its route as JSON.
func packProfile(p *routes.Profile) ([]byte, error) {
	n := p.Count()
	if n > maxStations || !hasAllSeries(p) {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a profile whose parts differ in length", Fix: "survey the route again"}
	}
	k := packer{b: append(make([]byte, 0, 36+5*n), packedMark, packedSealed, 0, 0, 0, 0)}
	k.b = binary.LittleEndian.AppendUint64(k.b, math.Float64bits(p.OriginM))
	k.b = binary.LittleEndian.AppendUint64(k.b, math.Float64bits(p.StepM))
	k.b = binary.AppendUvarint(k.b, uint64(n))
	for i := range n {
		k.appendStation(p, i)
	}
	about := packedRoute{p.LengthM, p.CellM, p.Bound, p.Coarser, p.Structures}
	if about.Structures == nil {
		about.Structures = []routes.Structure{}
	}
	more, err := json.Marshal(about)
	if err != nil {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a profile with a figure that is not a number", Err: err, Fix: "survey the route again"}
	}
	k.b = append(k.b, more...)
	binary.LittleEndian.PutUint32(k.b[2:], crc32.Checksum(k.b[6:], packedSum))
	return k.b, nil
}

// packedSum is the check sum of a packed profile.
var packedSum = crc32.MakeTable(crc32.Castagnoli)

func (k *packer) appendStation(p *routes.Profile, i int) {
	st := byte(p.State[i]) & 0x3f
	g, e := p.GroundM[i], p.ElevationM[i]
	if !(math.Abs(g) < maxHeightM) {
		st |= missing
	}
	if !(math.Abs(e) < maxHeightM) {
		st |= noHeight
	}
	b := append(k.b, st)
	if st&missing == 0 {
		v := int64(math.Round(g / groundUnitM))
		b = binary.AppendVarint(b, v-k.ground)
		k.ground = v
	}
	if st&noHeight == 0 {
		v := int64(math.Round(e / heightUnitM))
		b = binary.AppendVarint(b, v-k.height-k.slope)
		k.slope = v - k.height
		k.height = v
	}
	x, y := int64(math.Round(p.Points[i][0]/placeUnitDeg)), int64(math.Round(p.Points[i][1]/placeUnitDeg))
	b = binary.AppendVarint(binary.AppendVarint(b, x-k.lon), y-k.lat)
	k.lon, k.lat = x, y
	radius := uint64(0) // straight
	if r := math.Round(p.RadiusM[i]); r >= 1 && r < 1e6 {
		radius = uint64(r)
	}
	b = binary.AppendUvarint(b, radius)
	v := int64(0)
	if len(p.EaseM) > 0 && math.Abs(p.EaseM[i]) < maxHeightM {
		v = int64(math.Round(p.EaseM[i] / groundUnitM))
	}
	k.b = binary.AppendVarint(b, v-k.ease)
	k.ease = v
}
