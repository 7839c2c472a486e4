package shared

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gradeline/catalog/gpkg"
)

// Rights are the statements that give a kind of role what it needs, to be run by the owner.
type Rights struct {
	Role       string // reader, reviewer or surveyor
	May        string // in words
	Statements []string
}

// reviewTables are what a reviewer writes: reviews, sites, the history, and waiting surveys that are
// refused.
var reviewTables = []struct{ table, rights string }{
	{"reviews", "INSERT, UPDATE, DELETE"}, {"sites", "INSERT, UPDATE, DELETE"}, {"history", "INSERT"}, {"proposals", "DELETE"},
}

// writerFunctions number the changes and give out keys.
const writerFunctions = "FUNCTION {s}.shared_number(uuid, text), {s}.shared_next_key(text), {s}.shared_raise_keys(text[], bigint[])"

// rightsOf lists the rights by role. The owner is who made the catalogue.
func (p *place) rightsOf() []Rights {
	grant := func(what, role string) string { return p.filled("GRANT " + what + " TO " + role) }
	reads := func(role string) []string {
		return []string{grant("USAGE ON SCHEMA {s}", role), grant("SELECT ON ALL TABLES IN SCHEMA {s}", role)}
	}
	review := append(reads("reviewer"), grant("EXECUTE ON "+writerFunctions, "reviewer"))
	for _, t := range reviewTables {
		review = append(review, grant(t.rights+" ON {s}."+t.table, "reviewer"))
	}
	var all []string
	for _, t := range tables {
		if t.Name != "catalogue" && t.Name != "history" { // of the history nothing is changed or taken away
			all = append(all, "{s}."+t.Name)
		}
	}
	survey := append(reads("surveyor"), grant("EXECUTE ON "+writerFunctions, "surveyor"), grant("INSERT, UPDATE, DELETE ON "+strings.Join(all, ", "), "surveyor"), grant("INSERT ON {s}.history", "surveyor"))
	return []Rights{
		{"reader", "reads every command's answers", reads("reader")},
		{"reviewer", "records reviews and sites, refuses a newer survey, chooses the fleet", review},
		{"surveyor", "stores surveys, merges, accepts a newer survey, keeps drives", survey},
	}
}

// Health is what the database says of itself.
type Health struct {
	Name    string // the address, without a password
	Server  string // versions of PostgreSQL and PostGIS
	Version int    // of the tables
	Changes int64  // so far
	Role    string // of this program
	May     []string
	Owner   string
	Rights  []Rights // for other roles, to be granted by the owner
}

// Examine reads the health of a catalogue's database.
func Examine(ctx context.Context, address string) (h Health, err error) {
	p, err := parse(address)
	if err != nil {
		return h, err
	}
	conn, err := p.connect(ctx)
	if err != nil {
		return h, err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	isThere, err := p.find(ctx, conn)
	if err == nil && !isThere {
		err = p.notFound()
	}
	if err != nil {
		return h, err
	}
	s, err := p.read(ctx, conn)
	if err != nil {
		return h, err
	}
	h = Health{Name: p.name, Version: s.version, Changes: s.number, Rights: p.rightsOf()}
	var server, gis string
	err = conn.QueryRow(ctx, "SELECT current_setting('server_version'), coalesce((SELECT extversion FROM pg_extension WHERE extname = 'postgis'), 'missing'), current_user::text, "+
		"(SELECT pg_get_userbyid(nspowner)::text FROM pg_namespace WHERE nspname = $1)", p.schema).Scan(&server, &gis, &h.Role, &h.Owner)
	if err != nil {
		return h, p.fault(err, "reading")
	}
	h.Server = "PostgreSQL " + server + ", PostGIS " + gis
	for role, privilege := range map[string]string{"read": "reviews,SELECT", "review": "reviews,UPDATE", "survey": "descents,UPDATE"} {
		table, right, _ := strings.Cut(privilege, ",")
		var has bool
		if err := conn.QueryRow(ctx, "SELECT has_table_privilege($1, $2)", p.schema+"."+table, right).Scan(&has); err != nil {
			return h, p.fault(err, "reading")
		}
		if has {
			h.May = append(h.May, role)
		}
	}
	slices.Sort(h.May)
	return h, nil
}

// String words the health in one line.
func (h *Health) String() string {
	may := strings.Join(h.May, ", ")
	if h.Owner == h.Role {
		may += ", bring the tables up to date (owner)"
	}
	return fmt.Sprintf("%s; tables of version %d (this program: %d), %d changes; role %s may %s; owner %s", h.Server, h.Version, gpkg.TablesVersion, h.Changes, h.Role, may, h.Owner)
}
