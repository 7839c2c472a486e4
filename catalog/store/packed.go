package store

import (
	"encoding/binary"
	"encoding/json"
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// Stretch is a part of a route's grade line, forward along the line: station i
// is at FromM + i·StepM. Heights are kept to 1 mm (ground) and 0.1 mm (grade
// line), half of which is the most that they are off; NaN is a miss.
type Stretch struct {
	FromM      float64               `json:"from_m"`
	StepM      float64               `json:"step_m"`
	GroundM    []float64             `json:"ground_m"`
	ElevationM []float64             `json:"elevation_m"`
	State      []routes.StationState `json:"state"`
	Points     []orb.Point           `json:"points"`   // kept to 1e-7 degrees
	RadiusM    []float64             `json:"radius_m"` // kept to 1 m; +Inf where straight
	EaseM      []float64             `json:"ease_m"`   // kept to 1 mm; empty where unknown
	Beside     Beside                `json:"beside"`
}

// Beside is what a stretch says of its route as a whole.
type Beside struct {
	RouteM     float64            `json:"route_length_m"`
	CellM      float64            `json:"cell_m"`
	Bound      routes.ErrorModel  `json:"bound"`
	Coarser    []routes.Part      `json:"coarser,omitempty"`
	Structures []routes.Structure `json:"structures"` // that reach into the stretch
}

// Profile is the stretch as a profile of its whole route, with nothing known
// outside the stretch: heights and places there are NaN.
func (s *Stretch) Profile() *routes.Profile {
	n := max(int(math.Round(s.Beside.RouteM/s.StepM))+1, 2)
	p := &routes.Profile{StepM: s.StepM, LengthM: s.Beside.RouteM, CellM: s.Beside.CellM, Bound: s.Beside.Bound, Coarser: s.Beside.Coarser, Structures: s.Beside.Structures, Reliable: true,
		GroundM: make([]float64, n), ElevationM: make([]float64, n), State: make([]routes.StationState, n), Points: make([]orb.Point, n), RadiusM: make([]float64, n)}
	if len(s.EaseM) > 0 {
		p.EaseM = make([]float64, n)
	}
	first := int(math.Round(s.FromM / s.StepM))
	for i := range n {
		k := i - first
		if k < 0 || k >= s.Count() {
			p.GroundM[i], p.ElevationM[i], p.State[i] = math.NaN(), math.NaN(), routes.OutsideTerrain
			p.Points[i], p.RadiusM[i] = orb.Point{math.NaN(), math.NaN()}, math.Inf(1)
			continue
		}
		if p.EaseM != nil {
			p.EaseM[i] = s.EaseM[k]
		}
		p.GroundM[i], p.ElevationM[i], p.State[i], p.Points[i], p.RadiusM[i] = s.GroundM[k], s.ElevationM[k], s.State[k], s.Points[k], s.RadiusM[k]
	}
	return p
}

// BoundOver returns the widest bounds that hold between two stations of the route.
func (s *Stretch) BoundOver(aM, bM float64) routes.ErrorModel {
	p := routes.Profile{Bound: s.Beside.Bound, Coarser: s.Beside.Coarser}
	return p.BoundOver(aM, bM)
}

// MeanErrPct is the 95 % half-width of the mean grade between two stations of the
// route, both in the stretch, without a profile of the whole route.
func (s *Stretch) MeanErrPct(aM, bM float64) float64 {
	p := routes.Profile{OriginM: s.FromM, StepM: s.StepM, LengthM: s.Beside.RouteM, ElevationM: s.ElevationM, State: s.State, EaseM: s.EaseM, Bound: s.BoundOver(aM, bM)}
	return p.MeanErrPct(aM, bM)
}

// StationM is the station of index i.
func (s *Stretch) StationM(i int) float64 { return s.FromM + float64(i)*s.StepM }

// Count is the number of stations.
func (s *Stretch) Count() int { return len(s.ElevationM) }

const (
	marginM      = 2000 // of profile kept before the crest and after the foot: advance signs stand there
	packedMark   = 'p'
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
)

// stretchOf cuts a descent with its margins out of a profile.
func stretchOf(p *routes.Profile, d *routes.Descent) *Stretch {
	n := p.Count()
	if !(p.StepM > 0) || n == 0 || len(p.GroundM) != n || len(p.State) != n || len(p.Points) != n || len(p.RadiusM) != n {
		return nil
	}
	lo, hi := min(d.StartM, d.EndM)-marginM, max(d.StartM, d.EndM)+marginM
	i0 := max(0, int(math.Floor(lo/p.StepM)))
	i1 := min(n, int(math.Ceil(hi/p.StepM))+1)
	if i0 >= i1 {
		return nil
	}
	s := &Stretch{FromM: p.StationM(i0), StepM: p.StepM, GroundM: p.GroundM[i0:i1], ElevationM: p.ElevationM[i0:i1], State: p.State[i0:i1],
		Points: p.Points[i0:i1], RadiusM: p.RadiusM[i0:i1], Beside: Beside{RouteM: p.LengthM, CellM: p.CellM, Bound: p.Bound, Structures: []routes.Structure{}}}
	for _, c := range p.Coarser {
		if c.ToM > lo && c.FromM < hi {
			s.Beside.Coarser = append(s.Beside.Coarser, c)
		}
	}
	if len(p.EaseM) == n {
		s.EaseM = p.EaseM[i0:i1]
	}
	for _, x := range p.Structures {
		if x.ToM > lo && x.FromM < hi {
			s.Beside.Structures = append(s.Beside.Structures, x)
		}
	}
	return s
}

// pack writes a stretch: mark, layout, FromM, StepM, count, then for each station
// a state byte, the ground's difference in mm, the grade line's second difference
// in 0.1 mm, the place's differences, the radius and the ease's difference in mm as
// varints; last what lies beside it as JSON.
func (s *Stretch) pack() ([]byte, error) {
	n := s.Count()
	if n > maxStations || len(s.GroundM) != n || len(s.State) != n || len(s.Points) != n || len(s.RadiusM) != n || len(s.EaseM) != 0 && len(s.EaseM) != n || !(s.StepM > 0) {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a profile whose parts differ in length", Fix: "survey the route again"}
	}
	b := append(make([]byte, 0, 32+5*n), packedMark, packedLayout)
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(s.FromM))
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(s.StepM))
	b = binary.AppendUvarint(b, uint64(n))
	var ground, height, slope, lon, lat, ease int64
	for i := range n {
		st := byte(s.State[i]) & 0x3f
		g, e := s.GroundM[i], s.ElevationM[i]
		if !(math.Abs(g) < maxHeightM) {
			st |= missing
		}
		if !(math.Abs(e) < maxHeightM) {
			st |= noHeight
		}
		b = append(b, st)
		if st&missing == 0 {
			v := int64(math.Round(g / groundUnitM))
			b = binary.AppendVarint(b, v-ground)
			ground = v
		}
		if st&noHeight == 0 {
			v := int64(math.Round(e / heightUnitM))
			b = binary.AppendVarint(b, v-height-slope)
			slope = v - height
			height = v
		}
		x, y := int64(math.Round(s.Points[i][0]/placeUnitDeg)), int64(math.Round(s.Points[i][1]/placeUnitDeg))
		b = binary.AppendVarint(binary.AppendVarint(b, x-lon), y-lat)
		lon, lat = x, y
		radius := uint64(0) // straight
		if r := math.Round(s.RadiusM[i]); r >= 1 && r < 1e6 {
			radius = uint64(r)
		}
		b = binary.AppendUvarint(b, radius)
		v := int64(0)
		if s.EaseM != nil && math.Abs(s.EaseM[i]) < maxHeightM {
			v = int64(math.Round(s.EaseM[i] / groundUnitM))
		}
		b = binary.AppendVarint(b, v-ease)
		ease = v
	}
	more, err := json.Marshal(s.Beside)
	if err != nil {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a profile with a figure that is no number", Err: err, Fix: "survey the route again"}
	}
	return append(b, more...), nil
}

// unpack reads what pack wrote; anything else is a fault.
func unpack(b []byte) (*Stretch, error) {
	damaged := &Fault{Kind: terrain.ErrRead, What: "a stored profile is damaged", Fix: "survey the route again"}
	if len(b) < 19 || b[0] != packedMark || b[1] != packedLayout && b[1] != packedBefore {
		return nil, damaged
	}
	hasEase := b[1] == packedLayout
	s := &Stretch{
		FromM: math.Float64frombits(binary.LittleEndian.Uint64(b[2:])),
		StepM: math.Float64frombits(binary.LittleEndian.Uint64(b[10:])),
	}
	b = b[18:]
	n, k := binary.Uvarint(b)
	if k <= 0 || n > maxStations || n > uint64(len(b)) || !(s.StepM > 0) || math.IsInf(s.StepM, 0) || math.IsNaN(s.FromM) || math.IsInf(s.FromM, 0) {
		return nil, damaged
	}
	b = b[k:]
	s.GroundM, s.ElevationM, s.State = make([]float64, n), make([]float64, n), make([]routes.StationState, n)
	s.Points, s.RadiusM = make([]orb.Point, n), make([]float64, n)
	if hasEase {
		s.EaseM = make([]float64, n)
	}
	var ground, height, slope, lon, lat, ease int64
	for i := range s.State {
		if len(b) == 0 {
			return nil, damaged
		}
		st := b[0]
		b = b[1:]
		s.State[i] = routes.StationState(st & 0x3f)
		s.GroundM[i], s.ElevationM[i] = math.NaN(), math.NaN()
		if st&missing == 0 {
			d, k := binary.Varint(b)
			if k <= 0 {
				return nil, damaged
			}
			b, ground = b[k:], ground+d
			s.GroundM[i] = float64(ground) * groundUnitM
		}
		if st&noHeight == 0 {
			d, k := binary.Varint(b)
			if k <= 0 {
				return nil, damaged
			}
			b = b[k:]
			slope += d
			height += slope
			s.ElevationM[i] = float64(height) * heightUnitM
		}
		x, kx := binary.Varint(b)
		y, ky := binary.Varint(b[max(0, kx):])
		r, kr := binary.Uvarint(b[max(0, kx)+max(0, ky):])
		if kx <= 0 || ky <= 0 || kr <= 0 {
			return nil, damaged
		}
		b = b[kx+ky+kr:]
		lon, lat = lon+x, lat+y
		s.Points[i] = orb.Point{float64(lon) * placeUnitDeg, float64(lat) * placeUnitDeg}
		s.RadiusM[i] = math.Inf(1)
		if r > 0 {
			s.RadiusM[i] = float64(r)
		}
		if hasEase {
			d, k := binary.Varint(b)
			if k <= 0 {
				return nil, damaged
			}
			b, ease = b[k:], ease+d
			s.EaseM[i] = float64(ease) * groundUnitM
		}
	}
	if err := json.Unmarshal(b, &s.Beside); err != nil || !(s.Beside.RouteM >= 0) || s.Beside.RouteM > maxRouteM || s.Beside.RouteM/s.StepM > maxStations {
		return nil, damaged
	}
	return s, nil
}
