package store

import (
	"encoding/binary"
	"encoding/json"
	"hash/crc32"
	"math"

	"github.com/paulmach/orb"

	"gradeline/catalog/compact"
	"gradeline/routes"
	"gradeline/terrain"
)

// unpacker reads stations; its fields hold what the next difference is added to. After
// the first byte that does not fit, isDamaged stays set and every figure is 0.
type unpacker struct {
	b                                     []byte
	ground, height, slope, lon, lat, ease int64
	isDamaged                             bool
}

func (u *unpacker) varint() int64 {
	v, n := binary.Varint(u.b)
	if n <= 0 {
		u.isDamaged = true
		return 0
	}
	u.b = u.b[n:]
	return v
}

func (u *unpacker) uvarint() uint64 {
	v, n := binary.Uvarint(u.b)
	if n <= 0 {
		u.isDamaged = true
		return 0
	}
	u.b = u.b[n:]
	return v
}

// unpackProfile reads what packProfile wrote; anything else is a fault. Nothing is known
// outside the stretch, and what was in doubt is not kept.
func unpackProfile(b []byte) (*routes.Profile, error) {
	damaged := &Fault{Kind: terrain.ErrRead, What: "a stored profile is damaged", Fix: "survey the route again"}
	rest, layout, isWhole := unsealed(b)
	if !isWhole {
		return nil, damaged
	}
	hasEase := layout != packedBefore
	p := &routes.Profile{
		OriginM:  math.Float64frombits(binary.LittleEndian.Uint64(rest)),
		StepM:    math.Float64frombits(binary.LittleEndian.Uint64(rest[8:])),
		Reliable: true,
	}
	u := unpacker{b: rest[16:]}
	n := u.uvarint()
	if u.isDamaged || n > maxStations || n > uint64(len(u.b))*stationsPerByte(layout) || !isPlausibleGrid(p.OriginM, p.StepM) {
		return nil, damaged
	}
	p.GroundM, p.ElevationM, p.State = make([]float64, n), make([]float64, n), make([]routes.StationState, n)
	p.Points, p.RadiusM = make([]orb.Point, n), make([]float64, n)
	if hasEase {
		p.EaseM = make([]float64, n)
	}
	if layout == packedColumn {
		u.readColumns(p)
	} else {
		for i := 0; i < len(p.State) && !u.isDamaged; i++ {
			u.readStation(p, i)
		}
	}
	if u.isDamaged {
		return nil, damaged
	}
	var about packedRoute
	if err := json.Unmarshal(u.b, &about); err != nil || !isPlausibleRoute(about.RouteM, p.StepM) {
		return nil, damaged
	}
	p.LengthM, p.CellM, p.Bound, p.Coarser, p.Structures = about.RouteM, about.CellM, about.Bound, about.Coarser, about.Structures
	return p, nil
}

// unsealed gives what follows mark, layout and check sum, and the layout; isWhole is false
// where the sum does not fit or the layout is not known.
func unsealed(b []byte) (rest []byte, layout byte, isWhole bool) {
	const fixed = 2 + 16 + 1 // mark and layout, origin and step, the shortest count
	if len(b) < fixed || b[0] != packedMark {
		return nil, 0, false
	}
	switch b[1] {
	case packedSealed, packedColumn:
		isWhole = len(b) >= fixed+4 && binary.LittleEndian.Uint32(b[2:]) == crc32.Checksum(b[6:], packedSum)
		if layout = b[1]; layout == packedSealed {
			layout = packedLayout
		}
		return b[6:], layout, isWhole
	case packedLayout, packedBefore:
		return b[2:], b[1], true
	}
	return nil, 0, false
}

// stationsPerByte is the most that a layout holds: stations of before took bytes each,
// columns of zeros take hardly any.
func stationsPerByte(layout byte) uint64 {
	if layout == packedColumn {
		return 64
	}
	return 1
}

// readColumns reads what packProfile writes now.
func (u *unpacker) readColumns(p *routes.Profile) {
	r := compact.NewReader(u.b)
	n := len(p.State)
	column := make([]int64, n)
	r.Ints(column)
	var grounds, heights int
	for i, st := range column {
		p.State[i] = routes.StationState(st & 0x3f)
		p.GroundM[i], p.ElevationM[i] = math.NaN(), math.NaN()
		if st&missing == 0 {
			p.GroundM[i] = 0
			grounds++
		}
		if st&noHeight == 0 {
			p.ElevationM[i] = 0
			heights++
		}
	}
	fillKnown(p.GroundM, readInts(r, column[:grounds]), groundUnitM)
	fillKnown(p.ElevationM, readInts(r, column[:heights]), heightUnitM)
	for k := range 2 {
		for i, v := range readInts(r, column) {
			p.Points[i][k] = float64(v) * placeUnitDeg
		}
	}
	for i, v := range readInts(r, column) {
		if p.RadiusM[i] = math.Inf(1); v > 0 {
			p.RadiusM[i] = float64(v)
		}
	}
	for i, v := range readInts(r, column) {
		p.EaseM[i] = float64(v) * groundWasM
	}
	u.b, u.isDamaged = r.Rest(), r.Err() != nil
}

func readInts(r *compact.Reader, column []int64) []int64 {
	r.Ints(column)
	return column
}

// fillKnown fills in values where the series is a number.
func fillKnown(series []float64, values []int64, unit float64) {
	k := 0
	for i := range series {
		if series[i] == 0 {
			series[i] = float64(values[k]) * unit
			k++
		}
	}
}

// isPlausibleGrid reports whether a grid of stations is possible; false for NaN.
func isPlausibleGrid(originM, stepM float64) bool {
	return stepM >= minStepM && stepM <= maxRouteM && math.Abs(originM) <= maxRouteM
}

// isPlausibleRoute is the same of a road's length.
func isPlausibleRoute(lengthM, stepM float64) bool {
	return lengthM >= 0 && lengthM <= maxRouteM && lengthM/stepM <= maxStations
}

func (u *unpacker) readStation(p *routes.Profile, i int) {
	if len(u.b) == 0 {
		u.isDamaged = true
		return
	}
	st := u.b[0]
	u.b = u.b[1:]
	p.State[i] = routes.StationState(st & 0x3f)
	p.GroundM[i], p.ElevationM[i] = math.NaN(), math.NaN()
	if st&missing == 0 {
		u.ground += u.varint()
		p.GroundM[i] = float64(u.ground) * groundWasM
	}
	if st&noHeight == 0 {
		u.slope += u.varint()
		u.height += u.slope
		p.ElevationM[i] = float64(u.height) * heightUnitM
	}
	u.lon += u.varint()
	u.lat += u.varint()
	p.Points[i] = orb.Point{float64(u.lon) * placeUnitDeg, float64(u.lat) * placeUnitDeg}
	p.RadiusM[i] = math.Inf(1)
	if r := u.uvarint(); r > 0 {
		p.RadiusM[i] = float64(r)
	}
	if p.EaseM != nil {
		u.ease += u.varint()
		p.EaseM[i] = float64(u.ease) * groundWasM
	}
}
