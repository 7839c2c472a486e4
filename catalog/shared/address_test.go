package shared

import (
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// Addresses are known by their scheme, in any case, and by any of libpq's key words, in any order.
func TestIsAddress(t *testing.T) {
	for _, name := range []string{"postgres://ada@db/hills", "PostgreSQL://db/hills", " postgres://db/hills", "password=x host=db", "connect_timeout=3 host=db", "sslrootcert=a host=db", "service = hills"} {
		if !IsAddress(name) {
			t.Errorf("%q is an address", name)
		}
	}
	for _, name := range []string{"hills.gpkg", "/data/postgres/hills.gpkg", "host.gpkg", "postgres", "user", "a=b.gpkg", "C:\\hills.gpkg"} {
		if IsAddress(name) {
			t.Errorf("%q is a file", name)
		}
	}
}

// Passwords go out of what was meant as an address; names of files and addresses without one stay.
func TestWithoutPasswords(t *testing.T) {
	for _, text := range []string{"postgres://ada:rook7@db/hills: gone", "postgress://ada:rook7@db/hills", "postgres:/ada:rook7@db/hills", "postgres//ada:rook7@db/hills", "postgres://ada:x/rook7@y@db/hills",
		"postgres://:rook7@db", "postgres://db/hills?user=ada&password=rook7&x=1", "host=db password='a rook7'", "host=db Password = rook7", "password='rook7"} {
		got := WithoutPasswords(text)
		if strings.Contains(got, "rook7") || !strings.Contains(got, "(password)") {
			t.Errorf("%q gives %q", text, got)
		}
	}
	for _, text := range []string{"postgres://ada@db:5432/hills?host=/run", "/data/a:b@c.tif: no such file", "https://host:8080/a/b.tif", "set PGPASSWORD; 5:30 @ dawn", "postgres://ada@[::1]:5432/hills"} {
		if got := WithoutPasswords(text); got != text {
			t.Errorf("%q becomes %q", text, got)
		}
	}
}

// A server whose disk is full lets nobody in with these words, under the code of an internal error
// (PostgreSQL 15.18, a table space of 30 MB): it is the server that has to be looked after.
func TestAServerThatFails(t *testing.T) {
	p := &place{config: &pgx.ConnConfig{}, name: "postgres://db/hills"}
	err := p.fault(&pgconn.PgError{Severity: "FATAL", Code: "XX000", Message: "could not write init file"}, "connecting")
	if !strings.Contains(err.Error(), "could not write init file") || !strings.Contains(err.Error(), "server's log") || strings.Contains(err.Error(), "doctor") {
		t.Error(err)
	}
}
