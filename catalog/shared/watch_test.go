package shared

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"gradeline/catalog/gpkg"
	"gradeline/catalog/shared/testserver"
)

var ctx = context.Background()

func TestMain(m *testing.M) { os.Exit(testserver.Run(m)) }

// A copy that hears of no notification looks by itself every few seconds, and goes on after the
// server was away, of which it tells once.
func TestPolling(t *testing.T) {
	const often = 200 * time.Millisecond
	rest := restAfterEnd
	restAfterEnd = often
	defer func() { restAfterEnd = rest }()
	db := testserver.New(t)
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	c, err := Open(ctx, db.Address(), gpkg.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	other := t.TempDir()
	t.Setenv("XDG_CACHE_HOME", other)
	watching, cancel := context.WithCancel(ctx)
	ended := make(chan struct{})
	var told []error
	go func() {
		defer close(ended)
		Watch(watching, db.Address(), WatchOptions{PollEvery: often, Failed: func(err error) { told = append(told, err) }, isDeaf: true})
	}()
	defer func() { cancel(); <-ended }()
	lines := func() (n int) {
		files, _ := filepath.Glob(filepath.Join(other, "gradeline", "shared", "*", "*.gpkg"))
		if len(files) != 1 {
			return -1
		}
		copied, err := gpkg.Open(ctx, files[0], gpkg.Options{ReadOnly: true})
		if err != nil {
			return -1
		}
		defer copied.Close()
		err = copied.Read(ctx, func(q gpkg.Querier) error {
			_, err := gpkg.First(q, []any{&n}, "SELECT count(*) FROM history")
			return err
		})
		if err != nil {
			return -1
		}
		return n
	}
	log := func(want int) {
		t.Helper()
		if err := c.Change(ctx, func() error { return c.LogHistory("looked", "Ada", "", "", "a word") }); err != nil {
			t.Fatal(err)
		}
		begun := time.Now()
		for lines() != want && time.Since(begun) < 60*time.Second {
			time.Sleep(50 * time.Millisecond)
		}
		if n := lines(); n != want {
			t.Fatalf("%d lines of the history, want %d", n, want)
		}
		t.Logf("seen after %s", time.Since(begun).Round(time.Millisecond))
	}
	log(1)
	log(2)
	db.Halt()
	time.Sleep(3 * (often + restAfterEnd))
	db.Resume(t)
	log(3)
	cancel()
	<-ended
	// The connection was lost, cannot be made, the server is starting (which it says in several ways).
	if len(told) == 0 {
		t.Error("told nothing")
	}
	for i, err := range told {
		if i > 0 && err.Error() == told[i-1].Error() {
			t.Errorf("told twice: %v", err)
		}
	}
}
