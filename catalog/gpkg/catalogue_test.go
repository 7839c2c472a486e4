package gpkg

import "testing"

// A file whose table catalogue has the default of before is opened, read and written.
func TestTheDefaultOfBeforePasses(t *testing.T) {
	path := withRows(t)
	spoil(t, path, "PRAGMA writable_schema = ON; UPDATE sqlite_master SET sql = replace(sql, 'by_program BOOLEAN NOT NULL DEFAULT ''0''', 'by_program BOOLEAN NOT NULL DEFAULT 0') WHERE name = 'catalogue'")
	c := open(t, path)
	if n := count(t, c, "SELECT count(*) FROM sqlite_master WHERE name = 'catalogue' AND sql LIKE '%DEFAULT 0%'"); n != 1 {
		t.Fatal("the default was not put back: the test shows nothing")
	}
	if err := c.Change(ctx, func() error { return c.LogHistory("x", "", "", "", "") }); err != nil {
		t.Error(err)
	}
}
