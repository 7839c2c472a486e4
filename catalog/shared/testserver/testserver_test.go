package testserver

import (
	"context"
	"os"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
)

func TestMain(m *testing.M) { os.Exit(Run(m)) }

func ask(t *testing.T, address string) (string, error) {
	t.Helper()
	conn, err := pgx.Connect(context.Background(), address)
	if err != nil {
		return "", err
	}
	defer conn.Close(context.Background())
	var is string
	err = conn.QueryRow(context.Background(), "SELECT current_database() || ' ' || current_user || ' ' || ST_AsText(ST_MakePoint(-110, 40))").Scan(&is)
	return is, err
}

// Two tests have a database each on one server, with PostGIS. A user with a password comes in over
// the socket and over the network of this machine, and with a wrong one or none does not.
func TestDatabases(t *testing.T) {
	one, two := New(t), New(t)
	for _, d := range []*Database{one, two} {
		if got, err := ask(t, d.Address()); err != nil || got != d.Name+" office POINT(-110 40)" {
			t.Errorf("%q, %v", got, err)
		}
	}
	one.Ask(t, "CREATE ROLE clerk LOGIN PASSWORD 'rook'; CREATE TABLE only_here(n int)")
	if got := two.Ask(t, "SELECT count(*) FROM pg_class WHERE relname = 'only_here'"); got != "0" {
		t.Errorf("%s tables of the other database", got)
	}
	for _, address := range []string{one.AddressOf("clerk", "rook"), one.AddressOverTCP("clerk", "rook")} {
		if got, err := ask(t, address); err != nil || !strings.HasPrefix(got, one.Name+" clerk") {
			t.Errorf("%q, %v", got, err)
		}
	}
	for _, address := range []string{one.AddressOf("clerk", "pawn"), one.AddressOverTCP("clerk", "")} {
		if got, err := ask(t, address); err == nil {
			t.Errorf("%s lets in: %s", address, got)
		}
	}
}

// A halted server answers nobody; resumed, it has its data.
func TestRestart(t *testing.T) {
	d := New(t)
	d.Ask(t, "CREATE TABLE kept(n int); INSERT INTO kept VALUES (7)")
	d.Halt()
	if _, err := ask(t, d.Address()); err == nil {
		t.Error("a halted server answers")
	}
	d.Resume(t)
	if got := d.Ask(t, "SELECT n FROM kept"); got != "7" {
		t.Errorf("after the restart: %q", got)
	}
}
