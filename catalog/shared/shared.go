// Package shared keeps a catalogue in PostgreSQL with PostGIS, where several offices work on it at
// once. The tables are those of the GeoPackage, with the same names, columns and keys, in a schema
// of their own, so that any GIS opens them.
//
// The rest of the program reads and writes a GeoPackage all the same: a local copy of the database,
// in the user's cache folder, which is brought up to date when it is opened. So a file and a
// database give the same answers, because the same statements make them. A change waits for its
// turn in the database, brings the copy up to date, changes the copy, and stores the changed rows
// in the database before the copy commits: there is one writer at a time, as with a file, and what
// a change was decided on is what is there.
//
//	f, err := shared.Open(ctx, "postgres://ada@db.example/hills", gpkg.Options{ReadOnly: true})
//
// Passwords come from the address, PGPASSWORD, a pgpass file or a service file (libpq's rules), and
// appear in no message, file or history. Errors are Faults, of the kinds of package gpkg.
package shared

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Fault is the place-carrying error of this module; see terrain.Fault.
type Fault = catalog.Fault

// defaultSchema is the schema of a catalogue whose address names none.
const defaultSchema = "gradeline"

// place is where a database is, and how to enter it.
type place struct {
	config *pgx.ConnConfig
	schema string
	name   string // for messages: the address without the password
	gis    string // the schema that PostGIS is in
}

// schemaName is what a schema may be called: nothing that would have to be written differently in
// one place than in another.
var schemaName = regexp.MustCompile(`^[a-z_][a-z0-9_]{0,62}$`)

// parse reads an address. The parameter schema names the schema; all others are libpq's.
func parse(address string) (*place, error) {
	config, err := pgx.ParseConfig(Spelled(address))
	if err != nil {
		f := &Fault{Kind: terrain.ErrInput, What: "the address of the database cannot be read", Fix: "write it as postgres://user@host/database, and the password into a pgpass file"}
		// The library's message repeats the address, and with it the password.
		for e := err; e != nil; e = errors.Unwrap(e) {
			if text := e.Error(); strings.HasPrefix(text, "unable to find service") || strings.HasPrefix(text, "failed to read service file") {
				f.Err, f.Fix = errors.New(text), "check the service file that PGSERVICEFILE names, or ~/.pg_service.conf"
			}
		}
		return nil, f
	}
	p := &place{config: config, schema: cmp.Or(config.RuntimeParams["schema"], defaultSchema)}
	delete(config.RuntimeParams, "schema")
	p.name = p.nameOf()
	if !schemaName.MatchString(p.schema) || strings.HasPrefix(p.schema, "pg_") {
		return nil, &Fault{Kind: terrain.ErrInput, File: p.name, What: fmt.Sprintf("%q cannot be the schema of a catalogue", p.schema), Fix: "use small letters, digits and _, as in hills_west"}
	}
	if config.ConnectTimeout == 0 {
		config.ConnectTimeout = 10 * time.Second
	}
	if config.RuntimeParams["application_name"] == "" {
		config.RuntimeParams["application_name"] = "gradeline"
	}
	// A program whose machine or network has failed must not keep others waiting.
	for name, value := range map[string]string{"tcp_keepalives_idle": "20", "tcp_keepalives_interval": "10", "tcp_keepalives_count": "3",
		"idle_in_transaction_session_timeout": strconv.Itoa(int(longestIdle.Milliseconds()))} {
		if config.RuntimeParams[name] == "" {
			config.RuntimeParams[name] = value
		}
	}
	config.RuntimeParams["search_path"] = "pg_catalog, public" // never a schema where others may put functions before these
	return p, nil
}

// longestIdle is how long a program may keep the turn without a word to the database.
const longestIdle = 15 * time.Minute

// nameOf writes the place as an address without a password.
func (p *place) nameOf() string {
	u := url.URL{Scheme: "postgres", User: url.User(p.config.User), Path: "/" + p.config.Database}
	query := url.Values{}
	if strings.HasPrefix(p.config.Host, "/") {
		query.Set("host", p.config.Host)
		if p.config.Port != 5432 {
			query.Set("port", strconv.Itoa(int(p.config.Port)))
		}
	} else if u.Host = p.config.Host; p.config.Port != 5432 {
		u.Host += ":" + strconv.Itoa(int(p.config.Port))
	}
	if p.schema != defaultSchema {
		query.Set("schema", p.schema)
	}
	u.RawQuery = strings.ReplaceAll(query.Encode(), "%2F", "/") // a slash may stand in a query (RFC 3986 section 3.4)
	return u.String()
}

// connect enters the database.
func (p *place) connect(ctx context.Context) (*pgx.Conn, error) {
	conn, err := p.enter(ctx)
	return conn, p.fault(err, "connecting")
}

// enter is connect with the library's own error.
func (p *place) enter(ctx context.Context) (*pgx.Conn, error) {
	return pgx.ConnectConfig(ctx, p.config.Copy())
}

// fault converts an error of the database to a Fault: what, where, what to do. Faults and the end
// of a context pass unchanged.
func (p *place) fault(err error, doing string) error {
	var f *Fault
	if err == nil || errors.As(err, &f) || errors.Is(err, context.Canceled) {
		return err
	}
	var pg *pgconn.PgError
	var connecting *pgconn.ConnectError
	switch {
	case errors.As(err, &pg):
		return p.refusal(pg)
	case errors.As(err, &connecting):
		f = &Fault{Kind: terrain.ErrRead, What: "the database cannot be reached", Err: plain(connecting), Fix: "check that the server runs and that this machine may connect to it; nothing was changed"}
	case errors.Is(err, context.DeadlineExceeded), isLost(err):
		f = &Fault{Kind: catalog.ErrBusy, What: "the connection to the database was lost while " + doing, Err: plain(err), Fix: "try again; nothing was stored"}
	default:
		f = &Fault{Kind: terrain.ErrRead, What: "failed while " + doing, Err: plain(err), Fix: "run doctor on the catalogue"}
	}
	f.File = p.name
	return f
}

// plain keeps only the last line of an error: the library lists every try to connect.
func plain(err error) error {
	lines := strings.Split(strings.TrimSpace(err.Error()), "\n")
	return errors.New(strings.TrimSpace(lines[len(lines)-1]))
}

// isAway reports whether a connection has ended or cannot be made, which may pass.
func isAway(err error) bool {
	var pg *pgconn.PgError
	var connecting *pgconn.ConnectError
	if errors.As(err, &pg) {
		return isLost(pg)
	}
	return errors.As(err, &connecting) || errors.Is(err, context.DeadlineExceeded) || err != nil && isLost(err)
}

// isLost reports whether a connection has ended.
func isLost(err error) bool {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return pg.Code == "57P01" || pg.Code == "57P02" || pg.Code == "57P03" || pg.Code == "25P03" || strings.HasPrefix(pg.Code, "08")
	}
	text := err.Error()
	for _, s := range []string{"conn closed", "closed network connection", "unexpected EOF", "connection reset", "broken pipe", "conn busy", "EOF", "timeout"} {
		if strings.Contains(text, s) {
			return true
		}
	}
	return false
}

// refusals are the server's errors by code, or the beginning of one
// (postgresql.org/docs/15/errcodes-appendix.html); @ is the role, and the server's words follow.
var refusals = []struct {
	codes     string
	kind      error
	what, fix string
}{
	{"28P01 28000", terrain.ErrRead, "the server does not let @ in: ", "check the user and the password: in a pgpass file (rights 0600), PGPASSWORD or a service file"},
	{"3D000", catalog.ErrNotFound, "", "make the database first (createdb), then CREATE EXTENSION postgis in it"},
	{"42501", errWrite, "@ may not do that: ", "ask the catalogue's owner for the rights that gradeline doctor lists"},
	{"25006", errWrite, "the database is read-only: ", "connect to the main server, or end its read-only mode (default_transaction_read_only); nothing was stored"},
	{"53100 53200 58030", errWrite, "the server has no space left: ", "free space on the server, then do it again; nothing was stored"},
	{"53300", catalog.ErrBusy, "the server has no free connection: ", "wait, or raise max_connections"},
	{"55P03 40P01", catalog.ErrBusy, "in use by another program: ", "wait until it has finished, then try again; nothing was stored"},
	{"57P03", catalog.ErrBusy, "the server is starting or stopping: ", "try again in a minute"},
	{"57P01 57P02 25P03 08", catalog.ErrBusy, "the server ended the connection: ", "try again; nothing was stored"},
	{"23", terrain.ErrInput, "refused by a rule of the database: ", "run doctor on the catalogue; nothing was stored"},
	{"58 XX", terrain.ErrRead, "the server failed: ", "look into the server's log, its disk may be full or damaged; then do it again"},
	{"42P01 42703 3F000 42883", catalog.ErrNotOurs, "a part of the catalogue's tables is missing: ", "restore the last copy of the database"},
}

// refusal words the server's own errors.
func (p *place) refusal(e *pgconn.PgError) error {
	for _, r := range refusals {
		for _, code := range strings.Fields(r.codes) {
			if strings.HasPrefix(e.Code, code) {
				return &Fault{Kind: r.kind, File: p.name, What: strings.ReplaceAll(r.what, "@", quoteUser(p.config.User)) + e.Message, Fix: r.fix}
			}
		}
	}
	return &Fault{Kind: terrain.ErrRead, File: p.name, What: "the database refused: " + e.Message, Fix: "run doctor on the catalogue"}
}

func quoteUser(user string) string { return "role " + strconv.Quote(user) }

// cacheFolder is the folder of the local copies, for this user only.
func cacheFolder() (string, error) {
	base, err := os.UserCacheDir()
	if err != nil {
		return "", &Fault{Kind: errWrite, What: "no folder for the local copy of the database", Err: err, Fix: "set XDG_CACHE_HOME to a folder of your own"}
	}
	return base + "/gradeline", nil
}
