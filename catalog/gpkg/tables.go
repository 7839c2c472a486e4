package gpkg

// column is one column: its name, SQL declaration, and for the GeoPackage schema
// extension a title with its unit, and the name of its list of allowed values.
type column struct{ name, decl, title, values string }

// table is one table of ours, registered as a layer of the GeoPackage.
type table struct {
	name, identifier, about string
	geometry                string // "LINESTRING" or "POINT"; empty for an attributes table
	z, m                    int    // 0 prohibited, 1 mandatory
	columns                 []column
	constraints             []string
	indexes                 []string // "name ON table(columns)"
}

// Column types are those that the GeoPackage standard allows (OGC 12-128r17 table 1).
const (
	key      = "INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"
	text     = "TEXT NOT NULL DEFAULT ''"
	number   = "REAL NOT NULL"
	numberOr = "REAL"
	whole    = "INTEGER NOT NULL"
	yesNo    = "BOOLEAN NOT NULL"
	moment   = "DATETIME"
	// A column of JSON holds valid JSON also where no value was written.
	jsonList   = "TEXT NOT NULL DEFAULT '[]'"
	jsonObject = "TEXT NOT NULL DEFAULT '{}'"
)

// tables are the catalogue at the current schema version, in order of creation. Columns that a
// version adds are at the end of their table, where ALTER TABLE puts them.
var tables = []table{
	{name: "catalogue", identifier: "Catalogue", about: "What this file is", columns: []column{
		{"fid", key, "", ""},
		{"format", "TEXT NOT NULL", "Kind of file", ""},
		{"schema_version", whole, "Version of the tables", ""},
		{"made_by", text, "Made by (program)", ""},
		{"made_at", "DATETIME NOT NULL", "Made at (UTC)", ""},
		{"migrated_at", moment, "Last brought up to date (UTC)", ""},
		// True only inside our own changes: so the triggers recognise and log changes of the
		// reviews by other programs.
		{"by_program", "BOOLEAN NOT NULL DEFAULT '0'", "Being changed by its own program", ""},
	}},
	{name: "routes", identifier: "Routes", about: "Roads that were surveyed", columns: []column{
		{"fid", key, "", ""},
		{"route", "TEXT NOT NULL UNIQUE", "Route", ""},
		{"slug", "TEXT NOT NULL UNIQUE", "Short name in descent ids", ""},
		{"name", text, "Name", ""},
		{"ref", text, "Road number", ""},
		{"length_m", number, "Length (m)", ""},
		{"stations", whole, "Stations sampled", ""},
		{"missing_m", number, "Without ground (m)", ""},
		{"reliable", yesNo, "Reliable", ""},
		{"unreliable", text, "Why not reliable", ""},
		{"line_sha256", text, "Fingerprint of the line", ""},
		{"surveyed_at", "DATETIME NOT NULL", "Surveyed at (UTC)", ""},
		{"surveyed_by", text, "Surveyed by", ""},
		// NULL for a road that was surveyed before version 6: its steep parts are not known.
		{"possible_steep_m", numberOr, "Other road that may be steep within its bound (m)", ""},
		{"parts_seal", "INTEGER", "Check sum of its tangents and sources", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}},
	{name: "provenance", identifier: "Provenance", about: "What descents were made from", columns: []column{
		{"fid", key, "", ""},
		{"tool", text, "Program", ""},
		{"at", "DATETIME NOT NULL", "Made at (UTC)", ""},
		{"cell_m", number, "Cell of the terrain (m)", ""},
		{"noise_sigma_m", number, "Noise of the terrain, one sigma (m)", ""},
		{"rules", text, "Rules used", ""},
		{"invented", yesNo, "Invented for demonstration", ""},
		{"details", "TEXT NOT NULL UNIQUE", "All of it (JSON)", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}},
	{name: "classes", identifier: "Weight classes", about: "Weight classes as they stood when they were used", columns: []column{
		{"fid", key, "", ""},
		{"class", "TEXT NOT NULL", "Weight class", ""},
		{"sha256", "TEXT NOT NULL", "Fingerprint of the definition", ""},
		{"definition", jsonObject, "Definition (JSON)", ""},
		{"first_used_at", "DATETIME NOT NULL", "First used at (UTC)", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}, constraints: []string{"UNIQUE(class, sha256)"}},
	{name: "descents", identifier: "Descents", about: "Sustained downgrades, crest to foot in travel; Z is the grade line (m), M the station (m)", geometry: "LINESTRING", z: 1, m: 1, columns: []column{
		{"fid", key, "", ""},
		{"geom", "LINESTRING NOT NULL", "", ""},
		{"id", "TEXT NOT NULL UNIQUE", "Descent", ""},
		{"route", "TEXT NOT NULL", "Route", ""},
		{"name", text, "Name", ""},
		{"direction", "TEXT NOT NULL CHECK (direction IN ('forward','backward'))", "Travel along the line", "direction"},
		{"start_m", number, "Crest station (m)", ""},
		{"end_m", number, "Foot station (m)", ""},
		{"start_err_m", number, "Crest station, 95 % half-width (m)", ""},
		{"end_err_m", number, "Foot station, 95 % half-width (m)", ""},
		{"length_m", number, "Length (m)", ""},
		{"drop_m", number, "Drop (m)", ""},
		{"mean_downgrade_pct", number, "Mean downgrade (%)", ""},
		{"mean_downgrade_err_pct", number, "Mean downgrade, 95 % half-width (points of %)", ""},
		{"steepest_100m_pct", number, "Steepest 100 m (%)", ""},
		{"steepest_500m_pct", number, "Steepest 500 m (%)", ""},
		{"steepest_1000m_pct", number, "Steepest 1,000 m (%)", ""},
		{"steepest_100m_start_m", number, "Steepest 100 m starts at (m)", ""},
		{"steepest_500m_start_m", number, "Steepest 500 m starts at (m)", ""},
		{"steepest_1000m_start_m", number, "Steepest 1,000 m starts at (m)", ""},
		{"crest_elevation_m", number, "Crest elevation (m)", ""},
		{"foot_elevation_m", number, "Foot elevation (m)", ""},
		{"crest_lon_deg", number, "Crest longitude (degrees)", ""},
		{"crest_lat_deg", number, "Crest latitude (degrees)", ""},
		{"foot_lon_deg", number, "Foot longitude (degrees)", ""},
		{"foot_lat_deg", number, "Foot latitude (degrees)", ""},
		{"tightest_radius_m", numberOr, "Tightest curve radius (m)", ""},
		{"tightest_radius_at_m", numberOr, "Tightest curve at (m)", ""},
		{"interpolated_m", number, "Not resting on ground (m)", ""},
		{"benches", jsonList, "Easier stretches (JSON)", ""},
		{"flags", jsonList, "Flags (JSON)", ""},
		{"more", jsonObject, "Other details (JSON)", ""},
		{"heaviest_class", text, "Heaviest class that runs there", ""},
		{"heaviest_rank", "INTEGER NOT NULL CHECK (heaviest_rank BETWEEN 0 AND 2)", "Heaviest class: 0 not held, 1 no advice, 2 held", "rank"},
		{"heaviest_speed_mps", number, "Heaviest class, advised speed (m/s)", ""},
		{"gone_since", moment, "No longer found since (UTC)", ""},
		{"route_fid", "INTEGER NOT NULL REFERENCES routes(fid)", "Route, key", ""},
		{"provenance_fid", "INTEGER NOT NULL REFERENCES provenance(fid)", "Provenance, key", ""},
		{"seal", "INTEGER", "Check sum of the figures", ""},
		{"line", "BLOB", "Line with every vertex, packed", ""},
	}, indexes: []string{
		"descents_danger ON descents(heaviest_rank, heaviest_speed_mps, drop_m DESC, id)",
		"descents_route ON descents(route_fid)",
		"descents_provenance ON descents(provenance_fid)",
	}},
	{name: "holds", identifier: "Holds", about: "What each weight class can do on each descent on its retarder alone", columns: []column{
		{"fid", key, "", ""},
		{"descent_fid", "INTEGER NOT NULL REFERENCES descents(fid) ON DELETE CASCADE", "Descent, key", ""},
		{"position", whole, "Order", ""},
		{"class", "TEXT NOT NULL", "Weight class", ""},
		{"class_fid", "INTEGER REFERENCES classes(fid)", "Weight class as used, key", ""},
		{"mass_kg", number, "Mass (kg)", ""},
		{"holds", yesNo, "Holds on the retarder alone", ""},
		{"gear", whole, "Gear", ""},
		{"ratio", number, "Gear ratio", ""},
		{"stage", whole, "Retarder stage", ""},
		{"speed_mps", number, "Advised speed (m/s)", ""},
		{"engine_rpm", number, "Engine speed (rpm)", ""},
		{"retarder_use_pct", number, "Retarder use (%)", ""},
		{"limited_by", text, "Limited by", ""},
		{"heaviest_mass_kg", number, "Heaviest mass that holds (kg)", ""},
		{"missing_power_w", number, "Missing power (W)", ""},
		{"friction_needed", number, "Friction needed at the retarded axles", ""},
		{"service_brake_temp_c", numberOr, "Service brakes if they did the rest (degrees C)", ""},
		{"more", jsonObject, "Other details (JSON)", ""},
		{"seal", "INTEGER", "Check sum of the figures", ""},
		{"gear_name", "TEXT", "Gear, as on its lever or display", ""},
		{"surfaces_excluded", "TEXT", "Surfaces that it excludes (JSON)", ""},
		{"class_figures", "TEXT", "Rules, figures of the class and weather that it was worked out with", ""},
	}, constraints: []string{"UNIQUE(descent_fid, class)"}},
	{name: "profiles", identifier: "Profiles", about: "Ground and grade line along each descent, packed", columns: []column{
		{"fid", key, "", ""},
		{"descent_fid", "INTEGER NOT NULL UNIQUE REFERENCES descents(fid) ON DELETE CASCADE", "Descent, key", ""},
		{"samples", "BLOB NOT NULL", "Stations, packed", ""},
	}},
	{name: "tangents", identifier: "Tangents", about: "Even grades along each route, forward", columns: []column{
		{"fid", key, "", ""},
		{"route_fid", "INTEGER NOT NULL REFERENCES routes(fid) ON DELETE CASCADE", "Route, key", ""},
		{"from_m", number, "From station (m)", ""},
		{"to_m", number, "To station (m)", ""},
		{"grade_pct", number, "Grade, forward, rising positive (%)", ""},
		{"grade_err_pct", number, "Grade, 95 % half-width (points of %)", ""},
	}, indexes: []string{"tangents_route ON tangents(route_fid)"}},
	{name: "sources", identifier: "Sources", about: "Rasters and route files that routes were made from", columns: []column{
		{"fid", key, "", ""},
		{"route_fid", "INTEGER NOT NULL REFERENCES routes(fid) ON DELETE CASCADE", "Route, key", ""},
		{"kind", "TEXT NOT NULL CHECK (kind IN ('raster','route file'))", "Kind", "source"},
		{"name", text, "Name", ""},
		{"crs", text, "Coordinate reference system", ""},
		{"vertical_datum", text, "Vertical datum", ""},
		{"vertical_unit", text, "Vertical unit", ""},
		{"vertical_unit_from", text, "Vertical unit known from", ""},
		{"cell_m", number, "Cell (m)", ""},
		{"bytes", whole, "Size (bytes)", ""},
		{"sha256", text, "Fingerprint", ""},
		{"driver", text, "Format", ""},
		{"cols", whole, "Columns", ""},
		{"rows", whole, "Rows", ""},
	}, indexes: []string{"sources_route ON sources(route_fid)"}},
	{name: "reviews", identifier: "Reviews", about: "Where each descent stands in the office's review; may be edited by hand", columns: []column{
		{"fid", key, "", ""},
		{"descent", "TEXT NOT NULL UNIQUE REFERENCES descents(id)", "Descent", ""},
		{"state", "TEXT NOT NULL CHECK (state IN ('surveyed','field-checked','approved','retired'))", "State", "review"},
		{"reviewed_by", text, "By", ""},
		{"reviewed_at", moment, "At (UTC)", ""},
		{"measured_downgrade_pct", numberOr, "Measured downgrade (%)", ""},
		{"note", text, "Note", ""},
		{"photo_ref", text, "Photo", ""},
		{"in_question", text, "In question because", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}},
	{name: "proposals", identifier: "Proposals", about: "Newer surveys of reviewed descents that wait to be accepted or refused", columns: []column{
		{"fid", key, "", ""},
		{"descent_fid", "INTEGER NOT NULL UNIQUE REFERENCES descents(fid) ON DELETE CASCADE", "Descent, key", ""},
		{"at", "DATETIME NOT NULL", "Surveyed at (UTC)", ""},
		{"proposed_by", text, "By", ""},
		{"words", text, "What moved", ""},
		{"entry", jsonObject, "The newer survey (JSON)", ""},
		{"class_fids", jsonObject, "Its weight classes, keys (JSON)", ""},
		{"samples", "BLOB", "Its profile, packed", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}},
	{name: "history", identifier: "History", about: "Who changed what, and why", columns: []column{
		{"fid", key, "", ""},
		{"at", "DATETIME NOT NULL", "At (UTC)", ""},
		{"done_by", text, "By", ""},
		{"what", "TEXT NOT NULL", "What", ""},
		{"descent", text, "Descent", ""},
		{"route", text, "Route", ""},
		{"words", text, "In words", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}, indexes: []string{"history_descent ON history(descent)"}},
	{name: "sites", identifier: "Sites", about: "Brake check areas, escape ramps, chain-up areas, pullouts and standing signs", geometry: "POINT", columns: []column{
		{"fid", key, "", ""},
		{"geom", "POINT NOT NULL", "", ""},
		{"id", "TEXT NOT NULL UNIQUE", "Site", ""},
		{"kind", "TEXT NOT NULL CHECK (kind IN ('brake-check','escape-ramp','chain-up','pullout','sign'))", "Kind", "site"},
		{"name", text, "Name", ""},
		{"route", text, "Route", ""},
		{"station_m", numberOr, "Station (m)", ""},
		{"side", "TEXT NOT NULL CHECK (side IN ('','left','right'))", "Side, in travel", "side"},
		{"direction", "TEXT NOT NULL CHECK (direction IN ('','forward','backward'))", "Travel that it serves", "serves"},
		{"code", text, "Sign code", ""},
		{"legend", text, "Legend", ""},
		{"note", text, "Note", ""},
		{"source", text, "Source", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}, indexes: []string{"sites_route ON sites(route, station_m)"}},
	{name: "network_sources", identifier: "Network: sources", about: "Files that the road network was read from, with their turn rules", columns: []column{
		{"fid", key, "", ""},
		{"files", "TEXT NOT NULL UNIQUE", "Files", ""},
		{"extracts", jsonList, "Extracts with age and licence (JSON)", ""},
		{"turns", jsonList, "Turn rules (JSON)", ""},
		{"read_at", "DATETIME NOT NULL", "Read at (UTC)", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}},
	{name: "network_roads", identifier: "Network: roads", about: "Roads of the network with their lines and grade lines, packed", columns: []column{
		{"fid", key, "", ""},
		{"road", "TEXT NOT NULL UNIQUE", "Road", ""},
		{"source_fid", "INTEGER NOT NULL REFERENCES network_sources(fid) ON DELETE CASCADE", "Source, key", ""},
		{"length_m", number, "Length (m)", ""},
		{"surveyed", yesNo, "Surveyed on its own", ""},
		{"lines", "BLOB NOT NULL", "Lines with their tags, packed", ""},
		{"samples", "BLOB", "Grade line, packed", ""},
		{"masks", jsonList, "What each weight class meets on it (JSON)", ""},
		{"more", jsonObject, "Other details (JSON)", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}},
	{name: "network_parts", identifier: "Network: search", about: "What a search for ways needs at once, packed: made of the roads, and made again after each change of them", columns: []column{
		{"fid", key, "", ""},
		{"part", "TEXT NOT NULL UNIQUE", "Part", ""},
		{"content", "BLOB NOT NULL", "Content, packed", ""},
		{"seal", "INTEGER", "Check sum", ""},
	}},
	{name: "advice", identifier: "Advice", about: "What stands behind the holds of each descent, packed", columns: []column{
		{"fid", key, "", ""},
		{"descent_fid", "INTEGER NOT NULL UNIQUE REFERENCES descents(fid) ON DELETE CASCADE", "Descent, key", ""},
		{"packed", "BLOB NOT NULL", "Details of all its holds, packed", ""},
		{"seal", "INTEGER NOT NULL", "Check sum", ""},
	}},
	{name: "texts", identifier: "Texts", about: "Sentences of the advice, once each, with # for each number", columns: []column{
		{"fid", key, "", ""},
		{"text", "TEXT NOT NULL", "Text", ""},
		{"seal", "INTEGER NOT NULL", "Check sum", ""},
	}},
	{name: "steep_parts", identifier: "Steep parts", about: "Steep parts of roads outside any descent, from the top down in travel; Z is the grade line (m), M the station (m)", geometry: "LINESTRING", z: 1, m: 1, columns: []column{
		{"fid", key, "", ""},
		{"geom", "LINESTRING NOT NULL", "", ""},
		{"route_fid", "INTEGER NOT NULL REFERENCES routes(fid) ON DELETE CASCADE", "Route, key", ""},
		{"provenance_fid", "INTEGER NOT NULL REFERENCES provenance(fid)", "Provenance, key", ""},
		{"route", "TEXT NOT NULL", "Route", ""},
		{"name", text, "Name", ""},
		{"direction", "TEXT NOT NULL CHECK (direction IN ('forward','backward'))", "Travel along the line", "direction"},
		{"start_m", number, "Starts at station (m)", ""},
		{"end_m", number, "Ends at station (m)", ""},
		{"length_m", number, "Length (m)", ""},
		{"mean_downgrade_pct", number, "Mean downgrade (%)", ""},
		{"mean_downgrade_err_pct", number, "Mean downgrade, 95 % half-width (points of %)", ""},
		{"flags", jsonList, "Flags (JSON)", ""},
		{"seal", "INTEGER NOT NULL", "Check sum of the figures", ""},
	}, indexes: []string{"steep_parts_route ON steep_parts(route_fid)"}},
	{name: "drives", identifier: "Drives", about: "Passes of recorded drives over the hills, as the grade line needs them: places on the road, heights, seconds; neither who drove nor when", columns: []column{
		{"fid", key, "", ""},
		{"drive", whole, "Drive (a number without a meaning)", ""},
		{"route", "TEXT NOT NULL", "Route", ""},
		{"direction", "TEXT NOT NULL CHECK (direction IN ('forward','backward'))", "Travel along the line", "direction"},
		{"from_m", number, "From station (m)", ""},
		{"to_m", number, "To station (m)", ""},
		{"fixes", whole, "Heights in it", ""},
		{"label", text, "Label, only where somebody gave one", ""},
		{"packed", "BLOB NOT NULL", "Heights, packed", ""},
		{"seal", "INTEGER NOT NULL", "Check sum", ""},
	}, indexes: []string{"drives_drive ON drives(drive)"}},
}

// featureLayers are the tables with lines or points.
func featureLayers() []string {
	var out []string
	for i := range tables {
		if tables[i].geometry != "" {
			out = append(out, tables[i].name)
		}
	}
	return out
}

// laterTables are those that version 1 did not have.
var laterTables = []string{"network_sources", "network_roads", "network_parts", "advice", "texts", "steep_parts", "drives"}

// values are the lists of allowed values for the schema extension.
var values = map[string][]string{
	"direction": {"forward", "backward"},
	"serves":    {"", "forward", "backward"},
	"side":      {"", "left", "right"},
	"rank":      {"0", "1", "2"},
	"review":    {"surveyed", "field-checked", "approved", "retired"},
	"source":    {"raster", "route file"},
	"site":      {"brake-check", "escape-ramp", "chain-up", "pullout", "sign"},
}
