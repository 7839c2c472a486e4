// Package testserver starts a real PostgreSQL with PostGIS for the tests of a package, from
// Debian's packages, and stops it. The server listens in a temporary folder and on a free port of
// this machine; it ends with the test program, also where that is killed. Tests that need it are
// skipped, with the reason, where the packages are missing.
//
//	func TestMain(m *testing.M) { os.Exit(testserver.Run(m)) }
//
//	func TestWriters(t *testing.T) {
//		db := testserver.New(t)
//		conn, err := pgx.Connect(ctx, db.Address())
package testserver

import (
	"fmt"
	"net/url"
	"sync/atomic"
	"testing"
)

// Database is an empty database with PostGIS on the tests' server.
type Database struct {
	Name string
	s    *server
}

var created atomic.Int64

// New makes a database for one test. The first call starts the server, in some two seconds.
func New(t testing.TB) *Database {
	t.Helper()
	s := running(t)
	d := &Database{Name: fmt.Sprintf("test%d", created.Add(1)), s: s}
	s.ask(t, "CREATE DATABASE "+d.Name+" TEMPLATE "+templateName)
	return d
}

// Owner is the user who owns the databases of the tests, a superuser who needs no password.
const Owner = "office"

const templateName = "with_postgis"

// Address is the database's address for its owner, over the socket.
func (d *Database) Address() string { return d.AddressOf(Owner, "") }

// AddressOf is the database's address for a user, over the socket. Everybody but the owner needs a
// password; with "" the address has none.
func (d *Database) AddressOf(user, password string) string {
	return d.address(user, password, url.Values{"host": {d.s.dir}, "port": {fmt.Sprint(d.s.port)}}, "")
}

// AddressOverTCP is AddressOf over the network of this machine.
func (d *Database) AddressOverTCP(user, password string) string {
	return d.address(user, password, url.Values{"sslmode": {"disable"}}, fmt.Sprintf("127.0.0.1:%d", d.s.port))
}

func (d *Database) address(user, password string, query url.Values, host string) string {
	u := url.URL{Scheme: "postgres", User: url.User(user), Host: host, Path: "/" + d.Name, RawQuery: query.Encode()}
	if password != "" {
		u.User = url.UserPassword(user, password)
	}
	return u.String()
}

// Host and Port are where the server's socket is.
func (d *Database) Host() string { return d.s.dir }

// Port is the number of the server's socket and of its port on this machine.
func (d *Database) Port() int { return d.s.port }

// Ask runs SQL as the owner and returns the output of psql: rows, columns with | between.
func (d *Database) Ask(t testing.TB, sql string) string {
	t.Helper()
	return d.s.askIn(t, d.Name, sql)
}

// Log is what the server has written so far.
func (d *Database) Log() string { return d.s.log() }
