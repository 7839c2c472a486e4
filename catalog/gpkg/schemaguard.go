package gpkg

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"sync"
)

// A catalogue is data, never code. Some definitions could run code with a statement: triggers,
// views, virtual tables, expressions in indexes and generated columns. So each definition of the
// file is compared with those of this program and its older versions, and with those that the
// GeoPackage standard and GDAL write with their own tables. Anything else is refused.

// schemaRow is one row of sqlite_master.
type schemaRow struct{ kind, name, table, sql string }

func (r *schemaRow) String() string {
	kind := r.kind
	if strings.HasPrefix(strings.Join(sqlTokens(r.sql), " "), "create virtual table ") {
		kind = "virtual table"
	}
	s := fmt.Sprintf("%s %.60q", kind, r.name)
	if r.table != "" && r.table != r.name {
		s += fmt.Sprintf(" on %.60q", r.table)
	}
	return s
}

// ownDefinitions are the definitions that this program writes, as SQLite keeps them,
// by lower-case name; more than one where older versions wrote a different one.
var ownDefinitions = sync.OnceValue(readOwnDefinitions)

func readOwnDefinitions() map[string][]string {
	out := map[string][]string{}
	for _, script := range append(schemaSQL(""), olderDefinitions...) {
		for _, stmt := range strings.Split(script, "\n") {
			stmt = strings.TrimSuffix(strings.TrimSpace(stmt), ";")
			tokens := sqlTokens(stmt)
			if len(tokens) < 4 || tokens[0] != "create" {
				continue
			}
			name := tokens[2]
			if tokens[1] == "virtual" {
				name = tokens[3]
			}
			out[name] = append(out[name], stmt)
		}
	}
	return out
}

// olderDefinitions are the definitions of older versions in place of a current one.
var olderDefinitions = []string{v1SQL, v4SQL, v5SQL, v6SQL, v8SQL, catalogueBefore()}

// catalogueBefore is the table with a default that PostgreSQL does not take for a boolean
// (postgresql.org/docs/15/datatype-boolean.html: a number is none). It may stay.
func catalogueBefore() string {
	return strings.Replace(tableNamed("catalogue").createSQL(), "DEFAULT '0'", "DEFAULT 0", 1)
}

// v1SQL are the definitions of version 1 that version 2 changed.
//
//go:embed v1.sql
var v1SQL string

// v4SQL are the definitions of versions 2 to 4 that version 5 changed.
//
//go:embed v4.sql
var v4SQL string

// v5SQL are the definitions of versions 1 to 5 that version 6 changed.
//
//go:embed v5.sql
var v5SQL string

// v6SQL are the definitions of versions before 7 that version 7 changed.
//
//go:embed v6.sql
var v6SQL string

// v8SQL is the index that version 9 dropped: to keep it took a tenth of the time of a survey's writes.
const v8SQL = "CREATE INDEX holds_class ON holds(class, holds, speed_mps)"

// SQLite's own tables (sqlite.org/fileformat2.html section 2.6).
var ownOfSQLite = map[string][]string{
	"sqlite_sequence": {"create table sqlite_sequence ( name , seq )"},
	"sqlite_stat1":    {"create table sqlite_stat1 ( tbl , idx , stat )"},
	"sqlite_stat4":    {"create table sqlite_stat4 ( tbl , idx , neq , nlt , ndlt , sample )"},
}

// schemaFault is one definition that is refused, and why.
type schemaFault struct {
	row schemaRow
	why string
}

func (f *schemaFault) String() string { return f.row.String() + ": " + f.why }

// schemaFaults lists the refused definitions of a schema.
func schemaFaults(rows []schemaRow) []schemaFault {
	present := map[string]bool{}
	isPacked, hasParts := false, false // of version 5 or later, of version 6 or later
	for _, r := range rows {
		if r.kind == "table" {
			present[r.name] = true
			isPacked = isPacked || r.name == "advice" || r.name == "texts" || r.name == "holds" && r.sql == tableNamed("holds").createSQL()
			hasParts = hasParts || r.name == "routes" && strings.Contains(r.sql, "possible_steep_m")
		}
	}
	var out []schemaFault
	for i := range tables {
		if name := tables[i].name; !present[name] && !isOfLaterVersion(name, present, isPacked, hasParts) {
			out = append(out, schemaFault{schemaRow{kind: "table", name: name}, "it is missing"})
		}
	}
	seen := map[string]bool{}
	for _, r := range rows {
		why := refusal(&r, present)
		if why == "" && seen[strings.ToLower(r.name)] {
			why = "its name exists twice"
		}
		seen[strings.ToLower(r.name)] = true
		if why != "" {
			out = append(out, schemaFault{r, why})
		}
	}
	return out
}

// isOfLaterVersion reports whether a file of an older version is without a table.
func isOfLaterVersion(name string, present map[string]bool, isPacked, hasParts bool) bool {
	switch name {
	case "advice", "texts":
		return !isPacked
	case "steep_parts":
		return !hasParts
	case "drives":
		return true // a drive that is lost changes no advice
	}
	return name == "network_parts" || strings.HasPrefix(name, "network_") && !present["network_sources"]
}

// refusal says why a definition is refused; empty where it is not.
func refusal(r *schemaRow, present map[string]bool) string {
	name := strings.ToLower(r.name)
	if own, isOurs := ownDefinitions()[name]; isOurs {
		if slices.Contains(own, r.sql) || r.kind == "trigger" && isGeneralTrigger(r, sqlTokens(r.sql), present) {
			return ""
		}
		return "it differs from the definition of this program" + missingColumns(r)
	}
	tokens := sqlTokens(r.sql)
	if strings.HasPrefix(name, "sqlite_") {
		if isOfSQLite(r, name, strings.Join(tokens, " ")) {
			return ""
		}
		return "it differs from SQLite's own definition"
	}
	if len(tokens) < 4 || tokens[0] != "create" {
		return "it has no definition"
	}
	return foreignRefusal(r, tokens, present)
}

// isOfSQLite reports whether a definition is one that SQLite itself makes.
func isOfSQLite(r *schemaRow, name, text string) bool {
	if r.kind == "index" {
		return r.sql == "" && strings.HasPrefix(name, "sqlite_autoindex_")
	}
	return r.kind == "table" && slices.Contains(ownOfSQLite[name], text)
}

// foreignRefusal says why a definition of another program is refused; empty where it can run
// nothing, or is one of the standard or of GDAL.
func foreignRefusal(r *schemaRow, tokens []string, present map[string]bool) string {
	made := tokens[1]
	if made == "unique" {
		made = "index"
	}
	switch made + " as " + r.kind {
	case "table as table":
		return tableRefusal(r, tokens)
	case "index as index":
		return indexRefusal(r, tokens)
	case "virtual as table":
		if isSpatialIndex(r, strings.Join(tokens, " "), present) {
			return ""
		}
		return "a virtual table runs code"
	case "trigger as trigger":
		if isGeneralTrigger(r, tokens, present) {
			return ""
		}
		return "it would run when rows change"
	case "view as view":
		return "a view runs its own query"
	}
	return "its kind does not match its definition"
}

// missingColumns names the columns that one of our tables lacks.
func missingColumns(r *schemaRow) string {
	tokens := sqlTokens(r.sql)
	for _, c := range tableNamed(r.name).columns {
		if !slices.Contains(tokens, c.name) && !slices.Contains(tokens, quoteName(c.name)) {
			return ": column " + c.name + " is missing"
		}
	}
	return ""
}

// tableRefusal checks a table that is not ours: it is never read or written, and must not calculate
// anything.
func tableRefusal(r *schemaRow, tokens []string) string {
	if unquoteName(tokens[2]) != r.name && tokens[2] != strings.ToLower(r.name) {
		return "its name differs from its definition"
	}
	for i, t := range tokens {
		if t == "generated" || t == "as" && i+1 < len(tokens) && tokens[i+1] == "(" || t == "?" {
			return "it has generated columns"
		}
	}
	return ""
}

// indexRefusal accepts an index on plain columns; on our tables none that could refuse or replace
// their rows.
func indexRefusal(r *schemaRow, tokens []string) string {
	i := 2
	if tokens[1] == "unique" {
		if tableNamed(strings.ToLower(r.table)).name != "" {
			return "it could keep rows out"
		}
		i++
	}
	if len(tokens) < i+6 || tokens[i+1] != "on" || tokens[i+3] != "(" || tokens[len(tokens)-1] != ")" {
		return "it is not a plain index"
	}
	for _, t := range tokens[i+4 : len(tokens)-1] {
		if t != "," && !isWordByte(t[0]) && t[0] != '"' {
			return "it calculates"
		}
	}
	return ""
}

// isSpatialIndex reports whether a virtual table is the R-tree that the standard requires (OGC
// 12-128r17 annex F.3) of a table of the file.
func isSpatialIndex(r *schemaRow, text string, present map[string]bool) bool {
	rest, ok := strings.CutPrefix(r.name, "rtree_")
	if !ok || text != "create virtual table "+quoteName(r.name)+" using rtree ( id , minx , maxx , miny , maxy )" {
		return false
	}
	for t := range present {
		if strings.HasPrefix(rest, t+"_") {
			return true
		}
	}
	return false
}

// generalTriggers are the triggers that GDAL writes for a table {t} with geometry {c}
// and key {i}: those of the standard's R-tree (OGC 12-128r17 and r19 annex F.3; the
// texts of update1 to update4 as GDAL 3.6.2 wrote them) and those that count features.
var generalTriggers = []string{
	`CREATE TRIGGER "rtree_{t}_{c}_insert" AFTER INSERT ON "{t}" WHEN (NEW."{c}" NOT NULL AND NOT ST_IsEmpty(NEW."{c}")) BEGIN INSERT OR REPLACE INTO "rtree_{t}_{c}" VALUES (NEW."{i}", ST_MinX(NEW."{c}"), ST_MaxX(NEW."{c}"), ST_MinY(NEW."{c}"), ST_MaxY(NEW."{c}")); END`,
	`CREATE TRIGGER "rtree_{t}_{c}_update1" AFTER UPDATE OF "{c}" ON "{t}" WHEN OLD."{i}" = NEW."{i}" AND (NEW."{c}" NOTNULL AND NOT ST_IsEmpty(NEW."{c}")) BEGIN INSERT OR REPLACE INTO "rtree_{t}_{c}" VALUES (NEW."{i}", ST_MinX(NEW."{c}"), ST_MaxX(NEW."{c}"), ST_MinY(NEW."{c}"), ST_MaxY(NEW."{c}")); END`,
	`CREATE TRIGGER "rtree_{t}_{c}_update2" AFTER UPDATE OF "{c}" ON "{t}" WHEN OLD."{i}" = NEW."{i}" AND (NEW."{c}" ISNULL OR ST_IsEmpty(NEW."{c}")) BEGIN DELETE FROM "rtree_{t}_{c}" WHERE id = OLD."{i}"; END`,
	`CREATE TRIGGER "rtree_{t}_{c}_update3" AFTER UPDATE ON "{t}" WHEN OLD."{i}" != NEW."{i}" AND (NEW."{c}" NOTNULL AND NOT ST_IsEmpty(NEW."{c}")) BEGIN DELETE FROM "rtree_{t}_{c}" WHERE id = OLD."{i}"; INSERT OR REPLACE INTO "rtree_{t}_{c}" VALUES (NEW."{i}", ST_MinX(NEW."{c}"), ST_MaxX(NEW."{c}"), ST_MinY(NEW."{c}"), ST_MaxY(NEW."{c}")); END`,
	`CREATE TRIGGER "rtree_{t}_{c}_update4" AFTER UPDATE ON "{t}" WHEN OLD."{i}" != NEW."{i}" AND (NEW."{c}" ISNULL OR ST_IsEmpty(NEW."{c}")) BEGIN DELETE FROM "rtree_{t}_{c}" WHERE id IN (OLD."{i}", NEW."{i}"); END`,
	`CREATE TRIGGER "rtree_{t}_{c}_update5" AFTER UPDATE ON "{t}" WHEN OLD."{i}" != NEW."{i}" AND (NEW."{c}" NOTNULL AND NOT ST_IsEmpty(NEW."{c}")) BEGIN DELETE FROM "rtree_{t}_{c}" WHERE id = OLD."{i}"; INSERT OR REPLACE INTO "rtree_{t}_{c}" VALUES (NEW."{i}", ST_MinX(NEW."{c}"), ST_MaxX(NEW."{c}"), ST_MinY(NEW."{c}"), ST_MaxY(NEW."{c}")); END`,
	`CREATE TRIGGER "rtree_{t}_{c}_update6" AFTER UPDATE OF "{c}" ON "{t}" WHEN OLD."{i}" = NEW."{i}" AND (NEW."{c}" NOTNULL AND NOT ST_IsEmpty(NEW."{c}")) AND (OLD."{c}" NOTNULL AND NOT ST_IsEmpty(OLD."{c}")) BEGIN UPDATE "rtree_{t}_{c}" SET minx = ST_MinX(NEW."{c}"), maxx = ST_MaxX(NEW."{c}"), miny = ST_MinY(NEW."{c}"), maxy = ST_MaxY(NEW."{c}") WHERE id = NEW."{i}"; END`,
	`CREATE TRIGGER "rtree_{t}_{c}_update7" AFTER UPDATE OF "{c}" ON "{t}" WHEN OLD."{i}" = NEW."{i}" AND (NEW."{c}" NOTNULL AND NOT ST_IsEmpty(NEW."{c}")) AND (OLD."{c}" ISNULL OR ST_IsEmpty(OLD."{c}")) BEGIN INSERT INTO "rtree_{t}_{c}" VALUES (NEW."{i}", ST_MinX(NEW."{c}"), ST_MaxX(NEW."{c}"), ST_MinY(NEW."{c}"), ST_MaxY(NEW."{c}")); END`,
	`CREATE TRIGGER "rtree_{t}_{c}_delete" AFTER DELETE ON "{t}" WHEN OLD."{c}" NOT NULL BEGIN DELETE FROM "rtree_{t}_{c}" WHERE id = OLD."{i}"; END`,
	`CREATE TRIGGER "trigger_insert_feature_count_{t}" AFTER INSERT ON "{t}" BEGIN UPDATE gpkg_ogr_contents SET feature_count = feature_count + 1 WHERE lower(table_name) = lower('{s}'); END`,
	`CREATE TRIGGER "trigger_delete_feature_count_{t}" AFTER DELETE ON "{t}" BEGIN UPDATE gpkg_ogr_contents SET feature_count = feature_count - 1 WHERE lower(table_name) = lower('{s}'); END`,
}

// isGeneralTrigger reports whether a trigger is, token for token, one of
// generalTriggers for a table of the file.
func isGeneralTrigger(r *schemaRow, tokens []string, present map[string]bool) bool {
	if !present[r.table] {
		return false
	}
	columns := []string{""}
	if rest, ok := strings.CutPrefix(r.name, "rtree_"+r.table+"_"); ok {
		if i := strings.LastIndexByte(rest, '_'); i > 0 {
			columns[0] = rest[:i]
		}
	}
	keys := []string{""}
	for _, t := range tokens {
		if t[0] == '"' && !slices.Contains(keys, unquoteName(t)) {
			keys = append(keys, unquoteName(t))
		}
	}
	inName := strings.NewReplacer(`"`, `""`)
	for _, key := range keys {
		fill := strings.NewReplacer("{t}", inName.Replace(r.table), "{c}", inName.Replace(columns[0]), "{i}", inName.Replace(key), "{s}", strings.ReplaceAll(r.table, "'", "''"))
		for _, template := range generalTriggers {
			if slices.Equal(tokens, sqlTokens(fill.Replace(template))) {
				return true
			}
		}
	}
	return false
}

// refusedSchema is the fault of a file that holds more than data.
func refusedSchema(path string, faults []schemaFault) error {
	const most = 5
	var list []string
	for i := range faults[:min(most, len(faults))] {
		list = append(list, faults[i].String())
	}
	if n := len(faults) - most; n > 0 {
		list = append(list, fmt.Sprintf("and %d more", n))
	}
	return &Fault{Kind: ErrSchema, File: path, What: "holds definitions that are not of this program: " + strings.Join(list, "; "),
		Fix: "don't use it: ask who sent it, or copy its data into a clean file with doctor --repair"}
}
