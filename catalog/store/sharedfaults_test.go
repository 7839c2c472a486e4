package store

import (
	"bytes"
	"errors"
	"fmt"
	"net"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/shared/testserver"
	"gradeline/terrain"
)

// saysAll fails unless the fault is of a kind, names the database and what to do, and has the words.
func saysAll(t testing.TB, what string, err, kind error, words ...string) {
	t.Helper()
	var f *Fault
	if !errors.As(err, &f) || !errors.Is(err, kind) || f.Fix == "" || !strings.HasPrefix(f.File, "postgres://") {
		t.Errorf("%s: %v", what, err)
		return
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("%s: %q lacks %q", what, err, w)
		}
	}
}

// endConnections ends those of the program.
func endConnections(t testing.TB, db *testserver.Database) {
	t.Helper()
	db.Ask(t, "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'gradeline' AND datname = current_database()")
}

func lookBy(by string) catalog.Review {
	return catalog.Review{State: catalog.FieldChecked, By: by, Note: "driven"}
}

// Each way in which a database can fail has a message that says what, where and what to do; nothing
// is stored by halves, and the same opening works again when the database does.
func TestSharedFaults(t *testing.T) {
	c, db := freshShared(t)
	save(t, c, survey("r", 1), SaveOptions{})
	want := allRows(t, c)
	address := db.Address()
	unchanged := func(what string) {
		t.Helper()
		sameRows(t, what, allRows(t, openAt(t, address, Options{ReadOnly: true})), want)
	}

	_, err := Open(ctx, strings.Replace(address, db.Name, "nowhere", 1), Options{})
	saysAll(t, "no database", err, catalog.ErrNotFound, "nowhere", "createdb")
	_, err = Open(ctx, address+"&schema=valleys", Options{})
	saysAll(t, "no catalogue", err, catalog.ErrNotFound, "valleys", "survey")
	_, err = Open(ctx, db.AddressOverTCP("stranger", "p"), Options{})
	saysAll(t, "wrong password", err, terrain.ErrRead, "stranger", "pgpass")
	_, err = Open(ctx, address+"&schema=public", Options{Create: true})
	saysAll(t, "another's schema", err, catalog.ErrNotOurs, "public")
	saysAll(t, "a copy into another's schema", c.CopyTo(ctx, address+"&schema=public"), catalog.ErrNotOurs, "public is not a gradeline catalogue")
	saysAll(t, "a copy over a catalogue", c.CopyTo(ctx, address), ErrWrite, "has a catalogue already", "merge")

	readOnly := openAt(t, address+"&default_transaction_read_only=on", Options{})
	saysAll(t, "read-only", readOnly.Review(ctx, "r-f-1.0", lookBy("Ada")), ErrWrite, "read-only", "default_transaction_read_only", "nothing was stored")
	unchanged("read-only")

	db.Ask(t, "UPDATE gradeline.shared_state SET version = version + 1")
	_, err = Open(ctx, address, Options{})
	saysAll(t, "newer", err, catalog.ErrNewer, "newer version", "update this program")
	saysAll(t, "newer while open", c.Review(ctx, "r-f-1.0", lookBy("Ada")), catalog.ErrNewer, "update this program")
	db.Ask(t, "UPDATE gradeline.shared_state SET version = version - 1")

	err = c.file.Change(ctx, func() error {
		endConnections(t, db)
		return c.review("r-f-1.0", &catalog.Review{State: catalog.Approved, By: "Ada"})
	})
	if e, e2 := openAt(t, address, Options{ReadOnly: true}).Descent(ctx, "r-f-1.0"); err != nil || e2 != nil || e.Review.By != "Ada" || e.Review.State != catalog.Approved {
		t.Errorf("a review whose connection was ended before it was stored: %v, %+v, %v", err, e.Review, e2)
	}
	if n := db.Ask(t, "SELECT count(*) FROM gradeline.history WHERE what = 'review'"); n != "1" {
		t.Errorf("it is stored %s times", n)
	}
	want = allRows(t, c)
	err = c.file.Change(ctx, func() error {
		endConnections(t, db)
		db.Ask(t, "SELECT gradeline.shared_number(gen_random_uuid(), 'another')")
		return c.review("r-f-1.0", &catalog.Review{State: catalog.FieldChecked, By: "Bea"})
	})
	saysAll(t, "ended, and others have stored something", err, catalog.ErrBusy, "others have stored something since", "nothing was stored", "try again")
	unchanged("ended, and others have stored something")

	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	busy := openAt(t, address, Options{BusyTimeout: 300 * time.Millisecond})
	err = c.file.Change(ctx, func() error {
		saysAll(t, "busy", busy.Review(ctx, "r-f-1.0", lookBy("Ada")), catalog.ErrBusy, "in use by gradeline", "office", "nothing was stored")
		return nil
	})
	if err != nil {
		t.Error(err)
	}

	db.Halt()
	_, err = Open(ctx, address, Options{ReadOnly: true})
	saysAll(t, "down", err, terrain.ErrRead, "cannot be reached", "server runs")
	saysAll(t, "down while open", c.Review(ctx, "r-f-1.0", lookBy("Ada")), terrain.ErrRead, "cannot be reached")
	db.Resume(t)
	unchanged("down")
	if err := c.Review(ctx, "r-f-1.0", lookBy("Ada")); err != nil {
		t.Errorf("after the server is back: %v", err)
	}
	if e, err := c.Descent(ctx, "r-f-1.0"); err != nil || e.Review.By != "Ada" {
		t.Errorf("%+v, %v", e.Review, err)
	}
}

// cutter is a network between a program and its server that fails at a COMMIT, or at another word:
// before the server hears of it, or before the program hears the answer.
type cutter struct {
	t        *testing.T
	to       string
	listener net.Listener
	mode     atomic.Value // "", "before" or "after": the next time; "always": before, each time
	word     atomic.Value // at which it fails
	cuts     atomic.Int64
	mu       sync.Mutex
	open     []net.Conn
}

func newCutter(t *testing.T, db *testserver.Database) *cutter {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	k := &cutter{t: t, to: fmt.Sprintf("127.0.0.1:%d", db.Port()), listener: l}
	k.mode.Store("")
	k.word.Store("commit\x00")
	go func() {
		for {
			from, err := l.Accept()
			if err != nil {
				return
			}
			to, err := net.Dial("tcp", k.to)
			if err != nil {
				from.Close()
				continue
			}
			k.mu.Lock()
			k.open = append(k.open, from, to)
			k.mu.Unlock()
			go k.pass(from, to)
		}
	}()
	t.Cleanup(func() {
		l.Close()
		k.mu.Lock()
		defer k.mu.Unlock()
		for _, c := range k.open {
			c.Close()
		}
	})
	return k
}

// pass copies both directions.
func (k *cutter) pass(from, to net.Conn) {
	var deaf atomic.Bool // the program hears nothing more
	go func() {
		b := make([]byte, 64<<10)
		for {
			n, err := to.Read(b)
			if n > 0 && !deaf.Load() {
				_, _ = from.Write(b[:n])
			}
			if n > 0 && deaf.Load() { // the server has answered the COMMIT
				from.Close()
			}
			if err != nil {
				from.Close()
				return
			}
		}
	}()
	b := make([]byte, 64<<10)
	for {
		n, err := from.Read(b)
		if mode := k.mode.Load(); n > 0 && mode != "" && bytes.Contains(b[:n], []byte(k.word.Load().(string))) {
			if mode != "always" {
				k.mode.Store("")
			}
			k.cuts.Add(1)
			if mode != "after" {
				from.Close()
				to.Close()
				return
			}
			deaf.Store(true)
		}
		if n > 0 {
			_, _ = to.Write(b[:n])
		}
		if err != nil {
			to.Close()
			return
		}
	}
}

// A local copy that is damaged, or of a database that was put back to an older state, is made anew.
func TestSharedCopyIsMadeAnew(t *testing.T) {
	c, db := freshShared(t)
	save(t, c, survey("r", 1), SaveOptions{})
	path := c.LocalPath()
	if err := c.Review(ctx, "r-f-1.0", lookBy("Ada")); err != nil {
		t.Fatal(err)
	}
	c.Close()
	// The database is put back to the state before the review, and another one is stored there.
	db.Ask(t, "ALTER TABLE gradeline.reviews DISABLE TRIGGER USER; ALTER TABLE gradeline.history DISABLE TRIGGER USER; "+
		"UPDATE gradeline.reviews SET state = 'surveyed', reviewed_by = '', note = '', seal = NULL, changed = 0; DELETE FROM gradeline.history WHERE what = 'review'; "+
		"UPDATE gradeline.shared_state SET number = number - 1; DELETE FROM gradeline.shared_changes WHERE number = (SELECT max(number) FROM gradeline.shared_changes); "+
		"ALTER TABLE gradeline.reviews ENABLE TRIGGER USER; ALTER TABLE gradeline.history ENABLE TRIGGER USER")
	db.Ask(t, "UPDATE gradeline.reviews SET reviewed_by = 'Bea', state = 'approved'")
	check := func(what string) {
		t.Helper()
		again := openAt(t, db.Address(), Options{})
		if e, err := again.Descent(ctx, "r-f-1.0"); err != nil || e.Review.By != "Bea" || again.LocalPath() != path {
			t.Errorf("%s: %+v, %v", what, e.Review, err)
		}
		again.Close()
	}
	check("put back")
	spoil(t, path, "UPDATE reviews SET reviewed_by = 'Mallory' WHERE 0", "CREATE TRIGGER extra AFTER UPDATE ON reviews BEGIN DELETE FROM sites; END")
	check("with a trigger")
	damage(t, path)
	check("damaged")
}

// damage overwrites the head of a file.
func damage(t testing.TB, path string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err == nil {
		_, err = f.WriteAt(bytes.Repeat([]byte{0x5a}, 200), 0)
	}
	if err == nil {
		err = f.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
}
