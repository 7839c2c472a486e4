package gpkg

import (
	"database/sql"
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	sqlite3 "github.com/mattn/go-sqlite3"

	"gradeline/catalog"
	"gradeline/terrain"
)

// GeoPackage geometry blob (OGC 12-128r17 section 2.1.3): "GP", version 0,
// flags, srs_id, envelope, ISO well-known binary.
const (
	srsID         = 4326
	blobHeaderLen = 8
	envelopeLen   = 32
	flagsLEXY     = 0x03    // little-endian header, envelope minx, maxx, miny, maxy
	MaxVertices   = 1 << 21 // of one line; more is damage, not a road
	maxValueBytes = 1 << 27 // of any one value in the file
)

// Envelope is an extent in degrees; MinX is never greater than MaxX but where it is empty.
type Envelope struct{ MinX, MaxX, MinY, MaxY float64 }

// Add extends the envelope to a point.
func (b *Envelope) Add(x, y float64) {
	b.MinX, b.MaxX = min(b.MinX, x), max(b.MaxX, x)
	b.MinY, b.MaxY = min(b.MinY, y), max(b.MaxY, y)
}

// IsEmpty reports whether nothing was added.
func (b *Envelope) IsEmpty() bool { return !(b.MinX <= b.MaxX) }

// EmptyEnvelope holds nothing.
func EmptyEnvelope() Envelope { return Envelope{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)} }

// EnvelopeOf is the extent of a line.
func EnvelopeOf(line []catalog.Vertex) Envelope {
	b := EmptyEnvelope()
	for _, v := range line {
		b.Add(v.LonDeg, v.LatDeg)
	}
	return b
}

const (
	wkbLineZM  = 3002 // ISO 13249-3 code of a LINESTRING ZM
	wkbPoint   = 1
	vertexLen  = 32 // of one vertex of a LINESTRING ZM
	wkbLineLen = 9  // before the first vertex
)

// AppendLine writes a LINESTRING ZM, longitude, latitude, elevation, station, after b and returns
// its extent.
func AppendLine(b []byte, line []catalog.Vertex) ([]byte, Envelope) {
	bx := EnvelopeOf(line)
	b = blobHeader(slices.Grow(b, blobHeaderLen+envelopeLen+wkbLineLen+vertexLen*len(line)), bx)
	b = append(b, 1) // little-endian
	b = binary.LittleEndian.AppendUint32(b, wkbLineZM)
	b = binary.LittleEndian.AppendUint32(b, uint32(len(line)))
	for _, v := range line {
		for _, x := range [4]float64{v.LonDeg, v.LatDeg, v.ElevationM, v.StationM} {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
		}
	}
	return b, bx
}

// PointBlob writes a POINT.
func PointBlob(p terrain.Point) []byte {
	b := append(blobHeader(nil, Envelope{p.LonDeg, p.LonDeg, p.LatDeg, p.LatDeg}), 1)
	b = binary.LittleEndian.AppendUint32(b, wkbPoint)
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p.LonDeg))
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(p.LatDeg))
}

func blobHeader(h []byte, b Envelope) []byte {
	h = append(h, 'G', 'P', 0, flagsLEXY)
	h = binary.LittleEndian.AppendUint32(h, srsID)
	for _, v := range []float64{b.MinX, b.MaxX, b.MinY, b.MaxY} {
		h = binary.LittleEndian.AppendUint64(h, math.Float64bits(v))
	}
	return h
}

// blobBody checks the header of a blob, of any byte order and envelope kind,
// and returns the well-known binary after it and whether it is marked empty.
func blobBody(b []byte) (body []byte, order binary.ByteOrder, envelope []byte, empty bool, err error) {
	if len(b) < blobHeaderLen || b[0] != 'G' || b[1] != 'P' {
		return nil, nil, nil, false, geometryFault("not a GeoPackage geometry")
	}
	if b[2] != 0 || b[3]&0x20 != 0 {
		return nil, nil, nil, false, geometryFault("a GeoPackage geometry of an unknown kind")
	}
	kind := b[3] >> 1 & 7
	if kind > 4 {
		return nil, nil, nil, false, geometryFault("a GeoPackage geometry with a wrong envelope")
	}
	n := blobHeaderLen + []int{0, 32, 48, 48, 64}[kind]
	if len(b) < n {
		return nil, nil, nil, false, geometryFault("a truncated GeoPackage geometry")
	}
	order = binary.BigEndian
	if b[3]&1 == 1 {
		order = binary.LittleEndian
	}
	return b[n:], order, b[blobHeaderLen:n], b[3]&0x10 != 0, nil
}

// ParseLine reads a LINESTRING ZM blob back, to the bit.
func ParseLine(b []byte) ([]catalog.Vertex, error) {
	body, order, err := wkbOf(b, wkbLineZM, vertexLen)
	if err != nil {
		return nil, err
	}
	line := make([]catalog.Vertex, (len(body)-wkbLineLen)/vertexLen)
	for i := range line {
		at := body[wkbLineLen+vertexLen*i:]
		f := func(k int) float64 { return math.Float64frombits(order.Uint64(at[8*k:])) }
		line[i] = catalog.Vertex{LonDeg: f(0), LatDeg: f(1), ElevationM: f(2), StationM: f(3)}
	}
	return line, nil
}

// ParsePoint reads a POINT blob back.
func ParsePoint(b []byte) (terrain.Point, error) {
	body, order, err := wkbOf(b, wkbPoint, 0)
	if err != nil {
		return terrain.Point{}, err
	}
	p := terrain.Point{LonDeg: math.Float64frombits(order.Uint64(body[5:])), LatDeg: math.Float64frombits(order.Uint64(body[13:]))}
	if math.IsNaN(p.LonDeg) || math.IsNaN(p.LatDeg) { // how an empty point is written
		return terrain.Point{}, geometryFault("not a point")
	}
	return p, nil
}

// wkbOf returns the well-known binary of a blob, which must have the wanted type and exactly the
// length of that type. With perVertex > 0 the stated count must match the number of bytes before
// anything is allocated.
func wkbOf(b []byte, wantType uint32, perVertex int) ([]byte, binary.ByteOrder, error) {
	body, _, _, _, err := blobBody(b)
	if err != nil {
		return nil, nil, err
	}
	if len(body) < wkbLineLen || body[0] > 1 {
		return nil, nil, geometryFault("a truncated geometry")
	}
	var order binary.ByteOrder = binary.BigEndian
	if body[0] == 1 {
		order = binary.LittleEndian
	}
	if got := order.Uint32(body[1:]); got != wantType {
		return nil, nil, geometryFault(fmt.Sprintf("a geometry of type %d instead of %d", got, wantType))
	}
	if perVertex > 0 {
		n := order.Uint32(body[5:])
		if n > MaxVertices || wkbLineLen+int(n)*perVertex != len(body) {
			return nil, nil, geometryFault("a line whose stated number of vertices is wrong")
		}
	} else if len(body) != 21 {
		return nil, nil, geometryFault("a point of the wrong size")
	}
	return body, order, nil
}

func geometryFault(what string) error { return &Fault{Kind: terrain.ErrRead, What: what} }

// EnvelopeOfBlob is the extent of a blob: from its envelope, else from its vertices;
// ok is false where it is empty or cannot be read.
func EnvelopeOfBlob(b []byte) (bx Envelope, ok bool) {
	_, order, env, empty, err := blobBody(b)
	if err != nil || empty {
		return Envelope{}, false
	}
	if len(env) >= envelopeLen {
		f := func(i int) float64 { return math.Float64frombits(order.Uint64(env[8*i:])) }
		return Envelope{f(0), f(1), f(2), f(3)}, true
	}
	if line, err := ParseLine(b); err == nil && len(line) > 0 {
		return EnvelopeOf(line), true
	}
	if p, err := ParsePoint(b); err == nil {
		return Envelope{p.LonDeg, p.LonDeg, p.LatDeg, p.LatDeg}, true
	}
	return Envelope{}, false
}

// registerFunctions adds the functions that the R-tree triggers call to a connection (OGC 12-128r17
// annex F.3).
func registerFunctions(conn *sqlite3.SQLiteConn) error {
	pick := func(f func(Envelope) float64) func(any) any {
		return func(v any) any {
			if b, isBlob := v.([]byte); isBlob {
				if bx, ok := EnvelopeOfBlob(b); ok {
					return f(bx)
				}
			}
			return nil
		}
	}
	for name, f := range map[string]func(any) any{
		"ST_IsEmpty": func(v any) any {
			b, isBlob := v.([]byte)
			if !isBlob {
				return nil
			}
			_, ok := EnvelopeOfBlob(b)
			return !ok
		},
		"ST_MinX": pick(func(b Envelope) float64 { return b.MinX }),
		"ST_MaxX": pick(func(b Envelope) float64 { return b.MaxX }),
		"ST_MinY": pick(func(b Envelope) float64 { return b.MinY }),
		"ST_MaxY": pick(func(b Envelope) float64 { return b.MaxY }),
	} {
		if err := conn.RegisterFunc(name, f, true); err != nil {
			return err
		}
	}
	return nil
}

// LayerEnvelope is the extent of all features of a layer; empty where it has none.
func LayerEnvelope(q Querier, layer string) (Envelope, error) {
	all := EmptyEnvelope()
	err := Each(q, func(rows *sql.Rows) error {
		var b sql.RawBytes
		if err := rows.Scan(&b); err != nil {
			return err
		}
		if bx, ok := EnvelopeOfBlob(b); ok {
			all.Add(bx.MinX, bx.MinY)
			all.Add(bx.MaxX, bx.MaxY)
		}
		return nil
	}, "SELECT geom FROM main."+layer)
	return all, err
}
