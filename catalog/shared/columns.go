package shared

import (
	"database/sql/driver"
	"fmt"
	"regexp"
	"strings"
	"time"

	"gradeline/catalog/gpkg"
	"gradeline/terrain"
)

// column is a column in both worlds.
type column struct {
	gpkg.ColumnLayout
	kind kind
}

// kind is how a value is kept in the database.
type kind int

const (
	keyKind kind = iota
	wholeKind
	numberKind
	truthKind
	textKind
	jsonKind
	momentKind
	bytesKind
	lineKind
	pointKind
)

// typeNames are PostgreSQL's and PostGIS's names of the kinds.
var typeNames = [...]string{keyKind: "bigint", wholeKind: "bigint", numberKind: "double precision", truthKind: "boolean", textKind: "text", jsonKind: "json",
	momentKind: "timestamptz", bytesKind: "bytea", lineKind: "{gis}.geometry(LineStringZM,4326)", pointKind: "{gis}.geometry(Point,4326)"}

// table is one of the catalogue's tables.
type table struct {
	gpkg.TableLayout
	columns []column
}

// tables are those of the GeoPackage.
var tables = readTables()

func readTables() []table {
	var out []table
	for _, l := range gpkg.Layout() {
		t := table{TableLayout: l}
		for _, c := range l.Columns {
			t.columns = append(t.columns, column{c, kindOf(c)})
		}
		out = append(out, t)
	}
	return out
}

func tableNamed(name string) *table {
	for i := range tables {
		if tables[i].Name == name {
			return &tables[i]
		}
	}
	return nil
}

// kindOf reads the declaration of a column to SQLite.
func kindOf(c gpkg.ColumnLayout) kind {
	first, rest, _ := strings.Cut(c.Declaration, " ")
	switch first {
	case "INTEGER":
		if strings.HasPrefix(rest, "PRIMARY KEY") {
			return keyKind
		}
		return wholeKind
	case "REAL":
		return numberKind
	case "BOOLEAN":
		return truthKind
	case "DATETIME":
		return momentKind
	case "BLOB":
		return bytesKind
	case "LINESTRING":
		return lineKind
	case "POINT":
		return pointKind
	}
	if strings.HasSuffix(rest, "DEFAULT '[]'") || strings.HasSuffix(rest, "DEFAULT '{}'") {
		return jsonKind
	}
	return textKind
}

// inDatabase lists the columns as a query of the database selects them: JSON as it was written, and
// geometries as well-known binary (ISO 13249-3).
func (t *table) inDatabase() string {
	var out []string
	for _, c := range t.columns {
		name := quoted(c.Name)
		switch c.kind {
		case jsonKind:
			name += "::text"
		case lineKind, pointKind:
			name = "{gis}.ST_AsBinary(" + name + ", 'NDR')"
		}
		out = append(out, name)
	}
	return strings.Join(out, ", ")
}

// inFile lists the columns as they are stored in the file: the plus stops the driver from making
// times and truth values of them.
func (t *table) inFile() string {
	var out []string
	for _, c := range t.columns {
		out = append(out, "+"+c.Name)
	}
	return strings.Join(out, ", ")
}

func (t *table) names() []string {
	var out []string
	for _, c := range t.columns {
		out = append(out, c.Name)
	}
	return out
}

// toDatabase converts a value of the file.
func (c *column) toDatabase(v driver.Value) (any, error) {
	var out any
	ok := true
	switch c.kind {
	case keyKind, wholeKind:
		out, ok = v.(int64)
	case numberKind:
		x, err := gpkg.Float64Of(v)
		out, ok = x, err == nil
	case truthKind:
		n, isWhole := v.(int64)
		out, ok = n == 1, isWhole && (n == 0 || n == 1)
	case momentKind:
		out, ok = momentOf(v)
	case lineKind, pointKind:
		if v != nil {
			return gpkg.WKBOfBlob(gpkg.BytesOf(v))
		}
	case bytesKind:
		out, ok = v.([]byte)
	default:
		out, ok = v.(string)
	}
	if v == nil {
		return nil, nil
	}
	if !ok {
		return nil, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("column %s holds %.40v, which is no %s", c.Name, v, typeNames[c.kind]), Fix: "correct it in the file, or run doctor on it"}
	}
	return out, nil
}

// momentOf reads a moment; one that was typed by hand may have another form, and none is nil.
func momentOf(v driver.Value) (any, bool) {
	s, isText := v.(string)
	if s == "" {
		return nil, isText
	}
	at, err := gpkg.ParseMoment(s)
	return at, err == nil && !at.IsZero()
}

// fromDatabase converts a value that the database gave.
func (c *column) fromDatabase(v any) (driver.Value, error) {
	switch x := v.(type) {
	case nil:
		return nil, nil
	case int64, float64, string:
		return x, nil
	case bool:
		if x {
			return int64(1), nil
		}
		return int64(0), nil
	case time.Time:
		return gpkg.Stamp(x), nil
	case []byte:
		if c.kind == bytesKind {
			return x, nil
		}
		return gpkg.BlobOfWKB(x)
	}
	return nil, &Fault{Kind: terrain.ErrRead, What: fmt.Sprintf("column %s holds a %T", c.Name, v), Fix: "restore the last copy of the database"}
}

// Parts of a declaration that the database writes in another way, or has a rule of its own for.
var (
	referencePart = regexp.MustCompile(`REFERENCES (\w+)\((\w+)\)( ON DELETE CASCADE)?`)
	checkPart     = regexp.MustCompile(`CHECK \(.*\)`)
	defaultPart   = regexp.MustCompile(`DEFAULT '[^']*'`)
)

func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

func literal(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
