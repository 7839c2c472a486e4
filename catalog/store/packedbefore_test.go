package store

import (
	"encoding/binary"
	"encoding/json"
	"hash/crc32"
	"math"

	"gradeline/routes"
	"gradeline/terrain"
)

// packer appends stations; its fields hold what the next difference is taken from.
type packer struct {
	b                                     []byte
	ground, height, slope, lon, lat, ease int64
}

// packByStation writes a stretch as versions before columns did: mark, layout, check sum, origin, step, count, then for each station
// a state byte, the ground's difference in mm, the grade line's second difference
// in 0.1 mm, the place's differences, the radius and the ease's difference in mm as
// varints; last what is known of its route as JSON.
func packByStation(p *routes.Profile) ([]byte, error) {
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
		return nil, &Fault{Kind: terrain.ErrInput, What: "a profile with a figure that is no number", Err: err, Fix: "survey the route again"}
	}
	k.b = append(k.b, more...)
	binary.LittleEndian.PutUint32(k.b[2:], crc32.Checksum(k.b[6:], packedSum))
	return k.b, nil
}

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
		v := int64(math.Round(g / groundWasM))
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
		v = int64(math.Round(p.EaseM[i] / groundWasM))
	}
	k.b = binary.AppendVarint(b, v-k.ease)
	k.ease = v
}
