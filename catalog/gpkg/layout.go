package gpkg

import (
	"encoding/binary"
	"fmt"

	"gradeline/terrain"
)

// TablesVersion is the version of the tables that this program writes.
const TablesVersion = schemaVersion

// TableLayout describes one of our tables, for another database that keeps the same.
type TableLayout struct {
	Name, Identifier, About string
	Geometry                string // "LINESTRING", with heights and stations, or "POINT"; empty for a table without
	Columns                 []ColumnLayout
	Constraints             []string // "UNIQUE(descent_fid, class)"
	Indexes                 []string // "name ON table(columns)"
}

// ColumnLayout describes a column: its declaration to SQLite, and its title with the unit.
type ColumnLayout struct{ Name, Declaration, Title string }

// Layout lists our tables in order of creation.
func Layout() []TableLayout {
	out := make([]TableLayout, len(tables))
	for i := range tables {
		t := &tables[i]
		out[i] = TableLayout{Name: t.name, Identifier: t.identifier, About: t.about, Geometry: t.geometry, Constraints: t.constraints, Indexes: t.indexes}
		for _, c := range t.columns {
			out[i].Columns = append(out[i].Columns, ColumnLayout{c.name, c.decl, c.title})
		}
	}
	return out
}

// WKBOfBlob is the well-known binary (ISO 13249-3) of a geometry.
func WKBOfBlob(blob []byte) ([]byte, error) {
	body, _, _, _, err := blobBody(blob)
	return body, err
}

// BlobOfWKB is the geometry of a well-known binary, as AppendLine and PointBlob write it.
func BlobOfWKB(wkb []byte) ([]byte, error) {
	if len(wkb) < wkbLineLen || wkb[0] != 1 {
		return nil, geometryFault("a truncated geometry, or one of another byte order")
	}
	blob := blobHeader(nil, EmptyEnvelope())
	switch kind := binary.LittleEndian.Uint32(wkb[1:]); kind {
	case wkbLineZM:
		line, err := ParseLine(append(blob, wkb...))
		if err != nil {
			return nil, err
		}
		blob, _ = AppendLine(nil, line)
	case wkbPoint:
		p, err := ParsePoint(append(blob, wkb...))
		if err != nil {
			return nil, err
		}
		blob = PointBlob(p)
	default:
		return nil, &Fault{Kind: terrain.ErrRead, What: fmt.Sprintf("a geometry of type %d", kind), Fix: "layers hold lines with heights and stations, or points"}
	}
	return blob, nil
}
