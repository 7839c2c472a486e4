//go:build !linux

package testserver

import "testing"

// server is never started on this system.
type server struct {
	dir  string
	port int
}

// Run runs the tests of a package.
func Run(m *testing.M) int { return m.Run() }

// Stop does nothing.
func Stop() {}

func running(t testing.TB) *server {
	t.Helper()
	t.Skip("a PostgreSQL server is started for tests on Linux only")
	return nil
}

func (s *server) ask(t testing.TB, _ string) { t.Helper() }

func (s *server) askIn(t testing.TB, _, _ string) string { t.Helper(); return "" }

func (s *server) log() string { return "" }

// Restart does nothing.
func (d *Database) Restart(testing.TB) {}

// Halt does nothing.
func (d *Database) Halt() {}

// Resume does nothing.
func (d *Database) Resume(testing.TB) {}
