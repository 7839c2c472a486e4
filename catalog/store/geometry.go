package store

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
	maxVertices   = 1 << 21 // of one line; more is damage, not a road
	maxValueBytes = 1 << 27 // of any one value in the file
)

// box is an envelope in degrees; west > east never occurs inside the store.
type box struct{ minX, maxX, minY, maxY float64 }

func (b *box) add(x, y float64) {
	b.minX, b.maxX = min(b.minX, x), max(b.maxX, x)
	b.minY, b.maxY = min(b.minY, y), max(b.maxY, y)
}

func emptyBox() box { return box{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)} }

func boxOf(line []catalog.Vertex) box {
	b := emptyBox()
	for _, v := range line {
		b.add(v.LonDeg, v.LatDeg)
	}
	return b
}

const (
	wkbLineZM  = 3002 // ISO 13249-3 code of a LINESTRING ZM
	wkbPoint   = 1
	vertexLen  = 32 // of one vertex of a LINESTRING ZM
	wkbLineLen = 9  // before the first vertex
)

// lineBlob writes a LINESTRING ZM, longitude, latitude, elevation, station, behind
// b and gives its extent.
func lineBlob(b []byte, line []catalog.Vertex) ([]byte, box) {
	bx := boxOf(line)
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

// pointBlob writes a POINT.
func pointBlob(p terrain.Point) []byte {
	b := append(blobHeader(nil, box{p.LonDeg, p.LonDeg, p.LatDeg, p.LatDeg}), 1)
	b = binary.LittleEndian.AppendUint32(b, wkbPoint)
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p.LonDeg))
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(p.LatDeg))
}

func blobHeader(h []byte, b box) []byte {
	h = append(h, 'G', 'P', 0, flagsLEXY)
	h = binary.LittleEndian.AppendUint32(h, srsID)
	for _, v := range []float64{b.minX, b.maxX, b.minY, b.maxY} {
		h = binary.LittleEndian.AppendUint64(h, math.Float64bits(v))
	}
	return h
}

// blobBody checks the header of a blob, of any byte order and envelope kind,
// and returns the well-known binary behind it and whether it is marked empty.
func blobBody(b []byte) (body []byte, order binary.ByteOrder, envelope []byte, empty bool, err error) {
	if len(b) < blobHeaderLen || b[0] != 'G' || b[1] != 'P' {
		return nil, nil, nil, false, geometryFault("not a GeoPackage geometry")
	}
	if b[2] != 0 || b[3]&0x20 != 0 {
		return nil, nil, nil, false, geometryFault("a GeoPackage geometry of a kind that is not known here")
	}
	kind := b[3] >> 1 & 7
	if kind > 4 {
		return nil, nil, nil, false, geometryFault("a GeoPackage geometry with a wrong envelope")
	}
	n := blobHeaderLen + []int{0, 32, 48, 48, 64}[kind]
	if len(b) < n {
		return nil, nil, nil, false, geometryFault("a GeoPackage geometry cut short")
	}
	order = binary.BigEndian
	if b[3]&1 == 1 {
		order = binary.LittleEndian
	}
	return b[n:], order, b[blobHeaderLen:n], b[3]&0x10 != 0, nil
}

// lineOf reads a LINESTRING ZM blob back, to the bit.
func lineOf(b []byte) ([]catalog.Vertex, error) {
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

// pointOf reads a POINT blob back.
func pointOf(b []byte) (terrain.Point, error) {
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

// wkbOf gives the well-known binary of a blob, of the wanted type and byte for
// byte as long as that asks: with perVertex > 0 the count that it claims must be
// that of the bytes that are there, before anything is allocated.
func wkbOf(b []byte, wantType uint32, perVertex int) ([]byte, binary.ByteOrder, error) {
	body, _, _, _, err := blobBody(b)
	if err != nil {
		return nil, nil, err
	}
	if len(body) < wkbLineLen || body[0] > 1 {
		return nil, nil, geometryFault("a geometry cut short")
	}
	var order binary.ByteOrder = binary.BigEndian
	if body[0] == 1 {
		order = binary.LittleEndian
	}
	if got := order.Uint32(body[1:]); got != wantType {
		return nil, nil, geometryFault(fmt.Sprintf("a geometry of type %d where %d belongs", got, wantType))
	}
	if perVertex > 0 {
		n := order.Uint32(body[5:])
		if n > maxVertices || wkbLineLen+int(n)*perVertex != len(body) {
			return nil, nil, geometryFault("a line that claims another number of vertices than it has")
		}
	} else if len(body) != 21 {
		return nil, nil, geometryFault("a point of another size than a point has")
	}
	return body, order, nil
}

func geometryFault(what string) error { return &Fault{Kind: terrain.ErrRead, What: what} }

// blobBox gives the extent of a blob: from its envelope, else from its vertices;
// ok is false where it is empty or cannot be read.
func blobBox(b []byte) (bx box, ok bool) {
	_, order, env, empty, err := blobBody(b)
	if err != nil || empty {
		return box{}, false
	}
	if len(env) >= envelopeLen {
		f := func(i int) float64 { return math.Float64frombits(order.Uint64(env[8*i:])) }
		return box{f(0), f(1), f(2), f(3)}, true
	}
	if line, err := lineOf(b); err == nil && len(line) > 0 {
		return boxOf(line), true
	}
	if p, err := pointOf(b); err == nil {
		return box{p.LonDeg, p.LonDeg, p.LatDeg, p.LatDeg}, true
	}
	return box{}, false
}

// registerFunctions gives a connection the functions that the R-tree triggers
// call (OGC 12-128r17 annex F.3).
func registerFunctions(conn *sqlite3.SQLiteConn) error {
	conn.SetLimit(sqlite3.SQLITE_LIMIT_LENGTH, maxValueBytes)
	pick := func(f func(box) float64) func(any) any {
		return func(v any) any {
			if b, isBlob := v.([]byte); isBlob {
				if bx, ok := blobBox(b); ok {
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
			_, ok := blobBox(b)
			return !ok
		},
		"ST_MinX": pick(func(b box) float64 { return b.minX }),
		"ST_MaxX": pick(func(b box) float64 { return b.maxX }),
		"ST_MinY": pick(func(b box) float64 { return b.minY }),
		"ST_MaxY": pick(func(b box) float64 { return b.maxY }),
	} {
		if err := conn.RegisterFunc(name, f, true); err != nil {
			return err
		}
	}
	return nil
}

// layerBox is the extent of all features of a layer; empty where it has none.
func layerBox(q querier, layer string) (box, error) {
	all := emptyBox()
	err := each(q, func(rows *sql.Rows) error {
		var b sql.RawBytes
		if err := rows.Scan(&b); err != nil {
			return err
		}
		if bx, ok := blobBox(b); ok {
			all.add(bx.minX, bx.minY)
			all.add(bx.maxX, bx.maxY)
		}
		return nil
	}, "SELECT geom FROM main."+layer)
	return all, err
}
