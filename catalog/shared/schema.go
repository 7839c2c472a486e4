package shared

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
)

// functionsSQL makes the tables and functions that number the changes.
//
//go:embed functions.sql
var functionsSQL string

// filled puts the names of the schemas into a statement: the catalogue's, and that of PostGIS.
func (p *place) filled(sql string) string {
	return strings.NewReplacer("{s}", p.schema, "{gis}", quoted(p.gis)).Replace(sql)
}

// schemaSQL lists the statements that make an empty catalogue.
func schemaSQL() []string {
	out := []string{"CREATE SCHEMA {s}", functionsSQL}
	for i := range tables {
		out = append(out, tables[i].createSQL()...)
	}
	return out
}

// createSQL lists the statements that make a table with its comments, indexes and triggers.
func (t *table) createSQL() []string {
	var parts []string
	for i := range t.columns {
		parts = append(parts, t.columnSQL(&t.columns[i]))
	}
	parts = append(parts, "changed bigint NOT NULL DEFAULT 0")
	for _, c := range t.columns {
		if strings.Contains(c.Declaration, " UNIQUE") {
			parts = append(parts, t.uniqueSQL(c.Name))
		}
	}
	for _, c := range t.Constraints {
		parts = append(parts, c+" DEFERRABLE INITIALLY DEFERRED")
	}
	name := "{s}." + t.Name
	out := []string{
		"CREATE TABLE " + name + " (" + strings.Join(parts, ", ") + ")",
		"COMMENT ON TABLE " + name + " IS " + literal(t.Identifier+": "+t.About),
		"COMMENT ON COLUMN " + name + ".changed IS 'Number of the change that wrote the row'",
		"CREATE INDEX " + t.Name + "_changed ON " + name + "(changed)",
	}
	for _, c := range t.columns {
		if c.Title != "" {
			out = append(out, "COMMENT ON COLUMN "+name+"."+quoted(c.Name)+" IS "+literal(c.Title))
		}
	}
	for _, ix := range t.Indexes {
		ixName, columns, _ := strings.Cut(ix, " ON ")
		out = append(out, "CREATE INDEX "+ixName+" ON {s}."+columns)
	}
	if t.Geometry != "" {
		out = append(out, "CREATE INDEX "+t.Name+"_geom ON "+name+" USING gist(geom)")
	}
	return append(out, t.triggerSQL()...)
}

// columnSQL declares a column.
func (t *table) columnSQL(c *column) string {
	out := quoted(c.Name) + " " + typeNames[c.kind]
	if c.kind == keyKind {
		return out + " PRIMARY KEY DEFAULT {s}.shared_next_key(" + literal(t.Name) + ")"
	}
	if strings.Contains(c.Declaration, " NOT NULL") {
		out += " NOT NULL"
	}
	if m := defaultPart.FindString(c.Declaration); m != "" {
		out += " " + m
	}
	if m := checkPart.FindString(c.Declaration); m != "" {
		out += " " + m
	}
	if m := referencePart.FindStringSubmatch(c.Declaration); m != nil {
		out += fmt.Sprintf(" REFERENCES {s}.%s(%s)%s DEFERRABLE INITIALLY DEFERRED", m[1], quoted(m[2]), m[3])
	}
	return out
}

// longTexts are unique columns whose texts may be longer than an index of PostgreSQL takes
// (2,704 bytes): a hash of them is compared first.
var longTexts = []string{"provenance.details", "network_sources.files"}

// uniqueSQL is compared at the end of a change, since rows may change places; but a column that
// another table refers to must be compared at once.
func (t *table) uniqueSQL(column string) string {
	switch {
	case slices.Contains(longTexts, t.Name+"."+column):
		return "EXCLUDE USING hash (" + quoted(column) + " WITH =) DEFERRABLE INITIALLY DEFERRED"
	case t.isReferredTo(column):
		return "UNIQUE (" + quoted(column) + ")"
	}
	return "UNIQUE (" + quoted(column) + ") DEFERRABLE INITIALLY DEFERRED"
}

func (t *table) isReferredTo(column string) bool {
	for _, other := range tables {
		for _, c := range other.columns {
			if m := referencePart.FindStringSubmatch(c.Declaration); m != nil && m[1] == t.Name && m[2] == column {
				return true
			}
		}
	}
	return false
}

// handTables may be edited by hand, in any GIS; the history says so.
var handTables = []string{"reviews", "sites"}

func (t *table) triggerSQL() []string {
	name := "{s}." + t.Name
	out := []string{
		"CREATE TRIGGER shared_a BEFORE INSERT OR UPDATE OR DELETE ON " + name + " FOR EACH STATEMENT EXECUTE FUNCTION {s}.shared_begin()",
		"CREATE TRIGGER shared_b BEFORE INSERT OR UPDATE OR DELETE ON " + name + " FOR EACH ROW EXECUTE FUNCTION {s}.shared_stamp()",
		"CREATE TRIGGER shared_d BEFORE TRUNCATE ON " + name + " FOR EACH STATEMENT EXECUTE FUNCTION {s}.shared_truncate()",
	}
	if slices.Contains(handTables, t.Name) {
		out = append(out, "CREATE TRIGGER shared_c BEFORE INSERT OR UPDATE OR DELETE ON "+name+" FOR EACH ROW EXECUTE FUNCTION {s}.shared_by_hand()")
	}
	return out
}
