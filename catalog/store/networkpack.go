package store

import (
	"database/sql"
	"encoding/binary"
	"encoding/json"
	"hash/crc32"
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// The lines of a road are stored packed: mark, layout, check sum, count, then for each line the
// length of its description, the description as JSON, and the number of vertices; then for each
// vertex the differences of its place in 1e-7 degrees and, where known, of its node number.

const (
	linesMark    = 'l'
	linesLayout  = 1
	mostVertices = 1 << 24 // of one line
	placesInDeg  = 1e7     // a division gives exactly the number that was read from a file
)

// packedLine is the description of a line without its vertices.
type packedLine struct {
	Tags       map[string]string  `json:"tags,omitempty"`
	WayID      string             `json:"way_id,omitempty"`
	File       string             `json:"file,omitempty"`
	Feature    int                `json:"feature,omitempty"`
	IsWay      bool               `json:"is_way,omitempty"`
	Structures []routes.Structure `json:"structures,omitempty"`
	IsReversed bool               `json:"reversed,omitempty"`
	IsArc      bool               `json:"arc,omitempty"`
	FromM      float64            `json:"from_m"`
	ToM        float64            `json:"to_m"`
}

func packLines(list []network.KeptLine) ([]byte, error) {
	b := binary.AppendUvarint(nil, uint64(len(list)))
	for i := range list {
		l := &list[i]
		about, err := json.Marshal(packedLine{l.Tags, l.WayID, l.Place.File, l.Place.Feature, l.Place.IsWay, l.Structures, l.IsReversed, l.IsArc, l.FromM, l.ToM})
		if err != nil {
			return nil, &Fault{Kind: terrain.ErrInput, What: "a line with a figure that is not a number", Err: err, Fix: "survey the road again"}
		}
		b = append(binary.AppendUvarint(b, uint64(len(about))), about...)
		n := uint64(len(l.Line)) << 1
		if l.NodeIDs != nil {
			n |= 1
		}
		b = binary.AppendUvarint(b, n)
		var x, y, id int64
		for k, p := range l.Line {
			px, py := int64(math.Round(p[0]*placesInDeg)), int64(math.Round(p[1]*placesInDeg))
			b = binary.AppendVarint(binary.AppendVarint(b, px-x), py-y)
			x, y = px, py
			if l.NodeIDs != nil {
				b = binary.AppendVarint(b, l.NodeIDs[k]-id)
				id = l.NodeIDs[k]
			}
		}
	}
	return sealedLines(b), nil
}

// sealedLines puts the mark, the layout and the check sum before the packed lines.
func sealedLines(b []byte) []byte {
	head := binary.LittleEndian.AppendUint32([]byte{linesMark, linesLayout}, crc32.Checksum(b, packedSum))
	return append(head, b...)
}

// unpackLines reads the result of packLines; anything else is a fault.
func unpackLines(b []byte) ([]network.KeptLine, error) {
	damaged := &Fault{Kind: terrain.ErrRead, What: "the stored lines of a road are damaged", Fix: "survey the network again"}
	if len(b) < 7 || b[0] != linesMark || b[1] != linesLayout || binary.LittleEndian.Uint32(b[2:]) != crc32.Checksum(b[6:], packedSum) {
		return nil, damaged
	}
	u := unpacker{b: b[6:]}
	n := u.uvarint()
	if n > uint64(len(u.b)) {
		return nil, damaged
	}
	out := make([]network.KeptLine, n)
	for i := range out {
		if u.readLine(&out[i]); u.isDamaged {
			return nil, damaged
		}
	}
	return out, nil
}

func (u *unpacker) readLine(l *network.KeptLine) {
	size := u.uvarint()
	if u.isDamaged || size > uint64(len(u.b)) {
		u.isDamaged = true
		return
	}
	var about packedLine
	if json.Unmarshal(u.b[:size], &about) != nil {
		u.isDamaged = true
		return
	}
	u.b = u.b[size:]
	n := u.uvarint()
	count := n >> 1
	if u.isDamaged || count < 2 || count > mostVertices || count > uint64(len(u.b)) || !(about.FromM >= 0) || !(about.ToM >= about.FromM) || about.ToM > maxRouteM {
		u.isDamaged = true
		return
	}
	l.Feature = routes.Feature{Tags: about.Tags, WayID: about.WayID, Structures: about.Structures,
		Place: routes.Place{File: about.File, Feature: about.Feature, IsWay: about.IsWay}, Line: make(orb.LineString, count)}
	l.IsReversed, l.IsArc, l.FromM, l.ToM = about.IsReversed, about.IsArc, about.FromM, about.ToM
	if n&1 == 1 {
		l.NodeIDs = make([]int64, count)
	}
	var x, y, id int64
	for k := range l.Line {
		x += u.varint()
		y += u.varint()
		l.Line[k] = orb.Point{float64(x) / placesInDeg, float64(y) / placesInDeg}
		if l.NodeIDs != nil {
			id += u.varint()
			l.NodeIDs[k] = id
		}
		if u.isDamaged || !(math.Abs(l.Line[k][0]) <= 180) || !(math.Abs(l.Line[k][1]) <= 90) {
			u.isDamaged = true
			return
		}
	}
}

// scanText appends the first column of each row.
func scanText(out *[]string) func(*sql.Rows) error {
	return func(rows *sql.Rows) error {
		var s string
		err := rows.Scan(&s)
		*out = append(*out, s)
		return err
	}
}

// scanPairs keeps the second column of each row by its first.
func scanPairs(out map[string]string) func(*sql.Rows) error {
	return func(rows *sql.Rows) error {
		var k, v string
		err := rows.Scan(&k, &v)
		out[k] = v
		return err
	}
}
