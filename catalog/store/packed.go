package store

import (
	"encoding/binary"
	"math"

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
}

// StationM is the station of index i.
func (s *Stretch) StationM(i int) float64 { return s.FromM + float64(i)*s.StepM }

// Count is the number of stations.
func (s *Stretch) Count() int { return len(s.ElevationM) }

const (
	marginM      = 1000 // of profile kept before the crest and after the foot
	packedMark   = 'p'
	packedLayout = 1
	groundUnitM  = 0.001
	heightUnitM  = 0.0001
	missing      = 0x80    // bit of the state byte: no ground
	noHeight     = 0x40    // bit of the state byte: no grade line
	maxHeightM   = 1e6     // nothing on Earth is higher
	maxStations  = 1 << 22 // of one stretch
)

// stretchOf cuts a descent with its margins out of a profile.
func stretchOf(p *routes.Profile, d *routes.Descent) *Stretch {
	n := p.Count()
	if !(p.StepM > 0) || n == 0 || len(p.GroundM) != n || len(p.State) != n {
		return nil
	}
	lo, hi := min(d.StartM, d.EndM)-marginM, max(d.StartM, d.EndM)+marginM
	i0 := max(0, int(math.Floor(lo/p.StepM)))
	i1 := min(n, int(math.Ceil(hi/p.StepM))+1)
	if i0 >= i1 {
		return nil
	}
	return &Stretch{FromM: p.StationM(i0), StepM: p.StepM, GroundM: p.GroundM[i0:i1], ElevationM: p.ElevationM[i0:i1], State: p.State[i0:i1]}
}

// pack writes a stretch: mark, layout, FromM, StepM, count, then for each station
// a state byte, the ground's difference in mm and the grade line's second
// difference in 0.1 mm as varints.
func (s *Stretch) pack() ([]byte, error) {
	n := s.Count()
	if n > maxStations || len(s.GroundM) != n || len(s.State) != n || !(s.StepM > 0) {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a profile whose parts differ in length", Fix: "survey the route again"}
	}
	b := append(make([]byte, 0, 32+5*n), packedMark, packedLayout)
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(s.FromM))
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(s.StepM))
	b = binary.AppendUvarint(b, uint64(n))
	var ground, height, slope int64
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
	}
	return b, nil
}

// unpack reads what pack wrote; anything else is a fault.
func unpack(b []byte) (*Stretch, error) {
	damaged := &Fault{Kind: terrain.ErrRead, What: "a stored profile is damaged", Fix: "survey the route again"}
	if len(b) < 19 || b[0] != packedMark || b[1] != packedLayout {
		return nil, damaged
	}
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
	var ground, height, slope int64
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
	}
	if len(b) != 0 {
		return nil, damaged
	}
	return s, nil
}
