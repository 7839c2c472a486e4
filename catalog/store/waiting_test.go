package store

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// holdEnv makes this test binary hold a catalogue until its input ends: "reads PATH"
// or "changes PATH".
const holdEnv = "GRADELINE_STORE_TEST_HOLD"

func hold(what string) error {
	doing, path, _ := strings.Cut(what, " ")
	c, err := Open(ctx, path, Options{ReadOnly: doing == "reads"})
	if err != nil {
		return err
	}
	defer c.Close()
	untilInputEnds := func() error {
		fmt.Println("holds")
		_, err := io.Copy(io.Discard, os.Stdin)
		return err
	}
	if doing == "changes" {
		return c.file.Change(ctx, untilInputEnds)
	}
	return c.file.Read(ctx, func(q gpkg.Querier) error {
		if _, err := gpkg.First(q, []any{new(int)}, "SELECT count(*) FROM descents"); err != nil {
			return err
		}
		return untilInputEnds()
	})
}

// holder starts a process that holds the catalogue; release ends it.
func holder(t *testing.T, doing, path string) (pid int, release func()) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), holdEnv+"="+doing+" "+path)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	release = func() { _ = in.Close() } // twice does no harm
	t.Cleanup(func() { release(); _ = cmd.Wait() })
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "holds\n" {
		t.Fatalf("the other process: %q %v", line, err)
	}
	return cmd.Process.Pid, release
}

// A change that waits for another process says once for which, and goes on when that
// is done; who waits less than the notice says nothing.
func TestAWaitNamesWhomItWaitsFor(t *testing.T) {
	for _, doing := range []string{"changes", "reads"} {
		t.Run(doing, func(t *testing.T) {
			if doing == "reads" && runtime.GOOS != "linux" {
				t.Skip("only Linux tells who reads a file")
			}
			t.Parallel()
			c, path := fresh(t)
			save(t, c, survey("Kestrel Road", 2), SaveOptions{})
			pid, release := holder(t, doing, path)
			if doing == "changes" { // a failed change leaves no trace, so the short wait is looked at here
				var news []Waiting
				short, err := Open(ctx, path, Options{BusyTimeout: 50 * time.Millisecond, Waiting: func(w Waiting) { news = append(news, w) }})
				if err != nil {
					t.Fatal(err)
				}
				defer short.Close()
				if _, err := short.SaveRoute(ctx, survey("Otter Grade", 1), SaveOptions{}); !errors.Is(err, catalog.ErrBusy) || len(news) > 0 {
					t.Errorf("a short wait: %v, %+v", err, news)
				}
			}
			var news []Waiting
			other, err := Open(ctx, path, Options{BusyTimeout: 10 * time.Minute, Waiting: func(w Waiting) {
				news = append(news, w)
				release()
			}})
			if err != nil {
				t.Fatal(err)
			}
			defer other.Close()
			if _, err := other.SaveRoute(ctx, survey("Heron Pass", 1), SaveOptions{}); err != nil {
				t.Fatal(err)
			}
			if len(news) != 1 || news[0].File != path || news[0].ForReads != (doing == "reads") || news[0].AtMost != 10*time.Minute {
				t.Fatalf("%+v", news)
			}
			if name := fmt.Sprintf("(process %d)", pid); runtime.GOOS == "linux" && !strings.Contains(news[0].Owner, name) {
				t.Errorf("waits for %q, want %s", news[0].Owner, name)
			}
		})
	}
}

// givesUp is a catalogue of one route that another program holds in a way that holder
// knows, and a context that ends as soon as somebody waits for it.
func givesUp(t *testing.T, how string) (c *Catalog, stop context.Context, release func()) {
	first, path := fresh(t)
	save(t, first, survey("Kestrel Road", 1), SaveOptions{})
	_, release = holder(t, how, path)
	stop, cancel := context.WithCancel(ctx)
	t.Cleanup(cancel)
	c, err := Open(ctx, path, Options{BusyTimeout: 10 * time.Minute, Waiting: func(Waiting) { cancel() }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c, stop, release
}

// Who gives up waiting for readers is free at once as well, and what was changed is as before.
func TestAWaitForReadersEndsWithItsContext(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only Linux tells who reads a file")
	}
	other, stop, release := givesUp(t, "reads")
	one := func() error { _, err := other.file.Exec("DELETE FROM descents"); return err }
	if err := other.file.Change(stop, one); !errors.Is(err, context.Canceled) {
		t.Fatalf("given up: %v", err)
	}
	release()
	if list, err := other.Descents(ctx, Filter{}); err != nil || len(list) != 1 {
		t.Errorf("afterwards: %d descents, %v", len(list), err)
	}
	if err := other.file.Change(ctx, one); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

// Who gives up waiting is free at once, not when the other is done; nothing is begun.
func TestAWaitEndsWithItsContext(t *testing.T) {
	other, stop, release := givesUp(t, "changes")
	if _, err := other.SaveRoute(stop, survey("Heron Pass", 1), SaveOptions{}); !errors.Is(err, context.Canceled) {
		t.Fatalf("given up: %v", err)
	}
	release()
	if _, err := other.SaveRoute(ctx, survey("Heron Pass", 1), SaveOptions{}); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}
