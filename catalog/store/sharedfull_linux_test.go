package store

import (
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"

	"gradeline/catalog/shared/testserver"
)

// A server whose disk is full: the tables are in a tablespace on a small file system. The fault says
// so, nothing is stored by halves, and once there is space again the same change is stored.
func TestSharedServerIsFull(t *testing.T) {
	if testing.Short() || os.Getuid() != 0 {
		t.Skip("needs root, to mount a small file system")
	}
	c, db := freshShared(t)
	save(t, c, survey("r", 1), SaveOptions{})
	small := filepath.Join(db.Host(), "small")
	if err := os.Mkdir(small, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", small, "tmpfs", 0, "size=24m"); err != nil {
		t.Skipf("cannot mount a small file system: %v", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(small, syscall.MNT_DETACH) })
	t.Cleanup(testserver.Stop) // before the file system goes
	u, err := user.Lookup("postgres")
	if err != nil {
		t.Skip(err)
	}
	uid, _ := strconv.Atoi(u.Uid)
	gid, _ := strconv.Atoi(u.Gid)
	if err := os.Chown(small, uid, gid); err != nil {
		t.Fatal(err)
	}
	db.Ask(t, "CREATE TABLESPACE small LOCATION '"+small+"'")
	db.Ask(t, "ALTER TABLE gradeline.profiles SET TABLESPACE small")
	db.Ask(t, "CREATE TABLE filler(b bytea) TABLESPACE small")
	db.Ask(t, "ALTER TABLE filler ALTER b SET STORAGE EXTERNAL")
	for size := 4 << 20; size >= 8<<10; size /= 2 { // until less than a page is left
		db.Ask(t, "DO $$ BEGIN FOR i IN 1..10 LOOP INSERT INTO filler VALUES (convert_to(repeat('x', "+strconv.Itoa(size)+"), 'UTF8')); END LOOP; EXCEPTION WHEN disk_full THEN NULL; END $$")
	}
	want := allRows(t, c)
	rs := survey("s", 3)
	rs.Profile = plainProfile(50000)
	_, err = c.SaveRoute(ctx, rs, SaveOptions{By: "tester"})
	saysAll(t, "full", err, ErrWrite, "no space left", "nothing was stored")
	sameRows(t, "after a full disk", allRows(t, c), want)
	sameRows(t, "in the database", allRows(t, openAt(t, db.Address(), Options{ReadOnly: true})), want)
	db.Ask(t, "DROP TABLE filler")
	if _, err := c.SaveRoute(ctx, rs, SaveOptions{By: "tester"}); err != nil {
		t.Errorf("with space again: %v", err)
	}
}
